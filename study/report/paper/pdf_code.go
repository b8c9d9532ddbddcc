package paper

import "unicode/utf8"

const bannerSide = 42.0 // of the two-dimensional code of a banner, mm

// code draws a two-dimensional code with its quiet zone.
func (p *pdfWriter) code(text string, x, y, side float64) error {
	m, err := encode(text, side)
	if err != nil {
		return err
	}
	module := m.module(side)
	p.f.SetFillColor(0, 0, 0)
	m.runs(func(column, row, n int) {
		p.f.Rect(x+float64(column+quietZone)*module, y+float64(row+quietZone)*module, float64(n)*module, module, "F")
	})
	p.fresh = false
	return nil
}

// fitted writes a text in bold letters as large as have room, with their end cut off if
// even small ones have none, and returns the lower end.
func (p *pdfWriter) fitted(text string, x, y, width, height, largest float64) float64 {
	text = p.known(text)
	size := largest
	for ; size > 6; size -= 0.5 {
		p.style("B", size)
		widest := 0.0
		lines := Wrap(text, width, p.measure)
		for _, line := range lines {
			widest = max(widest, p.measure(line))
		}
		if widest <= width && float64(len(lines))*lineHeight(size) <= height {
			break
		}
	}
	p.style("B", size)
	lines := Wrap(text, width, p.measure)
	if most := max(1, int(height/lineHeight(size))); len(lines) > most {
		lines = lines[:most]
		head, _ := Cut(lines[most-1], width-p.measure("…"), p.measure)
		lines[most-1] = head + "…"
	}
	return p.lines(x, y, size, lines)
}

func (b Banner) pdf(p *pdfWriter) error {
	p.need(bannerSide + 2)
	if err := p.code(b.Code, margin+p.width()-bannerSide, p.y, bannerSide); err != nil {
		return err
	}
	width := p.width() - bannerSide - 4
	y := p.fitted(b.Code, margin, p.y, width, bannerSide*0.62, 54)
	p.style("", 11)
	for _, text := range b.Below {
		y = p.lines(margin, y+1, 11, Wrap(p.known(text), width, p.measure))
	}
	p.y = max(p.y+bannerSide, y) + 2
	return nil
}

func (b Labels) pdf(p *pdfWriter) error {
	g := p.d.Size.Labels()
	for i, l := range b.Labels {
		at := (i + b.Skip) % (g.Columns * g.Rows)
		if at == 0 && i > 0 {
			p.newPage()
		}
		x := g.Left + float64(at%g.Columns)*(g.Width+g.GapX)
		y := g.Top + float64(at/g.Columns)*g.Height
		if err := p.label(l, g, x, y); err != nil {
			return err
		}
	}
	return nil
}

// Lengths of labels: a printer leaves the edge of a page white, and no label lies just where it should.
const (
	labelInset = 3.5
	cutMark    = 2.0
)

// side returns the side of the two-dimensional code of a label.
func (g Grid) side() float64 { return min(g.Height-2*labelInset+2, 0.42*g.Width) }

// label draws a label with marks at its corners, along which plain paper can be cut.
func (p *pdfWriter) label(l Label, g Grid, x, y float64) error {
	p.f.SetDrawColor(170, 170, 170)
	for _, corner := range [][2]float64{{0, 0}, {1, 0}, {0, 1}, {1, 1}} {
		cx, cy := x+corner[0]*g.Width, y+corner[1]*g.Height
		p.f.Line(cx, cy, cx+cutMark*(1-2*corner[0]), cy)
		p.f.Line(cx, cy, cx, cy+cutMark*(1-2*corner[1]))
	}
	p.f.SetDrawColor(0, 0, 0)
	side := g.side()
	if err := p.code(l.Code, x+g.Width-labelInset-side, y+(g.Height-side)/2, side); err != nil {
		return err
	}
	width := g.Width - side - 2*labelInset - 1
	left, top, low := x+labelInset, y+labelInset, y+g.Height-labelInset
	end := p.fitted(l.Code, left, top, width, 0.55*(low-top), 17)
	p.style("", smallSize)
	var lines []string
	for _, text := range l.Below {
		lines = append(lines, Wrap(p.known(text), width, p.measure)...)
	}
	if room := max(0, int((low-end)/lineHeight(smallSize))); room < len(lines) {
		lines = lines[:room]
		if room > 0 {
			lines[room-1] = shortened(lines[room-1], width, p.measure)
		}
	}
	p.lines(left, end, smallSize, lines)
	return nil
}

// shortened ends a line that others follow, for which there is no room.
func shortened(line string, width float64, measure func(string) float64) string {
	const more = "…"
	for line != "" && measure(line+more) > width {
		_, last := utf8.DecodeLastRuneInString(line)
		line = line[:len(line)-last]
	}
	return line + more
}
