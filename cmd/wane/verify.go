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

const verifyLong = `Check the study: the chain of hashes of the history, the checksum of every row, the references
between rows, the originals against their SHA-256, and a sample of the fits. These are computed
again and must give the same numbers to the last digit. Each run draws another sample; its seed
is printed, and --seed draws the same sample again. If anything is wrong, the exit code is 1.

Before any command reads a study that was not closed, it looks at the write-ahead log (the file
that ends in -wal). What a killed command had committed there is recovered and reported. If the
write-ahead log is missing, or damaged before its end, the study is refused.

--deep reads every original again, compares its numbers with those of the study, places its curves
again by the map or the profile that was kept with them, and computes all fits again.

A person who changes the file can also compute all its checksums and hashes again. To notice
this, compare with something that is kept elsewhere. --contains HASH says whether the history
has a hash that was printed before (by verify, backup or log --hashes). --against BACKUP says
whether the history begins with the history of the backup. If WANE_WITNESS names a file, each
command adds a line to it (time, study, number and hash), and verify compares the history with
it. If that file cannot be written, a command stops before it does anything. If writing fails
after the work is done, the work stays, the command names the missing line, and the exit code
is 1.
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
	f.BoolVar(&o.with.Deep, "deep", false, "also read every original again, and compute all fits again")
	f.Uint64Var(&o.with.Seed, "seed", 0, "draw the same sample of fits as the run that printed this seed")
	f.StringVar(&o.with.Contains, "contains", "", "a hash, or at least its first eight digits: is it in the history?")
	f.StringVar(&o.with.Against, "against", "",
		"a backup of the study: does the history begin with the history of the backup?")
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
		return usagef("name the file of a backup", "--against is empty")
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
	fmt.Fprintf(out, "sound: %s, %s of the history, %s reproduced", count(v.Store.Rows, "row"),
		count(v.Store.Lines, "line"), count(v.Reproduced, "fit"))
	if due := dueWords(v.Due); due != "" {
		fmt.Fprintf(out, "; %s: run wane fit", due)
	}
	fmt.Fprintf(out, "\nthe history ends with %s\n", hex.EncodeToString(v.Store.Head[:]))
	if o.Deep {
		fmt.Fprintf(out, "read again from their originals: %s, %s\n", count(v.Readings, "reading"),
			count(v.Measurements, "measurement"))
		fmt.Fprintf(out, "placed again by the maps and profiles that are kept: %s; moved since, with the place before: %s\n",
			count(v.Placed, "reading"), count(v.Moved, "reading"))
	} else {
		fmt.Fprintf(out, "the sample of fits has the seed %d: --seed draws it again\n", o.Seed)
	}
	for _, n := range v.Notes {
		fmt.Fprintln(out, study.OneLine(n))
	}
	return out.Flush()
}

// unsound turns findings into refusals.
func unsound(v *desk.Verified) error {
	const try = "keep this file unchanged, go back to a verified backup, and compare the two"
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
			Fault: fmt.Sprintf("coupon %s, pull %d, spot %s: the row is flagged not-evaluated, but the readings can be "+
				"evaluated",
				u.Coupon, u.Pull, u.Spot),
			Try: "run wane fit: it evaluates the spot again",
		})
	}
	return s
}
