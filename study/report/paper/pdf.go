package paper

import (
	"bytes"
	"fmt"
	"io"
	"maps"
	"slices"
	"strings"

	"codeberg.org/go-fonts/liberation/liberationsansbold"
	"codeberg.org/go-fonts/liberation/liberationsansregular"
	"codeberg.org/go-pdf/fpdf"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/text/unicode/bidi"
)

// Lengths in mm, sizes of letters in points.
const (
	margin   = 14.0
	footRoom = 8.0 // above the lower margin
	point    = 25.4 / 72

	bodySize  = 9.5
	smallSize = 8.0
	tickBox   = 3.4
	tickGap   = 1.3
	padding   = 1.0
	leastRow  = 6.5 // of a table, so that a hand can write in it
)

// PDF writes the document as PDF. missing are the characters that the font does not have.
func (d *Document) PDF(w io.Writer) (missing []rune, err error) {
	pages := 0
	for range 2 { // the first time counts the pages
		p, err := newPDFWriter(d, pages)
		if err != nil {
			return nil, err
		}
		for _, b := range d.Blocks {
			if err := b.pdf(p); err != nil {
				return nil, err
			}
		}
		var out bytes.Buffer
		if err := p.f.Output(&out); err != nil {
			return nil, fmt.Errorf("paper: could not make the PDF: %w", err)
		}
		if pages > 0 {
			_, err = w.Write(out.Bytes())
			return slices.Sorted(maps.Keys(p.missing)), err
		}
		pages = p.f.PageCount()
	}
	return nil, nil
}

// pdfWriter writes blocks below one another.
type pdfWriter struct {
	f       *fpdf.Fpdf
	d       *Document
	pages   int // of the whole document; 0: not known yet
	y       float64
	fresh   bool // nothing is on the page yet
	font    *sfnt.Font
	room    sfnt.Buffer
	missing map[rune]bool
}

func newPDFWriter(d *Document, pages int) (*pdfWriter, error) {
	font, err := sfnt.Parse(liberationsansregular.TTF)
	if err != nil {
		return nil, fmt.Errorf("paper: could not read the font: %w", err)
	}
	f := fpdf.NewCustom(&fpdf.InitType{UnitStr: "mm", Size: fpdf.SizeType{Wd: d.Size.Width, Ht: d.Size.Height}})
	f.AddUTF8FontFromBytes("sans", "", liberationsansregular.TTF)
	f.AddUTF8FontFromBytes("sans", "B", liberationsansbold.TTF)
	f.SetCreationDate(d.Made)
	f.SetModificationDate(d.Made)
	f.SetCatalogSort(true)
	f.SetTitle(plain(d.Title), true)
	f.SetAutoPageBreak(false, 0)
	f.SetLineWidth(0.2)
	p := &pdfWriter{f: f, d: d, pages: pages, font: font, missing: map[rune]bool{}}
	p.newPage()
	return p, f.Error()
}

func (p *pdfWriter) width() float64 { return p.d.Size.Width - 2*margin }

func (p *pdfWriter) bottom() float64 { return p.d.Size.Height - margin - footRoom }

// newPage begins a page, with its foot.
func (p *pdfWriter) newPage() {
	p.f.AddPage()
	p.y, p.fresh = margin, true
	if p.d.Footer == "" {
		return
	}
	number := fmt.Sprintf("page %d of %d", p.f.PageNo(), p.pages)
	foot := p.d.Size.Height - margin
	p.style("", smallSize)
	wide := p.measure(number)
	p.text(p.d.Size.Width-margin-wide, foot, number)
	lines := Wrap(p.known(p.d.Footer), p.width()-wide-5, p.measure)
	p.text(margin, foot, lines[0])
}

// need begins a page if so much room is not left on this one.
func (p *pdfWriter) need(height float64) (began bool) {
	if p.y+height <= p.bottom() || p.fresh {
		return false
	}
	p.newPage()
	return true
}

// style chooses the font: "" or "B", and its size.
func (p *pdfWriter) style(style string, size float64) { p.f.SetFont("sans", style, size) }

// measure returns the width of a text in the font that was chosen.
func (p *pdfWriter) measure(text string) float64 { return p.f.GetStringWidth(text) }

// known returns a text in one line, with a box for each character that the font does not have.
func (p *pdfWriter) known(text string) string {
	return strings.Map(func(r rune) rune {
		if at, err := p.font.GlyphIndex(&p.room, r); err == nil && at != 0 && r <= 0xFFFF { // fpdf knows no others
			return r
		}
		p.missing[r] = true
		return '□'
	}, plain(text))
}

// text writes a line of known characters with its base at y.
func (p *pdfWriter) text(x, y float64, line string) {
	p.f.Text(x, y, visual(line))
	p.fresh = false
}

// visual returns the characters of a line from left to right as they are seen: letters of scripts that run from right
// to left come in the other order. Source: Unicode Standard Annex 9, by golang.org/x/text/unicode/bidi.
func visual(line string) string {
	turns := func(r rune) bool {
		of, _ := bidi.LookupRune(r)
		return of.Class() == bidi.R || of.Class() == bidi.AL
	}
	if !strings.ContainsFunc(line, turns) {
		return line
	}
	var p bidi.Paragraph
	if _, err := p.SetString(line, bidi.DefaultDirection(bidi.LeftToRight)); err != nil {
		return line
	}
	order, err := p.Order()
	if err != nil {
		return line
	}
	var b strings.Builder
	for i := range order.NumRuns() {
		run := order.Run(i)
		if run.Direction() == bidi.RightToLeft {
			b.WriteString(bidi.ReverseString(run.String()))
		} else {
			b.WriteString(run.String())
		}
	}
	return b.String()
}

