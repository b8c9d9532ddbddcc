package desk

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"strings"

	"wane/study"
	"wane/study/series"
	"wane/study/store"
)

// SeriesOptions say what of a quantity is gathered.
type SeriesOptions struct {
	// Keep says which exposed coupons are wanted, by what the roster says of them; nil: all. Controls are always there.
	// The fits of others are not read.
	Keep func(*series.Coupon) bool

	// Coupon is the only one that is gathered, beside the controls that can correct it; empty: all. The fits of others are
	// not read.
	Coupon string

	// Check looks at the roster before any fit is read; nil: nothing is to be checked.
	Check func(*study.Roster) error

	AsFound bool  // readings of soiled surfaces, as they were found, instead of those of clean ones
	Workers int   // coupons whose rows are made at once; 0: one for each core
	AsOf    int64 // the line of the log as of which the study is looked at; 0: the last one
}

// FindQuantity returns the quantity of a name; an unknown name is refused.
func FindQuantity(name string) (series.Quantity, error) {
	q, ok := series.Find(name)
	if !ok {
		return q, &study.Refusal{Fault: fmt.Sprintf("there is no quantity %q", name),
			Try: study.DidYouMean(name, series.Names(), "use one of "+strings.Join(series.Names(), ", "))}
	}
	return q, nil
}

// Series gathers a quantity of the exposed coupons and the controls of the study, all of one moment.
func (d *Desk) Series(ctx context.Context, quantity string, opt SeriesOptions) (*series.Data, error) {
	all, err := d.SeriesTogether(ctx, []string{quantity}, opt)
	if err != nil {
		return nil, err
	}
	return all[0], nil
}

// SeriesTogether is Series of several quantities, whose fits are read once.
func (d *Desk) SeriesTogether(ctx context.Context, quantities []string, opt SeriesOptions) (all []*series.Data, err error) {
	of := make([]series.Quantity, len(quantities))
	for i, name := range quantities {
		if of[i], err = FindQuantity(name); err != nil {
			return nil, err
		}
	}
	err = d.view(ctx, opt.AsOf, func(v *store.View) error {
		roster, err := v.Roster()
		if err == nil && opt.Check != nil {
			err = opt.Check(roster)
		}
		if err == nil {
			all, err = d.series(ctx, v, roster, of, opt)
		}
		return err
	})
	return all, err
}

// series is SeriesTogether of one moment.
func (d *Desk) series(ctx context.Context, v *store.View, roster *study.Roster, quantities []series.Quantity,
	opt SeriesOptions) ([]*series.Data, error) {
	all, of := make([]*series.Builder, len(quantities)), roster
	if opt.Coupon != "" {
		of = rosterOf(roster, append(controlsOf(roster, opt.Coupon), opt.Coupon))
	}
	var fitted []*series.Builder
	var follows []study.Followed
	for i, q := range quantities {
		all[i] = series.NewBuilder(q, of, d.Settings().Correction, opt.AsFound)
		if opt.Keep != nil {
			all[i].Keep(opt.Keep)
		}
		if q.Measured {
			if err := addMeasured(v, all[i]); err != nil {
				return nil, err
			}
			continue
		}
		fitted, follows = append(fitted, all[i]), append(follows, q.Followed)
	}
	if len(fitted) > 0 {
		prepare := func(rows [][]*study.Result) [][]*series.Prepared {
			one := make([]*series.Prepared, len(fitted))
			for i, b := range fitted {
				one[i] = b.Prepare(rows[i])
			}
			return [][]*series.Prepared{one}
		}
		take := func(one []*series.Prepared) error {
			for i, b := range fitted {
				b.Take(one[i])
			}
			return nil
		}
		with := rowsOptions{ResultsOptions: ResultsOptions{Workers: opt.Workers, Coupon: opt.Coupon}}
		if opt.Keep != nil || opt.Coupon != "" {
			with.only = fitted[0].Coupons()
		}
		err := rowsOfCoupons(ctx, d, v, roster, with, follows, prepare, take)
		if err != nil {
			return nil, err
		}
	}
	out := make([]*series.Data, len(all))
	for i, b := range all {
		out[i] = b.Data()
	}
	return out, nil
}

// addMeasured adds the measurements of each coupon.
func addMeasured(v *store.View, b *series.Builder) error {
	all := map[string][]study.Measurement{}
	err := v.Measurements(func(m study.Measurement) error {
		all[m.Coupon] = append(all[m.Coupon], m)
		return nil
	})
	for _, coupon := range slices.Sorted(maps.Keys(all)) {
		b.AddMeasured(coupon, all[coupon])
	}
	return err
}
