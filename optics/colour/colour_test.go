package colour_test

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/optics"
	"wane/optics/colour"
)

// grid returns wavelengths from one to another, both included, in nm.
func grid(from, to, step float64) (nm []float64) {
	for x := from; x <= to+1e-9; x += step {
		nm = append(nm, x)
	}
	return nm
}

func constant(n int, v float64) []float64 {
	y := make([]float64, n)
	for i := range y {
		y[i] = v
	}
	return y
}

// White points as published: A and D65 in ISO/CIE 11664-2, E by definition, LED-B3 in CIE 015:2018 (a sum every 5 nm,
// from which one every nm differs by 2e-4). The others are sums from 360 to 830 nm, and these ends add up to 3e-5.
func TestWhitePoints(t *testing.T) {
	for light, want := range map[colour.Light][3]float64{
		colour.A:     {0.44758, 0.40745, 3e-5},
		colour.D65:   {0.31272, 0.32903, 3e-5},
		colour.E:     {1. / 3, 1. / 3, 5e-5},
		colour.LEDB3: {0.3756, 0.3723, 2.1e-4},
	} {
		white := light.White()
		x, y := white.Chromaticity()
		assert.InDelta(t, want[0], x, want[2], "%s", light)
		assert.InDelta(t, want[1], y, want[2], "%s", light)
		assert.InDelta(t, 100, white.Y, 1e-10)

		nm := grid(380, 1100, 2)
		w, err := colour.For(nm, light)
		require.NoError(t, err)
		half := w.XYZ(constant(len(nm), 0.5))
		assert.InDelta(t, white.X/2, half.X, 1e-10)
		assert.InDelta(t, white.Z/2, half.Z, 1e-10)
		assert.InDelta(t, 1, w.Share, 1e-12)
		lab := half.Lab(white)
		assert.InDelta(t, 76.0693, lab.L, 1e-4, "116 × 0.5^⅓ - 16, worked by hand") // 76.069261
		assert.InDelta(t, 0, lab.Chroma(), 1e-9)
	}
}

// The 34 pairs of Sharma, Wu and Dalal, Color Research and Application 30 (2005) 21, from the tests of scikit-image
// (Debian python3-skimage 0.19.3), are as printed, to four decimals.
func TestDifferenceOfPublishedPairs(t *testing.T) {
	text, err := os.ReadFile("testdata/ciede2000.txt")
	require.NoError(t, err)
	pairs := 0
	for line := range strings.Lines(string(text)) {
		if strings.HasPrefix(line, "#") {
			continue
		}
		f := strings.Fields(line)
		require.Len(t, f, 23)
		number := func(i int) float64 {
			v, err := strconv.ParseFloat(f[i], 64)
			require.NoError(t, err)
			return v
		}
		one := colour.Lab{L: number(2), A: number(3), B: number(4)}
		two := colour.Lab{L: number(17), A: number(18), B: number(19)}
		assert.InDelta(t, number(15), colour.Difference(one, two), 5.1e-5, "pair %s", f[0])
		assert.InDelta(t, number(15), colour.Difference(two, one), 5.1e-5, "pair %s, the other way", f[0])
		pairs++
	}
	assert.Equal(t, 34, pairs)
}

// Colours of a screen against scikit-image 0.19.3: color.rgb2xyz and color.rgb2lab with D65 and the observer of 2
// degrees. Its matrix has more digits, and its white is 95.047, 100, 108.883: hence tolerances of the last digit that
// IEC 61966-2-1 prints.
func TestScreenAgainstScikitImage(t *testing.T) {
	text, err := os.ReadFile("testdata/skimage.csv")
	require.NoError(t, err)
	r := csv.NewReader(strings.NewReader(string(text)))
	r.Comment = '#'
	rows, err := r.ReadAll()
	require.NoError(t, err)
	require.Len(t, rows, 8)
	for _, row := range rows[1:] {
		v := make([]float64, len(row))
		for i, cell := range row {
			v[i], err = strconv.ParseFloat(cell, 64)
			require.NoError(t, err)
		}
		rgb := colour.RGB{R: v[0], G: v[1], B: v[2]}
		xyz := rgb.XYZ()
		assert.InDeltaSlice(t, v[3:6], []float64{xyz.X, xyz.Y, xyz.Z}, 0.03)
		lab := colour.XYZ{X: v[3], Y: v[4], Z: v[5]}.Lab(colour.XYZ{X: 95.047, Y: 100, Z: 108.883})
		assert.InDeltaSlice(t, v[6:9], []float64{lab.L, lab.A, lab.B}, 0.002)
		again, within := xyz.SRGB(colour.ScreenWhite())
		assert.True(t, within)
		assert.InDeltaSlice(t, v[:3], []float64{again.R, again.G, again.B}, 1e-3)
	}
}

