package guard_test

import (
	"context"
	"fmt"
	"math"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/optics"
	"wane/optics/solar"
	"wane/study"
	"wane/study/evaluate"
	"wane/study/guard"
)

// fits are what is found of all coated coupons in a session, of which names says which lies in a
// coupon's place; the scale of the session is off by 1 %, each angle by 0.3 %, each reading
// by 0.2 %, and points have a noise of 0.04 pp. What lies there is read as it is, and
// evaluated as the coupon is enrolled.
func (b *batch) fits(t testing.TB, names map[string]string) (fits []*study.Fit) {
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
			unit := study.Unit{Coupon: c.Coupon, Pull: b.pull, Spot: fmt.Sprint(spot + 1)}
			var readings []study.Reading
			for _, deg := range b.angles {
				r := f.on(t, b.paneOf(really), nm, deg)
				own := scale * factor[deg] * (1 + 0.002*b.rng.NormFloat64())
				for i := range r {
					r[i] = own*r[i] + 0.0004*b.rng.NormFloat64()
				}
				readings = append(readings, study.Reading{
					Place: study.Place{Coupon: c.Coupon, Pull: b.pull, Spot: unit.Spot, AngleDeg: deg,
						Polarisation: "u", Quantity: study.Reflectance},
					Session: fmt.Sprintf("s%d", b.pull), NM: nm, Values: r})
			}
			fit, err := b.maker.evaluators[c.Coating].Unit(context.Background(), c.Role, unit, readings)
			require.NoError(t, err)
			fits = append(fits, fit)
		}
	}
	return fits
}

// madePane is what a coating lies on.
type madePane struct {
	glass, back string
	mm          float64
	index       optics.Index // as it is, which is not quite what the roster says
}

// paneOf returns what a coupon's film lies on.
func (b *batch) paneOf(coupon string) madePane {
	for _, c := range b.roster.Coupons {
		if c.Coupon == coupon {
			return b.panes[c.Coating]
		}
	}
	panic("no coupon " + coupon)
}

// filmMaker evaluates films on the panes of the coatings K0, K1, ...
type filmMaker struct {
	panes      []madePane
	evaluators map[string]*evaluate.Evaluator // by coating, as enrolled
}

func newFilmMaker(t testing.TB, panes ...madePane) *filmMaker {
	m := &filmMaker{panes, map[string]*evaluate.Evaluator{}}
	for i, p := range panes {
		c := study.Coupon{Glass: p.glass, GlassMM: study.Num(p.mm), Back: p.back}
		setup, err := evaluate.CouponSetup(&c, optics.Bruggeman.String(), nil)
		require.NoError(t, err)
		m.evaluators[fmt.Sprintf("K%d", i)], err = evaluate.NewEvaluator(setup)
		require.NoError(t, err)
	}
	return m
}

// on lays the films of a maker's coatings on its panes, whose glass has an index that is off by
// 0.002, one standard deviation, and enrols the coupons so.
func (b *batch) on(t testing.TB, m *filmMaker) *batch {
	b.maker, b.panes = m, map[string]madePane{}
	for i, p := range m.panes {
		index, known := evaluate.NamedGlass(p.glass)
		require.True(t, known, p.glass)
		p.index = index.Shifted(0.002 * b.rng.NormFloat64())
		b.panes[fmt.Sprintf("K%d", i)] = p
	}
	for i := range b.roster.Coupons {
		c := &b.roster.Coupons[i]
		if p, ok := b.panes[c.Coating]; ok {
			c.Glass, c.GlassMM, c.Back = p.glass, study.Num(p.mm), p.back
		}
	}
	return b
}

