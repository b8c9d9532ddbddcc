package guard_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"wane/optics"
	"wane/study"
	"wane/study/guard"
)

// madeFilm is a made-up film of porous silica, patchy where bare is not 0.
type madeFilm struct{ thickness, porosity, bare float64 } // nm, fraction, fraction

var noFilm = madeFilm{bare: 1}

// beam is how a curve is read.
type beam struct {
	angleDeg float64
	share    float64 // of s
	back     optics.Back
	capture  float64 // of the far face's return
}

func u(angleDeg float64) beam { return beam{angleDeg: angleDeg, share: 0.5, capture: 1} }

// madeNM are the wavelengths of made-up curves.
var madeNM = steps(380, 1100, 5)

func steps(lo, hi, by float64) (nm []float64) {
	for x := lo; x <= hi; x += by {
		nm = append(nm, x)
	}
	return nm
}

var madeSilica = func() []complex128 {
	n, err := optics.FusedSilica().On(nil, madeNM)
	if err != nil {
		panic(err)
	}
	return n
}()

// reads returns what 3.2 mm of soda-lime glass reflects at madeNM, by the general pane of
// optics, which guards use for bare glass only.
func (f madeFilm) reads(tb testing.TB, b beam) []float64 {
	tb.Helper()
	n, k := make([]float64, len(madeNM)), make([]float64, len(madeNM))
	for i, solid := range madeSilica {
		n[i] = math.Sqrt(real(optics.Bruggeman.Mix(solid*solid, 1, f.porosity)))
	}
	index, err := optics.Table("porous silica", madeNM, n, k)
	require.NoError(tb, err)
	out := make([]float64, len(madeNM))
	for _, part := range []struct {
		share float64
		films []optics.Film
	}{{f.bare, nil}, {1 - f.bare, []optics.Film{{Index: index, ThicknessNM: f.thickness}}}} {
		for _, back := range []struct {
			share float64
			back  optics.Back
		}{{b.capture, b.back}, {1 - b.capture, optics.Matched}} {
			if part.share*back.share == 0 {
				continue
			}
			p := optics.Pane{Films: part.films, BackFilms: part.films, Glass: optics.SodaLime(), GlassMM: 3.2, Back: back.back}
			r, _, err := p.RT(nil, nil, madeNM, b.angleDeg, optics.Polarisation(b.share))
			require.NoError(tb, err)
			for i := range out {
				out[i] += part.share * back.share * r[i]
			}
		}
	}
	return out
}

// noisy returns a curve times scale with noise, as an export writes it: in percent with
// three decimals.
func noisy(rng *rand.Rand, r []float64, scale, sd float64) []float64 {
	out := make([]float64, len(r))
	for i := range r {
		out[i] = math.Round((scale*r[i]+sd*rng.NormFloat64())*1e5) / 1e5
	}
	return out
}

// reading makes a reading of R with its traits.
func reading(coupon string, angleDeg float64, pol string, values []float64) *study.Reading {
	return &study.Reading{Place: study.Place{Coupon: coupon, Spot: "1", AngleDeg: angleDeg, Polarisation: pol,
		Quantity: study.Reflectance, Replicate: 1},
		NM: madeNM, Values: values, Traits: guard.TraitsOf(madeNM, values)}
}

// words returns the guards of concerns.
func words(concerns []study.Concern) (w []string) {
	for _, c := range concerns {
		w = append(w, c.Guard)
	}
	return w
}

// guardRoster has coated and blank coupons of each far face, named by it, and sessions of a
// detector that is joined at 860 nm.
func guardRoster() *study.Roster {
	r := &study.Roster{
		Instruments: []study.Instrument{{Instrument: "bench", ConeDeg: study.Null(), SlitNM: study.Null(),
			JoinsNM: []float64{860}, UJoin: 0.001}},
		References: []study.Reference{
			{Reference: "M1", Certificate: "C1", Issued: "2031-01-01", Expires: "2031-12-31", UScale: study.Null()},
			{Reference: "M1", Certificate: "C2", Issued: "2032-02-01", UScale: study.Null()},
		},
		Sessions: []study.Session{
			{Session: "dry", Instrument: "bench", Date: "2031-03-01", Reference: "M1", HumidityPercent: 30},
			{Session: "damp", Instrument: "bench", Date: "2031-09-01", Reference: "M1", HumidityPercent: 50},
			{Session: "wet", Instrument: "bench", Date: "2032-01-15", Reference: "M1", HumidityPercent: 51},
			{Session: "certified again", Instrument: "bench", Date: "2032-02-01", Reference: "M1",
				HumidityPercent: study.Null()},
			{Session: "before any", Instrument: "bench", Date: "2030-12-31", Reference: "M1", HumidityPercent: study.Null()},
			{Session: "no reference", Instrument: "bench", Date: "2030-12-31", HumidityPercent: study.Null()},
		},
	}
	for _, back := range []string{"matched", "blackened", "bare", "coated", "laminated"} {
		for _, role := range []study.Role{study.Exposed, study.Control, study.Blank, study.BlankExposed} {
			r.Coupons = append(r.Coupons, study.Coupon{Coupon: string(role) + " " + back, Role: role, Coating: "K",
				Glass: "soda-lime", GlassMM: 3.2, Back: back})
		}
	}
	return r
}

// plus returns values with v added.
func plus(values []float64, v float64) []float64 {
	out := slices.Clone(values)
	for i := range out {
		out[i] += v
	}
	return out
}

// times returns values times v.
func times(values []float64, v float64) []float64 {
	out := slices.Clone(values)
	for i := range out {
		out[i] *= v
	}
	return out
}
