package desk

import (
	"context"

	"wane/study"
	"wane/study/evaluate"
	"wane/study/store"
)

// Results hands one row for each coupon, pull and spot to yield, sorted by coupon,
// pull and spot, all of one moment of the study. It streams through: one coupon's
// fits are held at a time, and one number for each control and pull.
func (d *Desk) Results(ctx context.Context, yield func(*study.Result) error) error {
	return d.store.View(ctx, func(v *store.View) error {
		roster, err := v.Roster()
		if err != nil {
			return err
		}
		book := evaluate.NewBook(roster, d.Settings().Correction)
		err = byCoupon(v, func(fits []*study.Fit) error {
			book.AddControl(fits)
			return nil
		}, study.Control)
		if err != nil {
			return err
		}
		return byCoupon(v, func(fits []*study.Fit) error {
			for _, r := range book.Rows(fits) {
				if err := yield(r); err != nil {
					return err
				}
			}
			return nil
		})
	})
}

// byCoupon hands the current fits to yield, all of one coupon at a time. Without
// roles they are those of all coupons.
func byCoupon(v *store.View, yield func([]*study.Fit) error, roles ...study.Role) error {
	var fits []*study.Fit
	err := v.Fits(func(f *study.Fit) error {
		if len(fits) > 0 && fits[0].Coupon != f.Coupon {
			if err := yield(fits); err != nil {
				return err
			}
			fits = nil
		}
		fits = append(fits, f)
		return nil
	}, roles...)
	if err != nil || len(fits) == 0 {
		return err
	}
	return yield(fits)
}
