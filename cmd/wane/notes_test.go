package main

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study/desk"
	"wane/study/shown"
)

// A line for each file that has notes of its own, then one for each note on several files.
func TestNotesTakeFewLines(t *testing.T) {
	var notes []desk.Note
	for i := range 4 {
		file := fmt.Sprintf("e%d.csv", i)
		notes = append(notes, desk.Note{File: file, Text: "sorted"}, desk.Note{File: file, Text: "sorted"})
	}
	for _, text := range []string{"one", "two", "three", "four"} {
		notes = append(notes, desk.Note{File: "e1.csv", Text: text})
	}
	notes = append(notes, desk.Note{File: "e3.csv", Text: "five"})
	lines, more := shown.IntakeNotes(&desk.TakenIn{FileNotes: notes})
	assert.Equal(t, []string{
		"e1.csv: one; two; and 2 more",
		"e3.csv: five",
		"4 files: sorted (e0.csv, e1.csv, e2.csv and 1 more)",
	}, lines)
	assert.True(t, more)
	lines, more = shown.IntakeNotes(&desk.TakenIn{FileNotes: notes[:8]})
	assert.Len(t, lines, 1)
	assert.False(t, more)
}

func TestNoteFitsDue(t *testing.T) {
	for want, due := range map[string]desk.FitsDue{
		"": {},
		"note 1 fit is out of date: run `wane fit`\n":                                    {Stale: 1},
		"note 3 spots are not evaluated yet: run `wane fit`\n":                           {Missing: 3},
		"note 2 fits are out of date, and 1 spot is not evaluated yet: run `wane fit`\n": {Stale: 2, Missing: 1},
	} {
		var out strings.Builder
		require.NoError(t, noteFitsDue(&out, due))
		assert.Equal(t, want, out.String())
	}
}

func TestNotesOfManyFilesEnd(t *testing.T) {
	var notes []desk.Note
	for i := range 40 {
		notes = append(notes, desk.Note{File: fmt.Sprintf("e%d.csv", i), Text: fmt.Sprintf("note %d", i)})
	}
	lines, more := shown.IntakeNotes(&desk.TakenIn{FileNotes: notes})
	assert.Len(t, lines, 27)
	assert.Equal(t, "14 more files with notes of their own", lines[26])
	assert.True(t, more)
}
