package main

import (
	"errors"
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"wane/study"
	"wane/study/desk"
	"wane/study/shown"
)

const fitLong = `Evaluate all spots that are new or whose result is out of date (stale): they have new
readings, the roster has changed, or an older version of the model made the fit. Rows that
are flagged not-evaluated are tried again. If you stop the command, the finished spots
stay; run it again, and it does the rest. If the study or the disk is damaged, the command
stops: a row is flagged not-evaluated only if its readings can be read but not evaluated.

Of each session with new fits one line says what it supports: how many dark blanks were
evaluated in it, which coatings have controls, and so by which routes their changes can be corrected;
where the study corrects by sessions, also which results can be used, and why others not.

Before the fit, guards check the readings that they have not checked yet. After the fit
they compare each film with the film at the last pull. If all coupons of two coatings may
have been exchanged, their spots are held: see wane review.
` + exitCodes

type fitOptions struct {
	study   studyOptions
	workers int
}

func newFitCommand() *cobra.Command {
	o := &fitOptions{}
	cmd := &cobra.Command{
		Use: "fit", Short: "evaluate what is new or stale", Long: fitLong, Example: "  wane fit",
		Args: exactly(0, "wane fit evaluates the whole study"),
		RunE: func(cmd *cobra.Command, args []string) error { return runFit(cmd, o) },
	}
	o.study.bind(cmd)
	bindWorkers(cmd, &o.workers)
	return cmd
}

func runFit(cmd *cobra.Command, o *fitOptions) error {
	if err := checkWorkers(o.workers); err != nil {
		return err
	}
	return o.study.with(cmd.Context(), func(d *desk.Desk) error {
		bar := newProgress(cmd, "spots fitted")
		n, err := d.Fit(cmd.Context(), desk.FitOptions{Workers: o.workers, Progress: bar.to})
		bar.end()
		if err != nil {
			if n != nil && n.Fits > 0 {
				fmt.Fprintf(cmd.ErrOrStderr(), "note stored before the command stopped: %s evaluated\n", count(n.Fits, "spot"))
			}
			return err
		}
		reportGuards(cmd.ErrOrStderr(), &n.Guards)
		for _, line := range shown.SupportLines(n.Sessions, d.Settings()) {
			if err := printLine(cmd.ErrOrStderr(), "%s", line); err != nil {
				return err
			}
		}
		for _, refused := range shown.RefusedSpots(n.Refused) {
			if err := noteRefused(cmd.ErrOrStderr(), refused); err != nil {
				return err
			}
		}
		_, err = fmt.Fprintln(cmd.OutOrStdout(), shown.FitWords(n))
		return err
	})
}

// noteRefused says which readings could not be fitted, and what to try.
func noteRefused(w io.Writer, err error) error {
	if _, err := fmt.Fprintf(w, "note %s; the row is flagged not-evaluated\n", study.OneLine(err.Error())); err != nil {
		return err
	}
	var r *study.Refusal
	if !errors.As(err, &r) {
		return nil
	}
	_, err = fmt.Fprintf(w, "  try: %s\n", study.OneLine(r.Try))
	return err
}
