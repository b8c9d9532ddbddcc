package guard_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/optics"
	"wane/study"
	"wane/study/guard"
)

// Fresnel's levels by hand, for glass of index 1.5 throughout (M. Born, E. Wolf,
// Principles of Optics, 7th ed. (1999), 1.5.2, from memory; the digits by
// optics/testdata/closed_forms.py). At normal incidence a face reflects ((n-1)/(n+1))² = 0.04 and a pane of
// two faces 2r/(1+r) = 0.0769231; at Brewster's angle, arctan 1.5 = 56.3099 degrees, a face
// reflects no p and ((n²-1)/(n²+1))² = 0.147929 of s, of unpolarised light half of that.
func TestLevelsByHand(t *testing.T) {
	r := &study.Roster{Glasses: []study.Glass{{Name: "n15.csv", NM: []float64{300, 2500}, N: []float64{1.5, 1.5},
		K: []float64{0, 0}}}}
	for _, back := range []string{"matched", "bare"} {
		r.Coupons = append(r.Coupons, study.Coupon{Coupon: back, Role: study.Blank, Glass: "n15.csv", GlassMM: study.Null(),
			Back: back})
	}
	g := guard.New(r)
	brewster := math.Atan(1.5) * 180 / math.Pi
	for _, c := range []struct {
		back       string
		deg        float64
		pol        string
		level, off float64 // which off more is too much
		says       string
	}{
		{"matched", 0, "u", 0.04, 0.004, "bare n15.csv reflects 4 % at 0 degrees, u"},
		{"matched", 0, "s", 0.04, 0.004, "4 %"},
		{"bare", 0, "u", 2 * 0.04 / 1.04, 0.2 / 26, "7.69 %"},
		{"matched", brewster, "s", 0.147929, 0.0147929, "14.8 %"},
		{"matched", brewster, "p", 0, 0.003, "0 %"},
		{"matched", brewster, "u", 0.0739645, 0.00739645, "7.4 %"},
	} {
		t.Run(fmt.Sprintf("%s %.0f %s", c.back, c.deg, c.pol), func(t *testing.T) {
			for _, sign := range []float64{-1, 1} {
				near := reading(c.back, c.deg, c.pol, plus(make([]float64, len(madeNM)), c.level+0.998*sign*c.off))
				assert.NotContains(t, words(g.JudgeReading(near)), "level")
				far := reading(c.back, c.deg, c.pol, plus(make([]float64, len(madeNM)), c.level+1.002*sign*c.off))
				concerns := g.JudgeReading(far)
				require.Equal(t, []string{"level"}, words(concerns))
				assert.Contains(t, concerns[0].Reason, c.says)
			}
		})
	}
}

// A laminate that returns 1 % of the light makes 0.04 + 0.96²·0.01/(1 - 0.04·0.01) = 0.0492197 of glass of index 1.5 at
// normal incidence, by hand: the sum over the passes.
func TestLevelOfALaminate(t *testing.T) {
	r := &study.Roster{
		Glasses: []study.Glass{{Name: "n15.csv", NM: []float64{300, 2500}, N: []float64{1.5, 1.5}, K: []float64{0, 0}}},
		Returns: []study.ReturnSpectrum{{Name: "a.csv", NM: []float64{300, 2500}, Return: []float64{0.01, 0.01}},
			{Name: "b.csv", NM: []float64{300, 2500}, Return: []float64{0.03, 0.03}}},
		Coupons: []study.Coupon{
			{Coupon: "A", Role: study.Blank, Glass: "n15.csv", GlassMM: study.Null(), Back: "laminated", ReturnSpectrum: "a.csv"},
			{Coupon: "B", Role: study.Blank, Glass: "n15.csv", GlassMM: study.Null(), Back: "laminated", ReturnSpectrum: "b.csv"}},
	}
	g := guard.New(r)
	level := plus(make([]float64, len(madeNM)), 0.0492197)
	assert.Empty(t, g.JudgeReading(reading("A", 0, "u", level)))
	concerns := g.JudgeReading(reading("B", 0, "u", level))
	require.Equal(t, []string{"level"}, words(concerns))
	assert.Contains(t, concerns[0].Reason, "bare n15.csv reflects 6.77 %")
}

