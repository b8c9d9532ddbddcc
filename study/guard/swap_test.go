package guard_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/optics"
	"wane/study"
	"wane/study/guard"
)

// batch is a made-up study of coatings K0, K1, ... with exposed coupons and controls, two
// dark blanks and an exposed one, each read on two spots at four angles.
type batch struct {
	rng      *rand.Rand
	roster   *study.Roster
	films    map[string][2]madeFilm // of a coupon's spots, as they are now
	rate     map[string]float64     // of a coupon, over that of its coating
	thins    []float64              // by coating: share of the thickness lost in a pull
	patches  []float64              // by coating: share of the surface lost in a pull
	number   int64
	pull     int
	angles   []float64
	exposed  []string
	controls []string
	clean    [2]madeFilm         // of the coupon that is soiled
	panes    map[string]madePane // by coating, where films are fitted
	maker    *filmMaker
}

// bandsNM are wavelengths enough for bands.
var bandsNM = steps(400, 1100, 25)

func newBatch(seed uint64, coatings, exposed, controls int) *batch {
	b := &batch{rng: rand.New(rand.NewPCG(seed, 40)), roster: &study.Roster{}, films: map[string][2]madeFilm{},
		rate: map[string]float64{}, angles: []float64{8, 30, 45, 60}}
	add := func(code string, role study.Role, coating string, f madeFilm) {
		b.roster.Coupons = append(b.roster.Coupons, study.Coupon{Coupon: code, Role: role, Coating: coating,
			Glass: "soda-lime", GlassMM: 3.2, Back: "matched"})
		own, second := 1.5*b.rng.NormFloat64(), f
		f.thickness += own + 0.7*b.rng.NormFloat64()
		second.thickness += own + 0.7*b.rng.NormFloat64()
		b.films[code], b.rate[code] = [2]madeFilm{f, second}, max(0, 1+0.15*b.rng.NormFloat64())
	}
	for k := range coatings {
		f := madeFilm{100 + 30*b.rng.Float64(), 0.3 + 0.12*b.rng.Float64(), 0}
		b.thins, b.patches = append(b.thins, 0), append(b.patches, 0)
		for i := range exposed {
			b.exposed = append(b.exposed, fmt.Sprintf("E%d-%d", k, i))
			add(b.exposed[len(b.exposed)-1], study.Exposed, fmt.Sprintf("K%d", k), f)
		}
		for i := range controls {
			b.controls = append(b.controls, fmt.Sprintf("C%d-%d", k, i))
			add(b.controls[len(b.controls)-1], study.Control, fmt.Sprintf("K%d", k), f)
		}
	}
	add("G0", study.Blank, "", noFilm)
	add("G1", study.Blank, "", noFilm)
	add("G2", study.BlankExposed, "", noFilm)
	return b
}

// age lets exposed coupons go on to the next pull.
func (b *batch) age() {
	b.pull++
	for _, code := range b.exposed {
		var k int
		_, err := fmt.Sscanf(code, "E%d-", &k)
		if err != nil {
			panic(err)
		}
		films, rate := b.films[code], b.rate[code]*max(0, 1+0.1*b.rng.NormFloat64())
		for s := range films {
			films[s].thickness *= max(0, 1-b.thins[k]*rate)
			films[s].bare = min(1, films[s].bare+b.patches[k]*rate)
		}
		b.films[code] = films
	}
}

// session reads all coupons; what lies in a coupon's place is the coupon that names says, or
// itself. The scale of the session is off by 1 %, each angle by 0.3 %, each reading by
// 0.2 %, and points have a noise of 0.04 pp.
func (b *batch) session(tb testing.TB, names map[string]string) (seen []guard.Reading) {
	const noise = 0.0004
	scale := 1 + 0.01*b.rng.NormFloat64()
	factor := map[float64]float64{}
	for _, deg := range b.angles {
		factor[deg] = 1 + 0.003*b.rng.NormFloat64()
	}
	for _, c := range b.roster.Coupons {
		really := c.Coupon
		if n, ok := names[really]; ok {
			really = n
		}
		for spot, f := range b.films[really] {
			for _, deg := range b.angles {
				own := scale * factor[deg] * (1 + 0.002*b.rng.NormFloat64())
				t := guard.TraitsOf(bandsNM, f.reflects(tb, bandsNM, deg))
				for i := range t.Bands {
					t.Bands[i] = own*t.Bands[i] + noise/math.Sqrt(10)*b.rng.NormFloat64()
				}
				t.Noise = noise * (1 + 0.05*b.rng.NormFloat64())
				b.number++
				seen = append(seen, guard.Reading{Number: b.number, Session: fmt.Sprintf("s%d", b.pull), Traits: t, Unjudged: true,
					Place: study.Place{Coupon: c.Coupon, Pull: b.pull, Spot: fmt.Sprint(spot + 1), AngleDeg: deg, Polarisation: "u",
						Quantity: study.Reflectance, Replicate: 1}})
			}
		}
	}
	return seen
}

