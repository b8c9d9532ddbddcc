package report

import (
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"

	"wane/study"
)

// Levels is the figure of what is known of a film at each dose, such as its material left or its structure: a panel
// for each quantity, in which each series (a spot, a group) has its values with their expanded uncertainties. It is
// designed for one to eight series, a dozen doses and one to five quantities.
type Levels struct {
	Title    string
	Of       string // what a series is of: spot, group
	DoseUnit string // days, hours, cycles, kWh/m2 or another; empty: there are no doses, and Level.Dose is the pull
	Series   []string
	Panels   []LevelPanel
	Caption  []string    // lines below the panels, broken where they are too long
	Stamp    study.Stamp // the line at the foot
}

// LevelPanel is a quantity.
type LevelPanel struct {
	Quantity string // label of its axis, with the unit
	Points   []Level
	FromZero bool // the axis begins at zero
}

// Level is a value of a series, by its number in Levels.Series from 0.
type Level struct {
	Series   int
	Dose     float64
	Value, U float64 // U: standard uncertainty, NaN: none is stated
}

// Write draws the figure in a format, see [Formats], and writes it to w. Equal figures give equal bytes.
//
// Series are drawn side by side at each dose; the figure states the largest distance. Bars much longer than the range
// of the values are cut at the edge of their panel and end in an arrow head there. Lines below the caption count
// values without a stated uncertainty, and those that are not finite, or of a million and more, which are not drawn.
//
// It is an error if there is no panel or no word for a series, if a value is of no series, if the format is another
// one, or if w fails.
func (f *Levels) Write(w io.Writer, format string) error {
	if len(f.Panels) == 0 || len(f.Series) == 0 {
		return errors.New("report: there is no level to draw")
	}
	if words(f.Of) == "" {
		return errors.New("report: it is not said what a series is of")
	}
	for _, p := range f.Panels {
		for _, v := range p.Points {
			if v.Series < 0 || v.Series >= len(f.Series) {
				return fmt.Errorf("report: a value of %s is of series %d of %d", p.Quantity, v.Series, len(f.Series))
			}
		}
	}
	return write(w, format, f.sheet)
}

func (f *Levels) sheet(width vg.Length) *sheet {
	key := legend{head: []string{strings.ToUpper(f.Of[:1]) + f.Of[1:]}, markRadius: meanMark, ground: ground()}
	for i, name := range f.Series {
		key.entries = append(key.entries, entry{style: styleOf(i), label: bodyStyle().wrap(name, labelMost)})
	}
	doses, n := f.doses()
	step := math.Min(stepShare, spreadShare/float64(max(1, len(f.Series)-1))) * (doses.hi - doses.lo)
	leftOut, untold, cut, bars := 0, 0, 0, 0
	panels := make([]levelPanel, len(f.Panels))
	for i := range f.Panels {
		panels[i] = newLevelPanel(&f.Panels[i], len(f.Series), step)
		leftOut, untold, cut = leftOut+panels[i].leftOut, untold+panels[i].untold, cut+panels[i].cut()
		for _, b := range panels[i].bars {
			bars += len(b)
		}
	}
	var notes []string
	if untold > 0 && bars > 0 {
		notes = append(notes, fmt.Sprintf("Values without a stated uncertainty, which have no bar: %d.", untold))
	}
	if cut > 0 {
		notes = append(notes, fmt.Sprintf("Bars cut at the edge of their panel, with an arrow head there: %d.", cut))
	}
	s := newSheet(width, f.Title, key, f.Caption, append(notes, leftOutNote(leftOut)...))
	s.sign(counted(len(f.Series), f.Of)+", "+counted(n, f.place()), f.Stamp)
	words := "Marks: values.  "
	if bars > 0 {
		words += "Bars: ± 2 standard uncertainties (k = 2).  "
	}
	if len(f.Series) > 1 {
		off := ceil2(step * float64(len(f.Series)-1) / 2)
		if unit := f.unit(); unit != "" {
			off += " " + unit
		}
		words += fmt.Sprintf("Drawn side by side, up to %s from their %s.  ", off, f.place())
	}
	x := doses.padded(0.04, 0)
	for i := range panels {
		last := i == len(panels)-1
		height := vg.Length(max(130, 310-60*len(panels)))
		if last {
			height += axisHeight - 10
		}
		p := panels[i].plot(f.Panels[i].Quantity, x)
		if last {
			p.X.Label.Text, p.X.Tick.Marker = "Pull", wholeTicks(0, true)
			if f.unit() != "" {
				p.X.Label.Text, p.X.Tick.Marker = (&dosePanel{unit: f.unit()}).doseLabel(), ticks(9, true)
			}
		}
		s.add(p, height, words+" ")
		words = ""
	}
	return s
}

