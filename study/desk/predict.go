package desk

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"wane/fit/film"
	"wane/study"
	"wane/study/evaluate"
	"wane/study/store"
)

// PredictOptions are what a person states of films whose spectra are predicted.
type PredictOptions struct {
	Pane                        // not used with a fit
	Instrument  film.Instrument // not used with a fit
	Film        film.Sample
	View        evaluate.View
	Vary        []Varied
	Workers     int // 0: one for each processor; nothing depends on it
	WithSpectra bool
}

// Varied is a parameter of the film that runs from Lo to Hi.
type Varied struct {
	Name         string // one of VariedNames
	Lo, Hi, Step float64
}

// variedFields are the parameters that can be varied.
var variedFields = []struct {
	name string
	of   func(*film.Sample) *float64
}{
	{"thickness", func(s *film.Sample) *float64 { return &s.ThicknessNM }},
	{"porosity", func(s *film.Sample) *float64 { return &s.Porosity }},
	{"bare", func(s *film.Sample) *float64 { return &s.Bare }},
	{"gradient", func(s *film.Sample) *float64 { return &s.Gradient }},
	{"skin", func(s *film.Sample) *float64 { return &s.SkinNM }},
	{"spread", func(s *film.Sample) *float64 { return &s.SpreadNM }},
	{"roughness", func(s *film.Sample) *float64 { return &s.RoughNM }},
}

// VariedNames are the parameters of a film that can be varied.
func VariedNames() (names []string) {
	for _, f := range variedFields {
		names = append(names, f.name)
	}
	return names
}

// MostForecasts is the largest number of films of a sweep.
const MostForecasts = 100_000

// films returns the films of a sweep, the first parameter slowest.
func (o *PredictOptions) films() ([]film.Sample, error) {
	all := []film.Sample{o.Film}
	for i := range o.Vary {
		v := &o.Vary[i]
		k := slices.Index(VariedNames(), v.Name)
		if k < 0 {
			return nil, usagef("vary one of "+strings.Join(VariedNames(), ", "), "--vary: a film has no parameter %q", v.Name)
		}
		values, err := v.values()
		if err != nil {
			return nil, err
		}
		if len(values) > MostForecasts/len(all) {
			return nil, usagef("take a larger step or a shorter range", "--vary asks for more than %d films", MostForecasts)
		}
		grown := make([]film.Sample, 0, len(all)*len(values))
		for _, s := range all {
			for _, value := range values {
				*variedFields[k].of(&s) = value
				grown = append(grown, s)
			}
		}
		all = grown
	}
	return all, nil
}

// values are those of a parameter, the ends included where the step meets them.
func (v *Varied) values() ([]float64, error) {
	switch steps := (v.Hi - v.Lo) / v.Step; {
	case !(v.Hi > v.Lo):
		return nil, usagef("give the smaller value first, for example --vary thickness=90-140",
			"--vary %s=%g-%g is no range", v.Name, v.Lo, v.Hi)
	case !(v.Step > 0) || math.IsInf(v.Step, 0):
		return nil, usagef("give a step above 0, for example --step 5", "--step %g does not lead from %g to %g", v.Step, v.Lo,
			v.Hi)
	case !(steps < MostForecasts):
		return nil, usagef("take a larger step or a shorter range", "--vary %s=%g-%g by %g asks for more than %d films",
			v.Name, v.Lo, v.Hi, v.Step, MostForecasts)
	default:
		values := make([]float64, 1+int(steps+1e-9)) // rounding may make a whole number of steps a little smaller
		for i := range values {
			values[i] = min(v.Lo+float64(i)*v.Step, v.Hi)
		}
		return values, nil
	}
}

