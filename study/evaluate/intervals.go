package evaluate

import (
	"context"
	"errors"
	"fmt"
	"math"

	"wane/fit/film"
	"wane/study"
)

// The methods for intervals.
const (
	ByProfile    = "profile"    // profile of the likelihood: see [film.Verdict.Profile]
	ByResiduals  = "bootstrap"  // repeated fits with runs of the residuals: see [film.Verdict.Bootstrap]
	ByParametric = "parametric" // repeated fits with normal errors
)

// IntervalMethods returns the methods for intervals.
func IntervalMethods() []string { return []string{ByProfile, ByResiduals, ByParametric} }

// Interval is the interval of one quantity. An open end is not determined by the curves: it
// is the limit of the possible values, or null if that is infinite. Both ends are null for a
// quantity that is pinned or not in the model.
type Interval struct {
	Name, Unit           string // name of the column of results, and its unit; 1 for a number
	Value, Lower, Upper  study.Num
	LowerOpen, UpperOpen bool
	Fault                string // why there is no interval; empty if there is one
}

// Intervals returns the intervals of the quantities of a verdict of e, by one of the
// [IntervalMethods]. level is above 0 and below 1; 0 means 0.95. The bootstraps repeat the
// fit 1,000 times with the seed 1. A profile that cannot be followed gives an interval with
// a Fault. A wrong level, or a verdict that has no intervals, gives a [*study.Refusal]. If
// ctx is done, the error wraps ctx.Err().
func (e *Evaluator) Intervals(ctx context.Context, v *film.Verdict, method string, level float64) ([]Interval, error) {
	rows := []Interval{
		{Name: "solar_T", Unit: "1", Value: study.Num(1 - v.Mean(e.solar).Value)},
		{Name: "cell_T", Unit: "1", Value: study.Num(1 - v.Mean(e.cell).Value)},
	}
	for _, q := range []struct {
		name, unit string
		e          film.Estimate
	}{ // in the order of film.Quantities
		{"optical_thickness_nm", "nm", v.OpticalThicknessNM}, {"film_index_550nm", "1", v.Index},
		{"thickness_nm", "nm", v.ThicknessNM}, {"porosity", "1", v.Porosity},
		{"bare_fraction", "1", v.Bare}, {"solid_nm", "nm", v.SolidNM}, {"scale", "1", v.Scale},
	} {
		rows = append(rows, Interval{Name: q.name, Unit: q.unit, Value: study.Num(q.e.Value)})
	}
	if method == ByProfile {
		return rows, refusalOrNil(e.profiles(ctx, v, level, rows))
	}
	b, err := v.Bootstrap(ctx, &film.Bootstrap{Parametric: method == ByParametric, Level: level, Seed: 1}, e.solar, e.cell)
	if err != nil {
		return nil, refusal(err)
	}
	for i, m := range b.Means {
		rows[i].Lower, rows[i].Upper = study.Num(1-m.Upper), study.Num(1-m.Lower)
	}
	for i, q := range b.Quantities {
		rows[2+i].Lower, rows[2+i].Upper = study.Num(q.Lower), study.Num(q.Upper)
	}
	return rows, nil
}

// profiles fills the ends of rows by profiles. The solar values are 1 less a mean of the
// reflectance, so their ends change places.
func (e *Evaluator) profiles(ctx context.Context, v *film.Verdict, level float64, rows []Interval) error {
	for i, probe := range []*film.Probe{e.solar, e.cell} {
		r, err := v.ProfileMean(ctx, probe, level)
		if err != nil {
			if err := rows[i].noteFault(ctx, err); err != nil {
				return err
			}
			continue
		}
		rows[i].Lower, rows[i].Upper = study.Num(1-r.Upper), study.Num(1-r.Lower)
		rows[i].LowerOpen, rows[i].UpperOpen = r.UpperOpen, r.LowerOpen
	}
	for i, name := range film.Quantities() {
		row := &rows[2+i]
		r, err := v.Profile(ctx, name, level)
		if err != nil {
			if err := row.noteFault(ctx, err); err != nil {
				return err
			}
			continue
		}
		row.Lower, row.Upper, row.LowerOpen, row.UpperOpen = study.Num(r.Lower), study.Num(r.Upper), r.LowerOpen, r.UpperOpen
	}
	for i := range rows { // an infinite end becomes null and open
		for _, end := range []struct {
			at   *study.Num
			open *bool
		}{{&rows[i].Lower, &rows[i].LowerOpen}, {&rows[i].Upper, &rows[i].UpperOpen}} {
			if math.IsInf(float64(*end.at), 0) {
				*end.at, *end.open = study.Null(), true
			}
		}
	}
	return nil
}

// noteFault marks an interval whose profile could not be followed, as for curves that hardly
// determine a parameter. It returns an error, which ends the work, if ctx is done or the
// input is faulty.
func (r *Interval) noteFault(ctx context.Context, err error) error {
	var in *film.InputError
	if ctx.Err() != nil || errors.As(err, &in) {
		return fmt.Errorf("interval of %s: %w", r.Name, err)
	}
	r.Lower, r.Upper, r.LowerOpen, r.UpperOpen, r.Fault = study.Null(), study.Null(), true, true, err.Error()
	return nil
}

// refusalOrNil is refusal for an error that may be nil.
func refusalOrNil(err error) error {
	if err == nil {
		return nil
	}
	return refusal(err)
}

// Influence returns the influence of each point of the curves of a verdict of e: see
// [film.Verdict.Influence]. The means are of the reflectance in solar_T. A verdict without
// influence gives a [*study.Refusal].
func (e *Evaluator) Influence(ctx context.Context, v *film.Verdict) ([]film.CurveInfluence, error) {
	curves, err := v.Influence(ctx, e.solar)
	return curves, refusalOrNil(err)
}
