package report

import (
	"errors"
	"fmt"
	"io"
	"math"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"wane/study"
)

// Sunlight is the figure of where in the solar spectrum a coupon lost: for each pull the change of the transmittance
// of the front surface, weighted by sunlight, by wavelength; its running sum, which ends at the change of the solar
// transmittance; and the sunlight itself.
type Sunlight struct {
	Title   string
	Pulls   []SunlightPull // in the order of their styles
	Caption []string       // lines below the panels, broken where they are too long
	Stamp   study.Stamp    // the line at the foot
}

// SunlightPull is what a pull lost in each band of wavelengths; the bands are in their order.
type SunlightPull struct {
	Name, Dose string
	Spots      int // over which the changes are averaged
	Bands      []SunlightChange
}

// SunlightChange is the change in one band.
type SunlightChange struct {
	LoNM, HiNM float64
	PP         float64 // of the solar transmittance, by this band
	Share      float64 // of all sunlight that is in the band, 0 to 1
}

// Sum is the change by all bands, in pp.
func (p *SunlightPull) Sum() (pp float64) {
	for _, b := range p.Bands {
		pp += b.PP
	}
	return pp
}

// Heights of the panels in points, axes and their labels included.
const (
	bandsHeight = 190
	sumHeight   = 170
	sunHeight   = 110

	perNM = 100 // the width in nm to which changes in bands refer
)

// Write draws the figure in a format, see [Formats], and writes it to w. Equal figures give equal bytes.
//
// It is an error if there is no pull, if a pull has no bands or one that is not from below to above or whose values are
// not finite, if the format is another one, or if w fails.
func (f *Sunlight) Write(w io.Writer, format string) error {
	if len(f.Pulls) == 0 {
		return errors.New("report: there is no change to draw")
	}
	for _, p := range f.Pulls {
		if len(p.Bands) == 0 {
			return fmt.Errorf("report: %q has no bands", p.Name)
		}
		for _, b := range p.Bands {
			if !(b.LoNM < b.HiNM) || !usable(b.LoNM) || !usable(b.HiNM) || !usable(b.PP) || !usable(b.Share) {
				return fmt.Errorf("report: %q has a change of %g pp and a share of %g from %g to %g nm", p.Name, b.PP, b.Share,
					b.LoNM, b.HiNM)
			}
		}
	}
	return write(w, format, f.sheet)
}

func (f *Sunlight) sheet(width vg.Length) *sheet {
	key := legend{head: []string{"Pull, its sum"}}
	spots := 0
	x := emptySpan()
	for i := range f.Pulls {
		p := &f.Pulls[i]
		name := p.Name
		if words(p.Dose) != "" {
			name += ", " + p.Dose
		}
		key.entries = append(key.entries, entry{style: f.style(i), label: bodyStyle().wrap(name, labelMost),
			note: []string{withMinus(fmt.Sprintf("%+.3f pp", p.Sum()))}})
		spots = max(spots, p.Spots)
		x = x.with(p.Bands[0].LoNM).with(p.Bands[len(p.Bands)-1].HiNM)
	}
	s := newSheet(width, f.Title, key, f.Caption, nil)
	s.sign(counted(spots, "spot")+", "+counted(len(f.Pulls), "pull"), f.Stamp)
	s.add(f.panel("pp per 100 nm", x, steps), bandsHeight,
		"Change of transmittance × sunlight, by wavelength. Area below zero: lost.")
	s.add(f.panel("Sum / pp", x, runningSum), sumHeight,
		"Running sum from the left: it ends at the change of solar transmittance.")
	sun := f.sun(x)
	sun.X.Label.Text = "Wavelength / nm"
	sun.X.Tick.Marker = ticks(9, true)
	s.add(sun, sunHeight, "Sunlight (AM1.5 global).")
	return s
}

// style is that of a pull: its line has no marks.
func (f *Sunlight) style(i int) style {
	s := styleOf(i)
	s.mark = nil
	return s
}

// steps is the line of changes per 100 nm, level over each band.
func steps(bands []SunlightChange) (line plotter.XYs) {
	for _, b := range bands {
		y := perNM * b.PP / (b.HiNM - b.LoNM)
		line = append(line, plotter.XY{X: b.LoNM, Y: y}, plotter.XY{X: b.HiNM, Y: y})
	}
	return line
}

// runningSum is the line of the sum of the changes of all bands up to each wavelength.
func runningSum(bands []SunlightChange) (line plotter.XYs) {
	sum := 0.0
	line = append(line, plotter.XY{X: bands[0].LoNM})
	for _, b := range bands {
		sum += b.PP
		line = append(line, plotter.XY{X: b.HiNM, Y: sum})
	}
	return line
}

// panel draws a line of each pull.
func (f *Sunlight) panel(label string, x span, lineOf func([]SunlightChange) plotter.XYs) *plot.Plot {
	p := newPanel(label, 5)
	p.Add(zeroLine(x))
	y := span{0, 0}
	for i := range f.Pulls {
		line := lineOf(f.Pulls[i].Bands)
		for _, xy := range line {
			y = y.with(xy.Y)
		}
		st := f.style(i)
		p.Add(&plotter.Line{XYs: line, LineStyle: st.line()})
	}
	setRange(p, x, y.padded(0.06, 0.01))
	return p
}

// sun draws the share of sunlight in each band.
func (f *Sunlight) sun(x span) *plot.Plot {
	p := newPanel("% per 100 nm", 3)
	outline, most := plotter.XYs{{X: x.lo}}, 0.0
	for _, b := range f.Pulls[0].Bands {
		y := perNM * percent * b.Share / (b.HiNM - b.LoNM)
		outline = append(outline, plotter.XY{X: b.LoNM, Y: y}, plotter.XY{X: b.HiNM, Y: y})
		most = math.Max(most, y)
	}
	outline = append(outline, plotter.XY{X: x.hi})
	p.Add(area(outline, rule()), &plotter.Line{XYs: outline[1 : len(outline)-1],
		LineStyle: draw.LineStyle{Color: quiet(), Width: couponWidth}})
	setRange(p, x, span{0, most * 1.06})
	return p
}
