package main

import (
	"context"
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
lines; --verb and --who print only lines of these commands and people. --hashes adds the hash
of each line, which covers all lines before it. Write down the last hash somewhere else:
wane verify --contains can then say whether the history still has it. If rows of the study are
missing, the history is printed and the exit code is 1.
`

type logOptions struct {
	study  studyOptions
	list   listOptions
	hashes bool

	lines study.Spans
	verbs []string
	whos  []string
}

func newLogCommand() *cobra.Command {
	o := &logOptions{}
	cmd := &cobra.Command{
		Use: "log [NUMBER...]", Short: "the study's history", Long: logLong + columnsHelp(logColumns) + exitCodes,
		Example: "  wane log\n  wane log --verb review --who ada\n  wane log --hashes --format csv",
		RunE:    func(cmd *cobra.Command, args []string) error { return runLog(cmd, o, args) },
	}
	o.study.bind(cmd)
	bindListing(cmd, &o.list, append(logColumns[:len(logColumns):len(logColumns)], hashColumn))
	f := cmd.Flags()
	f.BoolVar(&o.hashes, "hashes", false, "print the hash of each line too")
	f.StringArrayVar(&o.verbs, "verb", nil, "only lines of this command, as in column verb; repeatable")
	f.StringArrayVar(&o.whos, "who", nil, "only lines of this person or program; repeatable")
	o.study.completeLog(cmd, "verb", func(e *study.Entry) string { return e.Verb })
	o.study.completeLog(cmd, "who", func(e *study.Entry) string { return e.Who })
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
	if o.lines, err = numberSpans(args, "line of the history", "wane log"); err != nil {
		return err
	}
	for name, words := range map[string][]string{"verb": o.verbs, "who": o.whos} {
		if slices.Contains(words, "") {
			return usagef("name it, or leave the flag out", "--%s is empty", name)
		}
	}
	return o.study.reading(cmd.Context(), func(d *desk.Desk) error {
		out := columns.open(pageOf(cmd), o.list.format)
		missed, err := o.write(cmd.Context(), d, out)
		if err != nil {
			return err
		}
		if err := out.end(); err != nil {
			return err
		}
		if missed != "" {
			if err := printLine(cmd.ErrOrStderr(), "note %s", missed); err != nil {
				return err
			}
		}
		missing := d.Complete(cmd.Context())
		var failure *study.Failure
		if errors.As(missing, &failure) { // the history itself is whole as far as it goes
			return joinErrors(missing, letPass(cmd.OutOrStdout()))
		}
		return missing
	})
}

// write writes the lines that are asked for. missed says why there is none; a number that the
// history does not have, a verb and a name are refused.
func (o *logOptions) write(ctx context.Context, d *desk.Desk, out *rowsOf[*study.Entry]) (missed string, err error) {
	var verbs, whos []string
	numbered, kept, last := 0, 0, int64(0)
	err = d.Log(ctx, func(e study.Entry) error {
		last, verbs, whos = e.Number, addOnce(verbs, e.Verb), addOnce(whos, e.Who)
		if len(o.lines) > 0 && !o.lines.Contain(e.Number) {
			return nil
		}
		numbered++
		if len(o.verbs) > 0 && !slices.Contains(o.verbs, e.Verb) || len(o.whos) > 0 && !slices.Contains(o.whos, e.Who) {
			return nil
		}
		kept++
		return out.write(&e)
	})
	if err == nil && numbered == 0 && len(o.lines) > 0 {
		err = &study.Refusal{Fault: fmt.Sprintf("the history has no line %v", o.lines),
			Try: fmt.Sprintf("its lines are 1 to %d", last)}
	}
	if err == nil {
		err = refuseOther("--verb", o.verbs, verbs)
	}
	if err == nil {
		err = refuseOther("--who", o.whos, whos)
	}
	if err != nil || kept > 0 || numbered == 0 {
		return "", err
	}
	return "no line of the history matches all of the numbers and flags", nil
}

// refuseOther refuses a word of a flag that no line of the history has.
func refuseOther(flag string, words, known []string) error {
	for _, word := range words {
		if !slices.Contains(known, word) {
			slices.Sort(known)
			return &study.Refusal{Fault: fmt.Sprintf("%s: the history has no line with %s", flag, study.Shown(word)),
				Try: study.DidYouMean(word, known, "use one of these: "+firstOf(known, mostWordsNamed))}
		}
	}
	return nil
}

// mostWordsNamed is how many words of the history a refusal names.
const mostWordsNamed = 12
