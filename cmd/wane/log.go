package main

import (
	"encoding/json"
	"fmt"

	"github.com/spf13/cobra"

	"wane/study"
	"wane/study/desk"
)

const logLong = `Print the study's history, oldest first: when, who, what, why where a reason was
given, and by which program.
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
		out := newRecords(cmd.OutOrStdout(), o.format, []string{"number", "at", "who", "verb", "summary", "why", "software"})
		err := d.Log(cmd.Context(), func(e study.Entry) error {
			return out.write(json.Number(fmt.Sprint(e.Number)), e.At, e.Who, e.Verb, e.Summary, e.Why, e.Software)
		})
		if err != nil {
			return err
		}
		return out.end()
	})
}
