package main

import (
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"wane/study"
	"wane/study/desk"
)

const logLong = `Print the study's history, oldest first: when, who, what, why where a reason was
given, and by which program. With --hashes also the hash of each line, which stands
for all up to it: note the last one elsewhere, and wane verify --contains tells later
whether this history still holds it. Where rows of the study are missing, the history is
printed and the exit code is 1.
` + exitCodes

type logOptions struct {
	study  studyOptions
	format string
	hashes bool
}

func newLogCommand() *cobra.Command {
	o := &logOptions{}
	cmd := &cobra.Command{
		Use: "log", Short: "the study's history", Long: logLong, Example: "  wane log\n  wane log --hashes --format csv",
		Args: exactly(0, "wane log prints the whole history"),
		RunE: func(cmd *cobra.Command, args []string) error { return runLog(cmd, o) },
	}
	o.study.bind(cmd)
	bindFormat(cmd, &o.format)
	cmd.Flags().BoolVar(&o.hashes, "hashes", false, "print the hash of each line too")
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
	return o.study.reading(cmd.Context(), func(d *desk.Desk) error {
		columns := []string{"number", "at", "who", "verb", "summary", "why", "software"}
		if o.hashes {
			columns = append(columns, "hash")
		}
		out := newRecords(cmd.OutOrStdout(), o.format, columns)
		err := d.Log(cmd.Context(), func(e study.Entry) error {
			cells := []any{json.Number(fmt.Sprint(e.Number)), e.At, e.Who, e.Verb, e.Summary, e.Why, e.Software}
			if o.hashes {
				cells = append(cells, hex.EncodeToString(e.Hash[:]))
			}
			return out.write(cells...)
		})
		if err != nil {
			return err
		}
		if err := out.end(); err != nil {
			return err
		}
		missing := d.Complete(cmd.Context())
		var failure *study.Failure
		if errors.As(missing, &failure) { // the history itself is whole as far as it goes
			return both(missing, letPass(cmd.OutOrStdout()))
		}
		return missing
	})
}
