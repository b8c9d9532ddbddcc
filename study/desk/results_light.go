package desk

import (
	"context"
	"errors"
	"slices"
	"sync"

	"wane/study"
	"wane/study/evaluate"
	"wane/study/intake/sheet"
	"wane/study/intake/source"
	"wane/study/store"
)

// LitRow is a row of results with what it says in each light that was asked for.
type LitRow struct {
	*study.Result
	In []Lit
}

// Lit is a row in other light than that at normal incidence.
type Lit struct {
	// Row is the row with the transmittance in that light in place of solar_T: its change, corrected change, gain and gain
	// kept are of it, and its cell_T is solar_T.
	Row *study.Result

	// Modifier is this transmittance over solar_T: at one angle, the incidence-angle modifier.
	Modifier study.Measure
}

// CurrentChange returns a change in pp as one of current in percent of that at the baseline. Its uncertainty is that of
// the change: what the transmittance at the baseline is off adds less than a hundredth of it.
func (l *Lit) CurrentChange(changePP study.Measure) study.Measure {
	before := l.Row.SolarT.Value - l.Row.Change.Value/100
	if !(before > 0) {
		return study.NoMeasure()
	}
	return study.Measure{Value: changePP.Value / before, U: changePP.U / before}
}

// ResultsInLight is [Desk.Results] with what each row says in other lights. All spots are fitted now, in each light, and
// nothing is stored; progress counts them. Offsets between instruments are known of solar_T alone and are not taken off.
func (d *Desk) ResultsInLight(ctx context.Context, opt ResultsOptions, lights []evaluate.Light, progress Progress,
	yield func(*LitRow) error) error {
	workers, err := countWorkers(opt.Workers)
	if err != nil {
		return err
	}
	return d.view(ctx, opt.AsOf, func(v *store.View) error {
		roster, err := v.Roster()
		if err != nil {
			return err
		}
		in := make([]map[study.Unit]Lit, len(lights))
		for i := range lights {
			fits, err := d.fitsInLight(ctx, v, roster, &lights[i], workers, func(done, of int) {
				if progress != nil {
					progress(done+i*of, of*len(lights))
				}
			})
			if err != nil {
				return err
			}
			lit := opt
			lit.Keep, lit.inLight, in[i] = nil, fits, map[study.Unit]Lit{}
			err = d.results(ctx, v, roster, lit, func(r *study.Result) error {
				u := unitOfRow(r)
				l := Lit{Row: r, Modifier: study.NoMeasure()}
				if f := fits[u]; f != nil {
					l.Modifier = evaluate.Modifier(f)
				}
				in[i][u] = l
				return nil
			})
			if err != nil {
				return err
			}
		}
		return d.results(ctx, v, roster, opt, func(r *study.Result) error {
			row := &LitRow{Result: r, In: make([]Lit, len(lights))}
			for i := range lights {
				row.In[i] = in[i][unitOfRow(r)]
			}
			return yield(row)
		})
	})
}

func unitOfRow(r *study.Result) study.Unit {
	return study.Unit{Coupon: r.Coupon, Pull: int(r.Pull), Spot: r.Spot, Condition: r.Condition}
}

// fitsInLight fits all units of a view in a light, as the study corrects.
func (d *Desk) fitsInLight(ctx context.Context, v *store.View, roster *study.Roster, light *evaluate.Light, workers int,
	progress Progress) (map[study.Unit]*study.Fit, error) {
	units, err := v.Units()
	if err != nil {
		return nil, err
	}
	w, err := d.newWorkspace(roster, units, workers)
	if err != nil {
		return nil, err
	}
	w.light = light
	var reading sync.Mutex // a view is of one goroutine at a time
	w.loadReadings = func(_ context.Context, u study.Unit) ([]study.Reading, error) {
		reading.Lock()
		defer reading.Unlock()
		return v.Readings(u)
	}
	jobs := w.jobs()
	w.innerWorkers = max(1, workers/max(1, len(jobs)))
	fits := map[study.Unit]*study.Fit{}
	err = inOrder(ctx, workers, slices.Values(jobs), w.fit, func(done fitOutcome) error {
		for _, f := range done.fits {
			fits[f.Unit] = f
		}
		progress(len(fits), len(units))
		return nil
	})
	return fits, err
}

// inLight returns the fits in another light in place of those of one coupon that are stored.
func inLight(stored []*study.Fit, in map[study.Unit]*study.Fit, coupons map[string]*study.Coupon,
	ownersOf func(*study.Fit) study.Owners) []*study.Fit {
	out := make([]*study.Fit, len(stored))
	for i, f := range stored {
		lit := in[f.Unit]
		if lit == nil {
			lit = evaluate.NotEvaluated(coupons[f.Coupon].Role, f.Unit)
		}
		lit.Sessions, lit.Position = f.Sessions, f.Position
		owners := ownersOf(lit)
		lit.Errors.NameOwners(&owners)
		out[i] = lit
	}
	return out
}

// ReadLight reads how much light falls in at which angles: see [sheet.ReadIncidence].
func ReadLight(path string) (light evaluate.Light, err error) {
	data, err := source.ReadTable(path)
	if err != nil {
		return light, err
	}
	table, err := sheet.ReadIncidence(path, data)
	if err != nil {
		return light, err
	}
	return evaluate.MixedLight("as "+path+" says", table.AngleDeg, table.Beam, table.Diffuse)
}

// ReadResponse reads how a device answers to light: see [sheet.ReadResponse].
func ReadResponse(path string) (light evaluate.Light, err error) {
	data, err := source.ReadTable(path)
	if err != nil {
		return light, err
	}
	table, err := sheet.ReadResponse(path, data)
	if err != nil {
		return light, err
	}
	light, err = evaluate.ResponseLight("by the current of a device with the response of "+path, table.NM, table.Share)
	var refused *study.Refusal
	if errors.As(err, &refused) {
		err = refused.At(path, 0)
	}
	return light, err
}
