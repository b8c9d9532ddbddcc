// Package report draws the figures of a study.
//
// Start with [Fit], the figure of one fitted spot, or [Changes], the figure of the
// changes of groups of coupons. A figure is written as SVG or as PNG; the same figure
// always gives the same bytes. Reflectances are given as fractions, wavelengths in nm,
// changes in percentage points (pp); the axes show percent, nm and pp. Curves are
// distinguished by colour, dash pattern and mark together, so that a figure can be read
// with any colour vision and in print without colour.
//
// Text is set in Liberation Sans, which is built in. A PNG and an SVG both hold the
// drawn letters, so that a figure looks the same where the font is not installed. An
// SVG also holds its texts as title and description, for search and for screen readers.
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
		return "", fmt.Errorf("the name of a figure ends in .svg or .png, not in %q", ending)
	}
	return format, nil
}

func isFormat(format string) bool { return format == formatSVG || format == formatPNG }

// encode runs paint on a page of the given size, in points, and writes the page to w. An
// SVG has the title.
func encode(w io.Writer, format, title string, width, height vg.Length, paint func(draw.Canvas)) error {
	var page vg.CanvasWriterTo
	svg := newSVGPage(title, width, height)
	switch format {
	case formatSVG:
		page = svg
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
	if _, err := w.Write(buf.Bytes()); err != nil {
		return fmt.Errorf("report: could not write the figure: %w", err)
	}
	return nil
}
