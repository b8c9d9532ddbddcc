package guard

import (
	"math"
	"math/rand/v2"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/fit/film"
	"wane/optics"
	"wane/study"
)

// What the pane reflects under each film is what the general pane of optics says, which sums
// all passes by itself; beyond 15 degrees the least is that of the front alone.
func TestEachFilmAgainstThePane(t *testing.T) {
	nm := []float64{325, 575, 1025}
	for _, back := range []optics.Back{optics.Matched, optics.Blackened, optics.Bare, optics.Coated} {
		for _, deg := range []float64{8, 60} {
			for _, pol := range []string{"s", "p", "u", "n"} {
				glass := &film.Glass{Index: optics.SodaLime(), ThicknessMM: 3.2, Back: back}
				least, most, ok := shares(pol)
				require.True(t, ok)
				number, index, d := 0, filmIndexLo, 0.0
				var off float64
				eachFilm(glass, levelKey{angleDeg: deg, polarisation: pol}, 300, 15, func(lo, hi []float64) {
					if number%97 == 0 { // of 310 films these are enough
						films := []optics.Film{{Index: optics.Constant("film", complex(index, 0)), ThicknessNM: d}}
						reflects := func(back optics.Back, share float64) []float64 {
							r, _, err := optics.Pane{Films: films, BackFilms: films, Glass: glass.Index, GlassMM: 3.2, Back: back}.RT(nil,
								nil, nm, deg, optics.Polarisation(share))
							require.NoError(t, err)
							return r
						}
						behind := back
						if deg > wholeReturnDeg {
							behind = optics.Matched
						}
						a, b := reflects(behind, least), reflects(behind, most)
						c, e := reflects(back, least), reflects(back, most)
						for i, k := range []int{0, 5, 14} {
							off = max(off, math.Abs(lo[k]-min(a[i], b[i])), math.Abs(hi[k]-max(c[i], e[i])))
						}
					}
					number++
					if d += filmStepNM; d > filmThickNM {
						d, index = 0, index+filmIndexStep
					}
				})
				assert.Equal(t, 310, number)
				// optics.Pane meets light from inside as if the glass did not absorb: by k, some 1e-6
				assert.Less(t, off, 1e-5, "%v, %g degrees, %s", back, deg, pol)
			}
		}
	}
}

// The chance that points share the maximum is what 20,000 made-up flat curves say, and
// 3.6e-6 and 3.9e-8 by summing the binomial distribution in another language.
func TestChanceOfATop(t *testing.T) {
	const curves, n = 20000, 400
	rng := rand.New(rand.NewPCG(4, 4))
	for _, c := range []struct {
		steps float64
		equal int
	}{{2, 8}, {2, 12}, {3, 8}} {
		found := 0
		for range curves {
			top, equal, phase := math.Inf(-1), 0, rng.Float64()
			for range n {
				switch v := math.Round(c.steps*rng.NormFloat64() + phase); {
				case v > top:
					top, equal = v, 1
				case v == top:
					equal++
				}
			}
			if equal >= c.equal {
				found++
			}
		}
		share := float64(found) / curves
		chance := topChance(n, c.equal, c.steps)
		t.Logf("%d at the top by a noise of %g steps: %.2g, by the formula %.2g", c.equal, c.steps, share, chance)
		assert.InDelta(t, share, chance, 4*math.Sqrt(share/curves))
	}
	assert.InEpsilon(t, 3.6e-6, topChance(n, 8, 10), 0.1)
	assert.InEpsilon(t, 3.9e-8, topChance(n, 8, 20), 0.1)
}

// A guard gives the same answers to many at once.
func TestGuardIsSafeForConcurrentUse(t *testing.T) {
	r := &study.Roster{Coupons: []study.Coupon{{Coupon: "A", Role: study.Exposed, Glass: "soda-lime", GlassMM: 3.2,
		Back: "bare"}}}
	g, own := New(r), New(r)
	var all sync.WaitGroup
	for range 8 {
		all.Go(func() {
			for deg := range 5 {
				reading := &study.Reading{Place: study.Place{Coupon: "A", AngleDeg: float64(10 * deg), Polarisation: "u",
					Quantity: study.Reflectance}, NM: []float64{400, 500, 600}, Values: []float64{0.2, 0.2, 0.2}}
				reading.Traits = TraitsOf(reading.NM, reading.Values)
				assert.Equal(t, own.JudgeReading(reading), g.JudgeReading(reading))
			}
		})
	}
	all.Wait()
}
