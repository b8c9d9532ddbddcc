// Package texttest holds what tests of numbers share.
package texttest

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
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
