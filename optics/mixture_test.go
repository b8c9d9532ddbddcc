package optics_test

import (
	"math"
	"math/cmplx"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/diff/fd"

	"wane/optics"
)

var rules = []optics.Mixing{optics.Bruggeman, optics.MaxwellGarnett, optics.LorentzLorenz, optics.VolumeAverage}

// Source: mixture_golden.csv, mpmath 1.3.0 at 40 digits.
func TestMixAgainstHighPrecision(t *testing.T) {
	for _, row := range records(t, "mixture_golden.csv", 120) {
		rule, err := optics.ParseMixing(row["rule"])
		require.NoError(t, err)
		solid := complex(number(t, row["ns"]), number(t, row["ks"]))
		void := complex(number(t, row["nv"]), number(t, row["kv"]))
		p := number(t, row["porosity"])
		want := complex(number(t, row["eps_re"]), number(t, row["eps_im"]))
		solid, void = solid*solid, void*void

		got := rule.Mix(solid, void, p)
		// Rounding of some ten operations on numbers up to 60 in the quadratic.
		assert.InDelta(t, 0, cmplx.Abs(got-want)/cmplx.Abs(want), 2e-15, "%v", row)
		back := rule.Porosity(want, solid, void)
		// The same rounding, magnified by up to 1/|εs-εv|·dp/dε near p = 1.
		assert.InDelta(t, 0, cmplx.Abs(back-complex(p, 0)), 2e-14, "%v", row)
		if imag(solid) == 0 && imag(void) == 0 {
			eps, _, _ := rule.MixReal(real(solid), real(void), p)
			assert.InEpsilon(t, real(want), eps, 2e-15, "%v", row)
		}
	}
}

// Source: testdata/closed_forms.py, which solves each rule as it is usually written, for a
// film of 1.30 and silica of 1.46 (fused silica, 1.46008 at the e line: Malitson 1965).
func TestPorosityOfFilmOfIndex130(t *testing.T) {
	want := map[optics.Mixing]float64{
		optics.Bruggeman: 0.337134, optics.MaxwellGarnett: 0.345013, optics.LorentzLorenz: 0.317271,
		optics.VolumeAverage: 0.390244,
	}
	for _, m := range rules {
		p, _, _ := m.PorosityReal(1.30*1.30, 1.46*1.46, 1)
		assert.InDelta(t, want[m], p, 5e-7, "%s: half a unit of the last digit", m)
	}
}

// hashinShtrikman returns the bounds of Z. Hashin, S. Shtrikman, J. Appl. Phys. 33,
// 3125-3131 (1962), from memory, for an isotropic mixture of a solid and the
// share p of void, solid above void.
func hashinShtrikman(solid, void, p float64) (lo, hi float64) {
	lo = void + (1-p)/(1/(solid-void)+p/(3*void))
	hi = solid + p/(1/(void-solid)+(1-p)/(3*solid))
	return lo, hi
}

func TestMixturesKeepWithinBounds(t *testing.T) {
	const rounding = 1e-14
	r := seeded(1)
	for range 2000 {
		solid, p := uniform(r, 1.8, 12), r.Float64()
		void := uniform(r, 1, 1.79)
		lo, hi := hashinShtrikman(solid, void, p)
		for _, m := range []optics.Mixing{optics.Bruggeman, optics.MaxwellGarnett} {
			eps, _, _ := m.MixReal(solid, void, p)
			assert.True(t, eps >= lo*(1-rounding) && eps <= hi*(1+rounding),
				"%s of %g and %g, porosity %g: %g not in [%g, %g]", m, solid, void, p, eps, lo, hi)
		}
		// Wiener: the means in series and in parallel bound any mixture.
		series, parallel := 1/((1-p)/solid+p/void), (1-p)*solid+p*void
		for _, m := range rules {
			eps, _, _ := m.MixReal(solid, void, p)
			assert.True(t, eps >= series*(1-rounding) && eps <= parallel*(1+rounding),
				"%s of %g and %g, porosity %g: %g not in [%g, %g]", m, solid, void, p, eps, series, parallel)
		}
		eps, _, _ := optics.VolumeAverage.MixReal(solid, void, p)
		assert.InEpsilon(t, parallel, eps, rounding)
		eps, _, _ = optics.MaxwellGarnett.MixReal(solid, void, p)
		assert.InEpsilon(t, hi, eps, rounding, "voids in a solid host lie on the upper bound")
		eps, _, _ = optics.LorentzLorenz.MixReal(solid, 1, p)
		lo, _ = hashinShtrikman(solid, 1, p)
		assert.InEpsilon(t, lo, eps, rounding, "with empty voids it lies on the lower bound")
	}
}

