package report

import (
	"math"
	"slices"

	"gonum.org/v1/plot/plotter"
)

// How many columns a panel has for lines, and for dots and thin lines of many curves: a column is about as wide as a
// line, and as two dots.
const (
	lineColumns = 400
	dotColumns  = 200
	pullColumns = 120
)

// decimated returns what is seen of a line that is drawn in columns of equal width: its ends, and of each column the
// lowest and the highest point, in their order. A spike of one point stays. Lines with less than two points for a
// column stay as they are.
func decimated(line plotter.XYs, columns int) plotter.XYs {
	if len(line) <= 2*columns {
		return line
	}
	x := emptySpan()
	for _, xy := range line {
		x = x.with(xy.X)
	}
	column := func(i int) int { return int(float64(columns) * (line[i].X - x.lo) / (x.hi - x.lo)) }
	out := plotter.XYs{line[0]}
	for from := 1; from < len(line)-1; {
		to, low, high := from, from, from
		for ; to < len(line)-1 && column(to) == column(from); to++ {
			if line[to].Y < line[low].Y {
				low = to
			}
			if line[to].Y > line[high].Y {
				high = to
			}
		}
		out = append(out, line[min(low, high)])
		if low != high {
			out = append(out, line[max(low, high)])
		}
		from = to
	}
	return append(out, line[len(line)-1])
}

// simplified returns a few points of a line, found by halving (Ramer 1972, Douglas and Peucker 1973), from which no
// other one is further than off in y: a smooth line becomes short, and a spike stays.
func simplified(line plotter.XYs, off float64) plotter.XYs {
	if len(line) < 3 {
		return line
	}
	a, b := line[0], line[len(line)-1]
	furthest, most := 0, off
	for i := 1; i < len(line)-1; i++ {
		at := a.Y
		if a.X != b.X {
			at += (b.Y - a.Y) * (line[i].X - a.X) / (b.X - a.X)
		}
		if d := math.Abs(line[i].Y - at); d > most {
			furthest, most = i, d
		}
	}
	if furthest == 0 {
		return plotter.XYs{a, b}
	}
	left := simplified(line[:furthest+1], off)
	return append(slices.Clip(left), simplified(line[furthest:], off)[1:]...)
}
