package text

import (
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study/intake/text/texttest"
)

func TestParseNumberEqualsStrconv(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	finite := 0
	for range 300_000 {
		text := texttest.Number(random)
		want, err := strconv.ParseFloat(text, 64)
		got, n := ParseNumber([]byte(text), '.', 0)
		if err != nil {
			require.Zero(t, n, "%q is out of range", text)
			continue
		}
		require.Equal(t, len(text), n, text)
		texttest.RequireSame(t, want, got, text)
		finite++
	}
	assert.Greater(t, finite, 200_000, "most numbers must be in range for this test to mean something")
}

func TestParseNumberWithDecimalComma(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 4))
	for range 50_000 {
		text := texttest.Number(random)
		want, err := strconv.ParseFloat(text, 64)
		if err != nil || strings.HasPrefix(strings.TrimLeft(text, "+-"), ".") {
			continue // a decimal comma needs a digit before it
		}
		written := strings.Replace(text, ".", ",", 1)
		got, n := ParseNumber([]byte(written), ',', 0)
		require.Equal(t, len(written), n, written)
		texttest.RequireSame(t, want, got, written)
	}
}

// A shift must round once, as strconv rounds the shifted decimal.
func TestParseNumberShifts(t *testing.T) {
	random := rand.New(rand.NewPCG(5, 6))
	for range 100_000 {
		text := texttest.Number(random)
		if strings.ContainsAny(text, "eE") {
			continue
		}
		shift := random.IntN(9) - 4
		want, err := strconv.ParseFloat(text+"e"+strconv.Itoa(shift), 64)
		require.NoError(t, err)
		got, n := ParseNumber([]byte(text), '.', shift)
		require.Equal(t, len(text), n, text)
		texttest.RequireSame(t, want, got, text)
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
			_, n := ParseNumber([]byte(c.text), c.mark, 0)
			assert.Equal(t, c.taken, c.text[:n])
		})
	}
}

func FuzzParseNumber(f *testing.F) {
	for _, text := range []string{"4.12", "-0", "1e22", "1e23", "9007199254740993", "0.1e-22", "2.2250738585072011e-308",
		"1e-400", "1e400"} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		got, n := ParseNumber([]byte(text), '.', 0)
		if n == 0 {
			return
		}
		want, err := strconv.ParseFloat(text[:n], 64)
		require.NoError(t, err)
		texttest.RequireSame(t, want, got, text[:n])
	})
}
