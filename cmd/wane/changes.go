package main

import (
	"github.com/spf13/cobra"

	"wane/study/ageing"
	"wane/study/desk"
	"wane/study/drawn"
	"wane/study/report"
)

// drawChanges draws change against dose by group, by coating if --by says nothing else.
func drawChanges(cmd *cobra.Command, d *desk.Desk, o *resultsOptions) error {
	by := ageing.By(o.by)
	if by == "" {
		by = ageing.ByCoating
	}
	curves, groups, err := d.ChangeCurves(cmd.Context(), by, o.options())
	if err != nil {
		return err
	}
	f := report.NewChanges(string(by), d.Settings().Correction)
	f.Named, f.Series = o.named, drawn.Series(curves)
	spots, lossless := 0, 0
	for i := range groups {
		spots, lossless = spots+groups[i].Spots, lossless+groups[i].Clear
	}
	if said := losslessCaption(lossless, spots); said != "" {
		f.Caption = append(f.Caption, said)
	}
	if said := distrustedWords(groups); said != "" {
		f.Caption = append(f.Caption, said+".")
	}
	if f.Stamp, err = d.Stamp(cmd.Context(), o.moment.Line); err != nil {
		return err
	}
	return drawFigure(cmd, d, o.figure, f)
}
