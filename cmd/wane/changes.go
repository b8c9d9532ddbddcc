package main

import (
	"fmt"
	"math"

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
	groups, err := grouped(cmd, d, by)
	if err != nil {
		return err
	}
	f := &report.Changes{
		Title:     "Change of solar transmittance by " + string(by),
		Corrected: d.Settings().Correction == study.RouteControls,
		Series:    seriesOf(groups),
		Caption:   []string{"Front surface, AM1.5 global by energy, 300-2500 nm. The coupon is the unit: its spots are averaged."},
	}
	if f.Corrected {
		f.Caption = append(f.Caption, "Corrected by the mean change of the controls of the same coating; its uncertainty is in the intervals.")
	}
	if len(f.Series) == 0 {
		return &study.Refusal{Fault: "there is no change to draw: no exposed coupon has a dose and a change yet", Try: "take more pulls in and run wane fit, or leave --figure out"}
	}
	return writeFigure(o.figure, f)
}

// seriesOf makes one series for each group and exposure.
func seriesOf(groups []ageing.Group) []report.Series {
	exposures := map[string]map[string]bool{}
	for _, g := range groups {
		if exposures[g.Group] == nil {
			exposures[g.Group] = map[string]bool{}
		}
		exposures[g.Group][g.Exposure] = true
	}
	var series []report.Series
	last := ""
	for _, g := range groups {
		if !g.Dose.Valid() || !g.Change.Valid() {
			continue
		}
		name := g.Group
		if len(exposures[g.Group]) > 1 {
			name = fmt.Sprintf("%s, %s", g.Group, g.Exposure)
		}
		if key := g.Group + "\x00" + g.Exposure; key != last {
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
