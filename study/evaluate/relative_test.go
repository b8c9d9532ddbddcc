package evaluate_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/fit/film"
	"wane/optics"
	"wane/study"
	"wane/study/evaluate"
)

// mirror is a made-up reference certified at 8 degrees for s, p and u, and at 45 for s and p.
func mirror() *study.Reference {
	curve := func(angle float64, pol string, at400, at600, u float64) study.ReferenceCurve {
		return study.ReferenceCurve{AngleDeg: angle, Polarisation: pol, NM: []float64{400, 500, 600},
			Values: []float64{at400, (at400 + at600) / 2, at600}, U: []float64{u, u, 2 * u}}
	}
	return &study.Reference{Reference: "M1", Certificate: "C7", Curves: []study.ReferenceCurve{
		curve(8, "p", 0.88, 0.90, 0.003), curve(8, "s", 0.88, 0.90, 0.003), curve(8, "u", 0.87, 0.91, 0.004),
		curve(45, "p", 0.86, 0.88, 0.002), curve(45, "s", 0.90, 0.94, 0.004)}}
}

// Worked by hand: the table is a straight line between its wavelengths, the uncertainty
// another.
func TestAbsolute(t *testing.T) {
	s := &study.Spectrum{File: "e.csv", AngleDeg: 8, Polarisation: "u", NM: []float64{400, 450, 550, 600},
		Values: []float64{0.05, 0.04, 0.03, 0.02}}
	values, u, err := evaluate.Absolute(mirror(), s)
	require.NoError(t, err)
	assert.InDeltaSlice(t, []float64{0.05 * 0.87, 0.04 * 0.88, 0.03 * 0.90, 0.02 * 0.91}, values, 1e-15)
	assert.InDeltaSlice(t, []float64{0.05 * 0.004, 0.04 * 0.004, 0.03 * 0.006, 0.02 * 0.008}, u, 1e-15)
	assert.Equal(t, []float64{0.05, 0.04, 0.03, 0.02}, s.Values, "what was read stays")

	s.AngleDeg = 45 // of which only s and p are certified
	values, u, err = evaluate.Absolute(mirror(), s)
	require.NoError(t, err)
	assert.InDelta(t, 0.05*0.88, values[0], 1e-15)
	assert.InDelta(t, 0.02*0.91, values[3], 1e-15)
	assert.InDelta(t, 0.05*0.003, u[0], 1e-15)

	// A reading of the reference itself is 1 relative to it, and its own certificate afterwards.
	values, u, err = evaluate.Absolute(mirror(), &study.Spectrum{AngleDeg: 45, Polarisation: "s",
		NM: []float64{400, 600}, Values: []float64{1, 1}})
	require.NoError(t, err)
	assert.Equal(t, []float64{0.90, 0.94}, values)
	assert.Equal(t, []float64{0.004, 0.008}, u)
}

func TestAbsoluteRefuses(t *testing.T) {
	for _, c := range []struct {
		name  string
		s     study.Spectrum
		fault string
	}{
		{"below the table", study.Spectrum{AngleDeg: 8, Polarisation: "s", NM: []float64{399, 500},
			Values: []float64{1, 1}}, "go from 399 to 500 nm, and reference M1 is certified from 400 to 600 nm at 8 degrees, s"},
		{"above the table", study.Spectrum{AngleDeg: 8, Polarisation: "s", NM: []float64{400, 601},
			Values: []float64{1, 1}}, "from 400 to 600 nm"},
		{"another angle", study.Spectrum{AngleDeg: 9, Polarisation: "s", NM: []float64{400}, Values: []float64{1}},
			"certificate C7 of reference M1 has no values at 9 degrees, s"},
		{"the native beam, which s and p do not make", study.Spectrum{AngleDeg: 45, Polarisation: "n", NM: []float64{400},
			Values: []float64{1}}, "no values at 45 degrees, n"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, _, err := evaluate.Absolute(mirror(), &c.s)
			var r *study.Refusal
			require.ErrorAs(t, err, &r)
			assert.Contains(t, r.Fault, c.fault)
			assert.NotEmpty(t, r.Try)
		})
	}
}

