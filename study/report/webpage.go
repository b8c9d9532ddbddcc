package report

import (
	"bytes"
	"errors"
	"fmt"
	"html"
	"image/color"
	"io"
	"regexp"
	"strings"

	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/vgsvg"
)

// webPage is an SVG canvas for a figure that stands in a page of HTML, see [FormatPage], or that a page names, see
// [FormatImage].
type webPage struct {
	*vgsvg.Canvas
	title         string
	styled        bool     // it has its style in itself
	texts         []string // in the order in which they are drawn
	width, height vg.Length
}

func newWebPage(title string, width, height vg.Length, styled bool) *webPage {
	return &webPage{Canvas: vgsvg.New(width, height), title: title, width: width, height: height, styled: styled}
}

// FillString implements vg.Canvas.
func (p *webPage) FillString(face font.Face, at vg.Point, text string) {
	p.Canvas.FillString(face, at, text)
	p.texts = append(p.texts, text)
}

var (
	styleAttribute = regexp.MustCompile(`\s+style="([^"]*)"`)
	hexColour      = regexp.MustCompile(`#[0-9A-F]{6}`)
)

// WriteTo implements io.WriterTo.
func (p *webPage) WriteTo(w io.Writer) (int64, error) {
	var buf bytes.Buffer
	if _, err := p.Canvas.WriteTo(&buf); err != nil {
		return 0, err
	}
	_, drawing, found := bytes.Cut(buf.Bytes(), []byte("<g "))
	if !found {
		return 0, errors.New("the SVG has no drawing")
	}
	drawing = styleAttribute.ReplaceAllFunc(drawing, attributesOf)
	drawing = hexColour.ReplaceAllFunc(drawing, func(hex []byte) []byte { return []byte(knownColour(string(hex))) })
	var out bytes.Buffer
	title := p.title
	if title == "" && len(p.texts) > 0 {
		title = p.texts[0]
	}
	fmt.Fprintf(&out, `<svg class="wane-figure" xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %.5g %.5g" role="img" `+
		`aria-label="%s" font-family="Liberation Sans, Arial, Helvetica, sans-serif">`+"\n",
		p.width.Points(), p.height.Points(), html.EscapeString(title))
	if p.styled {
		out.WriteString("<style>" + PageStyle() + "</style>\n")
	}
	out.WriteString("<g ")
	out.Write(drawing)
	n, err := w.Write(out.Bytes())
	return int64(n), err
}

// attributesOf turns a style into attributes: a strict content security policy lets no style pass that stands in a
// page.
func attributesOf(style []byte) []byte {
	var out strings.Builder
	properties := string(styleAttribute.FindSubmatch(style)[1])
	if !strings.Contains(properties, "fill:") {
		out.WriteString(` fill="#000000"`) // which the canvas does not write
	}
	for _, property := range strings.Split(properties, ";") {
		name, value, _ := strings.Cut(property, ":")
		switch {
		case name == "" || name == "font-family" || value == "normal":
		case name == "font-size":
			fmt.Fprintf(&out, ` font-size="%s"`, strings.TrimSuffix(value, "px"))
		default:
			fmt.Fprintf(&out, ` %s="%s"`, name, value)
		}
	}
	return []byte(out.String())
}

// pageColour is a colour of figures with what stands for it on a dark page.
type pageColour struct{ light, dark color.NRGBA }

// pageColours returns all colours of figures. A search by computer found those of curves on dark pages as it found
// those of [palette], with hues near to theirs; the tests check them on the dark ground.
func pageColours() []pageColour {
	dark := darkPalette()
	colours := []pageColour{
		{color.NRGBA{0xFF, 0xFF, 0xFF, 0xFF}, darkGround()},
		{color.NRGBA{0, 0, 0, 0xFF}, color.NRGBA{0x8A, 0x90, 0xA0, 0xFF}},
		{ink(), color.NRGBA{0xE7, 0xE6, 0xE1, 0xFF}}, {quiet(), color.NRGBA{0xA9, 0xAE, 0xBB, 0xFF}},
		{rule(), color.NRGBA{0x36, 0x3B, 0x47, 0xFF}},
	}
	for i, light := range palette() {
		colours = append(colours, pageColour{light, dark[i]})
	}
	return colours
}

func darkGround() color.NRGBA { return color.NRGBA{0x1C, 0x1F, 0x26, 0xFF} }

func hexOf(c color.NRGBA) string { return fmt.Sprintf("#%02X%02X%02X", c.R, c.G, c.B) }

// mostOff is how far the parts of a colour that a canvas wrote can be from those that it was given: a translucent one
// is stored as what shows of it, in whole steps.
const mostOff = 12

// knownColour returns the colour of figures that a canvas wrote.
func knownColour(hex string) string {
	var r, g, b int
	if _, err := fmt.Sscanf(hex, "#%02X%02X%02X", &r, &g, &b); err != nil {
		return hex
	}
	nearest, least := hex, mostOff+1
	for _, c := range pageColours() {
		off := max(abs(r-int(c.light.R)), abs(g-int(c.light.G)), abs(b-int(c.light.B)))
		if off < least {
			nearest, least = hexOf(c.light), off
		}
	}
	return nearest
}

func abs(x int) int { return max(x, -x) }

// PageStyle returns the style sheet of the figures of a page (class wane-figure). The colours are custom properties,
// --wane-3C48B4 for the colour #3C48B4 and so on: light by default, and dark where the browser or the attribute
// data-theme of the root asks for it. For what a page draws by itself the style of curve i, from 0 to 7, stands in
// --wane-line-i, its colour, and --wane-dash-i, its dash pattern in points.
func PageStyle() string {
	var out, dark, light strings.Builder
	for i, c := range palette() {
		fmt.Fprintf(&light, "--wane-line-%d:%s;--wane-dash-%d:%s;", i, hexOf(c), i, dashWords(dashes()[i]))
		fmt.Fprintf(&dark, "--wane-line-%d:%s;", i, hexOf(darkPalette()[i]))
	}
	for _, c := range pageColours() {
		hex := hexOf(c.light)
		name := "--wane-" + hex[1:]
		for _, attribute := range []string{"fill", "stroke"} {
			fmt.Fprintf(&out, ".wane-figure [%s=\"%s\"]{%s:var(%s,%s)}\n", attribute, hex, attribute, name, hex)
		}
		fmt.Fprintf(&dark, "%s:%s;", name, hexOf(c.dark))
	}
	return ":root{" + light.String() + "}\n.wane-figure{display:block;width:100%;height:auto}\n" + out.String() +
		"@media screen and (prefers-color-scheme:dark){:root:not([data-theme=\"light\"]){" + dark.String() + "}}\n" +
		"@media screen{:root[data-theme=\"dark\"]{" + dark.String() + "}}\n"
}

// dashWords writes a dash pattern as a style sheet does.
func dashWords(pattern []vg.Length) string {
	if len(pattern) == 0 {
		return "none"
	}
	words := make([]string, len(pattern))
	for i, length := range pattern {
		words[i] = fmt.Sprintf("%g", length.Points())
	}
	return strings.Join(words, " ")
}
