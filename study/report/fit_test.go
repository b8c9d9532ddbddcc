package report_test

import (
	"bytes"
	"errors"
	"fmt"
	"image/png"
	"math"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/fit/film"
	"wane/study/report"
)

// made returns a made-up curve of n points from 380 to 1100 nm around the
// reflectance level, in the shape of a film's, with made-up noise.
func made(n int, angleDeg, level float64) film.FittedCurve {
	c := film.FittedCurve{AngleDeg: angleDeg, NoiseSD: 0.02 * level}
	for i := range n {
		nm := 380 + 720*float64(i)/math.Max(1, float64(n-1))
		fitted := level * (1 + 0.8*math.Cos(1800/nm+angleDeg/40))
		c.NM = append(c.NM, nm)
		c.Fitted = append(c.Fitted, fitted)
		c.Measured = append(c.Measured, fitted+c.NoiseSD*math.Sin(7*float64(i*i)))
		c.Band = append(c.Band, 0.01*level)
	}
	return c
}

// spot returns the figure of n made-up curves at 1 to 60 degrees.
func spot(n int) *report.Fit {
	f := &report.Fit{
		Title:   "Coupon A-07, pull 3, spot 2",
		Caption: []string{"Thickness 112.4 ± 0.4 nm (k = 2), film index 1.298 at λ = 550 nm, −0.12 pp at 8°"},
	}
	for i := range n {
		f.Curves = append(f.Curves, made(181, 1+59*float64(i)/math.Max(1, float64(n-1)), 0.02+0.01*float64(i)))
		f.Polarisation = append(f.Polarisation, []string{"s", "p"}[i%2])
	}
	return f
}

func TestFormatOf(t *testing.T) {
	for path, want := range map[string]string{
		"fit.svg": "svg", "a.b/Fit.PNG": "png", "x.y.svg": "svg", "x.PDF": "pdf",
	} {
		got, err := report.FormatOf(path)
		require.NoError(t, err, path)
		assert.Equal(t, want, got, path)
	}
	for _, path := range []string{"fit.bmp", "fit.page", "fit", "", "svg", "fit.svg.gz", "a.svg/fit"} {
		got, err := report.FormatOf(path)
		require.Error(t, err, path)
		assert.Empty(t, got, path)
		assert.Contains(t, err.Error(), ".svg, .png or .pdf", path)
	}
}

func TestWriteErrors(t *testing.T) {
	for name, c := range map[string]struct {
		format string
		change func(*report.Fit)
		want   string
	}{
		"unknown format": {"bmp", func(*report.Fit) {},
			`report: a figure is written as svg, png, pdf or page, not as "bmp"`},
		"no curves": {"svg", func(f *report.Fit) { f.Curves, f.Polarisation = nil, nil },
			"report: there is no curve to draw"},
		"empty curve": {"svg", func(f *report.Fit) { f.Curves[1] = film.FittedCurve{} },
			"report: curve 2 has no points"},
		"too few polarisations": {"png", func(f *report.Fit) { f.Polarisation = f.Polarisation[:1] },
			"report: 1 polarisations for 2 curves"},
		"short band": {"png", func(f *report.Fit) { f.Curves[1].Band = f.Curves[1].Band[1:] },
			"report: curve 2 has 181 wavelengths, 181 measured and 181 fitted values and a band of 180"},
	} {
		t.Run(name, func(t *testing.T) {
			f := spot(2)
			c.change(f)
			var buf bytes.Buffer
			assert.EqualError(t, f.Write(&buf, c.format), c.want)
			assert.Zero(t, buf.Len(), "bytes written before the error")
		})
	}
}

var errFull = errors.New("full")

type fullDisk struct{}

func (fullDisk) Write([]byte) (int, error) { return 0, errFull }

func figures() map[string]func() figure {
	return map[string]func() figure{
		"fit":     func() figure { return spot(4) },
		"changes": func() figure { return changes(3, 6, 0, 90, 180, 365) },
	}
}

func TestWriteReportsAFailedWrite(t *testing.T) {
	for name, made := range figures() {
		for _, format := range []string{"svg", "png"} {
			assert.ErrorIs(t, made().Write(fullDisk{}, format), errFull, "%s as %s", name, format)
		}
	}
}

// All at once, so that the race detector sees what drawings share.
func TestWriteGivesEqualBytes(t *testing.T) {
	for name, made := range figures() {
		for _, format := range []string{"svg", "png"} {
			t.Run(name+" as "+format, func(t *testing.T) {
				var outputs [4]bytes.Buffer
				var errs [4]error
				var all sync.WaitGroup
				for i := range outputs {
					all.Go(func() { errs[i] = made().Write(&outputs[i], format) })
				}
				all.Wait()
				for i := range outputs {
					require.NoError(t, errs[i])
					assert.True(t, bytes.Equal(outputs[0].Bytes(), outputs[i].Bytes()), "drawing %d differs", i)
				}
			})
		}
	}
}