// unit is the unit of the doses as people write it.
func (f *Levels) unit() string { return (&Series{DoseUnit: f.DoseUnit}).unit() }

// place is where on the axis a value is.
func (f *Levels) place() string {
	if f.unit() == "" {
		return "pull"
	}
	return "dose"
}

// doses returns the range of the doses, and how many there are.
func (f *Levels) doses() (doses span, n int) {
	var all []float64
	doses = emptySpan()
	for _, p := range f.Panels {
		for _, v := range p.Points {
			if usable(v.Dose) {
				all, doses = append(all, v.Dose), doses.with(v.Dose)
			}
		}
	}
	slices.Sort(all)
	if doses = doses.orIfEmpty(span{0, 1}); doses.lo == doses.hi {
		doses = doses.padded(0, 1)
	}
	return doses, len(slices.Compact(all))
}

// levelPanel is a quantity as it is drawn.
type levelPanel struct {
	lines           []plotter.XYs // of each series
	bars            [][]bar
	y               span
	leftOut, untold int
}

func newLevelPanel(of *LevelPanel, series int, step float64) levelPanel {
	p := levelPanel{lines: make([]plotter.XYs, series), bars: make([][]bar, series), y: emptySpan()}
	bars := emptySpan()
	for _, v := range of.Points {
		if !usable(v.Dose) || !usable(v.Value) {
			p.leftOut++
			continue
		}
		x := v.Dose + step*(float64(v.Series)-float64(series-1)/2)
		p.lines[v.Series] = append(p.lines[v.Series], plotter.XY{X: x, Y: v.Value})
		p.y = p.y.with(v.Value)
		if u := coverage * v.U; usable(u) && u >= 0 {
			p.bars[v.Series] = append(p.bars[v.Series], bar{x, v.Value - u, v.Value + u})
			bars = bars.with(v.Value - u).with(v.Value + u)
		} else {
			p.untold++
		}
	}
	p.y = p.y.orIfEmpty(span{0, 1})
	least := 0.002 * math.Max(1, math.Max(math.Abs(p.y.lo), math.Abs(p.y.hi)))
	p.y = p.y.reaching(bars, p.y.padded(0.75, 100*least)).padded(0.08, least)
	if of.FromZero {
		p.y.lo = math.Min(0, p.y.lo)
		if p.y.lo < 0 && bars.lo >= 0 {
			p.y.lo = 0
		}
	}
	return p
}

// cut returns the number of bars that are cut at the edge of the panel.
func (p *levelPanel) cut() (n int) {
	for _, bars := range p.bars {
		for _, b := range bars {
			if b.lo < p.y.lo || b.hi > p.y.hi {
				n++
			}
		}
	}
	return n
}

// plot draws the series, their marks above all lines.
func (p *levelPanel) plot(quantity string, x span) *plot.Plot {
	out := newPanel(quantity, 5)
	for i, line := range p.lines {
		st := styleOf(i)
		out.Add(stems{p.bars[i], st.colour})
		if len(line) > 1 {
			out.Add(&plotter.Line{XYs: line, LineStyle: st.line()})
		}
	}
	for i, line := range p.lines {
		st := styleOf(i)
		out.Add(scatter{line, ground()}, ends{p.bars[i], st.colour}, scatter{line, st.glyph(meanMark)})
	}
	setRange(out, x, p.y)
	return out
}
