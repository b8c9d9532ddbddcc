// Package texttest holds what tests of numbers share.
package texttest

import (
	"math"
	"math/rand/v2"
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
