package main

import (
	"bufio"
	"encoding/hex"
	"encoding/json"
	"fmt"

	"github.com/spf13/cobra"

	"wane/study"
	"wane/study/desk"
)

const logLong = `Print the study's history, oldest first: when, who, what, and why where a reason was
given.
` + exitCodes

type logOptions struct {
	study  studyOptions
	format string
}

func newLogCommand() *cobra.Command {
	o := &logOptions{}
	cmd := &cobra.Command{
		Use: "log", Short: "the study's history", Long: logLong, Example: "  wane log\n  wane log --format json",
		Args: exactly(0, "wane log prints the whole history"),
		RunE: func(cmd *cobra.Command, args []string) error { return runLog(cmd, o) },
	}
	o.study.bind(cmd)
	bindFormat(cmd, &o.format)
	return cmd
}

func bindFormat(cmd *cobra.Command, format *string) {
	cmd.Flags().StringVar(format, "format", "table", "table, json or csv")
	completeWords(cmd, map[string][]string{"format": formats})
}

func runLog(cmd *cobra.Command, o *logOptions) error {
	if err := oneOf("format", o.format, formats); err != nil {
		return err
	}
	return o.study.with(cmd.Context(), func(d *desk.Desk) error {
		out := newRecords(cmd.OutOrStdout(), o.format, []string{"number", "at", "who", "verb", "summary", "why"})
		err := d.Log(cmd.Context(), func(e study.Entry) error {
			return out.write(json.Number(fmt.Sprint(e.Number)), e.At, e.Who, e.Verb, e.Summary, e.Why)
		})
		if err != nil {
			return err
		}
		return out.end()
	})
}

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
	for _, f := range v.Differing {
		s.errs = append(s.errs, &study.Refusal{Fault: "a fit is not reproduced: " + f, Try: try})
	}
	return s
}

const backupLong = `Write a verified copy of the study into a new file, also while others use the study.
` + exitCodes

func newBackupCommand() *cobra.Command {
	o := &studyOptions{}
	cmd := &cobra.Command{
		Use: "backup FILE", Short: "a verified copy", Long: backupLong, Example: "  wane backup /safe/roof-2026-03.wane",
		Args: exactly(1, "name the new file: wane backup copy.wane"),
		RunE: func(cmd *cobra.Command, args []string) error { return runBackup(cmd, o, args[0]) },
	}
	o.bind(cmd)
	return cmd
}

func runBackup(cmd *cobra.Command, o *studyOptions, path string) error {
	return o.with(cmd.Context(), func(d *desk.Desk) error {
		r, err := d.Backup(cmd.Context(), path)
		if err != nil {
			return err
		}
		_, err = fmt.Fprintf(cmd.OutOrStdout(), "copied to %s and verified: %d rows, log ends with %s\n", path, r.Rows, hex.EncodeToString(r.Head[:]))
		return err
	})
}
