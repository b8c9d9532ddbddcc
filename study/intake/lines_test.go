package intake_test

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study/intake"
	"wane/study/intake/text"
)

// The lines of each curve were counted by hand in the files.
func TestLinesOf(t *testing.T) {
	type lines map[int][2]int // by column
	for _, c := range []struct {
		name, file  string // in testdata
		answers     text.Stated
		first, last int
		want        lines
	}{
		{"columns", "dialects/4-samples-side-by-side.csv", text.Stated{}, 3, 5, lines{2: {3, 5}, 3: {3, 5}}},
		{"a header, and text after the rows", "dialects/3-log-after.csv", text.Stated{}, 3, 5, lines{2: {3, 5}}},
		{"blank lines, none at the end", "dialects/1-blank-lines-no-newline.csv", text.Stated{}, 5, 8, lines{2: {5, 8}}},
		{"UTF-16", "dialects/1-utf16-mark.csv", text.Stated{}, 3, 5, lines{2: {3, 5}}},
		{"the second block", "dialects/3-second-block.csv", text.Stated{Block: "2"}, 7, 9, lines{2: {7, 9}}},
		{"a part of the range", "dialects/5-descending.csv", text.Stated{Range: "400-401"}, 3, 5, lines{2: {3, 5}}},
		{"pairs", "dialects/4-paired.csv", text.Stated{}, 4, 6, lines{2: {4, 6}, 4: {4, 6}}},
		{"one spectrum per row", "dialects/4-one-per-row.csv", text.Stated{}, 3, 5, lines{2: {4, 4}, 3: {5, 5}}},
		{"numbered rows", "dialects/4-one-per-row-numbered.csv", text.Stated{}, 3, 5, lines{2: {4, 4}, 3: {5, 5}}},
		{"rows left out", "dialects/4-quantities-by-row.csv", text.Stated{}, 2, 5, lines{2: {3, 3}, 3: {4, 4}, 4: {5, 5}}},
		{"rows of two curves in turn", "", text.Stated{GroupBy: "1"}, 2, 6, lines{2: {2, 5}, 3: {3, 6}}},
		{"one point per row", "dialects/4-long.csv", text.Stated{GroupBy: "1,2"}, 2, 6, lines{2: {2, 4}, 3: {5, 6}}},
		{"blocks of JCAMP-DX", "jcamp/compound.jdx", text.Stated{}, 25, 102, lines{2: {25, 28}, 3: {49, 54}, 5: {96, 102}}},
	} {
		t.Run(c.name, func(t *testing.T) {
			data := []byte("id,nm,%R\nG07,400,4\nG08,400,5\n\nG07,401,4\nG08,401,5\n")
			if c.file != "" {
				var err error
				data, err = os.ReadFile(filepath.Join("testdata", filepath.FromSlash(c.file)))
				require.NoError(t, err)
			}
			export, err := intake.Read(c.file, data, c.answers)
			require.NoError(t, err)
			assert.Equal(t, [2]int{c.first, c.last}, [2]int{export.FirstLine, export.LastLine})
			for column, want := range c.want {
				first, last := export.LinesOf(column)
				assert.Equal(t, want, [2]int{first, last}, column)
			}
			for _, s := range export.Spectra {
				assert.Contains(t, c.want, s.Column)
			}
		})
	}
}
