package desk

import (
	"strings"

	"wane/study"
	"wane/study/store"
)

// TracedCorrection is a correction of what is enrolled of a coupon.
type TracedCorrection struct {
	Change
	Line study.Entry // of the log: who, when and why
}

// corrections returns those of a coupon: of its row and its events, of its measurements, of its exposure with the pulls,
// and of the sessions in which it was read, in the order in which they were made.
func (t *tracer) corrections(out *Traced) (all []TracedCorrection, err error) {
	code, exposure := out.Coupon.Coupon.Coupon, out.Coupon.Exposure
	sessions := map[string]bool{}
	for i := range out.Units {
		for k := range out.Units[i].Readings {
			sessions[out.Units[i].Readings[k].Session] = true
		}
	}
	err = t.view.Corrections(func(k store.Kept[store.Correction]) error {
		c := &k.Row
		concerns := false
		switch c.Of {
		case "coupon":
			concerns = c.Key == code
		case "measurement", "coupon_event":
			concerns = strings.HasPrefix(c.Key, code+"/")
		case "exposure":
			concerns = c.Key == exposure
		case "pull", "dose_reading":
			concerns = strings.HasPrefix(c.Key, exposure+"/")
		case "session":
			concerns = sessions[c.Key]
		case "standard_reading":
			session, _, _ := strings.Cut(c.Key, "/")
			concerns = sessions[session]
		}
		if !concerns {
			return nil
		}
		line, err := t.line(k.Line)
		for _, change := range changesOf([]store.Correction{*c}) {
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