func TestPorosityUndoesMix(t *testing.T) {
	r := seeded(2)
	for range 2000 {
		solid, void, p := uniform(r, 1.9, 12), uniform(r, 1, 1.8), uniform(r, -0.2, 1.2)
		for _, m := range rules {
			eps, dP, dS := m.MixReal(solid, void, p)
			back, dFilm, dSolid := m.PorosityReal(eps, solid, void)
			// Rounding of ε, 1e-15, over dε/dp, which is above 0.01 here.
			assert.InDelta(t, p, back, 1e-12, "%s of %g and %g", m, solid, void)
			assert.InEpsilon(t, 1/dP, dFilm, 1e-11, "slopes of inverse functions")
			assert.InDelta(t, -dS/dP, dSolid, 1e-11, "along a line of equal ε")
		}
	}
}

func TestMixtureDerivatives(t *testing.T) {
	// Central differences with step 1e-5 are good to 1e-10 of the function's
	// third derivative and to rounding over the step, 1e-11.
	settings := &fd.Settings{Formula: fd.Central, Step: 1e-5}
	const tolerance = 1e-7
	r := seeded(3)
	for range 200 {
		solid, void, p := uniform(r, 1.9, 6), uniform(r, 1, 1.7), uniform(r, -0.1, 1.1)
		for _, m := range rules {
			eps, dP, dS := m.MixReal(solid, void, p)
			at := func(x float64) float64 { e, _, _ := m.MixReal(solid, void, x); return e }
			assert.InDelta(t, fd.Derivative(at, p, settings), dP, tolerance, "%s by porosity", m)
			at = func(x float64) float64 { e, _, _ := m.MixReal(x, void, p); return e }
			assert.InDelta(t, fd.Derivative(at, solid, settings), dS, tolerance, "%s by solid", m)

			// Off the curve too: a film that is any number.
			film := eps + uniform(r, -0.1, 0.1)
			_, dF, dS := m.PorosityReal(film, solid, void)
			at = func(x float64) float64 { p, _, _ := m.PorosityReal(x, solid, void); return p }
			assert.InDelta(t, fd.Derivative(at, film, settings), dF, tolerance, "%s porosity by film", m)
			at = func(x float64) float64 { p, _, _ := m.PorosityReal(film, x, void); return p }
			assert.InDelta(t, fd.Derivative(at, solid, settings), dS, tolerance, "%s porosity by solid", m)
		}
	}
}

func TestMixtureOfOneThingIsThatThing(t *testing.T) {
	for _, m := range rules {
		eps, dP, dS := m.MixReal(2.1, 2.1, 0.4)
		assert.InEpsilon(t, 2.1, eps, 1e-15, "%s", m)
		assert.InDelta(t, 0, dP, 1e-15, "%s: porosity changes nothing", m)
		// Every rule is additive to first order in the contrast.
		assert.InDelta(t, 0.6, dS, 1e-15, "%s: the share of the solid", m)
		p, _, _ := m.PorosityReal(2.1, 2.1, 2.1)
		assert.True(t, math.IsNaN(p), "%s: not determined", m)
	}
}

// Absorption stays absorption: no rule makes a film that amplifies.
func TestMixturesDoNotAmplify(t *testing.T) {
	r := seeded(4)
	for range 5000 {
		solid := complex(uniform(r, -20, 20), uniform(r, 0, 5))
		void := complex(uniform(r, 1, 3), uniform(r, 0, 0.1))
		for _, m := range rules {
			eps := m.Mix(solid, void, r.Float64())
			assert.GreaterOrEqual(t, imag(eps), -1e-13, "%s of %g and %g; rounding only", m, solid, void)
		}
	}
}

func TestMixRealDoesNotAllocate(t *testing.T) {
	for _, m := range rules {
		assert.Zero(t, testing.AllocsPerRun(100, func() {
			eps, _, _ := m.MixReal(2.13, 1, 0.35)
			m.PorosityReal(eps, 2.13, 1)
		}), "%s", m)
	}
}

func TestNoSuchMixingRulePanics(t *testing.T) {
	assert.PanicsWithValue(t, "optics: no such mixing rule", func() { optics.Mixing(4).Mix(2, 1, 0.5) })
}
