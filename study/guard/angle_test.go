package guard_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"

	"wane/optics"
	"wane/study"
	"wane/study/guard"
)

// steepSets are sets of angles, some of them where reflectance rises by 6 % a degree and more.
var steepSets = [][]float64{{8, 30, 45, 60, 70}, {8, 20, 60, 75}, {60, 70, 75}, {8, 45, 55, 65}, {8, 75, 80}}

// withinPriors makes a session of two blanks, a stripped control and a film, in all
// polarisations at a set of angles. Its scale and each angle's factor are off by 1 %, each
// angle by 0.3 degrees, the s share of the native beam by 0.05, one standard deviation of
// what the fits of sessions assume; points have a noise of 0.04 pp. At one angle the
// factor is times wrong.
func withinPriors(tb testing.TB, rng *rand.Rand, angles []float64, wrongDeg,
	wrong float64) (readings []*study.Reading) {
	scale, share := 1+0.01*rng.NormFloat64(), 0.5+0.05*rng.NormFloat64()
	film := madeFilm{90 + 50*rng.Float64(), 0.25 + 0.25*rng.Float64(), 0.3 * rng.Float64()}
	for _, deg := range angles {
		factor, really := scale*(1+0.01*rng.NormFloat64()), math.Abs(deg+0.3*rng.NormFloat64())
		if deg == wrongDeg {
			factor *= wrong
		}
		for _, c := range []struct {
			coupon, spot string
			film         madeFilm
		}{{"blank matched", "1", noFilm}, {"blank blackened", "1", noFilm}, {"control matched", "1", noFilm},
			{"exposed matched", "1", film}} {
			s, p := c.film.polarised(tb, bandsNM, really, optics.S), c.film.polarised(tb, bandsNM, really, optics.P)
			for _, beam := range []struct {
				word  string
				share float64
			}{{"s", 1}, {"p", 0}, {"u", 0.5}, {"n", share}} {
				values := make([]float64, len(bandsNM))
				for i := range values {
					values[i] = factor * (beam.share*s[i] + (1-beam.share)*p[i])
				}
				values = noisy(rng, values, 1, 0.0004)
				readings = append(readings, &study.Reading{NM: bandsNM, Values: values, Traits: guard.TraitsOf(bandsNM, values),
					Place: study.Place{Coupon: c.coupon, Spot: c.spot, AngleDeg: deg, Polarisation: beam.word,
						Quantity: study.Reflectance, Replicate: 1}})
			}
		}
	}
	return readings
}

// judged returns what is held in a session, each reading as the first guard says.
func judged(t testing.TB, g *guard.Guard, readings []*study.Reading) (holds []study.Hold) {
	seen := seenOf("dry", readings...)
	for i, r := range readings {
		for _, c := range g.JudgeReading(r) {
			holds = append(holds, study.Hold{Reading: seen[i].Number, Concern: c})
			seen[i].Standing = study.Held
		}
	}
	return append(holds, holdsOf(t, g, "dry", seen, nil)...)
}

// Sessions that are as good as their fits assume are held once in a thousand at most: 200
// of each set of angles, with 12 to 20 readings of each polarisation. In 20,000 such
// sessions 5 were.
func TestAnglesWithinTheirPriors(t *testing.T) {
	g := guard.New(guardRoster())
	rng := rand.New(rand.NewPCG(70, 75))
	sessions, held := 0, 0
	for _, angles := range steepSets {
		for range 200 {
			readings := withinPriors(t, rng, angles, 0, 1)
			holds := judged(t, g, readings)
			for _, h := range holds {
				t.Logf("%v: %+v: %s: %s", angles, readings[h.Reading-1].Place, h.Guard, h.Reason)
			}
			if sessions++; len(holds) > 0 {
				held++
			}
		}
	}
	assert.LessOrEqual(t, float64(held), 0.001*float64(sessions))
}

// A factor that is wrong at one angle is found: of 50 sessions of each kind, at least so
// many and at most so many.
func TestWrongFactorAtOneAngle(t *testing.T) {
	g := guard.New(guardRoster())
	for _, c := range []struct {
		angles      []float64
		deg, factor float64
		least, most int // sessions in which anything is held
	}{
		{steepSets[0], 45, 1.02, 0, 2},
		{steepSets[0], 45, 1.10, 45, 50},
		{steepSets[0], 45, 1.15, 50, 50},
		{steepSets[0], 70, 1.05, 0, 3},
		{steepSets[0], 70, 1.15, 45, 50},
		{steepSets[1], 75, 0.95, 0, 3},
		{steepSets[1], 75, 0.80, 45, 50},
	} {
		t.Run(fmt.Sprintf("%g times at %g", c.factor, c.deg), func(t *testing.T) {
			rng := rand.New(rand.NewPCG(5, 5))
			held := 0
			for range 50 {
				readings := withinPriors(t, rng, c.angles, c.deg, c.factor)
				holds := judged(t, g, readings)
				if len(holds) > 0 {
					held++
				}
				for _, h := range holds {
					assert.Equal(t, c.deg, readings[h.Reading-1].AngleDeg, h.Reason)
				}
			}
			t.Logf("%d of 50", held)
			assert.GreaterOrEqual(t, held, c.least)
			assert.LessOrEqual(t, held, c.most)
		})
	}
}
