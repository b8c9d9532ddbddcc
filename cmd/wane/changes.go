package main

import (
	"cmp"
	"math"
	"slices"

	"github.com/spf13/cobra"

	"wane/study"
	"wane/study/ageing"
	"wane/study/desk"
	"wane/study/report"
)

// drawChanges draws change against dose by group.
func drawChanges(cmd *cobra.Command, d *desk.Desk, o *resultsOptions) error {
	by := ageing.By(o.by)
	if by == "" {
		by = ageing.ByCoating
	}
	groups, err := d.Groups(cmd.Context(), by, o.options())
	if err != nil {
		return err
	}
	f := &report.Changes{
		Title:     "Change of solar transmittance by " + string(by),
		Corrected: d.Settings().Correction == study.RouteControls,
		Named:     o.named,
		Series:    seriesOf(groups),
		Caption: []string{"Front surface, AM1.5 global by energy, 300-2500 nm. The coupon is the unit: its spots are " +
			"averaged."},
	}
	if f.Corrected {
		f.Caption = append(f.Caption,
			"Corrected by the mean change of the controls of the same coating; its uncertainty is in the intervals.")
	}
	if said := notTrusted(groups); said != "" {
		f.Caption = append(f.Caption, said+".")
	}
	if len(f.Series) == 0 {
		return &study.Refusal{Fault: "there is no change to draw: no exposed coupon has a dose and a change yet",
			Try: "take more pulls in and run wane fit, or leave --figure out"}
	}
	mode, err := d.Mode()
	if err != nil {
		return err
	}
	return writeFigure(o.figure, f, mode)
}

// seriesOf makes one series for each group, exposure and condition.
func seriesOf(groups []ageing.Group) []report.Series {
	exposures, conditions := map[string]bool{}, map[string]bool{}
	for _, g := range groups {
		exposures[g.Exposure], conditions[g.Condition] = true, true
	}
	groups = slices.Clone(groups)
	slices.SortStableFunc(groups, func(a, b ageing.Group) int {
		return cmp.Or(cmp.Compare(a.Group, b.Group), cmp.Compare(a.Exposure, b.Exposure),
			cmp.Compare(a.Condition, b.Condition))
	})
	var series []report.Series
	last := ""
	for _, g := range groups {
		if !g.Dose.Valid() || !g.Change.Valid() {
			continue
		}
		name := g.Group
		if len(exposures) > 1 {
			name += ", " + g.Exposure
		}
		if len(conditions) > 1 && g.Condition != "" {
			name += ", " + g.Condition
		}
		if key := g.Group + "\x00" + g.Exposure + "\x00" + g.Condition; key != last {
			series, last = append(series, report.Series{Name: name, DoseUnit: g.DoseUnit}), key
		}
		p := report.Point{Dose: float64(g.Dose), Mean: float64(g.Change), Lo: math.NaN(), Hi: math.NaN()}
		if g.Lo.Valid() {
			p.Lo, p.Hi = float64(g.Lo), float64(g.Hi)
		}
		for _, c := range g.Coupon {
			p.Coupons = append(p.Coupons, report.CouponChange(c))
		}
		s := &series[len(series)-1]
		s.Points = append(s.Points, p)
	}
	return series
}
