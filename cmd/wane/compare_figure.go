package main

import (
	"github.com/spf13/cobra"

	"wane/study/desk"
	"wane/study/difference"
	"wane/study/drawn"
)

// drawDifferences draws a comparison into a file.
func drawDifferences(cmd *cobra.Command, d *desk.Desk, o *compareOptions, c *difference.Comparison) (err error) {
	f := drawn.Differences(c)
	if f.Stamp, err = d.Stamp(cmd.Context(), o.with.AsOf); err != nil {
		return err
	}
	return drawFigure(cmd, d, o.figure, f)
}
