package optics_test

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/optics"
)

const deg = math.Pi / 180

// Source: airy_golden.csv, mpmath at 40 digits; a recursion in double precision
// was found within 8e-16 of it, so 1e-12 catches faults, not rounding.
func TestStackAgainstHighPrecision(t *testing.T) {
	for _, row := range records(t, "airy_golden.csv", 87) {
		s := optics.Stack{
			Ambient:   medium(complex(number(t, row["n0"]), 0)),
			Substrate: medium(complex(number(t, row["ns"]), number(t, row["ks"]))),
		}
		for _, i := range []string{"1", "2"} {
			if row["n"+i] != "" {
				index := complex(number(t, row["n"+i]), number(t, row["k"+i]))
				s.Films = append(s.Films, film(index, number(t, row["d"+i+"_nm"])))
			}
		}
		pol, err := optics.ParsePolarisation(row["pol"])
		require.NoError(t, err)
		R, T := one(t, s.RT, number(t, row["wavelength_nm"]), number(t, row["angle_deg"]), pol)
		assert.InDelta(t, number(t, row["R"]), R, 1e-12, "R of %v", row)
		assert.InDelta(t, number(t, row["T"]), T, 1e-12, "T of %v", row)
	}
}

// Source: Fresnel's equations for glass of n = 1.5 at oblique angles:
// testdata/closed_forms.py, 30 digits rounded to six.
func TestFresnelReflectanceOfGlass(t *testing.T) {
	s := optics.Stack{Substrate: medium(1.5)}
	cases := []struct{ angle, s, p, mean, half float64 }{
		{0, 0.0400000, 0.0400000, 0.0400000, 5e-8},
		{30, 0.0577961, 0.0252491, 0.0415226, 5e-8},
		{45, 0.0920134, 0.00846646, 0.0502399, 5e-8},
		{56.309932474, 0.147929, 0, 0.0739645, 5e-7}, // Brewster, atan 1.5
		{60, 0.176571, 0.00180194, 0.0891867, 5e-7},
		{75, 0.399356, 0.106765, 0.253061, 5e-7},
		{85, 0.732345, 0.493254, 0.612800, 5e-7},
	}
	for _, c := range cases {
		t.Run(fmt.Sprint(c.angle), func(t *testing.T) {
			rs, _ := one(t, s.RT, 550, c.angle, optics.S)
			rp, _ := one(t, s.RT, 550, c.angle, optics.P)
			ru, _ := one(t, s.RT, 550, c.angle, optics.U)
			// half is half a unit of the last digit printed
			assert.InDelta(t, c.s, rs, c.half)
			assert.InDelta(t, c.p, rp, c.half)
			assert.InDelta(t, c.mean, ru, c.half)
		})
	}
}

// Source: closed forms as quoted (M. Born, E. Wolf, Principles of Optics, 7th ed. (1999),
// 1.5.2, 1.6.4 and 14.2, from memory); the digits by testdata/closed_forms.py.
func TestNormalIncidenceClosedForms(t *testing.T) {
	const rounding = 1e-15
	quarter := func(n float64) optics.Film { return film(complex(n, 0), 550/(4*n)) }
	half := func(n float64) optics.Film { return film(complex(n, 0), 550/(2*n)) }
	cases := []struct {
		name   string
		films  []optics.Film
		n      complex128
		want   float64
		within float64
	}{
		{"bare 1.5: 4 %", nil, 1.5, 0.04, rounding},
		{"bare 1.52: 4.26 %", nil, 1.52, 0.0425799949609, 5e-14},
		{"quarter wave of MgF2: ((ns-n²)/(ns+n²))², 1.26 %", []optics.Film{quarter(1.38)}, 1.52, 0.0126007902146, 5e-14},
		{"quarter wave of 1.25", []optics.Film{quarter(1.25)}, 1.52, 0.000190095435802, 5e-16},
		{"ideal quarter wave √ns: 0", []optics.Film{quarter(math.Sqrt(1.52))}, 1.52, 0, rounding},
		{"half wave is absent", []optics.Film{half(2.3)}, 1.5, 0.04, rounding},
		{"half waves are absent", []optics.Film{half(1.38), half(2.3), half(1.46)}, 1.5, 0.04, rounding},
		{"metal: ((n-1)²+k²)/((n+1)²+k²)", nil, 0.15 + 3.5i, (0.85*0.85 + 12.25) / (1.15*1.15 + 12.25), rounding},
	}
	for _, c := range cases {
		for _, pol := range []optics.Polarisation{optics.S, optics.P, 0.3} {
			R, T := one(t, optics.Stack{Films: c.films, Substrate: medium(c.n)}.RT, 550, 0, pol)
			assert.InDelta(t, c.want, R, c.within, c.name)
			assert.InDelta(t, 1-c.want, T, c.within+rounding, c.name)
		}
	}
}

