package intake

import (
	"fmt"
	"math"
	"slices"
	"strconv"

	"wane/study"
	"wane/study/intake/text"
)

const (
	// mostShared is the share of the shorter of two runs of wavelengths above which
	// they are no detectors that take over from each other. Common practice, no source;
	// in the survey of exports this package was written from it is a tenth at most.
	mostShared = 1.0 / 3
	// mostBeyond is the same where each of the two goes on well beyond the other. Common
	// practice, no source.
	mostBeyond = 1.0 / 2
	// leastRun is how many rows a run of wavelengths has at least: fewer, apart from
	// the others, are none of them. Common practice, no source.
	leastRun = 3
	// mostApart is how many steps further on it may begin. Common practice, no source.
	mostApart = 5
)

// checkScans refuses wavelengths that start again over what was measured already, which
// no second detector does, asks for the columns that distinguish such runs, and refuses
// rows that stand apart from all others.
func (r located) checkScans(p plan, t table) error {
	x := t.column(p.xs[0])
	i := turnsBack(x)
	if i < 0 && !p.paired && r.locate == nil {
		return r.checkEnds(p, x)
	}
	if i < 0 || p.paired || r.locate != nil || r.mayBeMisread(p, t, i) {
		return nil
	}
	scans := scansOf(x)
	if at := strayRow(scans, x); at >= 0 {
		return r.Refuse(r.cellPlace(at, p.xs[0]), "correct the row, or delete it if it is not a point of the curve",
			"%s%s stands apart from the wavelengths before it", text.Wavelength(x[at]), afterNumber(p.axis))
	}
	inTurn := len(scans) > 2 && 3*len(scans) > t.rows // 400, 400, 401, 401
	if len(scans) <= mostScans && !inTurn && !overlapTooMuch(scans) {
		return nil
	}
	const fault = "%s%s follows %s%s: the wavelengths start again, as in another curve and not as in another detector"
	at, unit := r.cellPlace(i, p.xs[0]), afterNumber(p.axis)
	return r.Question(at, r.groupingChoices(p, t, scans), "give each curve a file of its own", fault,
		text.Wavelength(x[i]), unit, text.Wavelength(x[i-1]), unit)
}

const (
	// loneGap is how many steps, by the mean of the others, away from the others a first or last row may stand
	// before it is asked about. Common practice, no source.
	loneGap = 20
	// leastEnds is how many rows must show the step. Common practice, no source.
	leastEnds = 10
)

// checkEnds asks about a first or last row far away from the others: it may be no point,
// but a setting, a date or a count that reads like one.
func (r located) checkEnds(p plan, x []float64) error {
	n := len(x)
	if n < leastEnds || r.Stated.Range != "" || p.axis == "" { // without a unit that is asked for first
		return nil
	}
	far := loneGap * math.Abs(x[n-2]-x[1]) / float64(n-3)
	lone, rest := -1, x
	switch {
	case math.Abs(x[n-1]-x[n-2]) > far:
		lone, rest = n-1, x[:n-1]
	case math.Abs(x[1]-x[0]) > far:
		lone, rest = 0, x[1:]
	default:
		return nil
	}
	span := func(x []float64) string {
		low, high := text.Ends(x)
		return text.Wavelength(low) + "-" + text.Wavelength(high)
	}
	spanNM := func(x []float64) string { // in which ranges are stated
		low, high := text.Ends(x)
		if p.axis == "cm-1" {
			low, high = 1e7/high, 1e7/low
		}
		return strconv.FormatFloat(low, 'f', -1, 64) + "-" + strconv.FormatFloat(high, 'f', -1, 64)
	}
	const try = "correct the row, or delete it if it is not a point of the curve"
	fault := fmt.Sprintf("%s%s stands far from the other wavelengths, which run from %s", text.Wavelength(x[lone]),
		afterNumber(p.axis), span(rest))
	if (text.Stated{Range: spanNM(x)}).Check() != nil { // a wavelength of 0 is none
		return r.Refuse(r.cellPlace(lone, p.xs[0]), try, "%s", fault)
	}
	choices := []study.Choice{{Name: "range", Value: spanNM(rest), Meaning: "without that row"},
		{Name: "range", Value: spanNM(x), Meaning: "it is a point of the curve"}}
	return r.Question(r.cellPlace(lone, p.xs[0]), choices, try, "%s", fault)
}

