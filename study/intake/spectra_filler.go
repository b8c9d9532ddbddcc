package intake

import (
	"fmt"
	"math"

	"wane/study"
	"wane/study/intake/text"
)

// Source of these two: the survey of exports this package was written from.
const (
	flatPoints = 20 // so many points equal to four digits are no spectrum
	zeroPoints = 10 // so many zeros in a row are filler
)

// stretch is a run of values that were hardly measured.
type stretch struct {
	start, length int
	zeros         bool
}

func (s stretch) inWords() string {
	if s.zeros {
		return "look like filler"
	}
	return "are equal to 4 digits"
}

func (s stretch) points() string {
	if s.zeros {
		return text.Count(s.length, "zero")
	}
	return text.Count(s.length, "point")
}

// stretches returns the runs of zeros and of equal values, in their order.
func stretches(values []float64) []stretch {
	var all []stretch
	for from := 0; from < len(values); {
		z, zn := runOf(values[from:], zeroPoints, func(a, b float64) bool { return a == 0 && b == 0 })
		f, fn := runOf(values[from:], flatPoints, equalTo4Digits)
		switch {
		case zn == 0 && fn == 0:
			return all
		case zn > 0 && (fn == 0 || z <= f):
			all = append(all, stretch{from + z, zn, true})
			from += z + zn
		default:
			all = append(all, stretch{from + f, fn, false})
			from += f + fn
		}
	}
	return all
}

var fillerChoices = []study.Choice{
	{Name: "filler", Value: "missing", Meaning: "nothing was measured there: the points are missing"},
	{Name: "filler", Value: "keep", Meaning: "the values were measured: they stay"},
}

// leastJump is how many steps, by the least difference between neighbours that are not zero,
// zeros must stand off the values beside them to be no values that were rounded to zero. Common practice, no
// source.
const leastJump = 10

// areFiller reports whether nothing can have been measured in any of the runs: all are
// zeros, with a jump to the values beside them. Equal values may be measured with few
// digits, and zeros beside small values be rounded.
func areFiller(values []float64, all []stretch) bool {
	step := math.Inf(1)
	for i := 1; i < len(values); i++ {
		if d := math.Abs(values[i] - values[i-1]); values[i]*values[i-1] != 0 && d > 0 && d < step {
			step = d
		}
	}
	beside := func(i int) bool {
		return i < 0 || i >= len(values) || math.Abs(values[i]) > leastJump*step
	}
	for _, run := range all {
		if !run.zeros || run.length == len(values) || !beside(run.start-1) || !beside(run.start+run.length) {
			return false
		}
	}
	return true
}

// checkRuns asks about runs of zeros and of equal values.
func (r located) checkRuns(c curve, s study.Spectrum, p plan, t table) *study.Refusal {
	if r.Stated.Filler == "keep" {
		return nil
	}
	all := stretches(s.Values)
	if len(all) == 0 {
		return nil
	}
	first := all[0]
	orElse := "leave the cells empty where nothing was measured, or export a narrower range"
	if !first.zeros {
		orElse = "measure again without saturation, or export a narrower range or more digits"
	}
	more := ""
	if n := len(all) - 1; n > 0 {
		more = fmt.Sprintf(", and %s more like it", text.Count(n, "stretch"))
		if n > 1 {
			more = fmt.Sprintf(", and %d stretches more like it", n)
		}
	}
	choices := fillerChoices
	if !areFiller(s.Values, all) {
		choices = []study.Choice{fillerChoices[1], fillerChoices[0]} // what keeps all points comes first
	}
	return r.Question(r.pointPlace(c, s.NM[first.start], p, t), choices, orElse,
		"%s: %s in a row from %s to %s nm %s%s", c.name(), first.points(),
		text.Wavelength(s.NM[first.start]), text.Wavelength(s.NM[first.start+first.length-1]), first.inWords(), more)
}

// applyFiller does with runs of zeros and of equal values what a person says, and reports
// each.
func (r *asker) applyFiller(c curve, s study.Spectrum) (study.Spectrum, []string) {
	if r.Stated.Filler == "" {
		return s, nil
	}
	var notes []string
	missing := r.Stated.Filler == "missing"
	var nm, values []float64
	from := 0
	for _, run := range stretches(s.Values) {
		end := run.start + run.length
		what := "kept"
		if missing {
			what = "taken for missing"
			nm, values = append(nm, s.NM[from:run.start]...), append(values, s.Values[from:run.start]...)
			from = end
		}
		notes = append(notes, fmt.Sprintf("%s: %s in a row from %s to %s nm %s, as stated",
			c.name(), run.points(), text.Wavelength(s.NM[run.start]), text.Wavelength(s.NM[end-1]), what))
	}
	if from > 0 {
		s.NM, s.Values = append(nm, s.NM[from:]...), append(values, s.Values[from:]...)
	}
	return s, notes
}

// runOf returns the start and the whole length of the first run of at least n
// values, each equal to the one before, or 0, 0. It looks at the end of each
// possible run first, so that most values are never compared.
func runOf(values []float64, n int, equal func(a, b float64) bool) (start, length int) {
	for start+n <= len(values) {
		i := start + n - 1
		for i > start && equal(values[i-1], values[i]) {
			i--
		}
		if i > start {
			start = i
			continue
		}
		end := start + n
		for end < len(values) && equal(values[end-1], values[end]) {
			end++
		}
		return start, end - start
	}
	return 0, 0
}

// equalTo4Digits reports whether two numbers round to the same four significant
// digits.
func equalTo4Digits(a, b float64) bool {
	if a == b {
		return true
	}
	if math.Abs(a-b) > 1e-3*math.Abs(a) {
		return false // a unit of the fourth digit is at most this
	}
	unit := math.Pow(10, math.Floor(math.Log10(math.Abs(a)))-3)
	return math.Round(a/unit) == math.Round(b/unit)
}
