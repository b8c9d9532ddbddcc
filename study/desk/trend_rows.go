package desk

import (
	"math"

	"wane/study/shape"
)

// TrendRow is one number of a trend.
type TrendRow struct {
	Group, Exposure, Quantity string
	Shape                     string // of the change, or the law of lives; empty where nothing can be said
	shape.Estimate
	DoseUnit string
	N        int // coupons
	Pulls    int // after the baseline; 0: of no path
	Reached  int // coupons that have surely reached the limit; -1: of no life

	AICc, Difference float64 // of the shape; NaN: it has none
}

// Rows returns the numbers of the trend, group by group: slopes, shapes in the order of their criterion, lives.
func (t *Trend) Rows() (rows []TrendRow) {
	for i := range t.Groups {
		rows = append(rows, t.Groups[i].rows(t.Data.Quantity.Name)...)
	}
	return rows
}

func (g *TrendGroup) rows(quantity string) (rows []TrendRow) {
	nan := math.NaN()
	row := TrendRow{Group: g.Name, Exposure: g.Exposure, Quantity: quantity, DoseUnit: g.DoseUnit,
		N: len(g.Coupons), Reached: -1, AICc: nan, Difference: nan}
	if g.Path == nil || g.Why != nil {
		row.Estimate = shape.Estimate{Value: nan, U: nan, Lower: nan, Upper: nan, DF: nan, At: nan, Why: g.Why}
		return []TrendRow{row}
	}
	row.DoseUnit, row.N, row.Pulls = g.Path.XUnit, g.Path.Coupons, len(g.Path.X)
	add := func(of string, e *shape.Estimate, aicc, difference float64) {
		r := row
		r.Shape, r.Estimate, r.AICc, r.Difference = of, *e, aicc, difference
		rows = append(rows, r)
	}
	if g.Rate != nil {
		add(string(shape.Linear), g.Rate, nan, nan)
		rows[0].N = g.Rated
	}
	if g.Ranks != nil && len(g.Fits) != 1 {
		add(string(shape.Linear), g.Ranks, nan, nan)
	}
	for i := range g.Fits {
		f := &g.Fits[i]
		for k := range f.Parameters {
			add(string(f.Shape), &f.Parameters[k], f.AICc, f.Difference)
		}
	}
	if g.Ranks != nil && len(g.Fits) == 1 { // beside the line of the coupon
		add(string(shape.Linear), g.Ranks, nan, nan)
	}
	if g.Lives == nil {
		return rows
	}
	row.Pulls, row.N, row.Reached = 0, len(g.Lives.Crossings), g.Lives.Reached()
	for _, law := range g.Laws {
		for k := range law.Parameters {
			add(law.Law, &law.Parameters[k], nan, nan)
		}
	}
	return rows
}
