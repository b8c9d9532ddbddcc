package desk

import (
	"context"

	"wane/study"
	"wane/study/ageing"
	"wane/study/life"
)

// Groups gathers the results of exposed coupons into groups at each pull.
func (d *Desk) Groups(ctx context.Context, by ageing.By, opt ResultsOptions) ([]ageing.Group, error) {
	g := ageing.NewGrouper(by)
	err := d.Results(ctx, opt, func(r *study.Result) error {
		g.Add(r)
		return nil
	})
	if err != nil {
		return nil, err
	}
	roster, err := d.store.Roster(ctx)
	if err != nil {
		return nil, err
	}
	eachEnded(roster, func(r *study.Result, with string) {
		if opt.Keep == nil || opt.Keep(r) {
			g.AddEnded(r, with)
		}
	})
	return g.Groups(), nil
}

// eachEnded hands each exposed coupon whose history has ended to yield, at each pull by which it had: its keys alone.
func eachEnded(roster *study.Roster, yield func(r *study.Result, with string)) {
	lives := life.New(roster)
	for i := range roster.Coupons {
		c := &roster.Coupons[i]
		l := lives.Of(c.Coupon)
		end := l.End()
		if end == nil || c.Role != study.Exposed {
			continue
		}
		for _, pull := range l.Pulls() {
			if !l.EndedBy(pull) {
				continue
			}
			r := study.NewResult()
			r.Coupon, r.Role, r.Supplier, r.Coating, r.Lot = c.Coupon, string(c.Role), c.Supplier, c.Coating, c.Lot
			r.Exposure, r.Pull = l.ExposureAt(pull), study.Num(pull)
			yield(&r, end.Words())
		}
	}
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
