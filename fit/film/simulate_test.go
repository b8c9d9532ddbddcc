package film_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"wane/fit/film"
	"wane/optics"
)

// truth is a made-up film from which spectra are simulated.
type truth struct {
	thickness, porosity, bare float64 // nm, fraction, fraction
	scale, skeleton           float64
}

// silica is fused silica shifted to the truth's skeleton index at 550 nm.
func (t truth) silica(tb testing.TB) optics.Index {
	ref, err := optics.FusedSilica().At(550)
	require.NoError(tb, err)
	return optics.FusedSilica().Shifted(t.skeleton - real(ref))
}

// film returns the index of the porous film at nm.
func (t truth) film(tb testing.TB, nm float64) complex128 {
	solid, err := t.silica(tb).At(nm)
	require.NoError(tb, err)
	eps := optics.Bruggeman.Mix(solid*solid, 1, t.porosity)
	return complex(math.Sqrt(real(eps)), 0)
}

// reflectance evaluates the spot with the general stack, which shares no code
// with the fast path that fits use.
func (t truth) reflectance(tb testing.TB, nm []float64, angle float64, glass optics.Index) []float64 {
	bare, _, err := optics.Stack{Substrate: glass}.RT(nil, nil, nm, angle, optics.U)
	require.NoError(tb, err)
	out := make([]float64, len(nm))
	for i, lambda := range nm {
		index := optics.Constant("film", t.film(tb, lambda))
		s := optics.Stack{Films: []optics.Film{{Index: index, ThicknessNM: t.thickness}}, Substrate: glass}
		r, _, err := s.RT(nil, nil, nm[i:i+1], angle, optics.U)
		require.NoError(tb, err)
		out[i] = t.scale * ((1-t.bare)*r[0] + t.bare*bare[i])
	}
	return out
}

func grid(lo, hi, step float64) []float64 {
	var nm []float64
	for x := lo; x <= hi+1e-9; x += step {
		nm = append(nm, x)
	}
	return nm
}

// usualSession is what is known of the sessions of made-up readings that have errors of scale, factors, angles and native
// beams only; sessionOnly says that nothing else of the law is off.
var usualSession = film.Session{UScale: 0.01, UFactor: 0.01, UAngle: 0.3, UShare: 0.05}

func sessionOnly(s film.Session) *film.Known { return &film.Known{Session: s} }

const noise = 0.0005 // of one point, a fraction

// spot simulates a soda-lime spot with Gaussian noise from a seeded source.
func (t truth) spot(tb testing.TB, nm []float64, angles []float64, seed uint64) *film.Spot {
	rng := rand.New(rand.NewPCG(seed, 20))
	s := &film.Spot{Setup: film.Setup{Glass: film.Glass{Index: optics.SodaLime()}, Known: sessionOnly(usualSession)}}
	for _, a := range angles {
		r := t.reflectance(tb, nm, a, optics.SodaLime())
		for i := range r {
			r[i] += noise * rng.NormFloat64()
		}
		s.Curves = append(s.Curves, film.Curve{NM: nm, R: r, AngleDeg: a, Pol: optics.U})
	}
	return s
}

var fourAngles = []float64{8, 30, 45, 60}

// sharedBy returns the covariance of quantity q at two spots that have these owners in common, by the effects of a and b.
func sharedBy(a, b *film.Errors, q int, owners ...film.Owner) (sum float64) {
	for i, e := range a.Effects {
		if k := slices.Index(b.Effects, e); k >= 0 && slices.Contains(owners, e.Owner) {
			sum += a.By.At(i, q) * b.By.At(k, q)
		}
	}
	return sum
}
