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
	// Keep says which exposed coupons are wanted; nil: all. Controls are always there.
	Keep func(*series.Coupon) bool

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
func (d *Desk) Series(ctx context.Context, quantity string, opt SeriesOptions) (data *series.Data, err error) {
	q, err := FindQuantity(quantity)
	if err != nil {
		return nil, err
	}
	err = d.view(ctx, opt.AsOf, func(v *store.View) error {
		roster, err := v.Roster()
		if err == nil {
			data, err = d.series(ctx, v, roster, q, opt)
		}
		return err
	})
	return data, err
}

// series is Series of one moment.
func (d *Desk) series(ctx context.Context, v *store.View, roster *study.Roster, q series.Quantity,
	opt SeriesOptions) (*series.Data, error) {
	b := series.NewBuilder(q, roster, d.Settings().Correction, opt.AsFound)
	var err error
	if q.Measured {
		err = addMeasured(v, b)
	} else {
		follows := q.Followed
		prepare := func(rows []*study.Result) []*series.Prepared { return []*series.Prepared{b.Prepare(rows)} }
		take := func(p *series.Prepared) error {
			b.Take(p)
			return nil
		}
		err = rowsOfCoupons(ctx, d, v, roster, ResultsOptions{follows: &follows, Workers: opt.Workers}, prepare, take)
	}
	if err != nil {
		return nil, err
	}
	data := b.Data()
	if opt.Keep != nil {
		kept := data.Coupons[:0]
		for i := range data.Coupons {
			if c := &data.Coupons[i]; c.Role != study.Exposed || opt.Keep(c) {
				kept = append(kept, *c)
			}
		}
		data.Coupons = kept
	}
	return data, nil
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
