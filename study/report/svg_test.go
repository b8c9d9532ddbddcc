package report_test

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"image/color"
	"io"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"wane/study/report"
)

// drawing is what an SVG figure holds. y grows upwards from the foot of the page,
// as in the group in which the figure is drawn.
type drawing struct {
	width, height float64
	texts         []svgText
	paths         []svgPath
}

type svgText struct {
	text          string
	x, y          float64 // of the left end of the baseline
	width, height float64 // width of the letters and size of the font
	turned        bool
}

type svgPath struct {
	points [][2]float64
	style  string
}

// figure is what the package draws.
type figure interface {
	Write(w io.Writer, format string) error
}

// textsOf returns the texts of a figure as they are drawn.
func textsOf(t *testing.T, f figure) []report.Text {
	t.Helper()
	switch f := f.(type) {
	case *report.Fit:
		return report.TextsOf(f)
	case *report.Changes:
		return report.TextsOf(f)
	case *report.Characteristic:
		return report.TextsOf(f)
	case *report.Sessions:
		return report.TextsOf(f)
	case *report.Budget:
		return report.TextsOf(f)
	case *report.Pulls:
		return report.TextsOf(f)
	case *report.Predicted:
		return report.TextsOf(f)
	case *report.Sunlight:
		return report.TextsOf(f)
	case *report.Levels:
		return report.TextsOf(f)
	}
	t.Fatalf("no figure: %T", f)
	return nil
}

func drawSVG(t *testing.T, f figure) []byte {
	t.Helper()
	var buf bytes.Buffer
	require.NoError(t, f.Write(&buf, "svg"))
	return buf.Bytes()
}

// parse reads a figure; it must be well-formed XML.
func parse(t *testing.T, f figure) *drawing {
	t.Helper()
	var root struct {
		ViewBox string `xml:"viewBox,attr"`
		Groups  []node `xml:"g"`
	}
	require.NoError(t, xml.Unmarshal(drawSVG(t, f), &root))
	d := &drawing{}
	_, err := fmt.Sscanf(root.ViewBox, "0 0 %f %f", &d.width, &d.height)
	require.NoError(t, err)
	require.Len(t, root.Groups, 1)
	d.collect(t, &root.Groups[0])
	for _, text := range textsOf(t, f) {
		d.texts = append(d.texts, svgText{
			text: text.Text, x: text.X, y: text.Y, turned: text.Turned,
			width: text.Face.Width(text.Text).Points(), height: text.Face.Font.Size.Points(),
		})
	}
	return d
}

type node struct {
	Groups []node `xml:"g"`
	Paths  []struct {
		D     string `xml:"d,attr"`
		Style string `xml:"style,attr"`
	} `xml:"path"`
}

func (d *drawing) collect(t *testing.T, n *node) {
	for _, path := range n.Paths {
		d.paths = append(d.paths, svgPath{points(t, path.D), path.Style})
	}
	for i := range n.Groups {
		d.collect(t, &n.Groups[i])
	}
}

// points returns the end points of the moves and lines of a path; those of arcs
// are left out.
func points(t *testing.T, d string) [][2]float64 {
	t.Helper()
	var out [][2]float64
	for _, m := range regexp.MustCompile(`[ML]([^,MLAZ]+),([^,MLAZ]+)`).FindAllStringSubmatch(d, -1) {
		x, err := strconv.ParseFloat(m[1], 64)
		require.NoError(t, err)
		y, err := strconv.ParseFloat(m[2], 64)
		require.NoError(t, err)
		out = append(out, [2]float64{x, y})
	}
	return out
}

// label returns the height of the baseline of the one text that reads so.
func (d *drawing) label(t *testing.T, text string) float64 {
	t.Helper()
	return d.text(t, text).y
}

// text returns the one text that reads so.
func (d *drawing) text(t *testing.T, text string) svgText {
	t.Helper()
	var found []svgText
	for _, s := range d.texts {
		if s.text == text {
			found = append(found, s)
		}
	}
	require.Len(t, found, 1, "texts that read %q", text)
	return found[0]
}

// all returns the paths whose style holds all the given words.
func (d *drawing) all(words ...string) []svgPath {
	var out []svgPath
	for _, p := range d.paths {
		fits := true
		for _, w := range words {
			fits = fits && strings.Contains(p.style, w)
		}
		if fits {
			out = append(out, p)
		}
	}
	return out
}

// longest returns the points of the path with most of them among those whose
// style holds all the given words.
func (d *drawing) longest(t *testing.T, words ...string) [][2]float64 {
	t.Helper()
	var best [][2]float64
	for _, p := range d.all(words...) {
		if len(p.points) > len(best) {
			best = p.points
		}
	}
	require.NotEmpty(t, best, "paths with %v", words)
	return best
}

// solid and faint are the words of an SVG style for a colour of the palette, opaque
// and translucent. The SVG canvas cuts the channels of translucent colours to the
// one below.
func solid(c color.NRGBA) string {
	return fmt.Sprintf("stroke:#%02X%02X%02X;stroke-width", c.R, c.G, c.B)
}

func faint(c color.NRGBA) string {
	return fmt.Sprintf("stroke:#%02X%02X%02X;stroke-opacity", max(c.R, 1)-1, max(c.G, 1)-1, max(c.B, 1)-1)
}
