package demo

import (
	"context"
	"math"

	"wane/study"
	"wane/study/ageing"
	"wane/study/desk"
	"wane/study/scenario"
)

// Comparison has the results of a made-up study and its truth.
type Comparison struct {
	Found, True []ageing.Group // by coating, alike in number and order
	Changes     int            // corrected changes of exposed spots after their baseline
	Within      int            // of them, within their 95 % interval of the truth
}

// Compare compares the results of a study with its truth.
func Compare(ctx context.Context, truth scenario.Truth, d *desk.Desk) (*Comparison, error) {
	found, made := ageing.NewGrouper(ageing.ByCoating), ageing.NewGrouper(ageing.ByCoating)
	c := &Comparison{}
	err := d.Results(ctx, desk.ResultsOptions{}, func(r *study.Result) error {
		found.Add(r)
		change := trueChange(truth, r)
		if r.CorrectedChange.Value.Valid() && !r.IsBaseline() {
			c.Changes++
			if math.Abs(float64(r.CorrectedChange.Value-change)) <= 1.96*float64(r.CorrectedChange.U) {
				c.Within++
			}
		}
		asMade := *r
		asMade.CorrectedChange = study.Measure{Value: change, U: r.Change.U}
		made.Add(&asMade)
		return nil
	})
	c.Found, c.True = found.Groups(), made.Groups()
	return c, err
}

// trueChange returns the true change of solar_T of a row since its baseline, in pp.
func trueChange(truth scenario.Truth, r *study.Result) study.Num {
	unit := study.Unit{Coupon: r.Coupon, Pull: int(r.Pull), Spot: r.Spot, Condition: r.Condition}
	start := unit
	start.Pull = int(r.BaselinePull)
	return study.Num(100 * (truth[unit] - truth[start]))
}