// Glass of index 1.5 reflects 0.04 at normal incidence; at 45 degrees s reflects
// ((cos 45° - √(1.75))/(cos 45° + √(1.75)))² and p the square of that. Source: Fresnel's equations (M. Born,
// E. Wolf, Principles of Optics, 7th ed. (1999), 1.5.2, from memory), worked by hand.
func TestOverBlank(t *testing.T) {
	glass := optics.Constant("made up", 1.5)
	c, q := math.Sqrt(0.5), math.Sqrt(1.75)
	rs := math.Pow((c-q)/(c+q), 2)
	nm, grid := []float64{420, 500, 590}, []float64{400, 500, 600}
	drift := func(x float64) float64 { return 0.9 + 2e-4*x } // of the reference, on a straight line
	for _, k := range []struct {
		angle float64
		pol   string
		bare  float64
	}{{0, "u", 0.04}, {45, "s", rs}, {45, "p", rs * rs}, {45, "u", (rs + rs*rs) / 2}} {
		truth := []float64{0.011, 0.012, 0.013}
		s := &study.Spectrum{AngleDeg: k.angle, Polarisation: k.pol, NM: nm, Values: make([]float64, 3)}
		blank := &study.Spectrum{AngleDeg: k.angle, Polarisation: k.pol, NM: grid, Values: make([]float64, 3)}
		for i := range nm {
			s.Values[i], blank.Values[i] = drift(nm[i])*truth[i], drift(grid[i])*k.bare
		}
		values, err := evaluate.DivideByBlankForTest(s, &evaluate.Blank{Spectrum: *blank, Glass: glass})
		require.NoError(t, err)
		assert.InDeltaSlice(t, truth, values, 1e-14, "what is common cancels, at %g degrees, %s", k.angle, k.pol)

		// Stray light of 0.001 in both does not: (r + o)/(b + o)·b - r = o·(b - r)/(b + o).
		for i := range nm {
			s.Values[i], blank.Values[i] = truth[i]+0.001, k.bare+0.001
		}
		values, err = evaluate.DivideByBlankForTest(s, &evaluate.Blank{Spectrum: *blank, Glass: glass})
		require.NoError(t, err)
		for i := range nm {
			assert.InDelta(t, 0.001*(k.bare-truth[i])/(k.bare+0.001), values[i]-truth[i], 1e-14)
		}

		// A leak of 0.0002, as is expected of the far face of the blank, does.
		for i := range nm {
			s.Values[i], blank.Values[i] = truth[i], k.bare+0.0002*(1-k.bare)*(1-k.bare)
		}
		values, err = evaluate.DivideByBlankForTest(s, &evaluate.Blank{Spectrum: *blank, Glass: glass, Leak: 0.0002})
		require.NoError(t, err)
		assert.InDeltaSlice(t, truth, values, 1e-14)
	}
}

func TestOverBlankRefuses(t *testing.T) {
	glass, short := optics.Constant("made up", 1.5), study.Spectrum{}
	s := study.Spectrum{File: "e.csv", AngleDeg: 8, Polarisation: "u", NM: []float64{400, 500},
		Values: []float64{0.01, 0.01}}
	blank := func(change func(*study.Spectrum)) *study.Spectrum {
		b := study.Spectrum{File: "b.csv", AngleDeg: 8, Polarisation: "u", NM: []float64{400, 500},
			Values: []float64{0.04, 0.04}}
		change(&b)
		return &b
	}
	table, err := optics.Table("short", []float64{450, 600}, []float64{1.5, 1.5}, []float64{0, 0})
	require.NoError(t, err)
	for _, c := range []struct {
		name  string
		blank *study.Spectrum
		glass optics.Index
		fault string
	}{
		{"another angle", blank(func(b *study.Spectrum) { b.AngleDeg = 30 }), glass,
			"it was read at 8 degrees, u, and the blank at 30 degrees, u"},
		{"another polarisation", blank(func(b *study.Spectrum) { b.Polarisation = "s" }), glass,
			"and the blank at 8 degrees, s"},
		{"a blank that ends earlier", blank(func(b *study.Spectrum) { b.NM = []float64{400, 499} }), glass,
			"its readings reach beyond those of the blank"},
		{"a blank of nothing", blank(func(b *study.Spectrum) { b.NM, b.Values = short.NM, short.Values }), glass,
			"reach beyond"},
		{"a blank that reads nothing", blank(func(b *study.Spectrum) { b.Values = []float64{0.04, 0} }), glass,
			"b.csv: the blank reads 0 at 500 nm"},
		{"glass that is not known there", blank(func(*study.Spectrum) {}), table,
			"the index of short is known from 450 to 600 nm only"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := evaluate.DivideByBlankForTest(&s, &evaluate.Blank{Spectrum: *c.blank, Glass: c.glass})
			var r *study.Refusal
			require.ErrorAs(t, err, &r)
			assert.Contains(t, r.Error(), c.fault)
			assert.NotEmpty(t, r.Try)
		})
	}
}

