package main

import (
	"bufio"
	"encoding/hex"
	"fmt"
	"io"
	"math/rand/v2"

	"github.com/spf13/cobra"

	"wane/study"
	"wane/study/desk"
)

const verifyLong = `Check the study: the chain of the log, the checksum of every row, references, the
originals against their SHA-256, and a sample of the fits, which are computed
again and must come out the same to the last digit. The sample is drawn anew each
time; its seed is printed, and --seed draws the same again. Exit code 1 if anything
is wrong.

Before this or any other command reads a study, its write-ahead log (the -wal file of
a study that was not closed) is looked at: commits that a killed command left in it are
recovered, and told; one that is damaged before its end, or missing, is refused.

With --deep every original is read again and its numbers compared with those of the
study, and all fits are computed again.

Who alters the file and then makes all its checksums and hashes anew leaves a file
that is sound by itself. What was noted elsewhere shows it: --contains HASH says
whether the log still holds a hash that was printed before (by verify, backup or log
--hashes), --against BACKUP whether the log begins with all of a backup's log, and
where WANE_WITNESS names a file, each commit appends time, study, line and hash to
it, and verify holds the log against it. A witness that cannot be written stops a
command before it does anything; if it fails after the work is done, the work stays,
the command says which line is missing there, and exits with 1.
` + exitCodes

type verifyOptions struct {
	study   studyOptions
	workers int
	with    desk.VerifyOptions
}

func newVerifyCommand() *cobra.Command {
	o := &verifyOptions{}
	cmd := &cobra.Command{
		Use: "verify", Short: "check the study's integrity", Long: verifyLong,
		Example: "  wane verify --study roof.wane\n  wane verify --deep --against /safe/roof-2026-03.wane",
		Args:    exactly(0, "name the study with --study"),
		RunE:    func(cmd *cobra.Command, args []string) error { return runVerify(cmd, o) },
	}
	o.study.bind(cmd)
	bindWorkers(cmd, &o.workers)
	f := cmd.Flags()
	f.BoolVar(&o.with.Deep, "deep", false, "read every original again, and compute all fits again")
	f.Uint64Var(&o.with.Seed, "seed", 0, "draw the sample of fits by this seed, as printed before")
	f.StringVar(&o.with.Contains, "contains", "", "a hash, or eight digits or more of its beginning: is it in the log?")
	f.StringVar(&o.with.Against, "against", "", "a backup of the study: does the log begin with all of its log?")
	return cmd
}

func (o *verifyOptions) check(cmd *cobra.Command) error {
	if err := checkWorkers(o.workers); err != nil {
		return err
	}
	if cmd.Flags().Changed("contains") {
		if err := desk.CheckHash(o.with.Contains); err != nil {
			return err
		}
	}
	if cmd.Flags().Changed("against") && o.with.Against == "" {
		return usagef("name a backup", "--against names no file")
	}
	o.with.Workers = o.workers
	if !cmd.Flags().Changed("seed") {
		o.with.Seed = rand.Uint64N(1_000_000_000)
	}
	return nil
}

func runVerify(cmd *cobra.Command, o *verifyOptions) error {
	if err := o.check(cmd); err != nil {
		return err
	}
	return o.study.reading(cmd.Context(), func(d *desk.Desk) error {
		v, err := d.Verify(cmd.Context(), o.with)
		if err != nil {
			return err
		}
		if !v.Sound() {
			for _, n := range v.Notes {
				fmt.Fprintln(cmd.ErrOrStderr(), "note "+study.OneLine(n))
			}
			return unsound(v)
		}
		return printSound(cmd.OutOrStdout(), v, &o.with)
	})
}

// printSound prints what was looked at and found right.
func printSound(w io.Writer, v *desk.Verified, o *desk.VerifyOptions) error {
	out := bufio.NewWriter(w)
	fmt.Fprintf(out, "sound: %d rows, %d lines of the log, %d fits reproduced", v.Store.Rows, v.Store.Lines, v.Reproduced)
	if v.Stale > 0 {
		fmt.Fprintf(out, "; %d fits are stale: run wane fit", v.Stale)
	}
	fmt.Fprintf(out, "\nlog ends with %s\n", hex.EncodeToString(v.Store.Head[:]))
	if o.Deep {
		fmt.Fprintf(out, "read again from their originals: %d readings, %d measurements\n", v.Readings, v.Measurements)
	} else {
		fmt.Fprintf(out, "these fits were drawn by seed %d: --seed draws them again\n", o.Seed)
	}
	for _, n := range v.Notes {
		fmt.Fprintln(out, study.OneLine(n))
	}
	return out.Flush()
}

// unsound turns findings into refusals.
func unsound(v *desk.Verified) error {
	const try = "keep the file as it is, go back to a verified backup, and compare the two"
	s := &several{}
	for _, f := range v.Store.Findings {
		s.errs = append(s.errs, &study.Refusal{Fault: f.String(), Try: try})
	}
	if v.Store.More > 0 {
		s.errs = append(s.errs, &study.Refusal{Fault: fmt.Sprintf("%d more findings", v.Store.More), Try: try})
	}
	for _, f := range v.Differing {
		s.errs = append(s.errs, &study.Refusal{Fault: "a fit is not reproduced: " + f, Try: try})
	}
	for _, c := range v.Contradictions {
		s.errs = append(s.errs, c)
	}
	for _, u := range v.Evaluable {
		s.errs = append(s.errs, &study.Refusal{
			Fault: fmt.Sprintf("coupon %s, pull %d, spot %s: its row says not-evaluated, and its readings can be evaluated",
				u.Coupon, u.Pull, u.Spot),
			Try: "run wane fit, which makes the row again",
		})
	}
	return s
}
