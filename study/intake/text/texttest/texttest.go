// Package texttest holds what tests of numbers share.
package texttest

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"wane/study"
)

// RequireSame holds two numbers to be the same to the last bit: the outside reference
// for every number is strconv.ParseFloat, without a tolerance.
func RequireSame(t *testing.T, want, got float64, text string) {
	t.Helper()
	require.Equal(t, math.Float64bits(want), math.Float64bits(got), "%q: want %v, got %v", text, want, got)
}

// Number writes a number of any length and any form that is taken.
func Number(random *rand.Rand) string {
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

// Refused checks a refusal: its place ends like at, and its fault.
func Refused(t *testing.T, err error, at, fault string) {
	t.Helper()
	var r *study.Refusal
	require.ErrorAs(t, err, &r)
	require.Contains(t, err.Error(), at+":")
	require.Contains(t, err.Error(), fault)
	require.NotEmpty(t, r.Try)
	if number, _, ok := strings.Cut(fault, ":"); ok && at != "" {
		if line, err := strconv.Atoi(number); err == nil {
			require.Equal(t, line, r.Line)
		}
	}
}

// Files reads the files that a pattern matches, so many at least, by their paths.
func Files(t testing.TB, pattern string, least int) map[string][]byte {
	names, err := filepath.Glob(filepath.FromSlash(pattern))
	require.NoError(t, err)
	require.GreaterOrEqual(t, len(names), least, "the seeds of the fuzzer are missing")
	files := map[string][]byte{}
	for _, name := range names {
		data, err := os.ReadFile(name)
		require.NoError(t, err)
		files[name] = data
	}
	return files
}

// Export writes a made-up export of coupon G07: rows wavelengths from 350
// nm on in steps of 1 nm, one column per angle, percent with four decimals.
func Export(rows, columns int) []byte {
	var b strings.Builder
	b.WriteString("Instrument: made up\nSample: G07\nwavelength (nm)")
	for c := range columns {
		fmt.Fprintf(&b, ",R %d deg (%%)", 8+15*c)
	}
	b.WriteString("\n")
	for i := range rows {
		fmt.Fprintf(&b, "%.1f", 350+float64(i))
		for c := range columns {
			fmt.Fprintf(&b, ",%.4f", 3+float64(c)+1.5*math.Sin(float64(i)/60+float64(c)))
		}
		b.WriteString("\n")
	}
	return []byte(b.String())
}

// RequireRefusal checks that an error is a refusal with its fault and remedy.
func RequireRefusal(t testing.TB, err error) {
	var r *study.Refusal
	require.ErrorAs(t, err, &r)
	require.NotEmpty(t, r.File)
	require.NotEmpty(t, r.Fault)
	require.NotEmpty(t, r.Try)
}