// Over the blank nothing that a certificate says of the scale counts, and what the blank may be off does, as it is known of a
// placement and of the glass. All else stays as it is known. The setup given is not changed.
func TestWhatIsKnownOverTheBlank(t *testing.T) {
	stated := film.DefaultKnown(optics.Matched)
	stated.Session.UScale, stated.Session.Scale, stated.Session.UZero = 0.002, 1.01, 0.0001
	setup := evaluate.Setup{Known: &stated}
	setup.Glass.UIndex = 0.002
	over := evaluate.OverBlank(setup)
	want := stated
	want.Session.UScale, want.Session.Scale, want.Session.UFactor = over.Known.Session.UScale, 0, over.Known.Session.UFactor
	assert.Equal(t, want, *over.Known)
	assert.True(t, over.Divided)
	assert.InDelta(t, 0.002, setup.Known.Session.UScale, 0)
	scale, factor := 0.0, 0.0
	for _, off := range offsOfABlank(t, 0.0002, 0.00012, math.Hypot(0.002, 0.0005), 0.05) {
		scale, factor = math.Hypot(scale, off[0]), math.Hypot(factor, off[1])
	}
	assert.InEpsilon(t, scale, over.Known.Session.UScale, 0.03)
	assert.InEpsilon(t, math.Hypot(0.002, factor), over.Known.Session.UFactor, 0.03)

	known := stated // a lab's own
	known.Placement = film.Placement{UFactor: 0.004, UTiltDeg: 0.2, UZero: 0.001}
	known.Coupon.ULeak = 0
	setup.Known = &known
	over, scale, factor = evaluate.OverBlank(setup), 0, 0
	for _, off := range offsOfABlank(t, 0.001, 0, math.Hypot(0.002, 0.0005), 0.2) {
		scale, factor = math.Hypot(scale, off[0]), math.Hypot(factor, off[1])
	}
	assert.InEpsilon(t, scale, over.Known.Session.UScale, 0.03)
	assert.InEpsilon(t, math.Hypot(0.004, factor), over.Known.Session.UFactor, 0.06)
}

// offsOfABlank says by Fresnel's equations what zero, leak, index and tilt do to the reflectance of bare glass of 1.52: as a share of
// it at 8 degrees, and by how much less at 8, 30, 45 and 60 degrees, in root mean square. Those numbers by NumPy, by
// differences: R is 0.0426, 0.0441, 0.0530 and 0.0925; it changes by 0.01, 0.52, 2.20 and 5.34 % a degree, and by 3.05, 2.99, 2.65
// and 1.77 times a change of the index.
func offsOfABlank(t *testing.T, zero, leak, index, tilt float64) (offs [4][2]float64) {
	var at8 [4]float64
	for k, want := range [][4]float64{{8, 0.0426, 0.0001, 3.05}, {30, 0.0441, 0.0052, 2.99}, {45, 0.0530, 0.0220, 2.65},
		{60, 0.0925, 0.0534, 1.77}} {
		s, err := optics.NewSurface([]float64{550}, want[0], optics.Constant("made up", 1.52))
		require.NoError(t, err)
		bareS, bareP := s.Bare()
		r := (bareS.R[0] + bareP.R[0]) / 2
		byIndex, byTilt := (bareS.DGlass[0]+bareP.DGlass[0])/2/r, (bareS.DAngle[0]+bareP.DAngle[0])/2/r
		assert.InDelta(t, want[1], r, 0.0001)
		assert.InDelta(t, want[2], byTilt, 0.0002)
		assert.InDelta(t, want[3], byIndex, 0.01)
		for i, off := range [4]float64{zero / r, leak * (1 - r) * (1 - r) / r, index * byIndex, tilt * byTilt} {
			if k == 0 && i < 3 { // a tilt is no scale
				at8[i] = off
				offs[i][0] = off
			}
			offs[i][1] += (at8[i] - off) * (at8[i] - off) / 4
		}
	}
	for i := range offs {
		offs[i][1] = math.Sqrt(offs[i][1])
	}
	return offs
}

// A beam that is a cone sees more of bare glass at 60 degrees than its axis does. Its mean over an evenly filled cone of 5
// degrees, by quadrature with SciPy over the cap of directions, is 1.0176 times that of the axis, and so a reading of
// the blank is taken to be.
func TestOverBlankInACone(t *testing.T) {
	setup := evaluate.Setup{}
	setup.Glass.Index, setup.Glass.Back, setup.Instrument.ConeDeg = optics.Constant("made up", 1.52), optics.Blackened, 5
	nm := []float64{500, 600}
	read := &study.Reading{NM: nm, Values: []float64{0.1, 0.1}}
	read.AngleDeg, read.Polarisation = 60, "u"
	blank := evaluate.NewBlank(&setup, read)
	s := &study.Spectrum{AngleDeg: 60, Polarisation: "u", NM: nm, Values: []float64{0.1, 0.1}}
	values, err := evaluate.DivideByBlankForTest(s, &blank)
	require.NoError(t, err)
	assert.InDelta(t, 0.0924827*1.017599, values[0], 2e-5)
}
