package desk

import (
	"cmp"
	"context"
	"errors"
	"math"
	"slices"
	"strings"

	"wane/fit/film"
	"wane/study"
	"wane/study/evaluate"
)

// QuickFit is what was found of one spot.
type QuickFit struct {
	Result  *study.Result
	Verdict *film.Verdict

	opt       *QuickOptions
	evaluator *evaluate.Evaluator
}

// Fit fits the curves of one spot. The evaluator is shared, so that one spot is fitted at a time.
func (q *Quick) Fit(ctx context.Context, s *QuickSpot) (*QuickFit, error) {
	if q.evaluator == nil {
		var err error
		if q.evaluator, err = q.opt.Evaluator(q.setup); err != nil {
			return nil, err
		}
	}
	result, verdict, err := q.evaluator.Spot(ctx, s.curves, q.opt.Pins, q.baseline())
	var r *study.Refusal
	if errors.As(err, &r) && r.File == "" { // it is a refusal of all curves together
		return nil, r.At(strings.Join(s.Files, " "), r.Line)
	}
	if err != nil {
		return nil, err
	}
	return &QuickFit{Result: result, Verdict: verdict, opt: &q.opt, evaluator: q.evaluator}, nil
}

// baseline returns what is known of the film before exposure, nil if nothing is.
func (q *Quick) baseline() *evaluate.Baseline {
	if q.opt.BaselineNM == 0 {
		return nil
	}
	return &evaluate.Baseline{Thickness: study.Measure{Value: study.Num(q.opt.BaselineNM), U: study.Null()}}
}

// Structures are what each structure of the film came to. They say what the curves show of it, and change no value.
type Structures struct {
	Rungs []Rung // the simplest first

	// DetectionLimitNM is the thickness of the thinnest whole film that would be distinguished
	// from bare glass in 95 of 100 such spots; null if even a thick one would be missed.
	DetectionLimitNM study.Num
	// Called says that the flag structure is called. Else Rungs has no structures: what is fitted to curves that do not
	// call for any is noise.
	Called bool
}

// Rung is one structure that was fitted.
type Rung struct {
	film.Rung
	AboveLowestAICc float64 // AICc less the lowest of all
}

// Structures returns the structures that were fitted.
func (f *QuickFit) Structures(ctx context.Context) (*Structures, error) {
	limit, err := f.Verdict.DetectionLimit(ctx)
	if err != nil {
		return nil, err
	}
	all := &Structures{DetectionLimitNM: study.Num(limit), Called: slices.Contains(f.Verdict.Flags, film.FlagStructure)}
	for _, rung := range f.Verdict.Rungs {
		if rung.IsStructure() && !all.Called {
			continue
		}
		all.Rungs = append(all.Rungs, Rung{Rung: rung})
	}
	lowest := math.Inf(1)
	for i := range all.Rungs {
		lowest = min(lowest, all.Rungs[i].AICc)
	}
	for i := range all.Rungs {
		all.Rungs[i].AboveLowestAICc = all.Rungs[i].AICc - lowest
	}
	return all, nil
}

// Intervals returns the intervals that were asked for.
func (f *QuickFit) Intervals(ctx context.Context) ([]evaluate.Interval, error) {
	return f.evaluator.Intervals(ctx, f.Verdict, f.opt.Intervals, f.opt.Level)
}

// Budget returns where the uncertainty comes from, term by term.
func (f *QuickFit) Budget(ctx context.Context) ([]film.BudgetRow, error) {
	return f.evaluator.Budget(ctx, f.Verdict, nil, film.Budget{Seed: 1})
}

// PointInfluence is the influence of one point on the result. A shift is what would be added without the
// point.
type PointInfluence struct {
	Curve        int // counting from 1
	AngleDeg, NM float64
	Leverage     float64 // derivative of the fitted value by the reading, 0 to 1
	Studentised  float64 // residual over its standard deviation as the other points have it
	CookDistance float64
	ThicknessNM  float64 // shift, nm
	BareFraction float64 // shift
	SolarT       float64 // shift, percentage points
}

// Influence returns the influence of each point, in the order of curves and wavelengths.
func (f *QuickFit) Influence(ctx context.Context) ([]PointInfluence, error) {
	curves, err := f.evaluator.Influence(ctx, f.Verdict)
	if err != nil {
		return nil, err
	}
	var points []PointInfluence
	for k := range curves {
		c := &curves[k]
		for i := range c.NM {
			points = append(points, PointInfluence{
				Curve: k + 1, AngleDeg: c.AngleDeg, NM: c.NM[i],
				Leverage: c.Leverage[i], Studentised: c.Studentised[i], CookDistance: c.Cook[i],
				ThicknessNM: c.ThicknessNM[i], BareFraction: c.Bare[i],
				SolarT: -100 * c.Mean[i], // solar_T = 1 - the mean reflectance
			})
		}
	}
	return points, nil
}

// MostInfluential returns the n points of the largest Cook's distance, the largest first.
func MostInfluential(points []PointInfluence, n int) []PointInfluence {
	sorted := slices.Clone(points)
	slices.SortStableFunc(sorted, func(a, b PointInfluence) int { return cmp.Compare(b.CookDistance, a.CookDistance) })
	return sorted[:min(n, len(sorted))]
}
