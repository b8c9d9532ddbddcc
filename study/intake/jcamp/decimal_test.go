package jcamp

import (
	"math"
	"math/big"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study/intake/text/texttest"
)

// rational reads a number by math/big, the outside reference of this file.
func rational(t *testing.T, text string) *big.Rat {
	v, ok := new(big.Rat).SetString(text)
	require.True(t, ok, text)
	return v
}

func read(t *testing.T, text string) decimal {
	d, n := readDecimal([]byte(text), true)
	require.Equal(t, len(text), n, text)
	return d
}

// Products are the float64 nearest to the exact ones: of what instruments write,
// of factors of few digits and of many.
func TestDecimalProductsAreNearest(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 4))
	factors := []string{"1", "1.0", "0.0001", "1E-04", "0.000124652", "9.536743164E-07", "-2.5", "3.0517578125e-05",
		"1000"}
	for range 100_000 {
		text := texttest.Number(random)
		d, n := readDecimal([]byte(text), true)
		if n != len(text) || d.mantissa >= 1e18 {
			continue // out of range, or with digits dropped: see the next test
		}
		f := factors[random.IntN(len(factors))]
		exact := rational(t, text)
		want, _ := exact.Mul(exact, rational(t, f)).Float64()
		got := read(t, text).times(read(t, f).trimmed())
		if want == 0 {
			require.Zero(t, got, "%s times %s", text, f)
			continue
		}
		texttest.RequireSame(t, want, got, text+" times "+f)
	}
}

func TestReadDecimal(t *testing.T) {
	for text, want := range map[string]decimal{
		"400":     {mantissa: 400},
		"-0.0412": {negative: true, mantissa: 412, power: -4, unit: -4},
		"+4.10":   {mantissa: 410, power: -2, unit: -2},
		".5":      {mantissa: 5, power: -1, unit: -1},
		"5.":      {mantissa: 5},
		"1.5E-03": {mantissa: 15, power: -4, unit: -4},
		"2e3":     {mantissa: 2, power: 3, unit: 3},
		// 21 digits: two are dropped, and no float64 can tell.
		"123456789012345678901": {mantissa: 1234567890123456789, power: 2},
	} {
		assert.Equal(t, want, read(t, text), text)
	}
	for _, text := range []string{"", "-", ".", "+.", "E5", "K", "1e999", "1e99999999999999999999"} {
		_, n := readDecimal([]byte(text), true)
		assert.Zero(t, n, text)
	}
	// Where letters are digits, E ends a number.
	_, n := readDecimal([]byte("812E45"), false)
	assert.Equal(t, 3, n)
	assert.True(t, math.IsInf(decimal{mantissa: 9, power: 399}.float(), 1))
}

// Equal steps are the float64 nearest to the exact ones, where integers of 53 bits
// hold them and where they do not.
func TestSpreadIsNearest(t *testing.T) {
	for _, c := range []struct {
		first, last string
		n           int
	}{
		{"400", "401", 4}, {"350", "750", 401}, {"749.89", "350.11", 351}, {"0.4", "0.7", 7}, {"25000", "4000.5", 1868},
		{"399.98765432101234", "3999.39906", 1868}, {"1e-300", "1e300", 5}, {"-1", "1", 7}, {"1E+05", "2E+05", 12},
	} {
		x := make([]float64, c.n)
		spread(x, read(t, c.first), read(t, c.last))
		a, b := rational(t, c.first), rational(t, c.last)
		for i := range x {
			rest, part := big.NewRat(int64(c.n-1-i), int64(c.n-1)), big.NewRat(int64(i), int64(c.n-1))
			exact := new(big.Rat).Add(rest.Mul(rest, a), part.Mul(part, b))
			want, _ := exact.Float64()
			texttest.RequireSame(t, want, x[i], c.first)
		}
	}
}
