package main

import (
	"github.com/spf13/cobra"

	"wane/study"
	"wane/study/desk"
	"wane/study/drawn"
	"wane/study/shape"
)

// drawTrend draws the changes of the groups with their fitted shapes.
func drawTrend(cmd *cobra.Command, d *desk.Desk, o *trendOptions, at desk.Moment, t *desk.Trend) error {
	stamp, err := d.Stamp(cmd.Context(), at.Line)
	if err != nil {
		return err
	}
	f, err := drawn.Trend(t, o.drawing(d.Settings().Correction))
	if err != nil {
		return err
	}
	f.Stamp = stamp
	return drawFigure(cmd, d, o.figure, f)
}

// drawing says how the trend is drawn in a study with this route.
func (o *trendOptions) drawing(route study.Route) drawn.TrendOptions {
	return drawn.TrendOptions{By: shape.By(o.by), In: shape.Axis(o.in), Limit: o.limit, Route: route}
}
