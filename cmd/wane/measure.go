package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"wane/study/desk"
)

const measureLong = `Take in what other instruments read of coupons: comma-separated tables with the
columns

  coupon,pull,spot,quantity,value,u,unit,method,date,operator,picture,note

and, if wanted, condition and replicate. quantity and unit are one of

  haze percent, gloss GU, contact_angle degrees, mass g, thickness nm

spot is empty for the coupon as a whole; u is the standard uncertainty, empty if it is
not known; date is like 2026-03-31. picture is the path of a file, from the folder of
the table, of at most 64 MiB. Tables and pictures are kept byte for byte; wane export
--originals gives them back.

A table is taken in as a whole or not at all; the exit code is 1 if any was refused,
and the others are in. An identical row again adds nothing. A row that differs in
value, u, operator, picture or note from one of the same coupon, pull, spot,
condition, quantity, method, date and replicate is refused.
` + exitCodes

func newMeasureCommand() *cobra.Command {
	o := &studyOptions{}
	cmd := &cobra.Command{
		Use: "measure TABLE.csv...", Short: "take in haze, gloss, contact angle, mass and thickness by other instruments", Long: measureLong,
		Example: "  wane measure pull1-gloss.csv\n  wane results --independent",
		Args:    atLeastOne("name the tables: wane measure pull1-gloss.csv"),
		RunE:    func(cmd *cobra.Command, args []string) error { return runMeasure(cmd, o, args) },
	}
	o.bind(cmd)
	return cmd
}

func runMeasure(cmd *cobra.Command, o *studyOptions, files []string) error {
	return o.with(cmd.Context(), func(d *desk.Desk) error {
		in, err := d.Measure(cmd.Context(), files)
		if err != nil {
			return err
		}
		if err := tell(cmd.ErrOrStderr(), in.Notes); err != nil {
			return err
		}
		done := fmt.Sprintf("taken in: %s with %s from %s; known already: %d",
			count(in.Rows, "value"), count(in.Pictures, "picture"), count(in.Files, "table"), in.Known)
		if len(in.Refused) > 0 {
			if in.Rows+in.Known > 0 {
				fmt.Fprintf(cmd.ErrOrStderr(), "%s; refused: %s\n", done, count(len(in.Refused), "table"))
			}
			return &several{in.Refused}
		}
		_, err = fmt.Fprintln(cmd.OutOrStdout(), done)
		return err
	})
}
