package desk

import (
	"context"

	"wane/study"
	"wane/study/ageing"
	"wane/study/store"
)

// Soilings hands the soiling of each spot that was read as found and cleaned at one pull to yield, sorted by coupon,
// pull and spot, all of one moment of the study. keep says which rows are wanted, by the row as found; nil: all.
func (d *Desk) Soilings(ctx context.Context, keep func(*study.Result) bool, yield func(*ageing.Soiling) error) error {
	return d.store.View(ctx, func(v *store.View) error {
		roster, err := v.Roster()
		if err != nil {
			return err
		}
		changes := ageing.NewChanges(roster, d.Settings().Correction)
		untrusted, err := distrusted(v, roster)
		if err != nil {
			return err
		}
		changes.DistrustSessions(untrusted)
		return byCoupon(v, roster, fitsOfRoles(v), func(fits []*study.Fit) error {
			for _, s := range changes.Soilings(fits) {
				if keep != nil && !keep(s.AsFound) {
					continue
				}
				if err := yield(s); err != nil {
					return err
				}
			}
			return nil
		})
	})
}
