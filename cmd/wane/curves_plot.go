package main

import (
	"fmt"
	"math"
	"os"
	"strings"

	"wane/fit/film"
	"wane/study"
)

// Size of the drawing of curves in characters, without its labels.
const (
	plotRows     = 12
	plotColumns  = 60
	leastPlotted = 20
	plotMargin   = 18 // labels at the left and at the right
)

// speaksUnicode reports whether the locale takes characters beyond ASCII, by the first of its variables that is set.
func speaksUnicode() bool {
	for _, name := range []string{"LC_ALL", "LC_CTYPE", "LANG"} {
		if v := os.Getenv(name); v != "" {
			v = strings.ToUpper(strings.ReplaceAll(v, "-", ""))
			return strings.Contains(v, "UTF8")
		}
	}
	return false
}

// plotted is a drawing in characters. Each character is two dots wide and four high.
type plotted struct {
	columns, rows int
	dots          []uint8 // of each character: the dots of lines, as in Unicode's Braille patterns
	marks         []bool  // of each character: a measured point
}

// dotBits are the bits of the dots of a character, by row and column.
var dotBits = [4][2]uint8{{0x01, 0x08}, {0x02, 0x10}, {0x04, 0x20}, {0x40, 0x80}}

// dot sets the dot at x of the width and y of the height, from the lower left, 0 to 1.
func (p *plotted) dot(x, y float64) {
	column, row := p.place(x, 2*p.columns), p.place(1-y, 4*p.rows)
	p.dots[row/4*p.columns+column/2] |= dotBits[row%4][column%2]
}

// mark sets a measured point.
func (p *plotted) mark(x, y float64) {
	p.marks[p.place(1-y, p.rows)*p.columns+p.place(x, p.columns)] = true
}

// place is the number of the cell of n that has the share x.
func (p *plotted) place(x float64, n int) int { return min(max(int(x*float64(n)), 0), n-1) }

// character is what stands in a cell.
func (p *plotted) character(i int, unicode bool) string {
	switch {
	case p.marks[i] && unicode:
		return "○"
	case p.marks[i] && p.dots[i] != 0:
		return "*"
	case p.marks[i]:
		return "o"
	case p.dots[i] == 0:
		return " "
	case unicode:
		return string(rune(0x2800 + int(p.dots[i])))
	}
	return "."
}

// drawCurves draws measured and fitted curves in characters: reflectance, and below it transmittance.
func drawCurves(w page, curves []film.FittedCurve, polarisation []string, unicode bool) error {
	for _, q := range []struct {
		name    string
		through bool
	}{{"reflectance", false}, {"transmittance", true}} {
		var some []film.FittedCurve
		var labels []string
		for i := range curves {
			if curves[i].Through == q.through {
				some = append(some, curves[i])
				labels = append(labels, fmt.Sprintf("%g deg %s", curves[i].AngleDeg, polarisation[i]))
			}
		}
		if len(some) == 0 {
			continue
		}
		if err := drawPanel(w, q.name, some, labels, unicode); err != nil {
			return err
		}
	}
	return nil
}

// drawPanel draws the curves of one quantity.
func drawPanel(w page, quantity string, curves []film.FittedCurve, labels []string, unicode bool) error {
	p := &plotted{columns: plotColumns, rows: plotRows}
	if w.width > 0 {
		p.columns = max(leastPlotted, min(p.columns, w.width-plotMargin))
	}
	p.dots, p.marks = make([]uint8, p.columns*p.rows), make([]bool, p.columns*p.rows)
	x, y := [2]float64{math.Inf(1), 0}, [2]float64{math.Inf(1), math.Inf(-1)}
	for i := range curves {
		c := &curves[i]
		x[0], x[1] = min(x[0], c.NM[0]), max(x[1], c.NM[len(c.NM)-1])
		for k := range c.NM {
			y[0], y[1] = min(y[0], c.Fitted[k], c.Measured[k]), max(y[1], c.Fitted[k], c.Measured[k])
		}
	}
	if y[1]-y[0] < 1e-6 {
		y[0], y[1] = y[0]-0.001, y[1]+0.001
	}
	along := func(v float64, of [2]float64) float64 { return (v - of[0]) / (of[1] - of[0]) }
	ends := make([]string, p.rows)
	for i := range curves {
		c := &curves[i]
		last := -1
		for k, nm := range c.NM {
			at := along(nm, x)
			p.dot(at, along(c.Fitted[k], y))
			if cell := p.place(at, p.columns); cell != last && cell%5 == 2 {
				p.mark(at, along(c.Measured[k], y))
				last = cell
			}
		}
		row := p.place(1-along(c.Fitted[len(c.Fitted)-1], y), p.rows)
		ends[row] = strings.TrimPrefix(ends[row]+", "+labels[i], ", ")
	}
	return p.print(w, quantity, x, y, ends, unicode)
}

// print prints the drawing with its labels.
func (p *plotted) print(w page, quantity string, x, y [2]float64, ends []string, unicode bool) error {
	line, wall := "lines: fitted, ○: measured", "│"
	if !unicode {
		line, wall = "dots: fitted, o: measured, *: both", "|"
	}
	lines := []string{"", "  " + quantity + " / %; " + line}
	for r := range p.rows {
		var b strings.Builder
		label := ""
		if r == 0 {
			label = fmt.Sprintf("%.2f", 100*y[1])
		} else if r == p.rows-1 {
			label = fmt.Sprintf("%.2f", 100*y[0])
		}
		fmt.Fprintf(&b, "%7s %s", label, wall)
		for c := range p.columns {
			b.WriteString(p.character(r*p.columns+c, unicode))
		}
		lines = append(lines, strings.TrimRight(b.String()+" "+study.OneLine(ends[r]), " "))
	}
	lo, hi := fmt.Sprintf("%g", x[0]), fmt.Sprintf("%g nm", x[1])
	lines = append(lines, fmt.Sprintf("%9s%s%s%s", "", lo, strings.Repeat(" ", max(1, p.columns-len(lo)-len(hi))), hi))
	_, err := fmt.Fprintln(w, strings.Join(lines, "\n"))
	return err
}
