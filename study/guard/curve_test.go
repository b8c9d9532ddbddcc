package guard_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/optics"
	"wane/study"
	"wane/study/guard"
)

// above adds v from a wavelength on.
func above(values []float64, nm, v float64) []float64 {
	out := times(values, 1)
	for i := range out {
		if madeNM[i] >= nm {
			out[i] += v
		}
	}
	return out
}

// The instrument's detectors are joined at 860 nm, with u_join of 0.1 pp: a step of 0.3 pp
// is its own.
func TestJoin(t *testing.T) {
	g := guard.New(guardRoster())
	film := madeFilm{118, 0.36, 0}.reads(t, u(8))
	thick := madeFilm{300, 0.25, 0}.reads(t, u(45))
	rng := rand.New(rand.NewPCG(3, 3))
	loud := noisy(rng, film, 1, 0.002)
	edge := times(film, 1) // noise at the join only, as detectors have it at their ends
	for i, nm := range madeNM {
		if nm > 800 && nm < 920 {
			edge[i] += 0.003 * rng.NormFloat64()
		}
	}
	short := reading("exposed matched", 8, "u", film)
	short.NM, short.Values = madeNM[:100], times(above(film, 860, 0.02), 1)[:100] // to 875 nm
	for _, c := range []struct {
		name    string
		session string
		reading *study.Reading
		want    []string
		says    string
	}{
		{"no step", "dry", reading("exposed matched", 8, "u", film), nil, ""},
		{"fringes of a thick film", "dry", reading("exposed matched", 45, "u", thick), nil, ""},
		{"a step of the instrument", "dry", reading("exposed matched", 8, "u", above(film, 860, 0.0029)), nil, ""},
		{"one beyond", "dry", reading("exposed matched", 8, "u", above(film, 860, 0.0032)), []string{"join"},
			"the step at 860 nm, where another detector takes over, is 0.32 pp"},
		{"one down", "dry", reading("exposed matched", 8, "u", above(film, 860, -0.004)), []string{"join"}, "is -0.4 pp"},
		{"one elsewhere", "dry", reading("exposed matched", 8, "u", above(film, 700, 0.0032)), nil, ""},
		{"one within the noise", "dry", reading("exposed matched", 8, "u", above(loud, 860, 0.005)), nil, ""},
		{"one beyond the noise", "dry", reading("exposed matched", 8, "u", above(loud, 860, 0.03)), []string{"join"},
			"pp; the limit is"},
		{"noise at the detectors' ends", "dry", reading("exposed matched", 8, "u", edge), nil, ""},
		{"too few points beyond", "dry", short, nil, ""},
		{"a session that is not enrolled", "unknown", reading("exposed matched", 8, "u", above(film, 860, 0.0032)), nil,
			""},
	} {
		t.Run(c.name, func(t *testing.T) {
			c.reading.Session = c.session
			concerns := g.JudgeReading(c.reading)
			require.Equal(t, c.want, words(concerns))
			if len(concerns) > 0 {
				assert.Contains(t, concerns[0].Reason, c.says)
			}
		})
	}
}

// clipped cuts off what is above a level.
func clipped(values []float64, level float64) []float64 {
	out := times(values, 1)
	for i := range out {
		out[i] = min(out[i], level)
	}
	return out
}

// rounded writes values with steps of q.
func rounded(values []float64, q float64) []float64 {
	out := times(values, 1)
	for i := range out {
		out[i] = math.Round(out[i]/q) * q
	}
	return out
}

func TestSaturated(t *testing.T) {
	g := guard.New(guardRoster())
	rng := rand.New(rand.NewPCG(8, 8))
	bump := make([]float64, len(madeNM)) // a peak of reflectance, as fringes have
	for i, nm := range madeNM {
		bump[i] = 0.05 - 0.02*math.Pow((nm-700)/300, 2)
	}
	plateau := make([]float64, len(madeNM)) // flat, then a steep edge, as the glass has in the ultraviolet
	for i, nm := range madeNM {
		plateau[i] = 0.08 - 0.03/(1+math.Exp((nm-400)/8))
	}
	flat := plus(make([]float64, len(madeNM)), 0.05)
	capped := func(sd, q, above float64) []float64 { // noise dips below the ceiling
		return clipped(rounded(noisy(rng, flat, 1, sd), q), math.Round((0.05+above*sd)/q)*q)
	}
	gliding := times(bump, 1) // a quiet peak beside a detector that is loud
	for i, nm := range madeNM {
		if gliding[i] = math.Round(1e4*gliding[i]) / 1e4; nm < 500 || nm > 900 {
			gliding[i] = math.Round(1e4*(gliding[i]-0.02+0.001*rng.NormFloat64())) / 1e4
		}
	}
	for _, c := range []struct {
		name   string
		values []float64
		want   []string
	}{
		{"5 % of the points at a ceiling, noise of 20 steps", capped(0.0004, 2e-5, 1.6), []string{"saturated"}},
		{"the same, noise of 5 steps", capped(0.0004, 8e-5, 1.3), []string{"saturated"}},
		{"the same, noise of 2 steps, which explains them", capped(0.0004, 2e-4, 1.6), nil},
		{"no ceiling, noise of 20 steps", capped(0.0004, 2e-5, 9), nil},
		{"a ceiling that few points reach", capped(0.0004, 2e-5, 2.4), nil},
		{"a quiet peak beside noise", gliding, nil},
		{"a smooth peak", bump, nil},
		{"clipped, of all digits", clipped(bump, 0.049), []string{"saturated"}},
		{"clipped at one end", clipped(times(madeFilm{118, 0.36, 0}.reads(t, u(8)), 1), 0.022), []string{"saturated"}},
		{"clipped where it is noisy", clipped(noisy(rng, bump, 1, 0.0004), 0.049), []string{"saturated"}},
		{"a peak with noise", noisy(rng, bump, 1, 0.0004), nil},
		{"rounded to 0.01 %", rounded(bump, 1e-4), nil},
		{"rounded to 0.1 %", rounded(bump, 1e-3), nil},
		{"rounded to 1 %", rounded(bump, 1e-2), nil},
		{"a plateau rounded to 0.1 %", rounded(plateau, 1e-3), nil},
		{"a plateau rounded to 0.01 %", rounded(plateau, 1e-4), nil},
		{"little noise, rounded to 0.1 %", rounded(noisy(rng, bump, 1, 0.0002), 1e-3), nil},
		{"noise of half a step", rounded(noisy(rng, bump, 1, 0.0005), 1e-3), nil},
		{"noise of two steps", rounded(noisy(rng, bump, 1, 0.002), 1e-3), nil},
		{"one value throughout", clipped(bump, 0.01), nil},
		{"clipped by less than its rounding", clipped(rounded(bump, 1e-3), 0.0499), nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			concerns := g.JudgeReading(reading("nobody", 8, "u", c.values)) // of whose level nothing is known
			require.Equal(t, c.want, words(concerns))
			if len(concerns) > 0 {
				assert.Regexp(t, `^\d+ points (from \d+ to|between \d+ and) \d+ nm all read [\d.]+ %, the most of the curve`,
					concerns[0].Reason)
			}
		})
	}
}

