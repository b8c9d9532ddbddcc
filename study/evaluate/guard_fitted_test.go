package evaluate_test

import (
	"context"
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/fit/film"
	"wane/optics"
	"wane/optics/solar"
	"wane/study"
	"wane/study/evaluate"
)

// fits are what is found of all coated coupons in a session, of which names says which lies in a
// coupon's place; the scale of the session is off by 1 %, each angle by 0.3 %, each reading
// by 0.2 %, and points have a noise of 0.04 pp.
func (b *batch) fits(t testing.TB, e *evaluate.Evaluator, names map[string]string) (fits []*study.Fit) {
	nm := steps(400, 1100, 20)
	scale, factor := 1+0.01*b.rng.NormFloat64(), map[float64]float64{}
	for _, deg := range b.angles {
		factor[deg] = 1 + 0.003*b.rng.NormFloat64()
	}
	for _, c := range b.roster.Coupons {
		if !c.Role.Coated() {
			continue
		}
		really := c.Coupon
		if n, ok := names[really]; ok {
			really = n
		}
		for spot, f := range b.films[really] {
			var readings []study.Reading
			for _, deg := range b.angles {
				r := f.reflects(t, nm, deg)
				own := scale * factor[deg] * (1 + 0.002*b.rng.NormFloat64())
				for i := range r {
					r[i] = own*r[i] + 0.0004*b.rng.NormFloat64()
				}
				readings = append(readings, study.Reading{Place: study.Place{Coupon: c.Coupon, Pull: b.pull, Spot: fmt.Sprint(spot + 1), AngleDeg: deg, Polarisation: "u", Quantity: study.Reflectance},
					Session: fmt.Sprintf("s%d", b.pull), NM: nm, Values: r})
			}
			fit, err := e.Unit(context.Background(), c.Role, study.Unit{Coupon: c.Coupon, Pull: b.pull, Spot: fmt.Sprint(spot + 1)}, readings)
			require.NoError(t, err)
			fits = append(fits, fit)
		}
	}
	return fits
}

// solarR is the solar-weighted reflectance of a film at normal incidence.
func (f madeFilm) solarR(t testing.TB) (mean float64) {
	nm := steps(400, 1100, 10)
	w, _, err := solar.Weights(nm, 400, 1100, solar.Energy)
	require.NoError(t, err)
	for i, r := range f.reflects(t, nm, 0) {
		mean += w[i] * r
	}
	return mean
}

func lookedAt(b *batch, fits []*study.Fit) []evaluate.UnitConcern {
	l := evaluate.NewGuard(b.roster).NewThirdLook()
	for _, f := range fits {
		l.Add(f, false)
	}
	return l.Found()
}

func sodaLime(t testing.TB) *evaluate.Evaluator {
	e, err := evaluate.NewEvaluator(evaluate.Setup{Glass: film.Glass{Index: optics.SodaLime(), UIndex: 0.002}})
	require.NoError(t, err)
	return e
}

// Two coatings that age hold next to nothing in the third look: made-up studies over two pulls, of 4
// exposed coupons and 2 controls of either with two spots each, whose coatings thin by 1
// to 40 % in a pull or lose up to 25 % of their surface, most with a coupon in trouble.
// The limit that is promised is 0.5 % of the spots; of 28,800 spots of 600 such studies none
// is held.
func TestThirdLookAtAgeing(t *testing.T) {
	e, spots, held, sessions := sodaLime(t), 0, 0, 0
	for seed := range uint64(fittedStudies) {
		b := newBatch(70000+seed, 2, 4, 2)
		for k := range b.thins {
			switch b.rng.IntN(3) {
			case 0:
				b.thins[k] = 0.01 + 0.09*b.rng.Float64()
			case 1:
				b.thins[k] = 0.1 + 0.3*b.rng.Float64()
			default:
				b.patches[k] = 0.25 * b.rng.Float64()
			}
		}
		unlucky, what := b.exposed[b.rng.IntN(len(b.exposed))], trouble(b.rng.IntN(int(allTroubles)))
		fits := b.fits(t, e, nil)
		for range 2 {
			b.befall(what, unlucky)
			fits = append(fits, b.fits(t, e, nil)...)
		}
		sessions += 2
		spots += 2 * len(fits) / 3
		found := lookedAt(b, fits)
		held += len(found)
		for _, u := range found {
			t.Logf("study %d: %v: %s", seed, u.Unit, u.Reason)
		}
	}
	t.Logf("%d of %d spots are held, %.2g %%, in %d sessions", held, spots, 100*float64(held)/float64(spots), sessions)
	assert.LessOrEqual(t, float64(held), 0.005*float64(spots))
}

const fittedStudies = 40

// All coupons of two suppliers are exchanged in one session, whose solar values differ by
// 0.20 to 0.33 pp: an exchange that no other guard holds. Counted are sessions in which the
// larger part of the exchanged spots is held; no other spot is. Of 60 each they are 60, 59, 26
// and 15.
func TestThirdLookAtExchange(t *testing.T) {
	for _, c := range []struct {
		name  string
		most  float64 // share of the thickness lost in a pull
		least float64 // share of the sessions that are held
	}{{"hardly aged", 0.02, 0.9}, {"thinned by up to 10 %", 0.10, 0.9}, {"thinned by up to 25 %", 0.25, 0.2}, {"thinned by up to 40 %", 0.40, 0.05}} {
		t.Run(c.name, func(t *testing.T) {
			e, found, all := sodaLime(t), 0, 0
			for seed := uint64(0); all < 20; seed++ {
				b := newBatch(80000+seed, 2, 4, 2)
				if d := math.Abs(b.films["E0-0"][1].solarR(t) - b.films["E1-0"][1].solarR(t)); d < 0.0020 || d > 0.0033 {
					continue
				}
				all++
				for k := range b.thins {
					b.thins[k] = c.most * b.rng.Float64()
				}
				names := map[string]string{}
				for i := range 4 {
					one, other := fmt.Sprintf("E0-%d", i), fmt.Sprintf("E1-%d", i)
					names[one], names[other] = other, one
				}
				fits := b.fits(t, e, nil)
				b.age()
				fits = append(fits, b.fits(t, e, names)...)
				held := lookedAt(b, fits)
				for _, u := range held {
					assert.Equal(t, 1, u.Pull)
					assert.Equal(t, byte('E'), u.Coupon[0])
				}
				if len(held) > 8 {
					found++
				}
			}
			t.Logf("held are %d of %d", found, all)
			assert.GreaterOrEqual(t, float64(found), c.least*float64(all))
		})
	}
}