// Source: the quarter wave at an angle, where its optical thickness counts along
// the normal: n·d·cos θ1 = λ/4 gives r = (η0·ηs - η1²)/(η0·ηs + η1²) in the
// tilted admittances (M. Born, E. Wolf, Principles of Optics, 7th ed. (1999), 1.6.4, from
// memory).
func TestObliqueQuarterWave(t *testing.T) {
	const n1, ns, angle = 1.38, 1.52, 60.0
	sin, cos := math.Sincos(angle * deg)
	c1, cs := math.Sqrt(1-sin*sin/(n1*n1)), math.Sqrt(1-sin*sin/(ns*ns))
	s := optics.Stack{Films: []optics.Film{film(n1, 550/(4*n1*c1))}, Substrate: medium(ns)}
	square := func(a, b float64) float64 { r := (a - b) / (a + b); return r * r }
	rs, _ := one(t, s.RT, 550, angle, optics.S)
	assert.InDelta(t, square(cos*ns*cs, n1*c1*n1*c1), rs, 1e-15, "rounding")
	rp, _ := one(t, s.RT, 550, angle, optics.P)
	assert.InDelta(t, square(ns/(cos*cs), n1*n1/(c1*c1)), rp, 1e-15, "rounding")
}

// Source: a film in which the wave runs along the faces (here 1 between media of
// 2, at 30 degrees) has a linear field, so T = 4/(4+x²) with x = 2πd/λ times
// n0·cos θ (s) or cos θ/n0 (p): Maxwell's equations by hand.
func TestFilmAtItsCriticalAngle(t *testing.T) {
	angle := 30.0
	sin, cos := math.Sincos(angle * math.Pi / 180)
	exact := 2 * sin
	for _, n1 := range []float64{exact, math.Nextafter(exact, 0), math.Nextafter(exact, 2)} {
		for _, d := range []float64{1, 90, 700} {
			s := optics.Stack{Ambient: medium(2), Films: []optics.Film{film(complex(n1, 0), d)}, Substrate: medium(2)}
			x := 2 * math.Pi * d / 550 * cos
			for pol, x := range map[optics.Polarisation]float64{optics.S: 2 * x, optics.P: x / 2} {
				R, T := one(t, s.RT, 550, angle, pol)
				assert.InDelta(t, 4/(4+x*x), T, 1e-14, "%.17g, %g nm, s share %g", n1, d, pol)
				assert.InDelta(t, x*x/(4+x*x), R, 1e-14, "%.17g, %g nm, s share %g", n1, d, pol)
			}
		}
	}
}

// The limit is the same from both sides, with an absorbing film beneath whose
// reflection has a phase.
func TestCriticalAngleIsNoStep(t *testing.T) {
	angle := 30.0
	at := func(n1 float64) float64 {
		films := []optics.Film{film(complex(n1, 0), 90), film(1.5+0.5i, 60)}
		R, _ := one(t, optics.Stack{Ambient: medium(2), Films: films, Substrate: medium(1.5)}.RT, 550, angle, 0.5)
		return R
	}
	exact := 2 * math.Sin(angle*math.Pi/180)
	assert.InDelta(t, at(exact*(1+1e-13)), at(exact), 1e-11, "R changes at a rate of the order of 1")
	assert.InDelta(t, at(exact*(1-1e-13)), at(exact), 1e-11, "R changes at a rate of the order of 1")
}

