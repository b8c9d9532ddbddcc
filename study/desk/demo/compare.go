package demo

import (
	"context"
	"math"

	"wane/study"
	"wane/study/ageing"
	"wane/study/desk"
	"wane/study/scenario"
)

// Comparison sets what was found in a made-up study beside its truth.
type Comparison struct {
	Found, True []ageing.Group // by coating, alike in number and order
	Changes     int            // corrected changes of exposed spots after pull 0
	Within      int            // of them, within their 95 % interval of the truth
}

// Compare compares the results at the desk with the truth they were made from.
func Compare(ctx context.Context, t scenario.Truth, d *desk.Desk) (*Comparison, error) {
	found, truth := ageing.NewGrouper(ageing.ByCoating), ageing.NewGrouper(ageing.ByCoating)
	c := &Comparison{}
	err := d.Results(ctx, desk.ResultsOptions{}, func(r *study.Result) error {
		found.Add(r)
		change := trueChange(t, r)
		if r.CorrectedChange.Value.Valid() && r.Pull > 0 {
			c.Changes++
			if math.Abs(float64(r.CorrectedChange.Value-change)) <= 1.96*float64(r.CorrectedChange.U) {
				c.Within++
			}
		}
		made := *r
		made.CorrectedChange = study.Measure{Value: change, U: r.Change.U}
		truth.Add(&made)
		return nil
	})
	c.Found, c.True = found.Groups(), truth.Groups()
	return c, err
}

// trueChange is the true change of a row, in pp.
func trueChange(t scenario.Truth, r *study.Result) study.Num {
	unit := study.Unit{Coupon: r.Coupon, Pull: int(r.Pull), Spot: r.Spot, Condition: r.Condition}
	start := unit
	start.Pull = 0
	return study.Num(100 * (t[unit] - t[start]))
}
