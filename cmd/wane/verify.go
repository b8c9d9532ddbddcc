package main

import (
	"bufio"
	"encoding/hex"
	"fmt"

	"github.com/spf13/cobra"

	"wane/study"
	"wane/study/desk"
)

const verifyLong = `Check the study: the chain of the log, the checksum of every row, references, the
originals against their SHA-256, and a sample of the fits, which are computed
again and must come out the same to the last digit. Exit code 1 if anything is
wrong.
` + exitCodes

func newVerifyCommand() *cobra.Command {
	o := &studyOptions{}
	cmd := &cobra.Command{
		Use: "verify", Short: "check the study's integrity", Long: verifyLong, Example: "  wane verify --study roof.wane",
		Args: exactly(0, "name the study with --study"),
		RunE: func(cmd *cobra.Command, args []string) error { return runVerify(cmd, o) },
	}
	o.bind(cmd)
	return cmd
}

func runVerify(cmd *cobra.Command, o *studyOptions) error {
	return o.with(cmd.Context(), func(d *desk.Desk) error {
		v, err := d.Verify(cmd.Context())
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
	return s
}
