package desk

import (
	"context"

	"wane/study"
	"wane/study/store"
)

// Stamp says on a figure from which state of the study it was drawn: that after a line of the log; 0: the last one.
func (d *Desk) Stamp(ctx context.Context, asOf int64) (s study.Stamp, err error) {
	s = study.Stamp{Study: d.store.Name(), Made: d.now().UTC(), Line: asOf}
	err = d.view(ctx, asOf, func(v *store.View) error {
		if s.Line == 0 {
			if s.Line, err = v.LastLine(); err != nil {
				return err
			}
		}
		last, err := v.Line(s.Line)
		s.Head = last.Hash
		return err
	})
	return s, err
}
