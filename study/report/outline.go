package report

import (
	"bytes"
	"errors"
	"fmt"
	"html"
	"io"
	"regexp"
	"slices"
	"strings"

	xfont "golang.org/x/image/font"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/vgsvg"
)

// svgPage is an SVG canvas that draws text as the outlines of its letters. Such a figure
// looks the same on a computer without the font. The texts themselves are the description
// of the figure.
type svgPage struct {
	*vgsvg.Canvas
	title   string
	texts   []string          // in the order in which they are drawn
	drawn   []string          // the elements that draw the texts
	letters map[string]string // outlines by their names
	names   []string          // of the outlines, in the order in which they come first
}

func newSVGPage(title string, width, height vg.Length) *svgPage {
	return &svgPage{Canvas: vgsvg.New(width, height), title: title, letters: map[string]string{}}
}

// FillString implements vg.Canvas.
func (p *svgPage) FillString(face font.Face, at vg.Point, text string) {
	p.Canvas.FillString(face, at, text)
	p.texts = append(p.texts, text)
	p.drawn = append(p.drawn, p.drawText(face, at, text))
}

// textElement matches a text as the canvas below writes it, and its colour. The canvas
// writes the sign < of a text as &lt;.
var textElement = regexp.MustCompile(`<text [^<]*?(?:fill:(#[0-9A-F]{6})[^<]*)?</text>`)

// WriteTo implements io.WriterTo. Title, description and letters stand before the drawing.
func (p *svgPage) WriteTo(w io.Writer) (int64, error) {
	var buf bytes.Buffer
	if _, err := p.Canvas.WriteTo(&buf); err != nil {
		return 0, err
	}
	head, drawing, found := bytes.Cut(buf.Bytes(), []byte("<g "))
	if !found {
		return 0, errors.New("the SVG has no drawing")
	}
	next := 0
	drawing = textElement.ReplaceAllFunc(drawing, func(element []byte) []byte {
		colour := "#000000"
		if m := textElement.FindSubmatch(element); len(m[1]) > 0 {
			colour = string(m[1])
		}
		next++
		return fmt.Appendf(nil, `<g fill="%s"%s`, colour, p.drawn[next-1])
	})
	if next != len(p.drawn) {
		return 0, fmt.Errorf("the SVG has %d texts, and %d were drawn", next, len(p.drawn))
	}
	n, err := w.Write(slices.Concat(head, p.words(), p.outlines(), []byte("<g "), drawing))
	return int64(n), err
}

// words returns the title and the description, a line for each text.
func (p *svgPage) words() []byte {
	var out []byte
	if p.title != "" {
		out = fmt.Appendf(out, "<title>%s</title>\n", html.EscapeString(p.title))
	}
	return fmt.Appendf(out, "<desc>%s</desc>\n", html.EscapeString(strings.Join(p.texts, "\n")))
}

// outlines returns the outlines of the letters that are used.
func (p *svgPage) outlines() []byte {
	out := []byte("<defs>\n")
	for _, name := range p.names {
		out = fmt.Appendf(out, "<path id=%q d=%q/>\n", name, p.letters[name])
	}
	return append(out, "</defs>\n"...)
}

// drawText returns the rest of an element that draws text. Its baseline begins at the given
// point, and the letters have the distances of the face. A letter that is not in the font is
// drawn as the font's sign for a missing letter. drawText panics if the font, which is built
// in, is damaged.
func (p *svgPage) drawText(face font.Face, at vg.Point, text string) string {
	var out strings.Builder
	scale := face.Font.Size.Points() / float64(face.Face.UnitsPerEm())
	if face.Font.Size == footSize {
		out.WriteString(` class="foot"`)
	}
	fmt.Fprintf(&out, ` transform="translate(%.5g, %.5g) scale(%.5g, %.5g)">`, at.X.Points(), at.Y.Points(), scale,
		-scale)
	eachLetter(face, text, func(buf *sfnt.Buffer, glyph sfnt.GlyphIndex, x int) {
		if name := p.letter(buf, face, glyph); name != "" {
			fmt.Fprintf(&out, `<use xlink:href="#%s" x="%d"/>`, name, x)
		}
	})
	return out.String() + "</g>"
}

// eachLetter visits the letters of a text, each with its place behind the first one in units of the font.
func eachLetter(face font.Face, text string, visit func(buf *sfnt.Buffer, glyph sfnt.GlyphIndex, x int)) {
	var (
		buf      sfnt.Buffer
		unit     = fixed.Int26_6(face.Face.UnitsPerEm()) // number of font units in the size
		x        = 0
		previous sfnt.GlyphIndex
	)
	for i, letter := range []rune(text) {
		glyph, err := face.Face.GlyphIndex(&buf, letter)
		mustRead(err)
		if i > 0 {
			kern, err := face.Face.Kern(&buf, previous, glyph, unit, xfont.HintingNone)
			if !errors.Is(err, sfnt.ErrNotFound) {
				mustRead(err)
			}
			x += int(kern)
		}
		visit(&buf, glyph, x)
		advance, err := face.Face.GlyphAdvance(&buf, glyph, unit, xfont.HintingNone)
		mustRead(err)
		x, previous = x+int(advance), glyph
	}
}

// letter keeps the outline of a letter and returns its name; "" for a space.
func (p *svgPage) letter(buf *sfnt.Buffer, face font.Face, glyph sfnt.GlyphIndex) string {
	name := fmt.Sprintf("r%d", glyph)
	if face.Font.Weight == xfont.WeightBold {
		name = fmt.Sprintf("b%d", glyph)
	}
	if _, known := p.letters[name]; known {
		return name
	}
	segments := segmentsOf(buf, face, glyph)
	if len(segments) == 0 {
		return ""
	}
	p.letters[name] = outlineOfLetter(segments)
	p.names = append(p.names, name)
	return name
}

// segmentsOf returns the outline of a letter in units of the font.
func segmentsOf(buf *sfnt.Buffer, face font.Face, glyph sfnt.GlyphIndex) sfnt.Segments {
	segments, err := face.Face.LoadGlyph(buf, glyph, fixed.Int26_6(face.Face.UnitsPerEm()), nil)
	mustRead(err)
	return segments
}

// outlineOfLetter writes the outline of a letter as path data, in units of the font. y
// grows downwards.
func outlineOfLetter(segments sfnt.Segments) string {
	commands := map[sfnt.SegmentOp]struct {
		letter string
		points int
	}{sfnt.SegmentOpMoveTo: {"M", 1}, sfnt.SegmentOpLineTo: {"L", 1}, sfnt.SegmentOpQuadTo: {"Q", 2},
		sfnt.SegmentOpCubeTo: {"C", 3}}
	var out strings.Builder
	for i, s := range segments {
		c := commands[s.Op]
		if i > 0 && s.Op == sfnt.SegmentOpMoveTo {
			out.WriteString("Z")
		}
		for k, at := range s.Args[:c.points] {
			separator := " "
			if k == 0 {
				separator = c.letter
			}
			fmt.Fprintf(&out, "%s%d %d", separator, int(at.X), int(at.Y))
		}
	}
	return out.String() + "Z"
}

// mustRead panics on an error of the font that is built in.
func mustRead(err error) {
	if err != nil {
		panic(fmt.Errorf("report: could not read the built-in font: %w", err))
	}
}
