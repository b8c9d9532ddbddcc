package web

import (
	"context"

	"wane/study"
	"wane/study/ageing"
	"wane/study/desk"
)

// wholes is what is kept of the whole study.
type wholes struct {
	status      *kept[*desk.Status]
	last        *kept[*lastOfAll]
	log         *kept[[]study.Entry]
	groups      *kept[[]ageing.Group]
	comparisons *keptComparisons
	rules       *kept[[]desk.RuleState]
	sessions    *kept[*checked]
	tints       *kept[*desk.TintFilms]
	coupons     *keptCoupons
}

func (s *Server) newWholes() wholes {
	return wholes{
		status:      keep(s, s.readStatus),
		last:        keepLarge(s, s.readLast),
		log:         keep(s, s.readLog),
		groups:      keepLarge(s, s.readGroups),
		comparisons: &keptComparisons{of: map[string]*kept[*comparison]{}},
		rules:       keep(s, s.readRules),
		sessions:    keep(s, s.readSessions),
		tints:       keepLarge(s, s.desk.TintFilms),
		coupons:     &keptCoupons{},
	}
}

func (s *Server) readStatus(ctx context.Context) (*desk.Status, error) {
	return s.desk.Status(ctx, desk.StatusOptions{})
}

// Warm begins to read what pages show of the whole study.
func (s *Server) Warm() {
	s.whole.status.look(1)
	s.whole.last.look(1)
}