func TestWriteDoesNotChangeTheFigure(t *testing.T) {
	for name, made := range figures() {
		f := made()
		drawSVG(t, f)
		assert.Equal(t, made(), f, name)
	}
}

func TestPNG(t *testing.T) {
	for name, made := range figures() {
		t.Run(name, func(t *testing.T) {
			var buf bytes.Buffer
			require.NoError(t, made().Write(&buf, "png"))
			img, err := png.Decode(&buf)
			require.NoError(t, err)
			// 640 pt at 144 dots per inch; the height is that of the SVG page.
			assert.Equal(t, 1280, img.Bounds().Dx())
			assert.InDelta(t, 2*parse(t, made()).height, img.Bounds().Dy(), 1, "dots, rounded")
			r, g, b, a := img.At(3, 3).RGBA()
			assert.Equal(t, [4]uint32{0xFFFF, 0xFFFF, 0xFFFF, 0xFFFF}, [4]uint32{r, g, b, a}, "ground is white")
		})
	}
}

func TestSVGHoldsTheTexts(t *testing.T) {
	f := spot(2)
	svg := string(drawSVG(t, f))
	for _, want := range []string{
		"\nWavelength / nm\n", "\nReflectance / %\n", "<title>" + f.Title + "<", "\n1°, s\n", "\n60°, p\n",
		"λ = 550 nm", "−0.12 pp at 8°", "112.4 ± 0.4 nm", "95 % confidence band",
	} {
		assert.Contains(t, svg, want)
	}
	assert.Contains(t, strings.ReplaceAll(svg, "\n", " "), "± 2 standard deviations of the noise (k = 2)")
	assert.NotContains(t, svg, "cannot be drawn")
	assert.NotContains(t, svg, "<text", "letters are drawn, since the font may not be there")
	assert.NotContains(t, svg, "font-family")
}

// The letters of an SVG stand where the font says: the outline of each is that of the
// font, in its units, and the last one ends where the text ends.
func TestSVGDrawsTheLetters(t *testing.T) {
	f := spot(1)
	svg := string(drawSVG(t, f))
	outlines := map[string]string{}
	for _, m := range regexp.MustCompile(`<path id="([a-z0-9]+)" d="([^"]+)"/>`).FindAllStringSubmatch(svg, -1) {
		assert.Regexp(t, `^M[-0-9 MLQZ]+Z$`, m[2])
		outlines[m[1]] = m[2]
	}
	texts := regexp.MustCompile(`(?s)<g fill="#[0-9A-F]{6}" (?:class="foot" )?`+
		`transform="translate\(([-0-9.]+), ([-0-9.]+)\) scale\(([0-9.]+), -[0-9.]+\)">(.*?)</g>`).
		FindAllStringSubmatch(svg, -1)
	want := textsOf(t, f)
	require.Len(t, texts, len(want))
	uses := regexp.MustCompile(`<use xlink:href="#([a-z0-9]+)" x="(\d+)"/>`)
	for i, m := range texts {
		letters := uses.FindAllStringSubmatch(m[4], -1)
		visible := []rune(strings.ReplaceAll(want[i].Text, " ", ""))
		require.Len(t, letters, len(visible), want[i].Text)
		for k, letter := range letters {
			require.Contains(t, outlines, letter[1], "%q of %q", visible[k], want[i].Text)
		}
		scale, err := strconv.ParseFloat(m[3], 64)
		require.NoError(t, err)
		last, err := strconv.ParseFloat(letters[len(letters)-1][2], 64)
		require.NoError(t, err)
		face := want[i].Face
		end := face.Width(want[i].Text) - face.Width(string(visible[len(visible)-1]))
		assert.InDelta(t, end.Points(), last*scale, 0.05, "where the last letter of %q begins, points", want[i].Text)
	}
}

// Each angle has a strip of its own, with the curves of both polarisations in it.
func TestResidualsHaveAStripForEachAngle(t *testing.T) {
	f := &report.Fit{Polarisation: []string{"s", "p", "s", "p", "s"}}
	for _, angle := range []float64{8, 8, 60, 60, 45} {
		f.Curves = append(f.Curves, made(181, angle, 0.02))
	}
	d := parse(t, f)
	var names []string
	for _, text := range d.texts {
		if text.turned && strings.HasSuffix(text.text, "°") {
			names = append(names, text.text)
		}
	}
	assert.Equal(t, []string{"8°", "60°", "45°"}, names, "strips from top to bottom")
	assert.Len(t, d.all("stroke:#555555;stroke-width:0.8"), 3, "zero lines")
	var heights []float64
	for i := range f.Curves {
		lower, upper := extent(d.longest(t, faint(report.Palette()[i])))
		heights = append(heights, (lower+upper)/2)
	}
	assert.InDelta(t, heights[0], heights[1], 20, "both polarisations at 8° in one strip")
	assert.Greater(t, heights[1], heights[2]+40, "60° below 8°")
	assert.Greater(t, heights[2], heights[4]+40, "45°, which comes last, lowest")
}

