package optics_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"

	"wane/optics"
)

// Rounding in a handful of films, near grazing incidence too.
const rounding = 1e-13

// anyStack returns a random stack in air, at a random angle and polarisation.
func anyStack(r *rand.Rand, k float64) (s optics.Stack, nm, angle float64, pol optics.Polarisation) {
	s = optics.Stack{Films: anyFilms(r, k), Substrate: medium(complex(uniform(r, 1.3, 4), 0))}
	return s, uniform(r, 280, 2500), uniform(r, 0, 89), optics.Polarisation(r.Float64())
}

func TestLosslessStackLosesNothing(t *testing.T) {
	r := seeded(11)
	for range 3000 {
		s, nm, angle, pol := anyStack(r, 0)
		R, T := one(t, s.RT, nm, angle, pol)
		assert.InDelta(t, 1, R+T, rounding, "%+v at %g nm, %g degrees", s, nm, angle)
		assert.True(t, R >= 0 && T >= 0)
	}
}

func TestAbsorbingStackTakesItsShare(t *testing.T) {
	r := seeded(12)
	for range 3000 {
		s, nm, angle, pol := anyStack(r, 4)
		s.Substrate = medium(complex(uniform(r, 0.1, 4), uniform(r, 0, 4)))
		R, T := one(t, s.RT, nm, angle, pol)
		assert.True(t, R >= 0 && T >= 0 && R+T <= 1+rounding, "R %g, T %g: %+v at %g nm, %g degrees", R, T, s, nm, angle)
	}
}

// Stokes' reciprocity: T is the same from both sides, absorption or not.
func TestTransmittanceIsTheSameFromBothSides(t *testing.T) {
	r := seeded(13)
	for range 3000 {
		s, nm, angle, pol := anyStack(r, 0.5)
		_, T := one(t, s.RT, nm, angle, pol)

		n, err := s.Substrate.At(nm)
		assert.NoError(t, err)
		back := optics.Stack{Ambient: s.Substrate, Films: slices.Clone(s.Films)}
		slices.Reverse(back.Films)
		_, from := one(t, back.RT, nm, math.Asin(math.Sin(angle*deg)/real(n))/deg, pol)
		// The angle inside is rounded; towards grazing that is magnified by
		// tan θ of up to 60.
		assert.InDelta(t, T, from, 50*rounding, "%+v at %g nm, %g degrees", s, nm, angle)
	}
}

func TestSplitAndEmptyFilmsChangeNothing(t *testing.T) {
	r := seeded(14)
	for range 3000 {
		s, nm, angle, pol := anyStack(r, 0.5)
		s.Films = append(s.Films, film(complex(uniform(r, 1.1, 2), uniform(r, 0, 0.5)), uniform(r, 0, 400)))
		R, T := one(t, s.RT, nm, angle, pol)

		i, part := r.IntN(len(s.Films)), r.Float64()
		whole := s.Films[i]
		split := s
		split.Films = slices.Concat(s.Films[:i], []optics.Film{
			{Index: whole.Index, ThicknessNM: part * whole.ThicknessNM},
			film(2.2+0.3i, 0),
			{Index: whole.Index, ThicknessNM: (1 - part) * whole.ThicknessNM},
		}, s.Films[i+1:])
		R2, T2 := one(t, split.RT, nm, angle, pol)
		assert.InDelta(t, R, R2, rounding, "%+v at %g nm, %g degrees", s, nm, angle)
		assert.InDelta(t, T, T2, rounding, "%+v at %g nm, %g degrees", s, nm, angle)
	}
}

// At normal incidence there is no plane of incidence, so s and p are one.
func TestPolarisationsAgreeAtNormalIncidence(t *testing.T) {
	r := seeded(15)
	for range 500 {
		s, nm, _, _ := anyStack(r, 1)
		rs, ts := one(t, s.RT, nm, 0, optics.S)
		rp, tp := one(t, s.RT, nm, 0, optics.P)
		assert.InDelta(t, rs, rp, rounding)
		assert.InDelta(t, ts, tp, rounding)
	}
}
