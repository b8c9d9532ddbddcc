package main

import (
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"slices"

	"github.com/spf13/cobra"

	"wane/study"
	"wane/study/desk"
)

const logLong = `Print the history of the study, oldest line first: when, who, which command, what it did, the
reason if one was given, and which program. NUMBER, or a range such as 12-20, prints only these
lines. --hashes adds the hash of each line, which covers all lines before it. Write down the
last hash somewhere else: wane verify --contains can then say whether the history still has
it. If rows of the study are missing, the history is printed and the exit code is 1.
`

type logOptions struct {
	study  studyOptions
	list   listOptions
	hashes bool
}

func newLogCommand() *cobra.Command {
	o := &logOptions{}
	cmd := &cobra.Command{
		Use: "log [NUMBER...]", Short: "the study's history", Long: logLong + columnsHelp(logColumns) + exitCodes,
		Example: "  wane log\n  wane log --hashes --format csv",
		RunE:    func(cmd *cobra.Command, args []string) error { return runLog(cmd, o, args) },
	}
	o.study.bind(cmd)
	bindListing(cmd, &o.list, append(logColumns[:len(logColumns):len(logColumns)], hashColumn))
	cmd.Flags().BoolVar(&o.hashes, "hashes", false, "print the hash of each line too")
	return cmd
}

// logColumns are the columns of the history.
var logColumns = listing[*study.Entry]{
	valueColumn("number", func(e *study.Entry) any { return json.Number(fmt.Sprint(e.Number)) }).ranked(1, "", nil),
	valueColumn("at", func(e *study.Entry) any { return e.At }).ranked(3, "", nil),
	valueColumn("who", func(e *study.Entry) any { return e.Who }).ranked(1, "", nil),
	valueColumn("verb", func(e *study.Entry) any { return e.Verb }).ranked(1, "", nil),
	valueColumn("summary", func(e *study.Entry) any { return e.Summary }).ranked(1, "", nil).folded(30),
	valueColumn("why", func(e *study.Entry) any { return e.Why }).ranked(1, "", nil).folded(20),
	valueColumn("software", func(e *study.Entry) any { return e.Software }).ranked(4, "", nil).folded(24),
}

// hashColumn is the column that --hashes adds.
var hashColumn = valueColumn("hash", func(e *study.Entry) any { return hex.EncodeToString(e.Hash[:]) }).ranked(1, "",
	nil)

func runLog(cmd *cobra.Command, o *logOptions, args []string) error {
	if err := o.list.check(cmd); err != nil {
		return err
	}
	all := logColumns[:len(logColumns):len(logColumns)]
	if o.hashes || slices.Contains(o.list.named, hashColumn.name) {
		all = append(all, hashColumn)
	}
	columns, err := all.choose(o.list.format, o.list.named)
	if err != nil {
		return err
	}
	lines, err := numberSpans(args, "line of the history", "wane log")
	if err != nil {
		return err
	}
	return o.study.reading(cmd.Context(), func(d *desk.Desk) error {
		out := columns.open(pageOf(cmd), o.list.format)
		n, last := 0, int64(0)
		err := d.Log(cmd.Context(), func(e study.Entry) error {
			if last = e.Number; len(lines) > 0 && !lines.Contain(e.Number) {
				return nil
			}
			n++
			return out.write(&e)
		})
		if err == nil && n == 0 && len(lines) > 0 {
			err = &study.Refusal{Fault: fmt.Sprintf("the history has no line %v", lines),
				Try: fmt.Sprintf("its lines are 1 to %d", last)}
		}
		if err != nil {
			return err
		}
		if err := out.end(); err != nil {
			return err
		}
		missing := d.Complete(cmd.Context())
		var failure *study.Failure
		if errors.As(missing, &failure) { // the history itself is whole as far as it goes
			return joinErrors(missing, letPass(cmd.OutOrStdout()))
		}
		return missing
	})
}
