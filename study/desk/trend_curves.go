package desk

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/floats"

	"wane/study"
	"wane/study/shape"
)

// TrendCurve is what a figure draws of a group.
type TrendCurve struct {
	Name, DoseUnit string // the name has the exposure, where there are several
	Means          []shape.Mean
	Fitted         [][2]float64 // doses and changes along the best shape; nil: none is drawn
}

// fittedPoints is the number of points of a fitted curve.
const fittedPoints = 101

// Curves returns the curves of the trend, those of coupons by coating. It is refused if there is nothing to draw.
func (t *Trend) Curves(by shape.By, in shape.Axis) ([]TrendCurve, error) {
	groups := t.Groups
	if by == shape.ByCoupon {
		by, groups = shape.ByCoating, nil
		for _, g := range shape.Groups(t.Data, by) {
			groups = append(groups, TrendGroup{Group: g})
		}
	}
	exposures := map[string]bool{}
	for i := range groups {
		exposures[groups[i].Exposure] = true
	}
	var curves []TrendCurve
	for i := range groups {
		g := &groups[i]
		means, err := g.Means(t.Data, by, in)
		var why *study.Refusal
		if errors.As(err, &why) {
			continue // the rows say so
		}
		if err != nil {
			return nil, err
		}
		if len(means) < 2 {
			continue
		}
		c := TrendCurve{Name: g.Name, DoseUnit: g.DoseUnit, Means: means, Fitted: g.fitted()}
		if in == shape.InDays {
			c.DoseUnit = "days"
		}
		if len(exposures) > 1 {
			c.Name += ", " + g.Exposure
		}
		curves = append(curves, c)
	}
	if len(curves) == 0 {
		return nil, &study.Refusal{Fault: "there is no change to draw: no exposed coupon has a dose and a change yet",
			Try: "take more pulls in and run wane fit, or leave --figure out"}
	}
	return curves, nil
}

// line returns the straight line of the population, whose intercept is free: through the middle of the path.
func (g *TrendGroup) line() func(x float64) float64 {
	n := float64(len(g.Path.X) + 1) // with the baseline
	x0, y0 := floats.Sum(g.Path.X)/n, floats.Sum(g.Path.Y)/n
	return func(x float64) float64 { return y0 + g.Rate.Value*(x-x0) }
}

// fitted returns the best shape that has parameters, or the straight line of the population; nil where there is none.
func (g *TrendGroup) fitted() (points [][2]float64) {
	if g.Path == nil {
		return nil
	}
	most := g.Path.X[len(g.Path.X)-1]
	var at func(x float64) float64
	switch {
	case len(g.Fits) > 0 && g.Fits[0].Found():
		at = g.Fits[0].At
	case g.Rate != nil && !math.IsNaN(g.Rate.Value):
		at = g.line()
	default:
		return nil
	}
	for i := range fittedPoints {
		x := most * float64(i) / (fittedPoints - 1)
		points = append(points, [2]float64{x, at(x)})
	}
	return points
}