func TestLevelAndScale(t *testing.T) {
	g := guard.New(guardRoster())
	bare, film := noFilm.reads(t, u(8)), madeFilm{118, 0.36, 0}.reads(t, u(8))
	steep := noFilm.reads(t, u(60))
	dirty := func(to float64) []float64 {
		v := times(bare, 1)
		for i := range v {
			if madeNM[i] < to {
				v[i] *= 1.5
			}
		}
		return v
	}
	pane := noFilm.reads(t, beam{angleDeg: 8, share: 0.5, back: optics.Bare, capture: 1})
	for _, c := range []struct {
		name   string
		coupon string
		deg    float64
		values []float64
		want   []string
		says   string
	}{
		{"a blank", "blank matched", 8, bare, nil, ""},
		{"a blank 9 % high", "blank matched", 8, times(bare, 1.09), nil, ""},
		{"a blank 11 % high", "blank matched", 8, times(bare, 1.11), []string{"level"},
			"the level is 4.73 % where bare soda-lime reflects 4.26 % at 8 degrees, u; the limit is 0.426 pp off; it would " +
				"fit 36 to 40 degrees, or a reference or detector is off"},
		{"an exposed blank 11 % low at pull 0", "blank-exposed matched", 8, times(bare, 0.89), []string{"level"},
			"the level is 3.79 %"},
		{"both faces where the far one is said to be matched", "blank matched", 8, pane, []string{"level"},
			"the level is 7.5 % where bare soda-lime reflects 4.26 %"},
		{"the same where it is said to be bare", "blank bare", 8, pane, nil, ""},
		{"one face where both should be seen", "blank bare", 8, bare, []string{"level"},
			"the level is 4.26 % where bare soda-lime reflects 7.5 %"},
		{"the far face missed at 45 degrees", "blank bare", 45, noFilm.reads(t, u(45)), nil, ""},
		{"dirt in 3 of 14 bands", "blank matched", 8, dirty(550), nil, ""},
		{"dirt in 4 of 14 bands", "blank matched", 8, dirty(600), []string{"level"},
			"the level is 6.53 % (in 4 of 14 bands of 50 nm, the first from 400 nm on) where bare soda-lime reflects 4.37 %"},
		{"stated in percent, a fraction", "blank matched", 8, times(bare, 0.01), []string{"scale"},
			"taken as percent, the level is 0.0426 % where bare soda-lime reflects 4.26 %: the numbers seem to be fractions"},
		{"stated as a fraction, percent", "blank matched", 8, times(bare, 100), []string{"scale"},
			"taken as fractions, the level is 426 %"},
		{"a wild level", "blank matched", 8, times(bare, 20), []string{"level"}, ""},
		{"read at 60 degrees", "blank matched", 8, steep, []string{"level"}, "it would fit 60 degrees"},

		{"a film", "exposed matched", 8, film, nil, ""},
		{"a control stripped and 10 % high", "control matched", 8, times(bare, 1.10), nil, ""},
		{"coated glass beyond bare glass", "control matched", 8, times(bare, 1.20), []string{"level"},
			"whatever film is on it; the limit is 0.726 pp outside"},
		{"a film, fractions taken as percent", "exposed matched", 8, times(film, 0.01), []string{"scale"},
			"the numbers seem to be fractions"},
		{"a stripped film, fractions taken as percent", "exposed matched", 8, times(bare, 0.01), []string{"scale"}, ""},
		{"a film, percent taken as fractions", "exposed matched", 8, times(film, 100), []string{"scale"},
			"the numbers seem to be percent"},
		{"a film, less stray light", "exposed matched", 8, plus(film, -0.002), nil, ""},
		{"zero line far too low", "exposed matched", 8, plus(film, -0.02), []string{"level"}, ""},
		{"read at 60 degrees, coated", "exposed matched", 8, madeFilm{60, 0.36, 0}.reads(t, u(70)), []string{"level"}, ""},

		{"laminated, whose return nobody has given", "blank laminated", 8, steep, nil, ""},
		{"a coupon that is not there", "nobody", 8, steep, nil, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			concerns := g.JudgeReading(reading(c.coupon, c.deg, "u", c.values))
			require.Equal(t, c.want, words(concerns))
			if len(concerns) > 0 {
				assert.Contains(t, concerns[0].Reason, c.says)
			}
		})
	}
	t.Run("transmittance has no level", func(t *testing.T) {
		r := reading("blank matched", 8, "u", plus(times(bare, 0), 0.91))
		r.Quantity = study.Transmittance
		r.Values[3] += 0.001
		assert.Empty(t, g.JudgeReading(r))
	})
	t.Run("a curve that covers no band", func(t *testing.T) {
		r := &study.Reading{Place: study.Place{Coupon: "blank matched", AngleDeg: 8, Polarisation: "u",
			Quantity: study.Reflectance}, NM: []float64{410, 420}, Values: []float64{9, 8}}
		r.Traits = guard.TraitsOf(r.NM, r.Values)
		assert.Empty(t, g.JudgeReading(r))
	})
}

