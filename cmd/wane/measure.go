package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"wane/study/desk"
	"wane/study/shown"
)

const measureLong = `Take in what other instruments measured on coupons: tables (CSV, or
NAME.xlsx#Sheet, a sheet of a workbook) with the columns

  coupon,pull,spot,quantity,value,u,unit,method,date,operator,picture,note

and, if you need them, condition and replicate. The quantities and their units are

  haze percent, gloss GU, contact_angle degrees, mass g, thickness nm

Leave spot empty if the value is of the coupon as a whole. u is the standard uncertainty;
leave it empty if you do not know it. Write the date as 2026-03-31. picture is the path of a
file, from the folder of the table, of at most 64 MiB. Tables and pictures are kept byte
for byte; wane export --originals writes them out again.

A table is taken in completely or not at all. If a table is refused, the exit code is 1; the
other tables are in the study. An identical row adds nothing. A row is refused if the study
already has a row of the same coupon, pull, spot, condition, quantity, method, date and
replicate with another value, u, operator, picture or note.
` + exitCodes

func newMeasureCommand() *cobra.Command {
	o := &studyOptions{}
	cmd := &cobra.Command{
		Use: "measure TABLE.csv...", Short: "take in haze, gloss, contact angle, mass and thickness by other instruments",
		Long:    measureLong,
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
		if err := printNotes(cmd.ErrOrStderr(), in.Notes); err != nil {
			return err
		}
		done := shown.MeasuredWords(in)
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
