package web

import (
	"context"

	"wane/study/desk"
)

// wholes is what is kept of the whole study.
type wholes struct {
	status *kept[*desk.Status]
}

func (s *Server) newWholes() wholes {
	return wholes{
		status: &kept[*desk.Status]{server: s, of: func(ctx context.Context) (*desk.Status, error) {
			return s.desk.Status(ctx, desk.StatusOptions{})
		}},
	}
}

// Warm begins to read what pages show of the whole study.
func (s *Server) Warm() { s.whole.status.look(1) }
