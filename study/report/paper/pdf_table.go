package paper

import (
	"math"
	"slices"
	"strings"
)

func (b Table) pdf(p *pdfWriter) error {
	t := &pdfTable{p: p, widths: make([]float64, len(b.Columns))}
	sum := 0.0
	for _, c := range b.Columns {
		sum += c.Width
	}
	for i, c := range b.Columns {
		t.widths[i] = p.width() * c.Width / sum
		t.head = append(t.head, Cell{Text: c.Head, Bold: true})
	}
	p.need(t.height(t.head) + 2*leastRow)
	t.row(t.head)
	for _, group := range b.Groups {
		t.group(group)
	}
	p.y += 2
	return nil
}

// pdfTable draws the rows of a table.
type pdfTable struct {
	p      *pdfWriter
	widths []float64
	head   Row
}

// need begins a page with the head of the table if so much room is not left.
func (t *pdfTable) need(height float64) (began bool) {
	if t.p.y+height <= t.p.bottom() {
		return false
	}
	t.p.newPage()
	t.row(t.head)
	return true
}

func (t *pdfTable) group(rows []Row) {
	rows = t.spread(rows)
	height := 0.0
	for _, r := range rows {
		height += t.height(r)
	}
	if height < t.p.bottom()-margin-t.height(t.head) {
		t.need(height)
	}
	for i, r := range rows {
		if t.need(t.height(r)) && i > 0 {
			again := append(Row(nil), r...)
			for k, c := range rows[0] {
				if c.Key {
					again[k] = c
				}
			}
			r = again
		}
		t.row(r)
	}
	t.p.f.SetLineWidth(0.5)
	t.p.f.Line(margin, t.p.y, margin+t.p.width(), t.p.y)
	t.p.f.SetLineWidth(0.2)
}

// spread gives the text of cells that go down to all rows of their group.
func (t *pdfTable) spread(rows []Row) []Row {
	all := slices.Clone(rows)
	for i, c := range rows[0] {
		lines := t.text(i, c)
		if !c.Down || len(lines) < 2 {
			continue
		}
		each := (len(lines) + len(rows) - 1) / len(rows)
		for k := range all {
			own := lines[min(k*each, len(lines)):min((k+1)*each, len(lines))]
			all[k] = slices.Clone(all[k])
			all[k][i] = Cell{Text: strings.Join(own, " "), Bold: c.Bold}
		}
	}
	return all
}

// text returns the lines of a cell.
func (t *pdfTable) text(i int, c Cell) []string {
	if c.Text == "" {
		return nil
	}
	style := ""
	if c.Bold {
		style = "B"
	}
	t.p.style(style, bodySize)
	return Wrap(t.p.known(c.Text), t.widths[i]-2*padding, t.p.measure)
}

// ticks returns how many boxes to tick have room beside one another.
func (t *pdfTable) ticks(i int) int {
	return max(1, int((t.widths[i]-2*padding+tickGap)/(tickBox+tickGap)))
}

func (t *pdfTable) height(r Row) float64 {
	height := leastRow
	for i, c := range r {
		boxes := math.Ceil(float64(c.Boxes)/float64(t.ticks(i))) * (tickBox + tickGap)
		height = max(height, float64(len(t.text(i, c)))*lineHeight(bodySize)+boxes+2*padding)
	}
	return height
}

func (t *pdfTable) row(r Row) {
	p, x, height := t.p, margin, t.height(r)
	for i, c := range r {
		p.f.Rect(x, p.y, t.widths[i], height, "D")
		y := p.y + padding + 0.3
		if lines := t.text(i, c); lines != nil {
			y = p.lines(x+padding, y, bodySize, lines)
		}
		for k := range c.Boxes {
			n := t.ticks(i)
			p.box(x+padding+float64(k%n)*(tickBox+tickGap), y+float64(k/n)*(tickBox+tickGap), false)
		}
		x += t.widths[i]
	}
	p.y += height
	p.fresh = false
}
