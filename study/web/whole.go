package web

import (
	"context"

	"wane/study/desk"
	"wane/study/shown"
)

// wholes is what is kept of the whole study.
type wholes struct {
	status *kept[*desk.Status]
	last   *kept[map[string]*shown.LastResults]
}

func (s *Server) newWholes() wholes {
	return wholes{
		status: &kept[*desk.Status]{server: s, of: func(ctx context.Context) (*desk.Status, error) {
			return s.desk.Status(ctx, desk.StatusOptions{})
		}},
		last: &kept[map[string]*shown.LastResults]{server: s, of: s.readLast},
	}
}

// Warm begins to read what pages show of the whole study.
func (s *Server) Warm() { s.whole.status.look(1); s.whole.last.look(1) }
