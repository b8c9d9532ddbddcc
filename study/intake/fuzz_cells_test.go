package intake_test

import (
	"bytes"
	"math/rand/v2"
	"runtime/debug"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"wane/study/desk"
	"wane/study/intake"
	"wane/study/intake/text"
	"wane/study/intake/text/texttest"
)

// oddCells are texts that a cell may get: numbers, what stands for none, words of headings,
// units and marks.
var oddCells = []string{"", " ", "0", "4", "-4", "400", "402", "4.12", "4,12", "0,4", "1e300", "1e-300", "-0", "NaN",
	"---", "OVER", "nm", "%R", "%R402", "um", "400nm", "4 %", "cm-1", "id",
	"Wavelength (nm)", "8 deg", "R", "T", "A", "u", "\"", "\"4\"", "\"4,1\"", "#", "[nm]", ":", "=", "G07", "no", "1.204",
	"1,204.5", "\x00", "µm", "?m", "∞", "blank", "back", "##END="}

// sheetText is a text as rows of cells, to change as a person or a program would.
type sheetText struct {
	sep  string
	rows [][]string
}

func cutSheet(text []byte) sheetText {
	s := sheetText{sep: " "}
	for _, sep := range []string{";", "\t", ","} {
		if bytes.Contains(text, []byte(sep)) {
			s.sep = sep
			break
		}
	}
	for _, line := range strings.Split(strings.ReplaceAll(string(text), "\r\n", "\n"), "\n") {
		s.rows = append(s.rows, strings.Split(line, s.sep))
	}
	return s
}

func (s sheetText) text() []byte {
	var b bytes.Buffer
	for i, row := range s.rows {
		if i > 0 {
			b.WriteByte('\n')
		}
		b.WriteString(strings.Join(row, s.sep))
	}
	return b.Bytes()
}

// change makes one change of rows or cells.
func (s *sheetText) change(random *rand.Rand) {
	if len(s.rows) == 0 {
		s.rows = [][]string{{""}}
	}
	i, k := random.IntN(len(s.rows)), random.IntN(len(s.rows))
	row := &s.rows[i]
	if len(*row) == 0 {
		*row = []string{""}
	}
	j, l := random.IntN(len(*row)), random.IntN(len(*row))
	odd := oddCells[random.IntN(len(oddCells))]
	switch random.IntN(16) {
	case 0: // a cell
		(*row)[j] = odd
	case 1:
		(*row)[j], (*row)[l] = (*row)[l], (*row)[j]
	case 2:
		*row = append((*row)[:j:j], (*row)[j+1:]...)
	case 3:
		*row = append((*row)[:j:j], append([]string{odd}, (*row)[j:]...)...)
	case 4: // the end of a row
		*row = (*row)[:j+1]
	case 5:
		*row = append(*row, "")
	case 6: // a row
		s.rows[i], s.rows[k] = s.rows[k], s.rows[i]
	case 7:
		s.rows = append(s.rows[:i:i], s.rows[i+1:]...)
	case 8:
		s.rows = append(s.rows[:i:i], append([][]string{append([]string{}, s.rows[k]...)}, s.rows[i:]...)...)
	case 9:
		s.rows = append(s.rows[:i:i], append([][]string{{odd}}, s.rows[i:]...)...)
	case 10:
		*row = append(*row, s.rows[k]...)
	case 11: // a column
		for n := range s.rows {
			if j < len(s.rows[n]) {
				s.rows[n] = append(s.rows[n][:j:j], s.rows[n][j+1:]...)
			}
		}
	case 12:
		for n := range s.rows {
			if j < len(s.rows[n]) {
				s.rows[n] = append(s.rows[n][:j:j], append([]string{odd}, s.rows[n][j:]...)...)
			}
		}
	case 13:
		for n := range s.rows {
			if j < len(s.rows[n]) && l < len(s.rows[n]) {
				s.rows[n][j], s.rows[n][l] = s.rows[n][l], s.rows[n][j]
			}
		}
	case 14: // another separator
		s.sep = []string{",", ";", "\t", " ", ", "}[random.IntN(5)]
	case 15: // rows become columns
		s.turn()
	}
}

// turn makes columns of the rows, of as many as make no large file.
func (s *sheetText) turn() {
	width := 0
	for _, row := range s.rows {
		width = max(width, len(row))
	}
	if width*len(s.rows) > 4000 {
		return
	}
	turned := make([][]string, width)
	for _, row := range s.rows {
		for j := range turned {
			cell := ""
			if j < len(row) {
				cell = row[j]
			}
			turned[j] = append(turned[j], cell)
		}
	}
	s.rows = turned
}

// changed changes a text so many times.
func changed(data []byte, seed uint64, times int) []byte {
	random := rand.New(rand.NewPCG(seed, 1))
	s := cutSheet(data)
	for range times {
		s.change(random)
	}
	return s.text()
}

const mostChanged = 20_000 // bytes of a text that is worth to change

// Rows and cells that were moved, lost, doubled or put in break no law of [FuzzRead], whatever
// is stated, and no explanation and no draft.
func FuzzReadCells(f *testing.F) {
	for _, folder := range []string{"made-up", "dialects"} {
		for _, data := range texttest.Files(f, "testdata/"+folder+"/*", 12) {
			if len(data) <= mostChanged {
				f.Add(data, uint64(len(data)), uint8(3), uint64(0))
			}
		}
	}
	for _, c := range oncePanicked {
		f.Add([]byte(c.text), uint64(0), uint8(0), uint64(0))
	}
	f.Fuzz(func(t *testing.T, data []byte, seed uint64, times uint8, choice uint64) {
		if len(data) > mostChanged {
			return
		}
		checkChanged(t, changed(data, seed, int(times%12)), choice)
	})
}

// checkChanged reads a text by what a person may state, and as it is.
func checkChanged(t *testing.T, data []byte, choice uint64) {
	for _, stated := range []text.Stated{{}, answered(choice)} {
		if stated.Check() == nil && !stated.InMap {
			checkLaw(t, data, stated)
		}
		require.NotEmpty(t, intake.Explain("fuzz.txt", data, stated))
	}
	if _, err := desk.DraftProfile("b", "fuzz.txt", data); err != nil {
		texttest.RequireRefusal(t, err)
	}
}

// A few thousand of such files are read in every run of the tests.
func TestReadChangedCells(t *testing.T) {
	random := rand.New(rand.NewPCG(11, 12))
	var texts [][]byte
	for _, c := range oncePanicked {
		texts = append(texts, []byte(c.text))
	}
	for _, c := range dialects {
		texts = append(texts, dialectFile(t, c.file))
	}
	for _, data := range texts {
		for range 20 {
			seed, times, choice := random.Uint64(), 1+random.IntN(8), random.Uint64()
			text := changed(data, seed, times)
			func() {
				defer func() {
					if v := recover(); v != nil {
						t.Fatalf("%v in %q by %+v: %s", v, text, answered(choice), debug.Stack())
					}
				}()
				checkChanged(t, text, choice)
			}()
		}
	}
}
