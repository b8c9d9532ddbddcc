// Package report draws the figures of a study.
//
// Start with [Fit], the figure of one fitted spot, or [Changes], the figure of how
// groups of coupons age. A figure is written as SVG or as PNG; the same figure
// always gives the same bytes. Reflectances come in as fractions, wavelengths in
// nm, changes in percentage points (pp); the axes show percent, nm and pp. Curves
// are told apart by colour, dash pattern and mark together, so that a figure reads
// with any colour vision and in print without colour.
//
// Text is set in Liberation Sans. A PNG holds the drawn letters; an SVG names the
// font and, after it, fonts of the same widths.
package report

import (
	"bytes"
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"
	"gonum.org/v1/plot/vg/vgsvg"
)

const (
	formatSVG = "svg"
	formatPNG = "png"

	pngDPI = 144 // dots per inch
)

// FormatOf returns the format of a figure file, "svg" or "png", from the ending
// of its name, in either case of letters. Another ending is an error.
func FormatOf(path string) (string, error) {
	ending := filepath.Ext(path)
	format := strings.ToLower(strings.TrimPrefix(ending, "."))
	if !isFormat(format) {
		return "", fmt.Errorf("report: the name of a figure ends in .svg or .png, not in %q", ending)
	}
	return format, nil
}

func isFormat(format string) bool { return format == formatSVG || format == formatPNG }

// encode runs paint on a page of the given size and writes the page to w.
func encode(w io.Writer, format string, width, height vg.Length, paint func(draw.Canvas)) error {
	var page vg.CanvasWriterTo
	switch format {
	case formatSVG:
		page = vgsvg.New(width, height)
	case formatPNG:
		page = vgimg.PngCanvas{Canvas: vgimg.NewWith(vgimg.UseWH(width, height), vgimg.UseDPI(pngDPI))}
	default:
		return fmt.Errorf("report: a figure is written as svg or png, not as %q", format)
	}
	paint(draw.New(page))
	var buf bytes.Buffer
	if _, err := page.WriteTo(&buf); err != nil {
		return fmt.Errorf("report: could not encode the figure: %w", err)
	}
	out := buf.Bytes()
	if format == formatSVG {
		out = withFallbackFonts(out)
	}
	if _, err := w.Write(out); err != nil {
		return fmt.Errorf("report: could not write the figure: %w", err)
	}
	return nil
}

// withFallbackFonts names, after the font that a text was measured with, others of
// the same widths. The quotation mark keeps it from touching text, in which SVG
// escapes that character.
func withFallbackFonts(svg []byte) []byte {
	return bytes.ReplaceAll(svg, []byte(`"font-family:Liberation Sans;`),
		[]byte(`"font-family:Liberation Sans,Arimo,Arial,Helvetica,sans-serif;`))
}
