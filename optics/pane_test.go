package optics_test

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"wane/optics"
)

// Source: two bare faces of lossless glass of 1.52, R = 2r/(1+r) and
// T = (1-r)/(1+r): testdata/closed_forms.py.
func TestBarePaneAtNormalIncidence(t *testing.T) {
	R, T := one(t, optics.Pane{Glass: medium(1.52), GlassMM: 3.2, Back: optics.Bare}.RT, 550, 0, optics.U)
	assert.InDelta(t, 0.0816819719671, R, 5e-14, "half a unit of the last digit")
	assert.InDelta(t, 0.918318028033, T, 5e-13, "half a unit of the last digit")
}

// Source: the same closed forms per polarisation with the Fresnel figures of
// n = 1.5 at 60 degrees, Rs = 0.176571 and Rp = 0.00180194; the mean of both
// panes, not the pane of the mean.
func TestBarePaneAtSixtyDegrees(t *testing.T) {
	twoSurfaces := func(r float64) float64 { return 2 * r / (1 + r) }
	want := (twoSurfaces(0.176571) + twoSurfaces(0.00180194)) / 2
	R, T := one(t, optics.Pane{Glass: medium(1.5), Back: optics.Bare}.RT, 550, 60, optics.U)
	assert.InDelta(t, want, R, 1e-6, "the figures have six digits")
	assert.InDelta(t, 1-want, T, 1e-6)
	assert.Greater(t, math.Abs(twoSurfaces(0.0891867)-R), 0.005, "the other order would show")
}

// Source: the sum over passes of an absorbing slab (O. S. Heavens, Optical Properties of
// Thin Solid Films (1955), chapter 4, from memory): with r of one face and A of one
// pass, T = (1-r)²A/(1-r²A²) and R = r + (1-r)²A²r/(1-r²A²).
func TestTintedPane(t *testing.T) {
	const k, mm, nm, angle, n = 4e-6, 3.2, 1000.0, 45.0, 1.5
	cos := math.Sqrt(1 - math.Pow(math.Sin(angle*deg)/n, 2)) // inside the glass
	a := math.Exp(-4 * math.Pi * k * mm * 1e6 / nm / cos)
	r := 0.0920134 // Rs of 1.5 at 45 degrees, seven digits
	p := optics.Pane{Glass: medium(complex(n, k)), GlassMM: mm, Back: optics.Bare}
	R, T := one(t, p.RT, nm, angle, optics.S)
	assert.InDelta(t, (1-r)*(1-r)*a/(1-r*r*a*a), T, 2e-7, "digits of r")
	assert.InDelta(t, r+(1-r)*(1-r)*a*a*r/(1-r*r*a*a), R, 2e-7, "digits of r")
}

func TestPaneBacksOfOneSheet(t *testing.T) {
	films := []optics.Film{film(1.25+0.001i, 120)}
	pane := optics.Pane{Films: films, Glass: medium(complex(1.52, 1e-6)), GlassMM: 2}
	front := optics.Stack{Films: films, Substrate: pane.Glass}
	for _, angle := range []float64{0, 45, 85} {
		for _, pol := range []optics.Polarisation{optics.S, optics.P} {
			t.Run(fmt.Sprintf("%g degrees, s share %g", angle, pol), func(t *testing.T) {
				r, tr := one(t, front.RT, 600, angle, pol)
				cos := math.Sqrt(1 - math.Pow(math.Sin(angle*deg)/1.52, 2))
				a := math.Exp(-4 * math.Pi * 1e-6 * 2e6 / 600 / cos)

				pane.Back = optics.Matched
				R, T := one(t, pane.RT, 600, angle, pol)
				assert.InDelta(t, r, R, 1e-15, "matched: the front alone")
				assert.InDelta(t, tr*a, T, 1e-14, "matched: what crosses the glass")

				// Fresnel from 1.52 to 1.50, by hand; the next order of
				// reflections is below rb².
				sin := math.Sin(angle * deg)
				c2, c3 := cos, math.Sqrt(1-sin*sin/2.25)
				rb := math.Pow((1.52*c2-1.5*c3)/(1.52*c2+1.5*c3), 2)
				if pol == optics.P {
					rb = math.Pow((1.5*c2-1.52*c3)/(1.5*c2+1.52*c3), 2)
				}
				pane.Back = optics.Blackened
				R, T = one(t, pane.RT, 600, angle, pol)
				assert.InDelta(t, r+tr*tr*a*a*rb, R, 1e-8, "blackened")
				assert.Zero(t, T)
			})
		}
	}
}

