package drawn

import (
	"math"
	"slices"

	"wane/study"
	"wane/study/desk"
	"wane/study/report"
	"wane/study/shape"
)

// TrendOptions say how a trend is drawn.
type TrendOptions struct {
	By    shape.By
	In    shape.Axis
	Limit float64     // a loss at which a line is drawn; NaN: none
	Route study.Route // of the study
}

// Trend draws the changes of groups or coupons with their fitted shapes.
func Trend(t *desk.Trend, o TrendOptions) (*report.Changes, error) {
	curves, err := t.Curves(o.By, o.In)
	if err != nil {
		return nil, err
	}
	q := &t.Data.Quantity
	f := report.NewChanges(string(o.By), o.Route)
	if q.Name != "solar_T" {
		f = report.NewChangesOf(QuantityWords(q.Name), q.Unit, string(o.By), o.Route)
	}
	if q.Measured && o.Route == study.RouteNone {
		f.Caption = append(f.Caption, "What sessions are off is not known, and is not in the intervals.")
	}
	f.Named = o.By == shape.ByCoupon
	if !math.IsNaN(o.Limit) {
		f.Limit = o.Limit
		if q.Worse < 0 {
			f.Limit = -o.Limit
		}
	}
	lots := false
	for _, c := range curves {
		f.Series = append(f.Series, seriesOfTrend(&c))
		lots = lots || slices.ContainsFunc(c.Means, func(m shape.Mean) bool { return m.Lots })
	}
	if lots {
		f.Caption = append(f.Caption, "Where a group has three lots or more, its means and intervals are over the lots.")
	}
	return f, nil
}

// seriesOfTrend hands a curve to a figure.
func seriesOfTrend(c *desk.TrendCurve) report.Series {
	s := report.Series{Name: c.Name, DoseUnit: c.DoseUnit}
	for _, m := range c.Means {
		p := report.Point{Dose: m.X, Start: m.Baseline, Mean: m.Value, Lo: m.Lower, Hi: m.Upper}
		for _, coupon := range m.Coupons {
			p.Coupons = append(p.Coupons, report.CouponChange(coupon))
		}
		s.Points = append(s.Points, p)
	}
	for _, at := range c.Fitted {
		s.Fitted = append(s.Fitted, report.At{Dose: at[0], Change: at[1]})
	}
	return s
}
