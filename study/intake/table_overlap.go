package intake

import (
	"fmt"
	"math"
	"slices"
	"sort"

	"wane/study/intake/text"
)

const (
	// mostScans is how many detectors or scans one curve may be put together from.
	mostScans = 8
	// mostJoined bounds the memory that it takes.
	mostJoined = maxNumbers / 6
)

// scan is a stretch of rows over which the wavelengths run one way, turned so
// that they rise.
type scan struct {
	rows []int     // of the table
	x    []float64 // wavelengths as in the file
}

func (s scan) covers(x float64) bool { return s.x[0] <= x && x <= s.x[len(s.x)-1] }

// joinScans puts the scans of overlapping detectors together as the person says,
// into a table whose wavelengths rise. It returns all unchanged if there is
// nothing to join.
func (r located) joinScans(p plan, t table) (located, plan, table) {
	if r.Stated.Overlap == "" || p.paired || t.rows < 2 || len(t.cells) > mostJoined {
		return r, p, t
	}
	x := t.column(p.xs[0])
	if slices.ContainsFunc(x, math.IsNaN) {
		return r, p, t
	}
	scans := scansOf(x)
	if len(scans) > mostScans {
		return r, p, t
	}
	j := joiner{t: t, x: p.xs[0], average: r.Stated.Overlap == "average"}
	for i := range scans {
		j.add(scans, i)
	}
	j.sort()
	j.mergeNear()
	if j.left == 0 {
		return r, p, t
	}
	what := "skipped"
	if j.average {
		what = "averaged into those of the first"
	}
	p.notes = append(p.notes,
		fmt.Sprintf("two detectors or scans overlap from %s to %s%s: %s of the later one %s, as stated",
			text.Wavelength(j.lo), text.Wavelength(j.hi), afterNumber(p.axis), text.Count(j.left, "point"), what))
	joined := r
	joined.origin = j.rows
	return joined, p, j.table()
}

// afterNumber writes the unit of wavelengths as the rows hold them before their order is checked:
// micrometres are read as nm.
func afterNumber(unit string) string {
	switch unit {
	case "":
		return ""
	case "um":
		return " nm"
	}
	return " " + unit
}

// scansOf cuts wavelengths where they repeat or turn back.
func scansOf(x []float64) []scan {
	var scans []scan
	start, step := 0, 0.0
	end := func(i int) {
		s := scan{}
		for k := start; k < i; k++ {
			s.rows, s.x = append(s.rows, k), append(s.x, x[k])
		}
		if len(s.x) > 1 && s.x[0] > s.x[1] {
			slices.Reverse(s.rows)
			slices.Reverse(s.x)
		}
		scans = append(scans, s)
		start, step = i, 0
	}
	for i := 1; i < len(x); i++ {
		now := x[i] - x[i-1]
		if i > start && (now == 0 || now*step < 0) {
			end(i)
			continue
		}
		step = now
	}
	end(len(x))
	return scans
}

// joiner gathers the rows that are kept.
type joiner struct {
	t       table
	x       int // column of the wavelengths
	average bool
	rows    []int // of the table that are kept
	left    int   // rows that are not
	lo, hi  float64
}

// add takes the rows of scan i that no earlier scan covers; with average, the
// rows of earlier scans under it become means.
func (j *joiner) add(scans []scan, i int) {
	s := scans[i]
	if j.average {
		for _, before := range scans[:i] {
			for k, x := range before.x {
				if s.covers(x) {
					j.mean(before.rows[k], s, x)
				}
			}
		}
	}
	for k, x := range s.x {
		if slices.ContainsFunc(scans[:i], func(before scan) bool { return before.covers(x) }) {
			j.leave(x)
			continue
		}
		j.rows = append(j.rows, s.rows[k])
	}
}

func (j *joiner) leave(x float64) {
	if j.left == 0 {
		j.lo, j.hi = x, x
	}
	j.left++
	j.lo, j.hi = min(j.lo, x), max(j.hi, x)
}

// mean averages the values of a row with those of a scan at its wavelength.
func (j *joiner) mean(row int, s scan, x float64) {
	k := sort.SearchFloat64s(s.x, x)
	for c := range j.t.width {
		if c == j.x {
			continue
		}
		y := j.t.column(c)
		v := y[s.rows[k]]
		if s.x[k] != x {
			share := (x - s.x[k-1]) / (s.x[k] - s.x[k-1])
			v = (1-share)*y[s.rows[k-1]] + share*v
		}
		y[row] = meanOf(y[row], v)
	}
}

// meanOf returns the mean of two numbers, or the one that is there.
func meanOf(a, b float64) float64 {
	switch {
	case math.IsNaN(a):
		return b
	case math.IsNaN(b):
		return a
	}
	return a/2 + b/2
}

func (j *joiner) sort() {
	x := j.t.column(j.x)
	slices.SortStableFunc(j.rows, func(a, b int) int {
		switch {
		case x[a] < x[b]:
			return -1
		case x[a] > x[b]:
			return 1
		}
		return 0
	})
}

// mergeNear makes one row of two that are near-duplicates. The one that stands
// first in the file stays.
func (j *joiner) mergeNear() {
	x := j.t.column(j.x)
	kept := make([]int, 0, len(j.rows))
	for i := 0; i < len(j.rows); i++ {
		if len(kept) > 0 && i+2 < len(j.rows) &&
			isNear(x[kept[len(kept)-1]], x[j.rows[i]], x[j.rows[i+1]], x[j.rows[i+2]]) {
			kept = append(kept, j.merge(j.rows[i], j.rows[i+1]))
			i++
			continue
		}
		kept = append(kept, j.rows[i])
	}
	j.rows = kept
}

// merge makes one row of two and returns it.
func (j *joiner) merge(a, b int) int {
	a, b = min(a, b), max(a, b)
	j.leave(j.t.column(j.x)[b])
	for c := range j.t.width {
		if y := j.t.column(c); j.average && c != j.x {
			y[a] = meanOf(y[a], y[b])
		}
	}
	return a
}

// table returns the rows kept.
func (j *joiner) table() table {
	t := table{len(j.rows), j.t.width, make([]float64, len(j.rows)*j.t.width)}
	for c := range t.width {
		from, to := j.t.column(c), t.column(c)
		for i, row := range j.rows {
			to[i] = from[row]
		}
	}
	return t
}
