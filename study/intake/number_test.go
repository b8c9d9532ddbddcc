package intake

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The outside reference for every number is strconv.ParseFloat, to the last
// bit: no tolerance.
func requireSame(t *testing.T, want, got float64, text string) {
	t.Helper()
	require.Equal(t, math.Float64bits(want), math.Float64bits(got), "%q: want %v, got %v", text, want, got)
}

// randomNumber writes a number of any length and any form that is taken.
func randomNumber(random *rand.Rand) string {
	digits := func(n int) string {
		var b strings.Builder
		for range n {
			b.WriteByte(byte('0' + random.IntN(10)))
		}
		return b.String()
	}
	whole, fraction := random.IntN(24), random.IntN(24)
	if random.IntN(2) == 0 {
		whole, fraction = 1+random.IntN(4), random.IntN(7) // what instruments write
	}
	text := []string{"", "-", "+"}[random.IntN(3)] + digits(whole)
	if whole == 0 || random.IntN(4) > 0 {
		text += "." + digits(fraction+1)
	}
	if random.IntN(3) == 0 {
		text += []string{"e", "E"}[random.IntN(2)] + []string{"", "-", "+"}[random.IntN(3)] + digits(1+random.IntN(3))
	}
	return text
}

func TestParseNumberEqualsStrconv(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	finite := 0
	for range 300_000 {
		text := randomNumber(random)
		want, err := strconv.ParseFloat(text, 64)
		got, n := parseNumber([]byte(text), '.', 0)
		if err != nil {
			require.Zero(t, n, "%q is out of range", text)
			continue
		}
		require.Equal(t, len(text), n, text)
		requireSame(t, want, got, text)
		finite++
	}
	assert.Greater(t, finite, 200_000, "most numbers must be in range for this test to mean something")
}

func TestParseNumberWithDecimalComma(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 4))
	for range 50_000 {
		text := randomNumber(random)
		want, err := strconv.ParseFloat(text, 64)
		if err != nil || strings.HasPrefix(strings.TrimLeft(text, "+-"), ".") {
			continue // a decimal comma needs a digit before it
		}
		written := strings.Replace(text, ".", ",", 1)
		got, n := parseNumber([]byte(written), ',', 0)
		require.Equal(t, len(written), n, written)
		requireSame(t, want, got, written)
	}
}

// A shift must round once, as strconv rounds the shifted decimal.
func TestParseNumberShifts(t *testing.T) {
	random := rand.New(rand.NewPCG(5, 6))
	for range 100_000 {
		text := randomNumber(random)
		if strings.ContainsAny(text, "eE") {
			continue
		}
		shift := random.IntN(9) - 4
		want, err := strconv.ParseFloat(text+"e"+strconv.Itoa(shift), 64)
		require.NoError(t, err)
		got, n := parseNumber([]byte(text), '.', shift)
		require.Equal(t, len(text), n, text)
		requireSame(t, want, got, text)
	}
}

func TestParseNumberStops(t *testing.T) {
	for _, c := range []struct {
		text  string
		mark  byte
		taken string
	}{
		{"4.12,5", '.', "4.12"}, {"4,12,5", ',', "4,12"}, {"4, 12", ',', "4"}, {"4,", ',', "4"}, {",5", ',', ""},
		{"5.", '.', "5."}, {".5", '.', ".5"}, {".", '.', ""}, {"-", '.', ""}, {"+.", '.', ""}, {"", '.', ""},
		{"--5", '.', ""}, {"4e", '.', "4"}, {"4e+", '.', "4"}, {"4e+2", '.', "4e+2"}, {"4E-003nm", '.', "4E-003"},
		{"1.2.3", '.', "1.2"}, {"0x10", '.', "0"}, {"1_000", '.', "1"}, {"Inf", '.', ""}, {"NaN", '.', ""},
		{"1e400", '.', ""}, {"-1e400", '.', ""}, {"1e99999999999999999999", '.', ""}, {"1e-400", '.', "1e-400"},
		{"0e99999999999999999999", '.', "0e99999999999999999999"}, {"٣", '.', ""},
	} {
		t.Run(c.text, func(t *testing.T) {
			_, n := parseNumber([]byte(c.text), c.mark, 0)
			assert.Equal(t, c.taken, c.text[:n])
		})
	}
}

func FuzzParseNumber(f *testing.F) {
	for _, text := range []string{"4.12", "-0", "1e22", "1e23", "9007199254740993", "0.1e-22", "2.2250738585072011e-308", "1e-400", "1e400"} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		got, n := parseNumber([]byte(text), '.', 0)
		if n == 0 {
			return
		}
		want, err := strconv.ParseFloat(text[:n], 64)
		require.NoError(t, err)
		requireSame(t, want, got, text[:n])
	})
}

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
		requireSame(t, want, got, text)
		if strings.Contains(text, ".") {
			whole, _, _ := strings.Cut(strings.TrimLeft(text, "+-"), ",")
			for i, group := range strings.Split(strings.FieldsFunc(whole, func(c rune) bool { return c == 'e' || c == 'E' })[0], ".") {
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
		cells[random.IntN(5)] = randomNumber(random)
		row := strings.ReplaceAll(strings.Join(cells, string(sep)), ".", mark)
		text := append([]byte(row), "\n9"...)[:len(row)] // what stands behind the row must not matter
		shift := random.IntN(6) - 2
		l := layout{width: 5, kinds: []cellKind{number, number, number, number, number}, shifts: []int{shift, shift, shift, shift, shift}}
		values := table{rows: 1, width: 5, cells: make([]float64, 5)}
		n, _ := dialect{sep: sep, mark: mark[0]}.plainCells(&values, 0, text, &l)
		for i, cell := range cells[:n] {
			want, err := strconv.ParseFloat(fmt.Sprintf("%se%d", cell, shift), 64)
			require.NoError(t, err)
			requireSame(t, want, values.cells[i], row)
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