// Good curves rounded in any way, with any noise or none: 3,000 are never held.
func TestRoundingIsNoSaturation(t *testing.T) {
	g := guard.New(guardRoster())
	rng := rand.New(rand.NewPCG(9, 9))
	held := 0
	var bases [][]float64
	for range 30 {
		f := madeFilm{20 + 280*rng.Float64(), 0.2 + 0.4*rng.Float64(), rng.Float64() * float64(rng.IntN(2))}
		for _, deg := range []float64{8, 45} {
			bases = append(bases, f.reads(t, beam{angleDeg: deg, share: 0.5, back: optics.Bare, capture: 1}))
		}
	}
	for _, base := range bases {
		for _, q := range []float64{1e-2, 1e-3, 5e-4, 1e-4, 1e-5} {
			for _, noise := range []float64{0, 0.1, 0.2, 0.3, 0.5, 0.7, 1, 1.5, 3, 10} { // steps
				values := times(base, 1)
				for i := range values {
					values[i] += noise * q * rng.NormFloat64()
				}
				for _, c := range g.JudgeReading(reading("exposed bare", 8, "u", rounded(values, q))) {
					if c.Guard == "saturated" {
						held++
						t.Logf("steps of %g, noise of %g of them: %s", q, noise, c.Reason)
					}
				}
			}
		}
	}
	assert.Zero(t, held)
}

func TestExpired(t *testing.T) {
	g := guard.New(guardRoster())
	for session, says := range map[string]string{
		"dry":             "",
		"wet":             "certificate C1 of reference M1 had expired on 2031-12-31, before session wet of 2032-01-15",
		"certified again": "",
		"before any":      "no certificate of reference M1 had been issued by 2030-12-31, the day of session before any",
		"no reference":    "",
		"unknown":         "",
	} {
		t.Run(session, func(t *testing.T) {
			r := reading("blank matched", 8, "u", noFilm.reads(t, u(8)))
			r.Session = session
			concerns := g.JudgeReading(r)
			if says == "" {
				assert.Empty(t, concerns)
				return
			}
			assert.Equal(t, []study.Concern{{Guard: "expired", Reason: says}}, concerns)
		})
	}
}

func TestTwinConcern(t *testing.T) {
	c := guard.TwinConcern(study.Place{Coupon: "A07", Pull: 1, Spot: "2", AngleDeg: 45, Polarisation: "u"}, "A07.csv")
	assert.Equal(t, "twin", c.Guard)
	assert.Contains(t, c.Reason, "coupon A07, pull 1, spot 2, 45 degrees, u, from A07.csv: one of the two was "+
		"exported or placed under the wrong name, angle or pull")
	assert.Less(t, len(c.Reason), 300)
}

// Every word that holds is explained, once.
func TestKinds(t *testing.T) {
	var all []string
	for _, w := range guard.Kinds() {
		all = append(all, w.Word)
		assert.NotEmpty(t, w.Meaning, w.Word)
		assert.NotEmpty(t, w.Limit, w.Word)
		assert.NotEmpty(t, w.Remedy, w.Word)
		assert.NotContains(t, w.Meaning+w.Limit+w.Remedy, "%!", w.Word)
	}
	assert.Equal(t, []string{"level", "scale", "angle", "join", "saturated", "noisy", "swapped", "exchanged", "expired",
		"twin"}, all)
}

func BenchmarkReading(b *testing.B) {
	g := guard.New(guardRoster())
	r := reading("exposed matched", 8, "u", noisy(rand.New(rand.NewPCG(1, 1)), madeFilm{118, 0.36, 0}.reads(b, u(8)), 1,
		0.0004))
	r.Session = "dry"
	b.ReportAllocs()
	for b.Loop() {
		g.JudgeReading(r)
	}
}