// Curves of equal colour, of which dots do not tell one from the other, do not share a
// strip.
func TestNoStripHasAColourTwice(t *testing.T) {
	f := &report.Fit{}
	for range 9 {
		f.Curves = append(f.Curves, made(181, 8, 0.02))
	}
	assert.Len(t, parse(t, f).all("stroke:#555555;stroke-width:0.8"), 2, "zero lines of strips")
}

func TestTextIsEscaped(t *testing.T) {
	f := spot(1)
	f.Title = "a<b> & \"font-family:Liberation Sans; \x00\x1b\xff\uFFFE\n\tc"
	d := parse(t, f)
	assert.Equal(t, "a<b> & \"font-family:Liberation Sans; \uFFFD c", d.texts[0].text)
}

// Every value in a legend, title or caption that a person reads must be in the
// font: a glyph that is missing is drawn as an empty box.
func TestFontHasTheSigns(t *testing.T) {
	face := textsOf(t, spot(1))[0].Face
	for _, r := range "±λ°−…²×µθ" {
		index, err := face.Face.GlyphIndex(nil, r)
		require.NoError(t, err)
		assert.NotZero(t, index, "%q", r)
	}
}

func TestNonFiniteValues(t *testing.T) {
	bad := []float64{math.NaN(), math.Inf(1), math.Inf(-1), math.MaxFloat64, -math.MaxFloat64, 1e9}
	places := map[string]func(c *film.FittedCurve, i int, v float64){
		"wavelength": func(c *film.FittedCurve, i int, v float64) { c.NM[i] = v },
		"measured":   func(c *film.FittedCurve, i int, v float64) { c.Measured[i] = v },
		"fitted":     func(c *film.FittedCurve, i int, v float64) { c.Fitted[i] = v },
		"band":       func(c *film.FittedCurve, i int, v float64) { c.Band[i] = v },
	}
	for name, put := range places {
		for _, v := range bad {
			t.Run(fmt.Sprint(name, " ", v), func(t *testing.T) {
				some, all := spot(2), spot(2)
				put(&some.Curves[0], 7, v)
				put(&some.Curves[1], 8, v)
				for i := range all.Curves[0].NM {
					put(&all.Curves[0], i, v)
					put(&all.Curves[1], i, v)
				}
				assertInside(t, parse(t, some))
				assert.Contains(t, string(drawSVG(t, some)), "(not finite, or too large): 2.")
				assertInside(t, parse(t, all))
				assert.Contains(t, string(drawSVG(t, all)), "(not finite, or too large): 362.")
				if v == math.MaxFloat64 {
					require.NoError(t, some.Write(&bytes.Buffer{}, "png"))
				}
			})
		}
	}
	for _, v := range append(bad, 0, -1) {
		f := spot(1)
		f.Curves[0].AngleDeg, f.Curves[0].NoiseSD = v, v
		assertInside(t, parse(t, f))
	}
}

func TestTickLabels(t *testing.T) {
	for name, c := range map[string]struct {
		lo, hi float64
		most   int
		want   string
	}{
		"wavelengths":    {369.2, 1110.8, 9, "400 500 600 700 800 900 1000 1100"},
		"percent":        {0, 3.2, 8, "0.0 0.5 1.0 1.5 2.0 2.5 3.0"},
		"both sides":     {-0.11, 0.11, 5, "−0.10 −0.05 0.00 0.05 0.10"},
		"tenths":         {-0.3, 0.3, 5, "−0.2 0.0 0.2"},
		"very small":     {0, 0.01, 8, "0.000 0.002 0.004 0.006 0.008 0.010"},
		"large":          {0, 1e6, 5, "0 200000 400000 600000 800000 1000000"},
		"hundredths":     {0, 0.06, 6, "0.00 0.01 0.02 0.03 0.04 0.05 0.06"},
		"far from zero":  {8.031, 8.049, 5, "8.035 8.040 8.045"},
		"range of a dot": {549, 551, 9, "549.0 549.5 550.0 550.5 551.0"},
	} {
		t.Run(name, func(t *testing.T) {
			assert.Equal(t, c.want, strings.Join(report.TickLabels(c.lo, c.hi, c.most), " "))
		})
	}
}
