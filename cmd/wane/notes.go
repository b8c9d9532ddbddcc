package main

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"wane/study"
	"wane/study/ageing"
	"wane/study/desk"
	"wane/study/shown"
)

// printIntakeNotes prints what is worth telling of an intake.
func printIntakeNotes(w io.Writer, in *desk.TakenIn) error {
	notes, more := shown.IntakeNotes(in)
	if more {
		notes = append(notes, "wane intake --explain, with the same arguments, shows all notes on each file")
	}
	if err := printNotes(w, append(notes, in.Notes...)); err != nil {
		return err
	}
	if in.HeldBefore > 0 {
		if err := printLine(w, "note held before this intake: %s; see wane review",
			count(in.HeldBefore, "reading")); err != nil {
			return err
		}
	}
	reportGuards(w, &desk.GuardChanges{Held: in.Held, Released: in.Released, Waiting: in.Waiting})
	return nil
}

// reportGuards prints which readings guards hold now, and which they hold no more.
func reportGuards(w io.Writer, changes *desk.GuardChanges) {
	for _, line := range shown.GuardLines(changes) {
		fmt.Fprintln(w, line)
	}
}

// noteFitsDue prints that listed results are not those of now.
func noteFitsDue(w io.Writer, due desk.FitsDue) error {
	words := dueWords(due)
	if words == "" {
		return nil
	}
	return printLine(w, "note %s: run `wane fit`", words)
}

// noteBridges says what is taken off changes across instruments.
func noteBridges(w io.Writer, bridges []ageing.Bridge) error {
	for _, b := range bridges {
		err := printLine(w, "note solar T on instrument %s less that on %s: %s, by %s read on both; it is taken off changes "+
			"across them", study.Shown(b.To), study.Shown(b.From), plusMinus(b.Offset, 1, "pp"), count(b.N, "spot"))
		if err != nil {
			return err
		}
	}
	return nil
}

// dueWords counts what the next fit evaluates; empty if nothing.
func dueWords(due desk.FitsDue) string {
	var words []string
	switch {
	case due.Stale == 1:
		words = append(words, "1 fit is out of date")
	case due.Stale > 1:
		words = append(words, fmt.Sprintf("%d fits are out of date", due.Stale))
	}
	switch {
	case due.Missing == 1:
		words = append(words, "1 spot is not evaluated yet")
	case due.Missing > 1:
		words = append(words, fmt.Sprintf("%d spots are not evaluated yet", due.Missing))
	}
	return strings.Join(words, ", and ")
}

// explainedLines are what is seen in a file, with the notes that are not among it.
func explainedLines(p *desk.Previewed) []string {
	lines := slices.Clone(p.Seen)
	for _, n := range p.Notes {
		note := strings.TrimPrefix(n, p.File+": ")
		if !slices.ContainsFunc(p.Seen, func(line string) bool { return strings.HasSuffix(line, " "+note) }) {
			lines = append(lines, "note "+note)
		}
	}
	return lines
}