// on returns what a film on a pane reflects in unpolarised light, by the general pane of optics.
func (f madeFilm) on(t testing.TB, p madePane, nm []float64, deg float64) []float64 {
	back, err := optics.ParseBack(p.back)
	require.NoError(t, err)
	n := math.Sqrt(real(optics.Bruggeman.Mix(1.458*1.458, 1, f.porosity)))
	film := optics.Film{Index: optics.Constant("film", complex(n, 0)), ThicknessNM: max(0, f.thickness)}
	bare := optics.Pane{Glass: p.index, GlassMM: p.mm, Back: back}
	coated := bare
	coated.Films = []optics.Film{film}
	r, _, err := coated.RT(nil, nil, nm, deg, optics.U)
	require.NoError(t, err)
	glass, _, err := bare.RT(nil, nil, nm, deg, optics.U)
	require.NoError(t, err)
	for i := range r {
		r[i] = (1-f.bare)*r[i] + f.bare*glass[i]
	}
	return r
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

// compareFilms returns what the comparison of films finds in the fits.
func compareFilms(b *batch, fits []*study.Fit) []guard.UnitConcern {
	l := guard.New(b.roster).NewFilmComparison()
	for _, f := range fits {
		l.Add(f, false)
	}
	return l.Found()
}

// agedPanes are fits of a made-up study over two pulls, of coatings on panes that age by what is
// drawn, most with a coupon in trouble.
func agedPanes(t testing.TB, seed uint64, m *filmMaker) (*batch, []*study.Fit) {
	b := newBatch(seed, len(m.panes), 4, 2).on(t, m)
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
	fits := b.fits(t, nil)
	for range 2 {
		b.befall(what, unlucky)
		fits = append(fits, b.fits(t, nil)...)
	}
	return b, fits
}

// matched is a pane of a glass whose far face is matched.
func matched(glass string) madePane { return madePane{glass: glass, back: "matched", mm: 3.2} }

// panePairs are pairs of panes on which the coatings of two suppliers lie.
var panePairs = []struct {
	name string
	a, b madePane
}{
	{"the same", matched("soda-lime"), matched("soda-lime")},
	{"another glass", matched("soda-lime"), matched("borosilicate-crown")},
	{"another glass, thicker, blackened", matched("soda-lime"), madePane{"low-iron", "blackened", 4, optics.Index{}}},
}

// Two coatings that age hold next to nothing in the comparison of films, whatever they lie on: made-up
// studies over two pulls, of 4 exposed coupons and 2 controls of either with two spots each, whose
// coatings thin by 1 to 40 % in a pull or lose up to 25 % of their surface, most with a coupon in
// trouble. The limit that is promised is 0.5 % of the spots; of 9,600 spots of 200 such studies on
// two kinds of glass 6 are held, all in one study.
func TestFilmsThatAge(t *testing.T) {
	for _, c := range panePairs {
		t.Run(c.name, func(t *testing.T) {
			m, spots, held := newFilmMaker(t, c.a, c.b), 0, 0
			for seed := range uint64(runs(fittedStudies, 12)) {
				b, fits := agedPanes(t, 70000+seed, m)
				spots += 2 * len(fits) / 3 // those that have a pull before
				held += len(compareFilms(b, fits))
			}
			t.Logf("%d of %d spots are held", held, spots)
			assert.LessOrEqual(t, float64(held), 0.005*float64(spots))
		})
	}
}

const fittedStudies = 40

// runs returns how many studies are made: all of them where WANE_LONG is set, few in .ci/run.
func runs(all, few int) int {
	if os.Getenv("WANE_LONG") != "" {
		return all
	}
	return few
}

// All coupons of two suppliers are exchanged in one session, whose solar values differ by
// 0.20 to 0.33 pp: an exchange that no other guard holds. Each is evaluated with the other's
// pane. Counted are sessions in which the larger part of the exchanged spots is held; no other
// spot is. Of 60 each they are 60, 54, 27 and 10 on the same pane, and 60, 54, 28 and 10 on
// others.
func TestFilmsThatAreExchanged(t *testing.T) {
	for _, p := range panePairs {
		m := newFilmMaker(t, p.a, p.b)
		for _, c := range []struct {
			most  float64 // share of the thickness lost in a pull
			least float64 // share of the sessions that are held
		}{{0.02, 0.9}, {0.10, 0.8}, {0.25, 0.2}, {0.40, 0.05}} {
			t.Run(fmt.Sprintf("%s, thinned by up to %g %%", p.name, 100*c.most), func(t *testing.T) {
				all := runs(20, 10)
				found := 0
				for seed, studies := uint64(80000), 0; studies < all; seed++ {
					b := newBatch(seed, 2, 4, 2)
					d := math.Abs(b.films["E0-0"][1].solarR(t) - b.films["E1-0"][1].solarR(t))
					if d < 0.0020 || d > 0.0033 {
						continue
					}
					studies++
					if held := exchangedAll(t, b.on(t, m), c.most); len(held) > 8 {
						found++
					}
				}
				t.Logf("held are %d of %d", found, all)
				assert.GreaterOrEqual(t, float64(found), c.least*float64(all))
			})
		}
	}
}

// exchangedAll returns what is held if all exposed coupons of two coatings are exchanged at pull
// 1, after each thinned by a share of at most so much. No others are held.
func exchangedAll(t *testing.T, b *batch, most float64) []guard.UnitConcern {
	for k := range b.thins {
		b.thins[k] = most * b.rng.Float64()
	}
	names := map[string]string{}
	for i := range 4 {
		one, other := fmt.Sprintf("E0-%d", i), fmt.Sprintf("E1-%d", i)
		names[one], names[other] = other, one
	}
	fits := b.fits(t, nil)
	b.age()
	held := compareFilms(b, append(fits, b.fits(t, names)...))
	for _, u := range held {
		assert.Equal(t, 1, u.Pull)
		assert.Contains(t, names, u.Coupon)
	}
	return held
}
