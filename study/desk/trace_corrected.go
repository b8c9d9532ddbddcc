package desk

import (
	"wane/study"
	"wane/study/store"
)

// TracedCorrection is a correction of what is enrolled of a coupon.
type TracedCorrection struct {
	Change
	Line study.Entry // of the log: who, when and why
}

// corrections returns those that concern a coupon, in the order in which they were made.
func (t *tracer) corrections(out *Traced) (all []TracedCorrection, err error) {
	sessions := map[string]bool{}
	for i := range out.Units {
		for k := range out.Units[i].Readings {
			sessions[out.Units[i].Readings[k].Session] = true
		}
	}
	of := newConcern(t.workspace.roster, t.lives.Of(out.Coupon.Coupon.Coupon), sessions)
	err = t.view.Corrections(func(k store.Kept[store.Correction]) error {
		if !of.has(&k.Row) {
			return nil
		}
		line, err := t.line(k.Line)
		for _, change := range changesOf([]store.Correction{k.Row}) {
			all = append(all, TracedCorrection{change, line})
		}
		return err
	})
	return all, err
}

func (c *TracedCorrection) step(coupon string) TraceStep {
	s := newTraceStep("correction", study.Unit{Coupon: coupon}, c.Line)
	s.Status, s.Stated, s.Why = c.Field, c.String(), c.Line.Why
	return s
}
