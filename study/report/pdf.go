package report

import (
	"bytes"
	"io"
	"regexp"
	"time"

	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/vgpdf"
)

// pdfPage is a PDF canvas that fills the outlines of letters: the fonts of the canvas below have no minus sign and no
// letters from beyond Western Europe.
type pdfPage struct {
	*vgpdf.Canvas
	made time.Time // the day that the file states; zero: the epoch
}

func newPDFPage(width, height vg.Length, made time.Time) *pdfPage {
	return &pdfPage{vgpdf.New(width, height), made}
}

// FillString implements vg.Canvas.
func (p *pdfPage) FillString(face font.Face, at vg.Point, text string) {
	if path := pathOfText(face, at, text); len(path) > 0 {
		p.Fill(path)
	}
}

// pdfDates match the times of a PDF.
var pdfDates = regexp.MustCompile(`/(?:CreationDate|ModDate) \(D:(\d{14})`)

// WriteTo implements io.WriterTo. The file states the day of the stamp, not the time of the machine.
func (p *pdfPage) WriteTo(w io.Writer) (int64, error) {
	var buf bytes.Buffer
	if _, err := p.Canvas.WriteTo(&buf); err != nil {
		return 0, err
	}
	day := p.made
	if day.IsZero() {
		day = time.Unix(0, 0)
	}
	file := buf.Bytes()
	for _, at := range pdfDates.FindAllSubmatchIndex(file, -1) {
		copy(file[at[2]:at[3]], day.UTC().Format("20060102")+"000000")
	}
	n, err := w.Write(file)
	return int64(n), err
}

// pathOfText returns the outlines of letters. Their baseline begins at the given point, and the letters have the
// distances of the face.
func pathOfText(face font.Face, at vg.Point, text string) (path vg.Path) {
	scale := face.Font.Size / vg.Length(face.Face.UnitsPerEm())
	eachLetter(face, text, func(buf *sfnt.Buffer, glyph sfnt.GlyphIndex, x int) {
		path = appendLetter(path, segmentsOf(buf, face, glyph), at.Add(vg.Point{X: vg.Length(x) * scale}), scale)
	})
	return path
}

// appendLetter appends the outline of a letter, whose font has y downwards.
func appendLetter(path vg.Path, segments sfnt.Segments, at vg.Point, scale vg.Length) vg.Path {
	point := func(p fixed.Point26_6) vg.Point {
		return vg.Point{X: at.X + vg.Length(p.X)*scale, Y: at.Y - vg.Length(p.Y)*scale}
	}
	for i, s := range segments {
		switch s.Op {
		case sfnt.SegmentOpMoveTo:
			if i > 0 {
				path.Close()
			}
			path.Move(point(s.Args[0]))
		case sfnt.SegmentOpLineTo:
			path.Line(point(s.Args[0]))
		case sfnt.SegmentOpQuadTo:
			path.QuadTo(point(s.Args[0]), point(s.Args[1]))
		case sfnt.SegmentOpCubeTo:
			path.CubeTo(point(s.Args[0]), point(s.Args[1]), point(s.Args[2]))
		}
	}
	if len(segments) > 0 {
		path.Close()
	}
	return path
}
