package shown

import (
	"fmt"
	"strings"

	"wane/study/desk"
)

const (
	mostFilesNamed = 3 // of those that one note is on
	mostNotesShown = 2 // of a file in its line
	mostLinesShown = 26
)

// IntakeNotes puts notes on files into few lines: first a line for each file that has notes of its
// own, then, counted, a line for each note that is on several files. more reports whether
// something was skipped, which wane intake --explain shows.
func IntakeNotes(in *desk.TakenIn) (lines []string, more bool) {
	notes := in.FileNotes
	var texts, files []string
	on := map[string][]string{} // files by the text
	own := map[string][]string{}
	for _, n := range notes {
		if on[n.Text] == nil {
			texts = append(texts, n.Text)
		}
		on[n.Text] = AddOnce(on[n.Text], n.File)
	}
	for _, n := range notes {
		if len(on[n.Text]) == 1 {
			files = AddOnce(files, n.File)
			own[n.File] = AddOnce(own[n.File], n.Text)
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
			lines = append(lines, fmt.Sprintf("%d files: %s (%s)", len(of), text, FirstOf(of, mostFilesNamed)))
		}
	}
	return lines, more
}

// IntakeWords says what became of the files.
func IntakeWords(in *desk.TakenIn) string {
	text := fmt.Sprintf("taken in: %s with %s; known already: %d; held: %s; refused: %d",
		Count(in.Files, "export"), Count(in.Curves, "curve"), in.Known, Count(len(in.Held), "curve"), len(in.Refused))
	if in.Skipped > 0 {
		text += fmt.Sprintf("; skipped: %d", in.Skipped)
	}
	return text
}

// MeasuredWords says what became of tables of measurements.
func MeasuredWords(in *desk.Measured) string {
	return fmt.Sprintf("taken in: %s with %s from %s; known already: %d", Count(in.Rows, "value"),
		Count(in.Pictures, "picture"), Count(in.Files, "table"), in.Known)
}

// KeptProfileWords say that the study has a profile.
func KeptProfileWords(kept *desk.KeptProfile) string {
	words := fmt.Sprintf("version %d of profile %s", kept.Version, kept.Name)
	switch {
	case !kept.Added:
		return "known already as " + words
	case kept.Version > 1:
		return "kept as " + words + "; earlier versions stay; an intake by name uses the latest"
	}
	return "kept as " + words
}

// MergedWords say what was merged of another study.
func MergedWords(m *desk.Merged) string {
	if m.Rows == 0 {
		return "merged: nothing new; all of it was here already"
	}
	return fmt.Sprintf("merged: %s, %s with %s, %s; now run wane fit", Count(m.Coupons, "coupon"),
		Count(m.Exports, "export"), Count(m.Readings, "curve"), Count(m.Measurements, "measurement"))
}

// ReplacedWords say what was replaced.
func ReplacedWords(moved *desk.Moved) string {
	return fmt.Sprintf("replaced or added: %s; as before: %d", Count(len(moved.Readings), "curve"), moved.Same)
}
