package desk

import (
	"context"

	"wane/study"
	"wane/study/store"
)

// Independent is a thickness by another method beside that of a fit.
type Independent struct {
	Thickness  study.Measure // nm
	Method     string        // empty if there is no such thickness
	Difference study.Measure // fitted minus independent, nm
}

// ResultsBeside is [Desk.Results] with thicknesses that other instruments measured: those of the spot at
// that pull, or if there are none, those of the coupon as a whole. A measurement in another condition does
// not count. If the measurement or the row names no condition, it counts. A row comes once for each
// measurement, in the order of condition, method, date and replicate; without a measurement it comes once.
func (d *Desk) ResultsBeside(
	ctx context.Context, opt ResultsOptions, yield func(*study.Result, *Independent) error,
) error {
	type place struct {
		coupon string
		pull   int
		spot   string
	}
	measured := map[place][]study.Measurement{}
	err := d.view(ctx, opt.AsOf, func(v *store.View) error {
		return v.Thicknesses(func(m study.Measurement) error {
			p := place{m.Coupon, m.Pull, m.Spot}
			measured[p] = append(measured[p], m)
			return nil
		})
	})
	if err != nil {
		return err
	}
	return d.Results(ctx, opt, func(r *study.Result) error {
		list := inCondition(r.Condition, measured[place{r.Coupon, int(r.Pull), r.Spot}])
		if len(list) == 0 {
			list = inCondition(r.Condition, measured[place{r.Coupon, int(r.Pull), ""}])
		}
		if len(list) == 0 {
			return yield(r, &Independent{study.NoMeasure(), "", study.NoMeasure()})
		}
		for _, m := range list {
			thickness := study.Measure{Value: m.Value, U: m.U}
			if err := yield(r, &Independent{thickness, m.Method, r.Thickness.Minus(thickness)}); err != nil {
				return err
			}
		}
		return nil
	})
}

// inCondition returns the measurements that may be compared with a reading in a condition.
func inCondition(condition string, list []study.Measurement) []study.Measurement {
	var fit []study.Measurement
	for _, m := range list {
		if m.Condition == "" || condition == "" || m.Condition == condition {
			fit = append(fit, m)
		}
	}
	return fit
}
