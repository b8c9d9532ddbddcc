package intake

import (
	"fmt"
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study/intake/text/texttest"
)

// Numbers with marks between thousands are those without them, and no other
// grouping is taken.
func FuzzParseGrouped(f *testing.F) {
	for _, text := range []string{"1.204", "1.204,5", "-12.345.678,9e2", "12.34", "1.2045", "1234.567", "999", "0.001"} {
		f.Add(text)
	}
	d := dialect{sep: ';', mark: ',', thousands: '.'}
	f.Fuzz(func(t *testing.T, text string) {
		got, n := d.parse([]byte(text), 0)
		if n != len(text) || n == 0 {
			return
		}
		plain := strings.Replace(strings.ReplaceAll(text, ".", ""), ",", ".", 1)
		want, err := strconv.ParseFloat(plain, 64)
		require.NoError(t, err)
		texttest.RequireSame(t, want, got, text)
		if strings.Contains(text, ".") {
			whole, _, _ := strings.Cut(strings.TrimLeft(text, "+-"), ",")
			for i, group := range strings.Split(strings.FieldsFunc(whole, func(c rune) bool { return c == 'e' || c == 'E' })[0],
				".") {
				require.True(t, len(group) == 3 || i == 0 && len(group) >= 1 && len(group) <= 3, text)
			}
		}
	})
}

// What is read of a row in one go is, to the last bit, what strconv says of it, and
// all that is left is of another form.
func TestPlainCellsEqualStrconv(t *testing.T) {
	random := rand.New(rand.NewPCG(11, 12))
	taken, left := 0, 0
	for range 40_000 {
		mark := []string{".", ","}[random.IntN(2)]
		sep := []byte("\t; ")[random.IntN(3)]
		var cells []string
		for range 5 {
			cells = append(cells, strconv.FormatFloat(1000*random.Float64(), 'f', random.IntN(7), 64))
		}
		cells[random.IntN(5)] = texttest.Number(random)
		row := strings.ReplaceAll(strings.Join(cells, string(sep)), ".", mark)
		content := append([]byte(row), "\n9"...)[:len(row)] // what is behind the row must not matter
		shift := random.IntN(6) - 2
		l := layout{width: 5, kinds: []cellKind{number, number, number, number, number}, shifts: []int{shift, shift, shift,
			shift, shift}}
		values := table{rows: 1, width: 5, cells: make([]float64, 5)}
		n, _ := dialect{sep: sep, mark: mark[0]}.plainCells(&values, 0, content, &l)
		for i, cell := range cells[:n] {
			want, err := strconv.ParseFloat(fmt.Sprintf("%se%d", cell, shift), 64)
			require.NoError(t, err)
			texttest.RequireSame(t, want, values.cells[i], row)
		}
		if n < 5 {
			rest := cells[n]
			special := strings.ContainsAny(rest, "+-eE") || rest[0] == '.' || len(rest) > exactDigits
			require.True(t, special, "%q is left", rest)
			left++
		}
		taken += n
	}
	assert.Greater(t, taken, 10_000)
	assert.Greater(t, left, 10_000)
}
