package report_test

import (
	"fmt"
	"image/color"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"wane/study/report"
)

type triple [3]float64

type matrix [3]triple

func (m matrix) apply(v triple) triple {
	var out triple
	for i, row := range m {
		out[i] = row[0]*v[0] + row[1]*v[1] + row[2]*v[2]
	}
	return out
}

// visions are matrices on linear RGB. G. M. Machado, M. M. Oliveira,
// L. A. F. Fernandes, "A physiologically-based model for simulation of color
// vision deficiency", IEEE Trans. Vis. Comput. Graph. 15 (2009) 1291-1298,
// severity 1.0; figures as in deficiency.js of the npm package culori 4.0.2.
func visions() map[string]matrix {
	return map[string]matrix{
		"normal": {{1, 0, 0}, {0, 1, 0}, {0, 0, 1}},
		"protanopia": {{0.152286, 1.052583, -0.204868}, {0.114503, 0.786281, 0.099216},
			{-0.003882, -0.048116, 1.051998}},
		"deuteranopia": {{0.367322, 0.860646, -0.227968}, {0.280085, 0.672501, 0.047413},
			{-0.011820, 0.042940, 0.968881}},
		"tritanopia": {{1.255528, -0.076749, -0.178779}, {-0.078411, 0.930809, 0.147602},
			{0.004733, 0.691367, 0.303900}},
	}
}

// linear undoes the sRGB transfer curve (IEC 61966-2-1).
func linear(c color.NRGBA) triple {
	var out triple
	for i, v := range []uint8{c.R, c.G, c.B} {
		x := float64(v) / 255
		if x <= 0.04045 {
			out[i] = x / 12.92
		} else {
			out[i] = math.Pow((x+0.055)/1.055, 2.4)
		}
	}
	return out
}

// xyz is the matrix from linear sRGB (IEC 61966-2-1), white D65; from memory, and
// checked with the rest by TestColourConversions.
func xyz() matrix {
	return matrix{{0.4124564, 0.3575761, 0.1804375}, {0.2126729, 0.7151522, 0.0721750},
		{0.0193339, 0.1191920, 0.9503041}}
}

// lab returns CIE 1976 L*, a*, b* (CIE 15) of linear sRGB, cut to its range.
func lab(rgb triple) triple {
	for i := range rgb {
		rgb[i] = math.Min(1, math.Max(0, rgb[i]))
	}
	v, white := xyz().apply(rgb), xyz().apply(triple{1, 1, 1})
	for i := range v {
		if x := v[i] / white[i]; x > 216.0/24389 {
			v[i] = math.Cbrt(x)
		} else {
			v[i] = (24389.0/27*x + 16) / 116
		}
	}
	return triple{116*v[1] - 16, 500 * (v[0] - v[1]), 200 * (v[1] - v[2])}
}

func distance(a, b triple) float64 {
	return math.Hypot(math.Hypot(a[0]-b[0], a[1]-b[1]), a[2]-b[2])
}

// The expected values are from the npm package culori 4.0.2: lab65 of
// {mode:'rgb', 60/255, 72/255, 180/255}, and of the results of
// filterDeficiencyProt(1), filterDeficiencyDeuter(1), filterDeficiencyTrit(1) on
// its linear components, cut to 0..1.
func TestColourConversions(t *testing.T) {
	want := map[string]triple{
		"normal":       {35.772218, 30.557478, -58.862508},
		"protanopia":   {39.062077, 15.107218, -55.705020},
		"deuteranopia": {35.553474, 20.011498, -58.038231},
		"tritanopia":   {38.207293, -16.788808, -18.181393},
	}
	for name, m := range visions() {
		t.Run(name, func(t *testing.T) {
			got := lab(m.apply(linear(color.NRGBA{60, 72, 180, 255})))
			// 0.01: the matrices of both sides are rounded differently.
			assert.Less(t, distance(want[name], got), 0.01, "got %v", got)
		})
	}
}

// A difference just seen is about 2.3 in these units (M. Mahy, L. Van Eycken,
// A. Oosterlinck, Color Res. Appl. 19 (1994) 105; from memory). Thin lines need
// several times that; 15 is common practice, no source.
func TestPaletteForAllVisions(t *testing.T) {
	for name, m := range visions() {
		for kind, colours := range palettes() {
			t.Run(kind+", "+name, func(t *testing.T) {
				for i := range colours {
					for j := range i {
						d := distance(lab(m.apply(linear(colours[i]))), lab(m.apply(linear(colours[j]))))
						assert.Greater(t, d, 15.0, "colours %d and %d", j, i)
					}
				}
			})
		}
	}
}

// palettes are the colours of curves on white and on a dark page.
func palettes() map[string][8]color.NRGBA {
	return map[string][8]color.NRGBA{"light": report.Palette(), "dark": report.DarkPalette()}
}

// 5 in L*: twice the difference just seen. Common practice, no source.
func TestPaletteInGrey(t *testing.T) {
	for kind, colours := range palettes() {
		for i := range colours {
			for j := range i {
				d := math.Abs(lab(linear(colours[i]))[0] - lab(linear(colours[j]))[0])
				assert.Greater(t, d, 5.0, "%s colours %d and %d", kind, j, i)
			}
		}
	}
}

// W3C, Web Content Accessibility Guidelines 2.1, success criterion 1.4.11: at
// least 3 to 1 for graphical objects; contrast as defined there.
func TestPaletteOnItsGround(t *testing.T) {
	luminance := func(c color.NRGBA) float64 { return xyz().apply(linear(c))[1] }
	for i, c := range report.Palette() {
		assert.GreaterOrEqual(t, 1.05/(luminance(c)+0.05), 3.0, "colour %d", i)
	}
	for i, c := range report.DarkPalette() {
		assert.GreaterOrEqual(t, (luminance(c)+0.05)/(luminance(report.DarkGround())+0.05), 3.0, "dark colour %d", i)
	}
}

func TestStylesDiffer(t *testing.T) {
	seen := map[string]map[string]bool{"dashes": {}, "marks": {}, "together": {}}
	for i := range 64 {
		colour, dashes, mark := report.StyleOf(i)
		seen["together"][fmt.Sprintf("%v %v %T", colour, dashes, mark)] = true
		if i < 8 {
			seen["dashes"][fmt.Sprint(dashes)] = true
			seen["marks"][fmt.Sprintf("%T", mark)] = true
		}
	}
	assert.Len(t, seen["dashes"], 8, "dash patterns of the first eight curves")
	assert.Len(t, seen["marks"], 8, "marks of the first eight curves")
	assert.Len(t, seen["together"], 64, "styles of 64 curves")
}
