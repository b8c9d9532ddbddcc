package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"wane/study/desk"
	"wane/study/shown"
)

const amendLong = `Correct rows that were enrolled or measured, with a reason. A table of corrections is a CSV table
of coupons, exposures, pulls, events of coupons, doses, batches of glass, instruments and their
events, references, standards, sessions, readings of check standards or measurements, as for wane
enrol and wane measure, or the sheet of a workbook: BOOK.xlsx#SHEET. It needs the columns of the
key and those that change; what it does not give stays as it is, and an empty cell of a column
that it gives empties the cell.

  coupons      coupon                      exposures    exposure
  pulls        exposure,pull               sessions     session
  instruments  instrument                  references   reference,issued
  doses        exposure,date               batches      glass,batch
  events of coupons      coupon,event (and pull; without a pull, date)
  events of instruments  instrument,date,event
  standards    standard,issued,angle_deg,polarisation
  readings of check standards
               session,standard,angle_deg,polarisation (and replicate)
  measurements coupon,pull,spot,quantity,method,date (and condition, replicate)

An event of a coupon is found by its pull, and by its date if it has no pull or if several are of
that pull; lost, broken and end, which a coupon has once, without both. A date that is not needed
to find it is the right one. Otherwise the columns to_pull and to_date say what pull and date
should be; to_date says it of a row of doses, too.

A row with an unknown key is refused, and so is a change after which the study would contradict
itself: doses that do not rise, dates that fall, an event before the baseline or after the end of
its coupon, a name that is not enrolled. All tables of one command are checked together, so that
several rows may change at once. If one row is refused, nothing changes, and every row that is
wrong is named. The old row stays in the study, with who changed it, when and why. Fits that
depend on a row become stale: run wane fit. Guards check the readings again.

--withdraw KIND:KEY takes out a row that should never have been enrolled, with what belongs to
it alone: coupon:A09, pull:roof/3, session:S4, event:A09/clean/2, dose:roof/2031-01-13. It is refused, with their numbers, if readings
count that name it. A key that was withdrawn is not used again.

--preview shows what would change, and changes nothing: rows; fits that become stale; sessions that
wane check would judge otherwise; verdicts by rules that would be others; and rows of results whose
flags, state, dose or corrected change would be others, by the fits as they are. What wane fit will
make of stale fits is not known before. Of fits and of verdicts the first 10 are shown, and with
--all all. See wane help corrections.
`

type amendOptions struct {
	study    studyOptions
	why      string
	withdraw []string
	preview  bool
	all      bool
}

func newAmendCommand() *cobra.Command {
	o := &amendOptions{}
	cmd := &cobra.Command{
		Use: "amend [TABLE.csv...]", Short: "correct what was enrolled or measured, with a reason", Long: amendLong + exitCodes,
		Example: "  wane amend dates.csv --why 'the coupons came in a week later'\n" +
			"  wane amend --withdraw coupon:AU-O6 --why 'mistyped: it is AU-06'",
		RunE: func(cmd *cobra.Command, args []string) error { return runAmend(cmd, o, args) },
	}
	o.study.bind(cmd)
	f := cmd.Flags()
	f.StringVar(&o.why, "why", "", "the reason, which stays in the study")
	f.StringArrayVar(&o.withdraw, "withdraw", nil, "take this row out, as coupon:A09; repeatable")
	f.BoolVar(&o.preview, "preview", false, "show what would change, and change nothing")
	f.BoolVar(&o.all, "all", false, "show all fits that become stale and all verdicts, not only the first 10")
	return cmd
}

func runAmend(cmd *cobra.Command, o *amendOptions, files []string) error {
	switch {
	case strings.TrimSpace(o.why) == "":
		return usagef("give the reason in a full sentence: --why TEXT", "--why is not given or empty")
	case len(files) == 0 && len(o.withdraw) == 0:
		return usagef("name a table of corrections, or --withdraw KIND:KEY: wane amend dates.csv --why TEXT",
			"nothing to amend is named")
	case len(files) > 0 && len(o.withdraw) > 0:
		return usagef("first amend, then withdraw", "tables and --withdraw cannot be used together")
	}
	how := desk.Open
	if o.preview {
		how = desk.OpenToTry
	}
	return o.study.open(cmd.Context(), how, func(d *desk.Desk) error {
		var done *desk.Amended
		var err error
		if len(o.withdraw) > 0 {
			done, err = d.Withdraw(cmd.Context(), o.withdraw, o.why, o.preview)
		} else {
			done, err = d.Amend(cmd.Context(), files, o.why, o.preview)
		}
		if err != nil {
			return err
		}
		if err := printNotes(cmd.ErrOrStderr(), done.Notes); err != nil {
			return err
		}
		if o.preview && len(done.Guards.Held)+len(done.Guards.Released) > 0 {
			fmt.Fprintln(cmd.ErrOrStderr(), "preview: the guards would change the following")
		}
		reportGuards(cmd.ErrOrStderr(), &done.Guards)
		for _, line := range shown.AmendedLines(done, o.preview, o.all) {
			if err := printLine(cmd.OutOrStdout(), "%s", line); err != nil {
				return err
			}
		}
		return nil
	})
}
