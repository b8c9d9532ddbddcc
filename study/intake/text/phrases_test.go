package text_test

import (
	"math/rand/v2"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/intake/text"
	"wane/study/intake/text/texttest"
)

// What messages are made of.
func TestPhrases(t *testing.T) {
	assert.Equal(t, "nm", text.Joined([]string{"nm"}, "or"))
	assert.Equal(t, "nm or um", text.Joined([]string{"nm", "um"}, "or"))
	assert.Equal(t, "a, b and c", text.Joined([]string{"a", "b", "c"}, "and"))
	assert.Equal(t, "1 row", text.Count(1, "row"))
	assert.Equal(t, "0 rows", text.Count(0, "row"))
	assert.Equal(t, "12,345 rows", text.Count(12345, "row"))
	for v, want := range map[float64]string{
		0: "0", 4.12: "4.12", 1950: "1,950", -1234.5: "-1,234.5", 0.0001: "0.0001", 1e9: "1e+09", 123456.7: "123,457",
		1.0 / 3: "0.333333", 99999.94: "99,999.9",
	} {
		assert.Equal(t, want, text.Figure(v))
	}
	assert.Equal(t, "1010.2", text.Wavelength(1010.2), "without a mark between thousands")
	assert.Equal(t, `"a\nb"`, text.Quoted("a\nb"))
	assert.Equal(t, "αβ...", text.CutAt("αβγ", 2), "characters are counted, not bytes")
	assert.Equal(t, "αβγ", text.CutAt("αβγ", 3))
	assert.Equal(t, "3 points; 400 nm 4, 401 nm 5, 402 nm 6", text.Points([]float64{400, 401, 402}, []float64{4, 5, 6}))
}

// Several answers are offered in one sentence; what is stated already is not asked again.
func TestQuestionsOfferWhatIsOpen(t *testing.T) {
	choices := []study.Choice{{Name: "overlap", Value: "first"}, {Name: "overlap", Value: "average"},
		{Name: "relative-to"}}
	assert.Equal(t, "state --overlap first (or average or --relative-to NAME)", text.StateOne(choices))
	a := &text.Asker{File: "g.csv"}
	at := text.Position{Line: 3, Column: 2}
	r := a.Question(at, choices[:2], "export one detector", "x turns")
	assert.EqualError(t, r, "g.csv:3:2: x turns")
	assert.Equal(t, "state --overlap first (or average), or export one detector", r.Try)
	assert.Equal(t, choices[:2], r.Choices)
	a.Stated.Overlap = "first"
	r = a.Question(at, choices[:2], "export one detector", "x turns")
	assert.Equal(t, "export one detector", r.Try)
	assert.Empty(t, r.Choices)
}

// Where Scaled says that it is exact, it is the number that strconv reads.
func TestScaledIsNearest(t *testing.T) {
	random := rand.New(rand.NewPCG(21, 22))
	exact := 0
	for range 50_000 {
		mantissa, power := random.Uint64()>>random.IntN(64), random.IntN(61)-30
		v, ok := text.Scaled(mantissa, power)
		require.Equal(t, mantissa < 1<<53 && -22 <= power && power <= 22, ok, "%d e%d", mantissa, power)
		if !ok {
			require.Zero(t, v)
			continue
		}
		s := strconv.FormatUint(mantissa, 10) + "e" + strconv.Itoa(power)
		want, err := strconv.ParseFloat(s, 64)
		require.NoError(t, err)
		texttest.RequireSame(t, want, v, s)
		exact++
	}
	assert.Greater(t, exact, 10_000)
}
