package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"wane/study"
	"wane/study/desk"
)

const fitLong = `Evaluate whatever is new or stale: spots with new readings, a changed roster, or
fits made by an older version of the model; and rows that say not-evaluated though
their readings can be evaluated. Finished spots stay when it is stopped; run again, it
does the rest. What cannot be read, in a study that is damaged or on a disk that fails,
ends it: only readings that were read and cannot be evaluated make such a row.

Before, guards look at readings that they have not seen; after it they compare the films
that were found with those of the last pull, and hold the spots of two coatings whose
coupons may all have been exchanged: see wane review.
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
		bar := newProgress(cmd, "spots")
		n, err := d.Fit(cmd.Context(), desk.FitOptions{Workers: o.workers, Progress: bar.to})
		bar.end()
		if err != nil {
			if n != nil && n.Fits > 0 {
				fmt.Fprintf(cmd.ErrOrStderr(), "note these are in: the evaluations of %d spots\n", n.Fits)
			}
			return err
		}
		reportGuards(cmd.ErrOrStderr(), &n.Guards)
		for _, s := range n.Sessions {
			for _, line := range s.Support {
				fmt.Fprintln(cmd.ErrOrStderr(), study.OneLine(line))
			}
		}
		for _, r := range n.Refused {
			fmt.Fprintf(cmd.ErrOrStderr(), "note %s: the row is flagged not-evaluated\n", study.OneLine(r.Error()))
		}
		_, err = fmt.Fprintf(cmd.OutOrStdout(), "evaluated %d spots; up to date already: %d\n", n.Fits, n.Current)
		return err
	})
}
