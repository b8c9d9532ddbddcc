package intake

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"wane/study"
	"wane/study/intake/text"
)

// detectorChanges are the wavelengths, in nm, at which the header says that
// another detector, grating or lamp takes over.
type detectorChanges struct {
	nm   []float64
	what []string
}

// note keeps a line such as Detector change: 820 nm.
func (d *detectorChanges) note(key, value string) {
	if !strings.Contains(key, "chang") && !strings.Contains(key, "switch") {
		return
	}
	for _, what := range []string{"detector", "grating", "lamp", "source", "filter"} {
		if !strings.Contains(key, what) {
			continue
		}
		mark := byte('.')
		if !strings.Contains(value, ", ") && !strings.Contains(value, ".") {
			mark = ',' // 820,5 and not 319, 860
		}
		for _, word := range strings.FieldsFunc(value, func(c rune) bool {
			return c == ' ' || c == ';' || c == '/' || c == '\t'
		}) {
			word = strings.Trim(strings.TrimSuffix(word, "nm"), ",[]()")
			if v, n := text.ParseNumber([]byte(word), mark, 0); n > 0 && n == len(word) && leastNM <= v &&
				v <= text.MostNM {
				d.nm, d.what = append(d.nm, v), append(d.what, what)
			}
		}
		return
	}
}

const (
	besides   = 10 // so many points on each side of a change show its step
	leastSide = 4
	sureStep  = 4 // so many standard deviations are no noise
)

// notesOn reports each change within a curve, and of the step there if it
// exceeds the noise.
func (d detectorChanges) notesOn(c curve, s study.Spectrum) []string {
	var notes []string
	for i, nm := range d.nm {
		if nm <= s.NM[0] || nm >= s.NM[len(s.NM)-1] {
			continue
		}
		note := fmt.Sprintf("%s: %s change at %s nm by the header", c.name(), d.what[i], text.Wavelength(nm))
		if step, noise, ok := stepAt(s, nm); ok {
			note += fmt.Sprintf("; the step there, %s pp, exceeds the noise of %s pp", signed(100*step),
				text.Figure(round3(100*noise)))
		}
		notes = append(notes, note)
	}
	return notes
}

func signed(v float64) string {
	text := text.Figure(round3(v))
	if v > 0 {
		return "+" + text
	}
	return text
}

// round3 keeps three significant digits.
func round3(v float64) float64 {
	if v == 0 {
		return 0
	}
	unit := math.Pow(10, math.Floor(math.Log10(math.Abs(v)))-2)
	return math.Round(v/unit) * unit
}

// stepAt compares lines through the points on both sides of a wavelength where
// they meet it. noise is the standard deviation of a point, from second
// differences: those of white noise have six times its variance, and the median
// of their magnitude is 0.6745 of their standard deviation (common knowledge of
// the normal distribution). ok reports that the step exceeds it.
func stepAt(s study.Spectrum, nm float64) (step, noise float64, ok bool) {
	k, _ := slices.BinarySearch(s.NM, nm)
	from, to := max(0, k-besides), min(len(s.NM), k+besides)
	if k-from < leastSide || to-k < leastSide {
		return 0, 0, false
	}
	var second []float64
	for i := 1; i+1 < len(s.Values); i++ {
		second = append(second, math.Abs(s.Values[i-1]-2*s.Values[i]+s.Values[i+1]))
	}
	slices.Sort(second)
	noise = second[len(second)/2] / 0.6745 / math.Sqrt(6)
	below, u := lineAt(s.NM[from:k], s.Values[from:k], nm)
	above, v := lineAt(s.NM[k:to], s.Values[k:to], nm)
	step = above - below
	return step, noise, math.Abs(step) > sureStep*noise*math.Sqrt(u+v)
}

// lineAt fits a straight line and returns its value at x, with the variance of
// that value in units of the variance of a point.
func lineAt(xs, ys []float64, x float64) (y, variance float64) {
	n := float64(len(xs))
	var mx, my float64
	for i := range xs {
		mx, my = mx+xs[i]/n, my+ys[i]/n
	}
	var sxx, sxy float64
	for i := range xs {
		sxx += (xs[i] - mx) * (xs[i] - mx)
		sxy += (xs[i] - mx) * (ys[i] - my)
	}
	return my + sxy/sxx*(x-mx), 1/n + (x-mx)*(x-mx)/sxx
}
