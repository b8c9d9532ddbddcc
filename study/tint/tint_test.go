package tint_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/optics"
	"wane/optics/colour"
	"wane/study/tint"
)

func view(t *testing.T, angleDeg float64, light colour.Light) *tint.View {
	t.Helper()
	v, err := tint.NewView(optics.SodaLime(), solid(t), optics.Bruggeman, angleDeg, light)
	require.NoError(t, err)
	return v
}

// solid is silica of 1.458 at 550 nm, as the measurement model has it.
func solid(t *testing.T) optics.Index {
	t.Helper()
	at, err := optics.FusedSilica().At(550)
	require.NoError(t, err)
	return optics.FusedSilica().Shifted(1.458 - real(at))
}

// A tint against ../evaluate/testdata/predicted.py, by formulas of textbooks, every nm; here every 5 nm, which moves it by up
// to 0.05 of a colour difference.
func TestTintByPython(t *testing.T) {
	for angle, want := range map[float64]colour.Lab{8: {L: 29.14115351, A: 18.44529563, B: -44.54439402}, 60: {L: 56.20234976, A: 6.21599454, B: 10.3887005}} {
		got, err := view(t, angle, colour.D65).Of(tint.Film{ThicknessNM: 118, Porosity: 0.36})
		require.NoError(t, err)
		assert.Less(t, colour.Difference(want, got.Lab), 0.05, "%g degrees: %v", angle, got.Lab)
	}
}

// hue returns the angle of a tint in the a*b* plane, degrees: 0 red, 90 yellow, 180 green, 270 blue.
func hue(c colour.Lab) float64 { return math.Mod(math.Atan2(c.B, c.A)*180/math.Pi+360, 360) }

// Near the normal a full film of 118 nm looks blue, a thinning one magenta, then yellow, and none is white: common
// practice, no source. At steeper angles the dip of the reflectance moves to shorter wavelengths, as cos of the angle
// inside the film says: the sequence comes earlier.
func TestTintsOfAThinningFilm(t *testing.T) {
	v := view(t, 8, colour.D65)
	of := func(nm float64) colour.Lab {
		got, err := v.Of(tint.Film{ThicknessNM: nm, Porosity: 0.36})
		require.NoError(t, err)
		return got.Lab
	}
	assert.InDelta(t, 280, hue(of(125)), 35, "blue")
	assert.InDelta(t, 330, hue(of(104)), 30, "magenta")
	assert.InDelta(t, 75, hue(of(75)), 35, "yellow")
	glass := v.Glass()
	assert.InDelta(t, tint.GlassL, glass.Lab.L, 1e-9)
	assert.Less(t, glass.Lab.Chroma(), 2.5, "none is white")
	assert.InDelta(t, 4.3, glass.Luminance, 0.2, "glass of index 1.52 reflects ((1.52-1)/(1.52+1))² = 4.26 %")
	none, err := v.Of(tint.Film{Porosity: 0.36})
	require.NoError(t, err)
	assert.Equal(t, glass, none)
	bare, err := v.Of(tint.Film{ThicknessNM: 118, Porosity: 0.36, Bare: 1})
	require.NoError(t, err)
	assert.InDelta(t, glass.Lab.L, bare.Lab.L, 1e-9)

	steep, err := view(t, 60, colour.D65).Of(tint.Film{ThicknessNM: 118, Porosity: 0.36})
	require.NoError(t, err)
	assert.InDelta(t, hue(of(85)), hue(steep.Lab), 30, "as one of 118 nm × cos 48° near the normal")
}

