package report

import "gonum.org/v1/plot/plotter"

// How many columns a panel has for lines, and for dots: a column is about as wide as a line, and as two dots.
const (
	lineColumns = 400
	dotColumns  = 200
)

// decimated returns what is seen of a line that is drawn in columns of equal width: of each column the first, the
// lowest, the highest and the last point, in their order. A spike of one point stays. Lines with less than two points for
// a column stay as they are.
func decimated(line plotter.XYs, columns int) plotter.XYs {
	if len(line) <= 2*columns {
		return line
	}
	x := emptySpan()
	for _, xy := range line {
		x = x.with(xy.X)
	}
	column := func(i int) int { return int(float64(columns) * (line[i].X - x.lo) / (x.hi - x.lo)) }
	var out plotter.XYs
	for from := 0; from < len(line); {
		to, low, high := from, from, from
		for ; to < len(line) && column(to) == column(from); to++ {
			if line[to].Y < line[low].Y {
				low = to
			}
			if line[to].Y > line[high].Y {
				high = to
			}
		}
		for _, i := range inOrder(from, low, high, to-1) {
			out = append(out, line[i])
		}
		from = to
	}
	return out
}

// inOrder returns the places first <= a, b <= last, each once, rising.
func inOrder(first, a, b, last int) []int {
	out := []int{first}
	for _, i := range []int{min(a, b), max(a, b), last} {
		if i > out[len(out)-1] {
			out = append(out, i)
		}
	}
	return out
}
