package main

import (
	"bufio"
	"encoding/hex"
	"fmt"
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
` + exitCodes

type verifyOptions struct {
	study   studyOptions
	workers int
	seed    uint64
}

func newVerifyCommand() *cobra.Command {
	o := &verifyOptions{}
	cmd := &cobra.Command{
		Use: "verify", Short: "check the study's integrity", Long: verifyLong, Example: "  wane verify --study roof.wane",
		Args: exactly(0, "name the study with --study"),
		RunE: func(cmd *cobra.Command, args []string) error { return runVerify(cmd, o) },
	}
	o.study.bind(cmd)
	bindWorkers(cmd, &o.workers)
	cmd.Flags().Uint64Var(&o.seed, "seed", 0, "draw the sample of fits by this seed, as printed before; else by one of its own")
	return cmd
}

func runVerify(cmd *cobra.Command, o *verifyOptions) error {
	if err := checkWorkers(o.workers); err != nil {
		return err
	}
	if !cmd.Flags().Changed("seed") {
		o.seed = rand.Uint64N(1_000_000_000)
	}
	opt := desk.VerifyOptions{Workers: o.workers, Seed: o.seed}
	return o.study.with(cmd.Context(), func(d *desk.Desk) error {
		v, err := d.Verify(cmd.Context(), opt)
		if err != nil {
			return err
		}
		if !v.Sound() {
			return unsound(v)
		}
		out := bufio.NewWriter(cmd.OutOrStdout())
		fmt.Fprintf(out, "sound: %d rows, %d lines of the log, %d fits reproduced", v.Store.Rows, v.Store.Lines, v.Reproduced)
		if v.Stale > 0 {
			fmt.Fprintf(out, "; %d fits are stale: run wane fit", v.Stale)
		}
		fmt.Fprintf(out, "\nlog ends with %s\n", hex.EncodeToString(v.Store.Head[:]))
		fmt.Fprintf(out, "these fits were drawn by seed %d: --seed draws them again\n", o.seed)
		return out.Flush()
	})
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
	for _, u := range v.Evaluable {
		s.errs = append(s.errs, &study.Refusal{
			Fault: fmt.Sprintf("coupon %s, pull %d, spot %s: its row says not-evaluated, and its readings can be evaluated", u.Coupon, u.Pull, u.Spot),
			Try:   "run wane fit, which makes the row again",
		})
	}
	return s
}
