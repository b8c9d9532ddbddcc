package main

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"wane/study"
	"wane/study/ageing"
	"wane/study/desk"
)

const (
	mostFilesNamed = 3 // of those that one note is on
	mostNotesShown = 2 // of a file in its line
	mostLinesShown = 26
)

// noteLines puts notes on files into few lines: first a line for each file that has notes of its
// own, then, counted, a line for each note that is on several files. more reports whether
// something was skipped, which --explain shows.
func noteLines(notes []desk.Note) (lines []string, more bool) {
	var texts, files []string
	on := map[string][]string{} // files by the text
	own := map[string][]string{}
	for _, n := range notes {
		if on[n.Text] == nil {
			texts = append(texts, n.Text)
		}
		on[n.Text] = addOnce(on[n.Text], n.File)
	}
	for _, n := range notes {
		if len(on[n.Text]) == 1 {
			files = addOnce(files, n.File)
			own[n.File] = addOnce(own[n.File], n.Text)
		}
	}
	for i, file := range files {
		if i == mostLinesShown {
			lines, more = append(lines, fmt.Sprintf("%d more files with notes of their own", len(files)-i)), true
			break
		}
		line := file + ": " + strings.Join(own[file][:min(mostNotesShown, len(own[file]))], "; ")
		if n := len(own[file]) - mostNotesShown; n > 0 {
			line, more = fmt.Sprintf("%s; and %d more", line, n), true
		}
		lines = append(lines, line)
	}
	for _, text := range texts {
		if of := on[text]; len(of) > 1 {
			lines = append(lines, fmt.Sprintf("%d files: %s (%s)", len(of), text, firstOf(of, mostFilesNamed)))
		}
	}
	return lines, more
}

// printIntakeNotes prints what is worth telling of an intake, what matters most last: notes on
// files, then on the map and on what was skipped, then what is held.
func printIntakeNotes(w io.Writer, in *desk.TakenIn) error {
	lines, more := noteLines(in.FileNotes)
	if more {
		lines = append(lines, "wane intake --explain, with the same arguments, shows all notes on each file")
	}
	if err := printNotes(w, append(lines, in.Notes...)); err != nil {
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
