package desk

import (
	"context"

	"wane/study"
	"wane/study/ageing"
)

// Groups gathers the results of exposed coupons into groups at each pull.
func (d *Desk) Groups(ctx context.Context, by ageing.By, opt ResultsOptions) ([]ageing.Group, error) {
	g := ageing.NewGrouper(by)
	err := d.Results(ctx, opt, func(r *study.Result) error {
		g.Add(r)
		return nil
	})
	return g.Groups(), err
}

// ChangeCurves returns the curves of change against dose, and the groups that they are made of. It is
// refused if there is nothing to draw.
func (d *Desk) ChangeCurves(
	ctx context.Context, by ageing.By, opt ResultsOptions,
) ([]ageing.Curve, []ageing.Group, error) {
	groups, err := d.Groups(ctx, by, opt)
	if err != nil {
		return nil, nil, err
	}
	curves := ageing.Curves(groups)
	if len(curves) == 0 {
		return nil, nil, &study.Refusal{
			Fault: "there is no change to draw: no exposed coupon has a dose and a change yet",
			Try:   "take more pulls in and run wane fit, or leave --figure out",
		}
	}
	return curves, groups, nil
}