func TestTotalReflection(t *testing.T) {
	s := optics.Stack{Ambient: medium(1.52), Films: []optics.Film{film(1.3, 120)}}
	for _, pol := range []optics.Polarisation{optics.S, optics.P} {
		R, T := one(t, s.RT, 550, 60, pol) // the critical angle is 41.1 degrees
		assert.InDelta(t, 1, R, 1e-15, "rounding")
		assert.InDelta(t, 0, T, 1e-15, "rounding")
	}
}

// The sign of a zero chooses between the roots of a wave that decays and one
// that grows, behind total reflection in an absorbing film.
func TestSignOfNoExtinction(t *testing.T) {
	s := optics.Stack{Ambient: medium(1.52), Films: []optics.Film{film(1.4+0.1i, 120)}}
	want, _ := one(t, s.RT, 550, 60, optics.U)
	s.Substrate = medium(complex(1, math.Copysign(0, -1)))
	got, _ := one(t, s.RT, 550, 60, optics.U)
	assert.Equal(t, want, got)
	assert.Less(t, want, 0.9, "the film absorbs")
}

// A film too thick to see through is a half-space of its own material.
func TestOpaqueFilmIsASubstrate(t *testing.T) {
	for _, n := range []complex128{0.15 + 3.5i, 1.5 + 0.5i} {
		for _, angle := range []float64{0, 60, 85} {
			for _, d := range []float64{1e5, 1e9} {
				want, _ := one(t, optics.Stack{Substrate: medium(n)}.RT, 550, angle, optics.U)
				R, T := one(t, optics.Stack{Films: []optics.Film{film(n, d)}, Substrate: medium(1.52)}.RT, 550, angle, optics.U)
				assert.InDelta(t, want, R, 1e-14, "n = %g, %g degrees, %g nm", n, angle, d)
				assert.Zero(t, T)
			}
		}
	}
}

func TestMeanOfPolarisations(t *testing.T) {
	s := optics.Stack{Films: []optics.Film{film(1.3+0.01i, 140)}, Substrate: medium(1.52)}
	rs, ts := one(t, s.RT, 550, 50, optics.S)
	rp, tp := one(t, s.RT, 550, 50, optics.P)
	R, T := one(t, s.RT, 550, 50, 0.55)
	assert.InDelta(t, 0.55*rs+0.45*rp, R, 1e-15, "rounding")
	assert.InDelta(t, 0.55*ts+0.45*tp, T, 1e-15, "rounding")
}

func TestStackWithoutRoom(t *testing.T) {
	s := optics.Stack{Films: []optics.Film{{Index: optics.FusedSilica(), ThicknessNM: 100}}, Substrate: optics.SodaLime()}
	nm := []float64{900, 400, 600}
	R, T := make([]float64, 3), make([]float64, 3)
	assert.Zero(t, testing.AllocsPerRun(10, func() {
		_, _, _ = s.RT(R, T, nm, 45, optics.U)
	}), "nothing to allocate where dst is given")
	got, _, err := s.RT(R, nil, nm, 45, optics.U)
	require.NoError(t, err)
	assert.Same(t, &R[0], &got[0])
	for i, w := range nm {
		want, _ := one(t, s.RT, w, 45, optics.U)
		assert.Equal(t, want, R[i], "wavelengths do not mind each other")
	}
	for _, dst := range [][2][]float64{{R[:2], T}, {R, T[:2]}} {
		assert.PanicsWithValue(t, "optics: dst and wavelengths differ in length", func() {
			_, _, _ = s.RT(dst[0], dst[1], nm, 45, optics.U)
		})
	}
}
