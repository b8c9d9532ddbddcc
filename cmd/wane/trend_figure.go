package main

import (
	"math"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"wane/study"
	"wane/study/desk"
	"wane/study/report"
	"wane/study/shape"
)

// drawTrend draws the changes of the groups with their fitted shapes.
func drawTrend(cmd *cobra.Command, d *desk.Desk, o *trendOptions, at desk.Moment, t *desk.Trend) error {
	f, err := figureOfTrend(o, d.Settings().Correction, t)
	if err != nil {
		return err
	}
	if f.Stamp, err = d.Stamp(cmd.Context(), at.Line); err != nil {
		return err
	}
	return drawFigure(cmd, d, o.figure, f)
}

// figureOfTrend returns the figure of a trend.
func figureOfTrend(o *trendOptions, route study.Route, t *desk.Trend) (*report.Changes, error) {
	curves, err := t.Curves(shape.By(o.by), shape.Axis(o.in))
	if err != nil {
		return nil, err
	}
	q := &t.Data.Quantity
	f := report.NewChanges(o.by, route)
	if q.Name != "solar_T" {
		f = report.NewChangesOf(quantityWords(q.Name), q.Unit, o.by, route)
	}
	if q.Measured && route == study.RouteNone {
		f.Caption = append(f.Caption, "What sessions are off is not known, and is not in the intervals.")
	}
	f.Named = o.by == string(shape.ByCoupon)
	if !math.IsNaN(o.limit) {
		f.Limit = o.limit
		if q.Worse < 0 {
			f.Limit = -o.limit
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

// quantityWords is the name of a quantity as a figure writes it.
func quantityWords(name string) string {
	switch name {
	case "cell_T":
		return "cell transmittance"
	case "solid":
		return "material left"
	}
	return strings.ReplaceAll(name, "_", " ")
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