// reflects is reads in unpolarised light on glass with a matched far face, by one stack.
func (f madeFilm) reflects(tb testing.TB, nm []float64, deg float64) []float64 {
	return f.polarised(tb, nm, deg, optics.U)
}

// polarised is reflects in light of any polarisation.
func (f madeFilm) polarised(tb testing.TB, nm []float64, deg float64, pol optics.Polarisation) []float64 {
	glass, _, err := optics.Stack{Substrate: optics.SodaLime()}.RT(nil, nil, nm, deg, pol)
	require.NoError(tb, err)
	if f.bare == 1 {
		return glass
	}
	film := optics.Film{Index: optics.Constant("film", complex(math.Sqrt(real(optics.Bruggeman.Mix(1.458*1.458, 1,
		f.porosity))), 0)), ThicknessNM: f.thickness}
	if film.ThicknessNM < 0 {
		film.ThicknessNM = 0
	}
	r, _, err := optics.Stack{Films: []optics.Film{film}, Substrate: optics.SodaLime()}.RT(nil, nil, nm, deg, pol)
	require.NoError(tb, err)
	for i := range r {
		r[i] = (1-f.bare)*r[i] + f.bare*glass[i]
	}
	return r
}

// old are readings as history.
func old(seen []guard.Reading) []guard.Reading {
	out := slices.Clone(seen)
	for i := range out {
		out[i].Unjudged = false
	}
	return out
}

// heldBy returns the coupons that a guard holds, each once, in order.
func heldBy(word string, holds []study.Hold, seen []guard.Reading) (coupons []string) {
	for _, h := range holds {
		if h.Guard == word {
			k := slices.IndexFunc(seen, func(s guard.Reading) bool { return s.Number == h.Reading })
			coupons = append(coupons, seen[k].Coupon)
		}
	}
	slices.Sort(coupons)
	return slices.Compact(coupons)
}

// difference returns the rms difference of two coupons as they are now, a fraction.
func (b *batch) difference(tb testing.TB, one, other string) float64 {
	sum, n := 0.0, 0.0
	for spot := range 2 {
		for _, deg := range b.angles {
			x, y := b.films[one][spot].reflects(tb, bandsNM, deg), b.films[other][spot].reflects(tb, bandsNM, deg)
			for i := range x {
				sum, n = sum+(x[i]-y[i])*(x[i]-y[i]), n+1
			}
		}
	}
	return math.Sqrt(sum / n)
}

// trouble befalls a batch besides what its coatings do.
type trouble int

const (
	noTrouble trouble = iota
	scratched         // one coupon loses a third of its surface and more on one spot
	stripped          // one coupon loses all of its film
	unaged            // one exposed coupon was left in the dark
	fast              // one coupon ages three times as fast
	troubles
)

// Troubles after which a coupon has more of a film than at its last pull.
const (
	soiled   = troubles + iota // one coupon is soiled at pull 1 and washed by pull 2
	restored                   // one coupon is as it was at pull 0: what others lost was dirt
	misread                    // another was read in its place at pull 1, and nobody saw it
	allTroubles
)

// befall lets a batch go on to the next pull with a coupon in trouble.
func (b *batch) befall(what trouble, unlucky string) {
	before := b.films[unlucky]
	if what == fast {
		b.rate[unlucky] = 3
	}
	b.age()
	films := b.films[unlucky]
	switch what {
	case scratched:
		films[0].bare = min(1, films[0].bare+0.3+0.6*b.rng.Float64())
	case stripped:
		films = [2]madeFilm{noFilm, noFilm}
	case unaged:
		films = before
	case soiled:
		if b.pull > 1 {
			films = b.clean
			break
		}
		b.clean = films
		dirt := 0.1 + 0.5*b.rng.Float64()
		films[0].bare, films[1].bare = min(1, films[0].bare+dirt), min(1, films[1].bare+dirt)
	case restored:
		if b.pull == 1 {
			b.clean = before
		} else {
			films = b.clean
		}
	}
	b.films[unlucky] = films
}

// Batches that age hold nothing: 60 studies of three coatings that thin by 1 to 40 % in a
// pull or lose up to 25 % of their surface, over two pulls, some of them with a coupon that
// was scratched, stripped, left in the dark or ages fast.
func TestAgeingIsNoSwap(t *testing.T) {
	studies := 60
	for seed := range uint64(studies) {
		b := newBatch(seed, 3, 2+int(seed%5), 1+int(seed%3))
		for k := range b.thins {
			if b.rng.IntN(2) == 0 {
				b.thins[k] = 0.01 + 0.39*b.rng.Float64()
			} else {
				b.patches[k] = 0.25 * b.rng.Float64()
			}
		}
		g := guard.New(b.roster)
		history := old(b.session(t, nil))
		unlucky := b.exposed[b.rng.IntN(len(b.exposed))]
		for range 2 {
			what := trouble(seed % uint64(troubles))
			b.befall(what, unlucky)
			now := b.session(t, nil)
			holds := holdsOf(t, g, now[0].Session, now, history)
			assert.Empty(t, holds, "study %d, trouble %d, pull %d", seed, what, b.pull)
			history = append(history, old(now)...)
		}
	}
}