// What a colour meter would read of a film leads back to its thickness, and so does a camera under another light that
// takes something else for white; where tints repeat there are several intervals.
func TestMatchFindsTheFilm(t *testing.T) {
	all := tint.Range{MostNM: 150, LoPorosity: 0.34, HiPorosity: 0.38, MostBare: 0.3}
	for _, light := range []colour.Light{colour.D65, colour.LEDB3} {
		v := view(t, 8, light)
		for _, nm := range []float64{40, 80, 118} {
			seen, err := v.Of(tint.Film{ThicknessNM: nm, Porosity: 0.36, Bare: 0.1})
			require.NoError(t, err)
			xyz := seen.Lab.XYZ(light.White()) // bright: its luminance is not the true one
			meter := tint.OfLab(xyz.Times(seen.Luminance/xyz.Y).Lab(light.White()), light, 0.5)
			intervals, _, err := v.Match(meter, all)
			require.NoError(t, err)
			assertHolds(t, intervals, nm)

			sheet, _ := light.White().Times(0.7).SRGB(light.White())
			spot, within := xyz.Times(0.4).SRGB(light.White())
			require.True(t, within)
			tinge := func(c colour.RGB) colour.RGB { // the camera sees too much red and too little blue
				l := c.Linear()
				return colour.RGB{R: 1.1 * l.R, G: l.G, B: 0.8 * l.B}.Encoded()
			}
			camera, err := tint.OfCamera(tinge(spot), tinge(sheet), light, 2)
			require.NoError(t, err)
			intervals, nearest, err := v.Match(camera, all)
			require.NoError(t, err)
			assertHolds(t, intervals, nm)
			assert.Less(t, nearest.Difference, 2.)
		}
	}
	v := view(t, 8, colour.D65)
	glass := tint.OfLab(v.Glass().Lab, colour.D65, 0.5)
	glass.Absolute = false
	intervals, _, err := v.Match(glass, tint.Range{MostNM: 400, LoPorosity: 0.36, HiPorosity: 0.36})
	require.NoError(t, err)
	require.NotEmpty(t, intervals)
	assert.Zero(t, intervals[0].LoNM)

	green := tint.OfLab(colour.Lab{L: 80, A: -90, B: 60}, colour.D65, 0.5)
	green.Absolute = false
	intervals, nearest, err := v.Match(green, all)
	require.NoError(t, err)
	assert.Empty(t, intervals, "no film is as green as that")
	assert.Greater(t, nearest.Difference, 10.)
}

// Rounding to whole levels hides the tint of a dark surface: whatever was rounded to the levels that a camera wrote lies within
// three spreads.
func TestLevelsOfACamera(t *testing.T) {
	sheet := colour.RGB{R: 0.9, G: 0.9, B: 0.9}
	v := view(t, 8, colour.D65)
	dark, err := v.Of(tint.Film{ThicknessNM: 118, Porosity: 0.36})
	require.NoError(t, err)
	xyz := dark.Lab.XYZ(colour.D65.White())
	truly, _ := xyz.Times(0.8 * dark.Luminance / xyz.Y).SRGB(colour.D65.White())
	level := func(v float64) float64 { return math.Round(255*v) / 255 }
	seen := colour.RGB{R: level(truly.R), G: level(truly.G), B: level(truly.B)}
	exact, err := tint.OfCamera(truly, sheet, colour.D65, 0.01)
	require.NoError(t, err)
	rounded, err := tint.OfCamera(seen, sheet, colour.D65, 0.01)
	require.NoError(t, err)
	assert.Greater(t, rounded.Spread, 0.5, "of %v", seen)
	bright := func(m tint.Measured) colour.Lab {
		return m.Seen.Times(28 / m.Seen.Y).Lab(colour.D65.White()) // L* 60
	}
	assert.Less(t, colour.Difference(bright(exact), bright(rounded)), 3*rounded.Spread)
	assert.Positive(t, colour.Difference(bright(exact), bright(rounded)))
}

func assertHolds(t *testing.T, intervals []tint.Interval, nm float64) {
	t.Helper()
	for _, i := range intervals {
		if i.LoNM <= nm && nm <= i.HiNM {
			return
		}
	}
	assert.Fail(t, "no interval holds the film", "%g nm: %v", nm, intervals)
}

func TestRefusals(t *testing.T) {
	var domain *optics.DomainError
	_, err := tint.NewView(optics.SodaLime(), solid(t), optics.Bruggeman, 90, colour.D65)
	assert.ErrorAs(t, err, &domain)
	v := view(t, 8, colour.D65)
	for _, f := range []tint.Film{{ThicknessNM: -1}, {ThicknessNM: math.NaN()}, {Porosity: 1}, {Porosity: -0.1}, {Bare: 2}} {
		_, err := v.Of(f)
		assert.ErrorAs(t, err, &domain, "%v", f)
	}
	_, err = v.Ribbon(0.3, 0, 100, 0)
	assert.ErrorAs(t, err, &domain)
	for _, sheet := range []colour.RGB{{R: 1, G: 0.9, B: 0.9}, {R: 0.1, G: 0.1, B: 0.1}, {R: 0.9, G: 0.2, B: 0.9}} {
		_, err := tint.OfCamera(colour.RGB{R: 0.2, G: 0.2, B: 0.2}, sheet, colour.D65, 1)
		var seen *tint.PictureError
		assert.ErrorAs(t, err, &seen, "%v", sheet)
	}
	for _, surface := range []colour.RGB{{}, {R: 0.9, G: 1, B: 0.9}, {R: math.NaN()}} {
		_, err := tint.OfCamera(surface, colour.RGB{R: 0.9, G: 0.9, B: 0.9}, colour.D65, 1)
		var seen *tint.PictureError
		assert.ErrorAs(t, err, &seen, "%v", surface)
	}
	_, _, err = v.Match(tint.Measured{Seen: colour.D65.White()}, tint.Range{MostNM: 10})
	assert.ErrorAs(t, err, &domain)
}
