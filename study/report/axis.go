package report

import (
	"math"
	"strconv"
	"strings"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
)

// span is the range of an axis.
type span struct{ lo, hi float64 }

// emptySpan returns a span that holds nothing: lo is above hi.
func emptySpan() span { return span{math.Inf(1), math.Inf(-1)} }

// with returns s extended to hold v.
func (s span) with(v float64) span { return span{math.Min(s.lo, v), math.Max(s.hi, v)} }

// orIfEmpty returns s, or other if s holds nothing.
func (s span) orIfEmpty(other span) span {
	if s.lo > s.hi {
		return other
	}
	return s
}

// padded returns s extended at both ends by the share of its length, and at least size long.
func (s span) padded(share, size float64) span {
	pad := math.Max(share*(s.hi-s.lo), (size-(s.hi-s.lo))/2)
	return span{s.lo - pad, s.hi + pad}
}

// reaching returns s extended to hold other, but not beyond most.
func (s span) reaching(other, most span) span {
	return span{math.Min(s.lo, math.Max(other.lo, most.lo)), math.Max(s.hi, math.Min(other.hi, most.hi))}
}

// everyPoint calls visit for all measured and fitted points.
func everyPoint(traces []trace, visit func(plotter.XY)) {
	for i := range traces {
		t := &traces[i]
		for _, xy := range t.measured {
			visit(xy)
		}
		for _, line := range t.fitted {
			for _, xy := range line {
				visit(xy)
			}
		}
	}
}

// wavelengths returns the range of wavelengths in nm.
func wavelengths(traces []trace) span {
	s := emptySpan()
	everyPoint(traces, func(xy plotter.XY) { s = s.with(xy.X) })
	return s.orIfEmpty(span{300, 1200}).padded(0.015, 2)
}

// reflectances returns the range of measured and fitted values in percent, extended for
// the bands by at most half its length at each end. It starts at zero, unless the curves
// would become flat or negative values would be cut off.
func reflectances(traces []trace) span {
	s, bands := emptySpan(), emptySpan()
	everyPoint(traces, func(xy plotter.XY) { s = s.with(xy.Y) })
	for i := range traces {
		for _, outline := range traces[i].band {
			for _, xy := range outline {
				bands = bands.with(xy.Y)
			}
		}
	}
	s = s.orIfEmpty(span{0, 1})
	fromZero := s.lo >= 0 && s.lo < s.hi/2
	s = s.reaching(bands, s.padded(0.5, 0.01)).padded(0.05, 0.01)
	if fromZero {
		s.lo = 0
	}
	return s
}

// residuals returns the range of residuals and noise bands in percentage points,
// zero in the middle.
func residuals(traces []trace) span {
	most := 0.0
	for i := range traces {
		most = math.Max(most, traces[i].noise)
		for _, xy := range traces[i].residual {
			most = math.Max(most, math.Abs(xy.Y))
		}
	}
	return span{-most, most}.padded(0.05, 0.002)
}

// ticks returns a ticker with about most ticks or fewer, at round numbers.
func ticks(most int, labelled bool) plot.Ticker { return roundTicks{most, labelled} }

type roundTicks struct {
	most     int
	labelled bool
}

// Ticks implements plot.Ticker.
func (t roundTicks) Ticks(lo, hi float64) (out []plot.Tick) {
	step := roundStep((hi - lo) / float64(t.most))
	decimals := decimalsOf(step)
	for k := math.Ceil(lo / step); k*step <= hi; k++ {
		tick := plot.Tick{Value: k * step}
		if t.labelled {
			tick.Label = withMinus(strconv.FormatFloat(k*step, 'f', decimals, 64))
		}
		out = append(out, tick)
	}
	return out
}

// decimalsOf returns the number of decimals of the multiples of a round step.
func decimalsOf(step float64) int { return max(0, -int(math.Floor(math.Log10(step)+1e-9))) }

// roundStep returns the smallest of 1, 2 and 5 times a power of ten that is at
// least the given step.
func roundStep(step float64) float64 {
	power := math.Pow(10, math.Floor(math.Log10(step)))
	for _, m := range []float64{1, 2, 5} {
		if m*power >= step {
			return m * power
		}
	}
	return 10 * power
}

// withMinus replaces the hyphen of a number by a minus sign; zero has no sign.
func withMinus(number string) string {
	if strings.Trim(number, "-0.") == "" {
		return strings.TrimPrefix(number, "-")
	}
	return strings.ReplaceAll(number, "-", "\u2212")
}