// Two coupons exchange their names in one session of a study that ages: 40 times for each
// kind of pair where coatings thin by 1 to 10 % in a pull, and 40 times where by 1 to 40 %.
// Of the pairs that differ by 0.5 pp rms or more in that session both are held as often as
// said here, since coupons that thin much thin unevenly, and a ring of coupons that all lost film is
// let go; no other coupon ever is. Of 200 times each, 99 % of such pairs of two coatings are
// held if they thin little, 72 % if much, and 66 % of those of one coating.
func TestSwapsAreHeld(t *testing.T) {
	for _, c := range []struct {
		name        string
		pair        func(b *batch) (string, string)
		light, much float64 // share of those that differ
	}{
		{"exposed of two coatings", func(b *batch) (string, string) { return "E0-0", "E1-1" }, 1, 0.7},
		{"exposed of one coating, one scratched before", func(b *batch) (string, string) {
			films := b.films["E0-0"]
			films[0].bare, films[1].bare = 0.3, 0.3
			b.films["E0-0"] = films
			return "E0-0", "E0-1"
		}, 1, 0.55},
		{"a control and its exposed coupon", func(b *batch) (string, string) { return "C0-0", "E0-2" }, 1, 0.9},
		{"a coated coupon and a blank", func(b *batch) (string, string) { return "E2-0", "G0" }, 1, 0.9},
	} {
		for most, share := range map[float64]float64{0.10: c.light, 0.40: c.much} {
			t.Run(fmt.Sprintf("%s, up to %g", c.name, most), func(t *testing.T) {
				differ, heldPairs := 0, 0
				for seed := range uint64(40) {
					b := newBatch(100+seed, 3, 5, 2)
					for k := range b.thins {
						b.thins[k] = 0.01 + (most-0.01)*b.rng.Float64()
					}
					x, y := c.pair(b)
					g := guard.New(b.roster)
					history := old(b.session(t, nil))
					b.age()
					history = append(history, old(b.session(t, nil))...)
					b.age()
					now := b.session(t, map[string]string{x: y, y: x})
					held := heldBy("swapped", holdsOf(t, g, "s2", now, history), now)
					pair := []string{x, y}
					slices.Sort(pair)
					if b.difference(t, x, y) >= 0.005 {
						differ++
						if slices.Equal(held, pair) {
							heldPairs++
						}
					}
					assert.Subset(t, pair, held, "seed %d", seed)
				}
				t.Logf("%d of 40 pairs differ by 0.5 pp or more; both are held in %d", differ, heldPairs)
				assert.GreaterOrEqual(t, differ, 10)
				assert.GreaterOrEqual(t, float64(heldPairs), share*float64(differ))
			})
		}
	}
}

// Three coupons in a ring are held, each told which it may be; what a new reading is held
// for does not depend on the order in which readings are given, and history that was held or set
// aside is none.
func TestSwapRing(t *testing.T) {
	b := newBatch(7, 3, 5, 2)
	films := [3]madeFilm{{118, 0.36, 0}, {118, 0.36, 0.25}, {70, 0.36, 0}}
	ring := []string{"E0-0", "E0-1", "E1-0"}
	for i, code := range ring {
		b.films[code] = [2]madeFilm{films[i], films[i]}
	}
	g := guard.New(b.roster)
	history := old(b.session(t, nil))
	b.age()
	now := b.session(t, map[string]string{"E0-0": "E0-1", "E0-1": "E1-0", "E1-0": "E0-0"})
	holds := holdsOf(t, g, "s1", now, history)
	assert.Equal(t, ring, heldBy("swapped", holds, now))
	require.Len(t, holds, 3*2*4, "each of their readings, once")
	for _, h := range holds {
		k := slices.IndexFunc(now, func(s guard.Reading) bool { return s.Number == h.Reading })
		really := map[string]string{"E0-0": "E0-1", "E0-1": "E1-0", "E1-0": "E0-0"}[now[k].Coupon]
		assert.Contains(t, h.Reason, fmt.Sprintf("pp from what coupon %s, spot %s, should read", really, now[k].Spot))
		assert.Contains(t, h.Reason, fmt.Sprintf("at pull 1 reads like coupon %s; perhaps", really))
	}

	mixed := slices.Clone(now)
	b.rng.Shuffle(len(mixed), func(i, j int) { mixed[i], mixed[j] = mixed[j], mixed[i] })
	assert.Equal(t, holds, holdsOf(t, g, "s1", mixed, history))

	t.Run("only new ones are held", func(t *testing.T) {
		half := slices.Clone(now)
		for i := range half {
			half[i].Unjudged = half[i].Coupon == "E0-0"
		}
		assert.Equal(t, []string{"E0-0"}, heldBy("swapped", holdsOf(t, g, "s1", half, history), half))
	})
	t.Run("a partner that is held already counts", func(t *testing.T) {
		half := slices.Clone(now)
		for i := range half {
			if half[i].Coupon == "E0-1" {
				half[i].Standing, half[i].Unjudged = study.Held, false
			}
		}
		assert.Equal(t, []string{"E0-0", "E1-0"}, heldBy("swapped", holdsOf(t, g, "s1", half, history), half))
	})
	t.Run("one that was set aside does not", func(t *testing.T) {
		half := slices.Clone(now)
		for i := range half {
			if half[i].Coupon == "E0-1" {
				half[i].Standing = study.Aside
			}
		}
		assert.Empty(t, holdsOf(t, g, "s1", half, history))
	})
	t.Run("without history that counts", func(t *testing.T) {
		past := slices.Clone(history)
		for i := range past {
			past[i].Standing = study.Aside
		}
		assert.Empty(t, holdsOf(t, g, "s1", now, past))
	})
}

