package film

import (
	"context"
	"errors"

	"gonum.org/v1/gonum/floats"

	"wane/fit"
)

// CurveInfluence holds the influence of each point of one curve on a verdict. All slices
// have one entry for each point that was fitted. All but Leverage are NaN where the fit without
// the point does not exist: see [fit.Influence].
type CurveInfluence struct {
	AngleDeg float64
	NM       []float64 // wavelengths, nm

	Leverage    []float64 // derivative of the fitted value by the reading, 0 to 1
	Studentised []float64 // reading less model, over its standard deviation by the other points
	Cook        []float64 // Cook's distance

	// The change of each value when the point is excluded; zeros if it is fixed.
	ThicknessNM []float64 // nm
	Bare        []float64 // bare fraction
	Mean        []float64 // weighted mean of the probe, a fraction; nil without a probe
}

// Influence returns the influence of the points of each curve, in the order of the
// spot, on the fit of the equivalent uniform film, or of bare glass. p may be nil. Priors count as further data.
// Parameters on a bound are held there. The shifts hold to first order: see
// [fit.Problem.Influence].
//
// A fit with a robust loss gives an [*InputError], and so do curves that do not determine
// all parameters. If ctx is done, the error wraps ctx.Err().
func (v *Verdict) Influence(ctx context.Context, p *Probe) ([]CurveInfluence, error) {
	if v.model.spot.Loss != fit.Squares {
		return nil, robustError("the influence of points")
	}
	m, err := v.model.onAllPoints()
	if err != nil {
		return nil, err
	}
	problem := m.problemAt(v.chosen)
	for i := range problem.Params {
		q := &problem.Params[i]
		q.Fixed = q.Fixed || v.chosen.atBound[i]
	}
	best, err := fit.Solve(ctx, problem, &profilePrecision)
	if err != nil {
		return nil, err
	}
	all, err := problem.Influence(best)
	var singular *fit.SingularError
	if errors.As(err, &singular) {
		return nil, inputErrorOf("spot", "without single points its curves do not determine the fit", err,
			"give more curves, or fix parameters")
	}
	if err != nil {
		return nil, err
	}
	d := m.derive(best.X)
	var mean derived
	if p != nil {
		g := m.filmAt(best.X)
		mean = p.mean(best.X, &g)
	}
	out := make([]CurveInfluence, len(v.model.spot.Curves))
	m.eachPoint(func(c *curve, i, at int) {
		to, shift := &out[c.source], all.Shift.RawRowView(at)
		to.AngleDeg = c.angle
		to.NM = append(to.NM, c.nm[i])
		to.Leverage = append(to.Leverage, all.Leverage[at])
		to.Studentised = append(to.Studentised, -all.Studentised[at]) // of reading less model, as in figures
		to.Cook = append(to.Cook, all.Cook[at])
		to.ThicknessNM = append(to.ThicknessNM, floats.Dot(d.thickness.grad, shift))
		to.Bare = append(to.Bare, shift[pBare])
		if p != nil {
			to.Mean = append(to.Mean, floats.Dot(mean.grad, shift))
		}
	})
	return out, nil
}

// problemAt is the problem of single residuals from s.
func (m *model) problemAt(s *solution) *fit.Problem {
	params := append([]fit.Param(nil), s.params...)
	for i := range params {
		params[i].Start = s.x[i]
	}
	m.setFreeParams(params)
	return &fit.Problem{Params: params, Points: m.rows, Residuals: m.residuals, Jacobian: m.jacobian}
}

// robustError returns the error for a result that a fit with a robust loss cannot give.
func robustError(what string) error {
	return &InputError{"loss", what + " is known of fits of least squares only", "fit the spot with the loss squares"}
}