// Predict hands what films show to yield, in the order of the sweep, with the spectra where they are wanted: of the films
// of the options, or with a fit of its film, of which the options state some parameters anew. Everything that it depends on
// was stated, so that each refusal is a [*UsageError], except that of a file.
func Predict(ctx context.Context, opt *PredictOptions, fit *evaluate.Fitted,
	yield func(*evaluate.Forecast, []evaluate.Spectrum) error) error {
	films, err := opt.films()
	if err != nil {
		return err
	}
	workers, err := countWorkers(opt.Workers)
	if err != nil {
		return err
	}
	workers = min(workers, 1+len(films)/50) // each makes its own tables
	if fit != nil {
		workers = 1 // the fit has scratch memory
	}
	newForecaster, err := opt.forecasters(fit)
	if err != nil {
		return err
	}
	forecasters := make([]*evaluate.Forecaster, workers)
	type seen struct {
		forecast *evaluate.Forecast
		spectra  []evaluate.Spectrum
	}
	do := func(_ context.Context, worker int, s film.Sample) (out seen, err error) {
		f := forecasters[worker]
		if f == nil {
			if f, err = newForecaster(); err != nil {
				return out, statedWrongly(err)
			}
			forecasters[worker] = f
		}
		if out.forecast, err = f.Predict(s); err == nil && opt.WithSpectra {
			out.spectra = f.Spectra()
		}
		return out, statedWrongly(err)
	}
	return inOrder(ctx, workers, slices.Values(films), do, func(s seen) error { return yield(s.forecast, s.spectra) })
}

// forecasters returns what makes forecasters.
func (o *PredictOptions) forecasters(fit *evaluate.Fitted) (func() (*evaluate.Forecaster, error), error) {
	if fit != nil {
		return func() (*evaluate.Forecaster, error) { return fit.Forecaster(o.View) }, nil
	}
	if err := film.CheckInstrument(&o.Instrument); err != nil {
		return nil, instrumentRefused(err)
	}
	setup, err := o.Setup()
	if err != nil {
		return nil, err
	}
	setup.Instrument = o.Instrument
	return func() (*evaluate.Forecaster, error) { return evaluate.NewForecaster(*setup, o.View) }, nil
}

// instrumentRefused is the refusal of an instrument in the words of flags.
func instrumentRefused(err error) error {
	var bad *film.InputError
	if errors.As(err, &bad) {
		return usagef(bad.Try, "%s", bad.Fault)
	}
	return err
}

// Fitted fits one spot of a study again, by itself, to predict from: of the coupon at the pull, and of the spot and in the
// condition where they are stated. If there are several, or none, it is refused.
func (d *Desk) Fitted(ctx context.Context, coupon string, pull int, spot, condition string) (f *evaluate.Fitted,
	row *study.Result, err error) {
	err = d.view(ctx, 0, func(v *store.View) error {
		roster, err := v.Roster()
		if err != nil {
			return err
		}
		if !slices.ContainsFunc(roster.Coupons, func(c study.Coupon) bool { return c.Coupon == coupon }) {
			return notEnrolled(roster, coupon)
		}
		var rows []*study.Result
		if err := d.results(ctx, v, roster, ResultsOptions{Coupon: coupon}, func(r *study.Result) error {
			if r.Pull == study.Num(pull) && (spot == "" || r.Spot == spot) && (condition == "" || r.Condition == condition) {
				rows = append(rows, r)
			}
			return nil
		}); err != nil {
			return err
		}
		if row, err = onlyRow(coupon, pull, rows); err != nil {
			return err
		}
		units, err := d.unitsSeen(v, coupon)
		if err != nil {
			return err
		}
		w, err := d.newWorkspace(roster, units, 1)
		if err != nil {
			return err
		}
		w.loadReadings = func(_ context.Context, u study.Unit) ([]study.Reading, error) { return v.Readings(u) }
		readings, e, err := w.prepareRow(ctx, row)
		if err != nil {
			return err
		}
		f, err = e.Fitted(ctx, readings)
		return err
	})
	return f, row, err
}

// onlyRow is the only one of some rows of a coupon at a pull.
func onlyRow(coupon string, pull int, rows []*study.Result) (*study.Result, error) {
	var names []string
	for _, r := range rows {
		name := "--spot " + r.Spot
		if r.Condition != "" {
			name += " --condition " + r.Condition
		}
		names = append(names, name)
	}
	switch len(rows) {
	case 0:
		return nil, &study.Refusal{Fault: fmt.Sprintf("coupon %s has no such result at pull %d", coupon, pull),
			Try: "see what it has: wane results " + coupon + "; after new exports run wane fit"}
	case 1:
		return rows[0], nil
	}
	return nil, usagef("add one: "+strings.Join(names, ", or "), "coupon %s has %d results at pull %d", coupon, len(rows),
		pull)
}

// Count returns how many films a sweep has; 0 for one that Predict refuses.
func (o *PredictOptions) Count() int {
	films, err := o.films()
	if err != nil {
		return 0
	}
	return len(films)
}