// Two coupons alone in a session, and two that are too much alike to tell.
func TestSwapsInSmallSessions(t *testing.T) {
	for name, c := range map[string]struct {
		other madeFilm
		held  []string
	}{"apart": {madeFilm{118, 0.36, 0.25}, []string{"E0-0", "E0-1"}}, "alike": {madeFilm{120, 0.36, 0}, nil}} {
		t.Run(name, func(t *testing.T) {
			b := newBatch(7, 1, 2, 0)
			b.films["E0-0"], b.films["E0-1"] = [2]madeFilm{{118, 0.36, 0}, {119, 0.36, 0}}, [2]madeFilm{c.other, c.other}
			g := guard.New(b.roster)
			history := old(b.session(t, nil))
			b.age()
			now := slices.DeleteFunc(b.session(t, map[string]string{"E0-0": "E0-1", "E0-1": "E0-0"}),
				func(s guard.Reading) bool { return s.Coupon[0] == 'G' })
			assert.Equal(t, c.held, heldBy("swapped", holdsOf(t, g, "s1", now, history), now))
		})
	}
}

// Coupons that were exchanged at one pull are held at that pull, and not at the next, whether
// the two were read in one session or in two: what is held is no history of the next.
func TestSwapsAtOnePullOfTwo(t *testing.T) {
	for _, together := range []bool{false, true} {
		b := newBatch(7, 2, 4, 2)
		b.films["E0-0"], b.films["E1-0"] = [2]madeFilm{{118, 0.36, 0}, {118, 0.36, 0}},
			[2]madeFilm{{80, 0.36, 0}, {81, 0.36, 0}}
		g := guard.New(b.roster)
		history := old(b.session(t, nil))
		b.age()
		first := b.session(t, map[string]string{"E0-0": "E1-0", "E1-0": "E0-0"})
		b.age()
		second := b.session(t, nil)
		var held []study.Hold
		if together {
			for i := range second {
				second[i].Session = "s1"
			}
			held = holdsOf(t, g, "s1", slices.Concat(first, second), history)
		} else {
			held = holdsOf(t, g, "s1", first, history)
			past := old(first)
			for i := range past {
				past[i].Swapped = slices.ContainsFunc(held, func(h study.Hold) bool { return h.Reading == past[i].Number })
			}
			held = append(held, holdsOf(t, g, "s2", second, slices.Concat(history, past))...)
		}
		assert.Equal(t, []string{"E0-0", "E1-0"}, heldBy("swapped", held, slices.Concat(first, second)))
		assert.Len(t, held, 2*2*4, "at pull 1 alone")
		for _, h := range held {
			assert.LessOrEqual(t, h.Reading, first[len(first)-1].Number)
		}
	}
}

// The largest session that is expected, of 300 coupons with two spots at four angles.
func BenchmarkSession(b *testing.B) {
	batch := newBatch(7, 3, 80, 20)
	batch.thins = []float64{0.1, 0.2, 0.3}
	g := guard.New(batch.roster)
	history := old(batch.session(b, nil))
	batch.age()
	now := batch.session(b, map[string]string{"E0-0": "E1-1", "E1-1": "E0-0"})
	b.ReportAllocs()
	for b.Loop() {
		g.JudgeSession("s1", now)
		if _, err := g.JudgeNames(1, now, history, func() ([]guard.Reading, error) { return history, nil }); err != nil {
			b.Fatal(err)
		}
	}
}