// The way to L*a*b* and back, and to a screen whose white another light is.
func TestThereAndBack(t *testing.T) {
	for _, c := range []colour.XYZ{{X: 20, Y: 18, Z: 30}, {X: 0.3, Y: 0.2, Z: 0.5}, {X: 90, Y: 95, Z: 80}} {
		back := c.Lab(colour.A.White()).XYZ(colour.A.White())
		assert.InDelta(t, c.X, back.X, 1e-10)
		assert.InDelta(t, c.Y, back.Y, 1e-10)
		assert.InDelta(t, c.Z, back.Z, 1e-10)
		there := c.Adapted(colour.A.White(), colour.D65.White()).Adapted(colour.D65.White(), colour.A.White())
		assert.InDelta(t, c.Z, there.Z, 1e-10)
	}
	for _, light := range colour.Lights {
		rgb, within := light.White().Times(0.5).SRGB(light.White())
		assert.True(t, within)
		assert.InDelta(t, rgb.R, rgb.B, 2e-4, "a grey of %s is a grey of the screen", light)
		assert.InDelta(t, 0.7354, rgb.G, 2e-4, "1.055 × 0.5^(1/2.4) - 0.055, by hand")
	}
	_, within := colour.XYZ{X: 10, Y: 80, Z: 10}.SRGB(colour.D65.White())
	assert.False(t, within, "a green that no screen shows")
}

// A spectrum that ends within the band goes on with its last value, and says how much that is; one that covers less than
// 99 % has no colour.
func TestCoverage(t *testing.T) {
	w, err := colour.For(grid(400, 700, 5), colour.D65)
	require.NoError(t, err)
	assert.Greater(t, w.Share, 0.99)
	assert.Less(t, w.Share, 1.)
	assert.InDelta(t, 100, w.XYZ(constant(61, 1)).Y, 1e-9)

	var short *colour.CoverageError
	_, err = colour.For(grid(450, 1100, 5), colour.D65)
	require.ErrorAs(t, err, &short)
	assert.Less(t, short.Share, 0.9)
	assert.ErrorContains(t, err, "a spectrum from 450 to 1100 nm covers ")
	_, err = colour.For(grid(900, 1100, 5), colour.D65)
	require.ErrorAs(t, err, &short)
	assert.Zero(t, short.Share)

	var domain *optics.DomainError
	for _, nm := range [][]float64{nil, {500}, {500, 400}, {-1, 800}, {380, math.NaN()}, {380, math.Inf(1)}} {
		_, err = colour.For(nm, colour.E)
		assert.ErrorAs(t, err, &domain, "%v", nm)
	}
	_, err = colour.For(grid(380, 780, 5), colour.Light(9))
	assert.ErrorAs(t, err, &domain)
}

// On a grid that is finer than the sums, on one that has other steps and ends beyond the band, a sloping spectrum, which
// is linear between its points on any grid, has the same colour.
func TestGridsAgree(t *testing.T) {
	of := func(nm []float64) colour.XYZ {
		w, err := colour.For(nm, colour.LEDB3)
		require.NoError(t, err)
		y := make([]float64, len(nm))
		for i, x := range nm {
			y[i] = x / 1000
		}
		return w.XYZ(y)
	}
	want := of([]float64{300, 1200})
	for _, nm := range [][]float64{grid(380, 780, 1), grid(300, 1100, 0.25), grid(371.3, 802, 7.1)} {
		got := of(nm)
		assert.InDelta(t, want.X, got.X, 1e-9)
		assert.InDelta(t, want.Y, got.Y, 1e-9)
		assert.InDelta(t, want.Z, got.Z, 1e-9)
	}
}

func BenchmarkXYZ(b *testing.B) {
	nm := grid(380, 1100, 1.8)
	w, err := colour.For(nm, colour.D65)
	require.NoError(b, err)
	y := constant(len(nm), 0.04)
	white := colour.D65.White()
	b.ReportAllocs()
	var sink colour.Lab
	for b.Loop() {
		sink = w.XYZ(y).Lab(white)
	}
	_ = sink
}
