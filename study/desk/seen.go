package desk

import (
	"context"
	"errors"

	"wane/study"
	"wane/study/evaluate"
	"wane/study/store"
)

// SeenSpot is a row of results with the curves behind it.
type SeenSpot struct {
	Row *study.Result
	*evaluate.Seen
	Why *study.Refusal // there is nothing to see: why not; else nil
}

// Seen hands the rows of a coupon, as [Desk.Results] does with these options, with the curves behind each to yield.
// The curves are fitted now, each spot at each pull by itself; nothing is stored. A row without readings that count, or
// with some that cannot be fitted, has no curves and says why.
func (d *Desk) Seen(ctx context.Context, opt ResultsOptions, yield func(*SeenSpot) error) error {
	return d.seen(ctx, opt, (*evaluate.Evaluator).Seen, yield)
}

// SeenInSunlight is Seen with bands of sunlight in place of curves.
func (d *Desk) SeenInSunlight(ctx context.Context, opt ResultsOptions, yield func(*SeenSpot) error) error {
	return d.seen(ctx, opt, (*evaluate.Evaluator).SeenInSunlight, yield)
}

// seeing fits readings and returns what is seen of the fit.
type seeing func(*evaluate.Evaluator, context.Context, []study.Reading) (*evaluate.Seen, error)

func (d *Desk) seen(ctx context.Context, opt ResultsOptions, see seeing, yield func(*SeenSpot) error) error {
	return d.view(ctx, opt.AsOf, func(v *store.View) error {
		roster, err := v.Roster()
		if err != nil {
			return err
		}
		var rows []*study.Result
		if err := d.results(ctx, v, roster, opt, func(r *study.Result) error {
			rows = append(rows, r)
			return nil
		}); err != nil {
			return err
		}
		units, err := d.unitsSeen(v, opt.Coupon)
		if err != nil {
			return err
		}
		w, err := d.newWorkspace(roster, units, 1)
		if err != nil {
			return err
		}
		w.loadReadings = func(_ context.Context, u study.Unit) ([]study.Reading, error) { return v.Readings(u) }
		for _, r := range rows {
			s, err := w.seen(ctx, r, see)
			if err != nil {
				return err
			}
			if err := yield(s); err != nil {
				return err
			}
		}
		return nil
	})
}

// unitsSeen are the units that are needed to fit those of a coupon.
func (d *Desk) unitsSeen(v *store.View, coupon string) ([]store.Unit, error) {
	if coupon == "" || d.Settings().OverBlank {
		return v.Units()
	}
	return v.UnitsOf([]string{coupon})
}

// seen fits the unit of a row.
func (w *fitWorkspace) seen(ctx context.Context, r *study.Result, see seeing) (*SeenSpot, error) {
	out := &SeenSpot{Row: r}
	readings, e, err := w.prepareRow(ctx, r)
	if err == nil {
		out.Seen, err = see(e, ctx, readings)
	}
	if errors.As(err, &out.Why) {
		return out, nil
	}
	if err != nil {
		return nil, err
	}
	return out, nil
}

// prepareRow returns the readings of a row that count, with what fits them. That there are none is a [*study.Refusal].
func (w *fitWorkspace) prepareRow(ctx context.Context, r *study.Result) ([]study.Reading, *evaluate.Evaluator, error) {
	for i := range w.units {
		u := &w.units[i]
		if u.Coupon != r.Coupon || study.Num(u.Pull) != r.Pull || u.Spot != r.Spot || u.Condition != r.Condition ||
			u.Counted == 0 {
			continue
		}
		return w.prepare(ctx, 0, w.jobUnit(u))
	}
	return nil, nil, &study.Refusal{
		Fault: "no reading of it counts", Try: "see what is held or set aside: wane review --coupon " + r.Coupon}
}
