package main

import (
	"fmt"
	"runtime"

	"github.com/spf13/cobra"

	"wane/study/desk"
)

const intakeLong = `Take exports in, as a map says: a comma-separated table with the columns

  file,column,coupon,pull,spot,angle_deg,polarisation,quantity,unit

and, if wanted, wavelength_unit, replicate, session, condition, operator, geometry
and orientation_deg. file is relative to the map's folder; column is a heading, or
#3 counting the wavelength column as 1. Without files, all that the map names are
taken. A file is taken in as a whole or not at all; the exit code is 1 if any was
refused, and the others are in.
` + exitCodes

type intakeOptions struct {
	study   studyOptions
	mapFile string
	workers int
}

func newIntakeCommand() *cobra.Command {
	o := &intakeOptions{}
	cmd := &cobra.Command{
		Use: "intake [FILE...] --map MAP.csv", Short: "take exports in", Long: intakeLong,
		Example: "  wane intake --map pull0.csv\n  wane intake exports/*.csv --map map.csv",
		RunE:    func(cmd *cobra.Command, args []string) error { return runIntake(cmd, o, args) },
	}
	o.study.bind(cmd)
	cmd.Flags().StringVar(&o.mapFile, "map", "", "the map that says where each column belongs")
	bindWorkers(cmd, &o.workers)
	return cmd
}

func bindWorkers(cmd *cobra.Command, n *int) {
	cmd.Flags().IntVar(n, "workers", runtime.NumCPU(), "how many files or spots are worked on at once; results do not depend on it")
}

func checkWorkers(n int) error {
	if n < 1 {
		return usagef("give at least 1, or leave the flag out", "--workers %d is no number of workers", n)
	}
	return nil
}

func runIntake(cmd *cobra.Command, o *intakeOptions, files []string) error {
	if o.mapFile == "" {
		return usagef("write a map and name it: wane intake --map map.csv", "--map is not stated")
	}
	if err := checkWorkers(o.workers); err != nil {
		return err
	}
	return o.study.with(cmd.Context(), func(d *desk.Desk) error {
		bar := newProgress(cmd, "exports")
		in, err := d.Intake(cmd.Context(), o.mapFile, files, desk.IntakeOptions{Workers: o.workers, Progress: bar.to})
		bar.end()
		if err != nil {
			return err
		}
		for _, n := range in.Notes {
			fmt.Fprintln(cmd.ErrOrStderr(), "note "+n)
		}
		if len(in.Refused) > 0 {
			if in.Files+in.Known > 0 {
				fmt.Fprintf(cmd.ErrOrStderr(), "taken in: %d exports with %d curves; known already: %d; refused: %d\n", in.Files, in.Curves, in.Known, len(in.Refused))
			}
			return &several{in.Refused}
		}
		_, err = fmt.Fprintf(cmd.OutOrStdout(), "taken in: %d exports with %d curves; known already: %d\n", in.Files, in.Curves, in.Known)
		return err
	})
}