// lineHeight returns the distance of lines of a size.
func lineHeight(size float64) float64 { return 1.25 * size * point }

// lines writes lines below one another, the first below y, and returns the lower end of the last one.
func (p *pdfWriter) lines(x, y, size float64, lines []string) float64 {
	for i, line := range lines {
		p.text(x, y+float64(i)*lineHeight(size)+0.95*size*point, line)
	}
	return y + float64(len(lines))*lineHeight(size)
}

// paragraph writes a text within a width, from page to page if it is long.
func (p *pdfWriter) paragraph(x, width, size float64, style, text string) {
	p.style(style, size)
	for _, line := range Wrap(p.known(text), width, p.measure) {
		if p.need(lineHeight(size)) {
			p.style(style, size)
		}
		p.y = p.lines(x, p.y, size, []string{line})
	}
}

func (b Heading) pdf(p *pdfWriter) error {
	size := 12.0
	if b.Level == 1 {
		size = 16
	}
	if !p.fresh {
		p.y += 2.5
	}
	p.need(lineHeight(size) + 3*lineHeight(bodySize)) // not alone at the foot
	p.paragraph(margin, p.width(), size, "B", b.Text)
	p.y += 1
	return nil
}

func (b Text) pdf(p *pdfWriter) error {
	p.paragraph(margin, p.width(), bodySize, "", string(b))
	p.y += 1
	return nil
}

func (b List) pdf(p *pdfWriter) error {
	p.items(margin, p.width(), b.Items, b.Numbered)
	return nil
}

// items writes texts with a mark before each.
func (p *pdfWriter) items(x, width float64, items []string, numbered bool) {
	for i, item := range items {
		mark, indent := "•", 4.0
		if numbered {
			mark, indent = fmt.Sprintf("%d.", i+1), 7.0
		}
		p.style("", bodySize)
		p.need(float64(min(3, len(Wrap(p.known(item), width-indent, p.measure)))) * lineHeight(bodySize))
		p.style("", bodySize)
		p.lines(x, p.y, bodySize, []string{mark})
		p.paragraph(x+indent, width-indent, bodySize, "", item)
		p.y += 0.6
	}
	p.y += 0.6
}

func (b Frame) pdf(p *pdfWriter) error {
	const inset = 2.5
	p.style("", bodySize)
	height := 2*inset + lineHeight(11)
	for _, item := range b.Items {
		height += float64(len(Wrap(p.known(item), p.width()-2*inset-4, p.measure)))*lineHeight(bodySize) + 0.6
	}
	p.y += 1
	whole := height < p.bottom()-margin
	if whole {
		p.need(height)
	}
	top := p.y
	p.y += inset
	p.paragraph(margin+inset, p.width()-2*inset, 11, "B", b.Heading)
	p.items(margin+inset, p.width()-2*inset, b.Items, false)
	p.y += inset - 0.6
	if whole {
		p.f.SetLineWidth(0.6)
		p.f.Rect(margin, top, p.width(), p.y-top, "D")
		p.f.SetLineWidth(0.2)
	}
	p.y += 2
	return nil
}

func (b Fields) pdf(p *pdfWriter) error {
	const gap = 4.0
	wide := (p.width() - gap) / 2
	for i := 0; i < len(b); i += 2 {
		pair := b[i:min(i+2, len(b))]
		height := 8.0
		texts := make([][]string, len(pair))
		for k, f := range pair {
			p.style("B", bodySize)
			texts[k] = Wrap(p.known(f.Value), wide-2*padding, p.measure)
			height = max(height, lineHeight(smallSize)+float64(len(texts[k]))*lineHeight(bodySize)+2*padding)
		}
		p.need(height + 1)
		for k, f := range pair {
			x := margin + float64(k)*(wide+gap)
			p.f.Rect(x, p.y, wide, height, "D")
			p.style("", smallSize)
			label := Wrap(p.known(f.Label), wide-2*padding, p.measure)
			y := p.lines(x+padding, p.y+0.4, smallSize, label[:1])
			p.style("B", bodySize)
			p.lines(x+padding, y, bodySize, texts[k])
		}
		p.y += height + 1
	}
	p.y += 1
	return nil
}

func (b Choice) pdf(p *pdfWriter) error {
	p.need(6)
	p.style("B", bodySize)
	label := p.known(b.Label)
	p.lines(margin, p.y, bodySize, []string{label})
	x := margin + p.measure(label) + 4
	for _, word := range b.Words {
		p.style("", bodySize)
		p.box(x, p.y+0.4, word == b.Chosen)
		x += tickBox + 1.2
		p.lines(x, p.y, bodySize, []string{p.known(word)})
		x += p.measure(word) + 6
	}
	p.y += 6
	return nil
}

// box draws a box to tick.
func (p *pdfWriter) box(x, y float64, ticked bool) {
	p.f.Rect(x, y, tickBox, tickBox, "D")
	if ticked {
		p.f.Line(x, y, x+tickBox, y+tickBox)
		p.f.Line(x, y+tickBox, x+tickBox, y)
	}
	p.fresh = false
}

func (NewPage) pdf(p *pdfWriter) error {
	if !p.fresh {
		p.newPage()
	}
	return nil
}