// Two faces coated alike, lossless: R = 2r/(1+r) with r of the coated face. With
// films that differ this fails unless the back is in mirrored order.
func TestCoatedBackIsMirrored(t *testing.T) {
	films := []optics.Film{film(1.22, 110), film(1.38, 95)}
	pane := optics.Pane{Films: films, Glass: medium(1.52), GlassMM: 3, Back: optics.Coated, BackFilms: films}
	for _, angle := range []float64{0, 45, 85} {
		for _, pol := range []optics.Polarisation{optics.S, optics.P} {
			r, _ := one(t, optics.Stack{Films: films, Substrate: pane.Glass}.RT, 480, angle, pol)
			R, T := one(t, pane.RT, 480, angle, pol)
			assert.InDelta(t, 2*r/(1+r), R, rounding)
			assert.InDelta(t, (1-r)/(1+r), T, rounding)
		}
	}
}

// An incoherent pane is the mean of coherent ones over all phases of the glass.
// The mean over N equal steps of a period converges as (r·r')^N.
func TestPaneIsTheMeanOverPhases(t *testing.T) {
	const steps = 200
	r := seeded(21)
	for range 60 {
		front, back := anyFilms(r, 0.05), anyFilms(r, 0.05)
		nm, angle, pol := uniform(r, 300, 1200), uniform(r, 0, 75), optics.Polarisation(r.IntN(2))
		pane := optics.Pane{Films: front, Glass: medium(1.52), GlassMM: 1, Back: optics.Coated, BackFilms: back}
		R, T := one(t, pane.RT, nm, angle, pol)

		period := nm / 2 / math.Sqrt(1.52*1.52-math.Pow(math.Sin(angle*deg), 2))
		var meanR, meanT float64
		for i := range steps {
			s := optics.Stack{Films: append(append([]optics.Film{}, front...), film(1.52, 1000+period*float64(i)/steps))}
			for j := range back {
				s.Films = append(s.Films, back[len(back)-1-j])
			}
			r, tr := one(t, s.RT, nm, angle, pol)
			meanR, meanT = meanR+r/steps, meanT+tr/steps
		}
		assert.InDelta(t, meanR, R, 1e-12, "rounding of the mean")
		assert.InDelta(t, meanT, T, 1e-12, "rounding of the mean")
	}
}

func TestPaneProperties(t *testing.T) {
	r := seeded(22)
	for range 1000 {
		front, back := anyFilms(r, 0.3), anyFilms(r, 0.3)
		glass := medium(complex(uniform(r, 1.4, 1.9), uniform(r, 0, 1e-5)))
		nm, angle, pol := uniform(r, 300, 2500), uniform(r, 0, 89), optics.Polarisation(r.Float64())
		pane := optics.Pane{Films: front, Glass: glass, GlassMM: 3, Back: optics.Coated, BackFilms: back}
		turned := optics.Pane{Films: back, Glass: glass, GlassMM: 3, Back: optics.Coated, BackFilms: front}
		R, T := one(t, pane.RT, nm, angle, pol)
		assert.True(t, R >= 0 && T >= 0 && R+T <= 1+rounding, "%g + %g", R, T)
		_, T2 := one(t, turned.RT, nm, angle, pol)
		// k of the glass enters the front and not the back, see Pane.RT: up to
		// k = 1e-5 of the light.
		assert.InDelta(t, T, T2, 1e-5, "T is the same from both sides")
	}
}

func TestNoLightInGlassBeyondTotalReflection(t *testing.T) {
	R, T := one(t, optics.Pane{Glass: medium(0.5), GlassMM: 1, Back: optics.Bare}.RT, 550, 60, optics.U)
	assert.InDelta(t, 1, R, 1e-15, "rounding")
	assert.Zero(t, T)
}

func TestPaneDoesNotAllocateWhereRoomIsGiven(t *testing.T) {
	p := optics.Pane{Films: []optics.Film{film(1.3, 110)}, Glass: optics.LowIron(), GlassMM: 3.2, Back: optics.Bare}
	nm, R, T := []float64{400, 500}, make([]float64, 2), make([]float64, 2)
	assert.Zero(t, testing.AllocsPerRun(10, func() { _, _, _ = p.RT(R, T, nm, 8, optics.U) }))
}