// 2,000 readings of films fresh, thinned, patchy, all but gone and gone, and of blanks, with
// all that instruments do within what is known of them: noise of 0.02 to 0.1 pp, a scale of
// ± 3 %, an angle off by 0.3 degrees (one standard deviation), a native beam's s share off
// by 0.05, the far face's return missed in part beyond 15 degrees, steps at the join of up
// to 2.5 u_join, dust on half of the exposed blanks. None may be held.
func TestGoodReadingsAreNotHeld(t *testing.T) {
	g := guard.New(guardRoster())
	rng := rand.New(rand.NewPCG(31, 7))
	between := func(lo, hi float64) float64 { return lo + (hi-lo)*rng.Float64() }
	pick := func(words ...string) string { return words[rng.IntN(len(words))] }
	held, n := map[string]int{}, 2000
	for range n {
		f := madeFilm{between(90, 140), between(0.25, 0.5), 0}
		role := pick("exposed", "control", "blank", "blank-exposed")
		switch {
		case role == "blank" || role == "blank-exposed":
			f = noFilm
		default:
			switch rng.IntN(5) {
			case 1:
				f.thickness *= between(0.6, 1)
			case 2:
				f.bare = between(0, 0.5)
			case 3:
				f.thickness = between(0, 20)
			case 4:
				f = noFilm
			}
		}
		word, pol := pick("matched", "blackened", "bare", "coated"), pick("s", "p", "u", "n")
		back, err := optics.ParseBack(word)
		require.NoError(t, err)
		deg := []float64{8, 30, 45, 60}[rng.IntN(4)]
		b := beam{angleDeg: deg + 0.3*rng.NormFloat64(), share: map[string]float64{"s": 1, "p": 0, "u": 0.5,
			"n": 0.5 + 0.05*rng.NormFloat64()}[pol], back: back, capture: 1}
		if deg > 15 {
			b.capture = rng.Float64()
		}
		values := noisy(rng, f.reads(t, b), between(0.97, 1.03), between(0.0002, 0.001))
		dusty := role == "blank-exposed" && rng.IntN(2) == 0
		if depth := between(0, 0.128); dusty {
			for i, nm := range madeNM {
				values[i] *= math.Exp(-depth * math.Pow(500/nm, 1.3))
			}
		}
		step := 0.001 * max(-2.5, min(2.5, rng.NormFloat64()))
		for i, nm := range madeNM {
			if nm >= 860 {
				values[i] = math.Round(1e5*(values[i]+step)) / 1e5
			}
		}
		r := reading(role+" "+word, deg, pol, values)
		r.Session, r.Pull = "dry", 1
		if dusty {
			r.Condition = "as_found"
		}
		for _, c := range g.JudgeReading(r) {
			held[c.Guard]++
			t.Logf("%s: %+v, %g degrees, %s, %+v: %s", r.Coupon, f, deg, pol, b, c.Reason)
		}
	}
	assert.Empty(t, held, "of %d readings", n)
}
