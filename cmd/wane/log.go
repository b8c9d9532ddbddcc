package main

import (
	"context"
	"encoding/hex"
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"wane/study"
	"wane/study/desk"
	"wane/study/shown"
)

const logLong = `Print the history of the study, oldest line first: when, who, which command, what it did, the
reason if one was given, and which program. NUMBER, or a range such as 12-20, prints only these
lines; --verb and --who print only lines of these commands and people. --full shows each line in
full: all its words, the coupons that it was about, how many exports it took in with the first and
the last of them, the maps, rosters and tables that it used, and how many rows it added to each
table of the study file. --hashes adds the hash of each line, which covers all lines before it. Write down the last hash somewhere else:
wane verify --contains can then say whether the history still has it. If rows of the study are
missing, the history is printed and the exit code is 1.
`

type logOptions struct {
	study  studyOptions
	list   listOptions
	hashes bool
	full   bool

	lines study.Spans
	verbs []string
	whos  []string
}

func newLogCommand() *cobra.Command {
	o := &logOptions{}
	cmd := &cobra.Command{
		Use: "log [NUMBER...]", Short: "the study's history", Long: logLong + columnsHelp(shown.Log()) + exitCodes,
		Example: "  wane log\n  wane log --verb review --who ada\n  wane log 12 --full\n  wane log --hashes --format csv",
		RunE:    func(cmd *cobra.Command, args []string) error { return runLog(cmd, o, args) },
	}
	o.study.bind(cmd)
	bindListing(cmd, &o.list, slices.Concat(shown.Log(), shown.Deeds(), listing[*shown.Logged]{shown.Hash()}))
	f := cmd.Flags()
	f.BoolVar(&o.full, "full", false, "show each line in full, with coupons, exports and tables")
	f.BoolVar(&o.hashes, "hashes", false, "print the hash of each line too")
	f.StringArrayVar(&o.verbs, "verb", nil, "only lines of this command, as in column verb; repeatable")
	f.StringArrayVar(&o.whos, "who", nil, "only lines of this person or program; repeatable")
	o.study.completeLog(cmd, "verb", func(e *study.Entry) string { return e.Verb })
	o.study.completeLog(cmd, "who", func(e *study.Entry) string { return e.Who })
	return cmd
}

func runLog(cmd *cobra.Command, o *logOptions, args []string) error {
	if err := o.list.check(cmd); err != nil {
		return err
	}
	all := shown.Log()
	if isOfDeed := func(name string) bool { return slices.Contains(shown.Deeds().Names(false), name) }; o.full ||
		slices.ContainsFunc(o.list.named, isOfDeed) {
		all, o.full = append(all, shown.Deeds()...), true
	}
	if o.hashes || slices.Contains(o.list.named, shown.Hash().Name) {
		all = append(all, shown.Hash())
	}
	columns, err := all.Choose(o.list.format, o.list.named)
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
		missed, err := o.print(cmd, d, columns)
		if err != nil {
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

// print prints the lines that are asked for, and returns why there is none.
func (o *logOptions) print(cmd *cobra.Command, d *desk.Desk, columns listing[*shown.Logged]) (missed string, err error) {
	if o.full && o.list.format == "table" && len(o.list.named) == 0 {
		return o.write(cmd.Context(), d, func(e *shown.Logged) error { return o.printInFull(pageOf(cmd), e) })
	}
	out := openRows(columns, pageOf(cmd), o.list.format)
	if missed, err = o.write(cmd.Context(), d, out.write); err != nil {
		return "", err
	}
	return missed, out.end()
}

// printInFull prints all that there is to say of a line.
func (o *logOptions) printInFull(p page, e *shown.Logged) error {
	exports := ""
	switch e.Exports {
	case 0:
	case 1:
		exports = study.Shown(e.FirstExport)
	default:
		exports = fmt.Sprintf("%d, the first %s, the last %s", e.Exports, study.Shown(e.FirstExport), study.Shown(e.LastExport))
	}
	tables := e.TablesOf(func(t *desk.GivenTable) string {
		return fmt.Sprintf("%s (%s, SHA-256 %s)", study.Shown(t.Name), t.Kind, t.SHA256[:shownDigits])
	})
	hash := ""
	if o.hashes {
		hash = hex.EncodeToString(e.Hash[:])
	}
	title := fmt.Sprintf("line %d: %s by %s, %s", e.Number, e.Verb, study.Shown(e.Who), e.At)
	if err := writeLine(p, title); err != nil {
		return err
	}
	for _, part := range [][2]string{{"did", e.Summary}, {"why", e.Why}, {"coupons", strings.Join(e.Coupons, ", ")},
		{"exports", exports}, {"tables", strings.Join(tables, ", ")}, {"rows", strings.Join(e.Rows, ", ")},
		{"program", e.Software}, {"hash", hash}} {
		if part[1] == "" {
			continue
		}
		const indent = 11
		text := study.OneLine(part[1])
		if p.width > 3*indent {
			text = strings.ReplaceAll(wrapped(text, p.width-indent), "\n", "\n"+strings.Repeat(" ", indent))
		}
		if err := writeLine(p, fmt.Sprintf("  %-*s%s", indent-2, part[0], text)); err != nil {
			return err
		}
	}
	return nil
}

// write writes the lines that are asked for. missed says why there is none; a number that the
// history does not have, a verb and a name are refused.
func (o *logOptions) write(ctx context.Context, d *desk.Desk, yield func(*shown.Logged) error) (missed string, err error) {
	var verbs, whos []string
	numbered, kept, last := 0, 0, int64(0)
	err = d.Deeds(ctx, func(e study.Entry, did func() (*desk.Deed, error)) error {
		last, verbs, whos = e.Number, addOnce(verbs, e.Verb), addOnce(whos, e.Who)
		if len(o.lines) > 0 && !o.lines.Contain(e.Number) {
			return nil
		}
		numbered++
		if len(o.verbs) > 0 && !slices.Contains(o.verbs, e.Verb) || len(o.whos) > 0 && !slices.Contains(o.whos, e.Who) {
			return nil
		}
		kept++
		line := &shown.Logged{Entry: e}
		if o.full {
			deed, err := did()
			if err != nil {
				return err
			}
			line.Deed = *deed
		}
		return yield(line)
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