// turnsBack returns the first row whose wavelength repeats or goes back, or -1, also if
// a row has none or all have the same.
func turnsBack(x []float64) int {
	back := -1
	for i, v := range x {
		if math.IsNaN(v) {
			return -1
		}
		if back < 0 && i > 0 && (v == x[i-1] || i > 1 && (v-x[i-1])*(x[i-1]-x[i-2]) < 0) {
			back = i
		}
	}
	if back < 0 {
		return -1
	}
	if low, high := text.Ends(x); low == high {
		return -1
	}
	return back
}

// mayBeMisread reports whether another reading of the marks would explain row i.
func (r located) mayBeMisread(p plan, t table, i int) bool {
	if r.dialect == commaPoint && r.onlyCommas() && t.width > 3 {
		return true
	}
	_, text := r.findCell(i, p.xs[0])
	return r.thousandsChoice(text) != nil
}

// strayRow returns the first row of a short run that begins far from where the one
// before it ends, or -1.
func strayRow(scans []scan, x []float64) int {
	longest := slices.MaxFunc(scans, func(a, b scan) int { return len(a.x) - len(b.x) })
	n := len(longest.x)
	if n < leastRun {
		return -1
	}
	step := (longest.x[n-1] - longest.x[0]) / float64(n-1)
	for _, s := range scans[1:] {
		if first := slices.Min(s.rows); len(s.rows) < leastRun && math.Abs(x[first]-x[first-1]) > mostApart*step {
			return first
		}
	}
	return -1
}

// overlapTooMuch reports whether two of the scans cover more of each other than detectors do:
// more than a third, or where each goes on well beyond the other, as that of silicon and
// of the infrared, more than a half.
func overlapTooMuch(scans []scan) bool {
	for i, a := range scans {
		for _, b := range scans[:i] {
			loA, hiA, loB, hiB := a.x[0], a.x[len(a.x)-1], b.x[0], b.x[len(b.x)-1]
			most, shorter := mostShared, min(hiA-loA, hiB-loB)
			if min(math.Abs(hiA-hiB), math.Abs(loA-loB)) > mostShared*shorter && (hiA-hiB)*(loA-loB) > 0 {
				most = mostBeyond
			}
			if min(hiA, hiB)-max(loA, loB) > most*shorter && hiA > loA && hiB > loB {
				return true
			}
		}
	}
	return false
}

// groupingChoices offers the columns that distinguish curves: those that are constant within
// each run of wavelengths and change between them, or else each that distinguishes the curves by itself.
func (r *asker) groupingChoices(p plan, t table, scans []scan) []study.Choice {
	var steady, sufficient []int
	if t.width < 3 {
		return nil // the wavelengths and the values
	}
	for j := range t.width {
		if j == p.xs[0] {
			continue
		}
		if isConstantWithin(t.column(j), scans) {
			steady = append(steady, j)
		}
		if distinguishes(t, p.xs[0], []int{j}) {
			sufficient = append(sufficient, j)
		}
	}
	if n := len(steady); n > 0 && n < t.width-1 && distinguishes(t, p.xs[0], steady) {
		return []study.Choice{p.groupChoice(steady)}
	}
	var choices []study.Choice
	for _, j := range sufficient {
		choices = append(choices, p.groupChoice([]int{j}))
	}
	return choices
}

func (p plan) groupChoice(columns []int) study.Choice {
	var groups []int
	for _, j := range columns {
		groups = append(groups, j+1)
	}
	return groupBy(groups, p.head)
}

// isConstantWithin reports whether a column is constant within each scan, of several rows, and
// not over all of them.
func isConstantWithin(y []float64, scans []scan) bool {
	changes := false
	for _, s := range scans {
		if len(s.rows) < 2 {
			return false
		}
		for _, i := range s.rows {
			if y[i] != y[s.rows[0]] {
				return false
			}
		}
		changes = changes || y[s.rows[0]] != y[scans[0].rows[0]]
	}
	return changes
}

// distinguishes reports whether the rows that share the values of some columns make
// several curves of several points, each with wavelengths that run one way.
func distinguishes(t table, x int, columns []int) bool {
	type run struct {
		rows       int
		last, step float64
	}
	runs := map[string]run{}
	var key []byte
	for i, v := range t.column(x) {
		key = key[:0]
		for _, j := range columns {
			key = append(strconv.AppendFloat(key, t.column(j)[i], 'g', -1, 64), ' ')
		}
		g := runs[string(key)]
		if g.rows > 0 && (v == g.last || (v-g.last)*g.step < 0) || len(runs) > t.rows/2 {
			return false
		}
		if g.rows > 0 {
			g.step = v - g.last
		}
		g.rows, g.last = g.rows+1, v
		runs[string(key)] = g
	}
	for _, g := range runs {
		if g.rows < 2 {
			return false
		}
	}
	return len(runs) > 1
}
