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
