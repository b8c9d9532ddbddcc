// Package report draws the figures of a study.
//
// Start with [Fit], the figure of one fitted spot, or [Changes], the figure of the
// changes of groups of coupons. A figure is written as SVG, PNG or PDF, or as the SVG that a page
// of HTML holds ([FormatPage]); the same figure always gives the same bytes. Below each figure stand
// in a quiet line how much it is of, and its [study.Stamp]. Reflectances are given as fractions, wavelengths in nm,
// changes in percentage points (pp); the axes show percent, nm and pp. Curves are
// distinguished by colour, dash pattern and mark together, so that a figure can be read
// with any colour vision and in print without colour.
//
// Text is set in Liberation Sans, which is built in. The files hold the
// drawn letters, so that a figure looks the same where the font is not installed. An
// SVG also holds its texts as title and description, for search and for screen readers.
package report

import (
	"bytes"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"
)

// The formats of figures for the pages of a browser: SVG that stands in a page of HTML. Its text is text, it has no style
// of its own that a strict content security policy would not let pass, and [PageStyle] gives it the colours of
// the page, light or dark. The narrow one is for windows of less than 640 px.
const (
	FormatPage   = "page"
	FormatNarrow = "page-narrow"
)

// The formats of figures that a page of a browser names as images: those above, with the style in them. They are light or
// dark as the image is on the page that names them.
const (
	FormatImage       = "image"
	FormatImageNarrow = "image-narrow"
)

const (
	formatSVG = "svg"
	formatPNG = "png"
	formatPDF = "pdf"

	pngDPI = 144 // dots per inch
)

// Formats are the formats of files, which are also the endings of their names. A PNG has 144 dots per inch.
func Formats() []string { return []string{formatSVG, formatPNG, formatPDF} }

// FormatOf returns the format of a figure file, one of [Formats], from the ending of its name, in either case of
// letters. Another ending is an error.
func FormatOf(path string) (string, error) {
	ending := filepath.Ext(path)
	format := strings.ToLower(strings.TrimPrefix(ending, "."))
	if !slices.Contains(Formats(), format) {
		return "", fmt.Errorf("the name of a figure ends in .svg, .png or .pdf, not in %q", ending)
	}
	return format, nil
}

// encode draws the sheet in a format and writes it to w.
func (s *sheet) encode(w io.Writer, format string) error {
	var page vg.CanvasWriterTo
	title, width, height := strings.Join(s.title, " "), s.width, s.height()
	switch format {
	case formatSVG:
		page = newSVGPage(title, width, height)
	case formatPNG:
		page = vgimg.PngCanvas{Canvas: vgimg.NewWith(vgimg.UseWH(width, height), vgimg.UseDPI(pngDPI))}
	case formatPDF:
		page = newPDFPage(width, height, s.made)
	case FormatPage, FormatNarrow, FormatImage, FormatImageNarrow:
		page = newWebPage(title, width, height, format == FormatImage || format == FormatImageNarrow)
	default:
		return fmt.Errorf("report: a figure is written as svg, png, pdf or page, not as %q", format)
	}
	s.paint(draw.New(page))
	var buf bytes.Buffer
	if _, err := page.WriteTo(&buf); err != nil {
		return fmt.Errorf("report: could not encode the figure: %w", err)
	}
	if _, err := w.Write(buf.Bytes()); err != nil {
		return fmt.Errorf("report: could not write the figure: %w", err)
	}
	return nil
}
