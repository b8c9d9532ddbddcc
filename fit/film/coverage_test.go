package film_test

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"

	"wane/fit/film"
)

// What is asked of the share of 95 % intervals that contain the truth. Where the truth
// lies on a bound (bare fraction 0, no film) intervals are one-sided, and only the lower
// limit holds; so for the material left where its factors cannot be told apart, which
// makes its interval wide. Of an unchanged spot no more than 6.6 % may be called changed.
const (
	leastCovered   = 0.93
	mostCovered    = 0.97
	leastUnchanged = 0.934
	asked          = 0.95 // of intervals, exactly
	leastWarned    = 0.95 // flagged, or else covered, where the curves do not determine a quantity
)

// line is one line of the table: a share of runs and what is asked of it.
type line struct {
	scene, what, truth string
	runs, counted      int // all, and those that the share is of
	flagged            int
	share              float64
	least, most        float64
	rms, mean          float64 // of error over uncertainty; NaN where the share is not one of intervals
	why                string  // it misses what is asked; empty: it must not
}

// binomial is the standard error of a share p of n.
func binomial(p float64, n int) float64 { return math.Sqrt(p * (1 - p) / float64(n)) }

// limits are taken as they stand for 1,000 runs or more: at 95 % covered, the share of
// 2,000 runs has a standard error of 0.5 %. Fewer runs keep the exact binomial limits of
// intervals that cover 95 %, which chance leaves once in 1,000 times, half of them at
// each end; what is no share of intervals, the lower limit of what just is enough.
func (l *line) limits() (least, most float64) {
	switch {
	case l.counted >= 1000:
		return l.least, l.most
	case math.IsNaN(l.rms):
		least, _ = binomialLimits(l.least, l.counted)
		return least, 1
	}
	least, most = binomialLimits(asked, l.counted)
	if l.most == 1 { // one-sided
		most = 1
	}
	return least, most
}

// binomialLimits returns the shares of n that a probability p leaves once in 1,000 times,
// half of them at each end.
func binomialLimits(p float64, n int) (least, most float64) {
	const tail = 0.0005
	d := distuv.Binomial{N: float64(n), P: p}
	lo, hi := 0, n
	for d.CDF(float64(lo)) < tail {
		lo++
	}
	for hi > 0 && 1-d.CDF(float64(hi-1)) < tail {
		hi--
	}
	return float64(lo) / float64(n), float64(hi) / float64(n)
}

// The floor of a short run is one: of 400 intervals that cover 85 %, or nearly all of
// what they should miss, some share outside the limits is as good as certain; those that
// cover 95 % stay inside.
func TestCoverageLimitsTell(t *testing.T) {
	l := line{counted: shortRuns, least: leastCovered, most: mostCovered}
	least, most := l.limits()
	passes := func(p float64) float64 {
		d := distuv.Binomial{N: shortRuns, P: p}
		return d.CDF(math.Round(most*shortRuns)) - d.CDF(math.Round(least*shortRuns)-1)
	}
	// R 4.2.2: qbinom(c(0.0005, 0.9995), 400, 0.95) is 364 393
	assert.InDelta(t, 364, least*shortRuns, 1e-9)
	assert.InDelta(t, 393, most*shortRuns, 1e-9)
	assert.Greater(t, passes(0.95), 0.998)
	assert.Less(t, passes(0.85), 0.001)
	assert.Less(t, passes(0.995), 0.05)
}

func (l *line) String() string {
	end := ""
	if !math.IsNaN(l.rms) {
		end = fmt.Sprintf("%5.2f %6.2f", l.rms, l.mean)
	}
	if l.why != "" && (l.share < l.least || l.share > l.most) {
		end += "  misses: " + l.why
	}
	return strings.TrimRight(fmt.Sprintf("%-15s %-24s %-8s %5d %6.1f ±%.1f %5.1f-%-5.1f %7.1f  %s", l.scene, l.what,
		l.truth, l.counted, 100*l.share,
		100*binomial(l.share, l.counted), 100*l.least, 100*l.most, 100*float64(l.flagged)/float64(l.runs), end), " ")
}

const lineHead = "scene           share of                 truth     runs      %        asked   flagged  rms z mean z"

// covers reports whether the 95 % interval of c contains the truth.
func (c claim) covers() bool { return math.Abs(c.off) <= 1.959964*c.u }

// warned counts the runs whose verdict warns of a quantity.
func warned(what string, found []outcome) (n int) {
	for _, o := range found {
		if o.claims[what].warned {
			n++
		}
	}
	return n
}

// covered is the line of the intervals of a quantity.
func (s *scene) covered(what string, found []outcome) line {
	l := line{scene: s.name, what: what, truth: "inside", runs: len(found), flagged: warned(what, found),
		least: leastCovered, most: mostCovered, why: s.misses[what]}
	if s.bare[1] == 0 {
		l.truth, l.most = "at bound", 1
	}
	if len(s.hidden) > 0 && what == ofSolid {
		l.most = 1
	}
	if s.unchanged && what == ofChange {
		l.least = leastUnchanged
	}
	covered := 0
	for _, o := range found {
		c := o.claims[what]
		if c.warned {
			continue
		}
		z := c.off / c.u
		l.counted++
		l.mean += z
		l.rms += z * z
		if c.covers() {
			covered++
		}
	}
	n := float64(l.counted)
	l.share, l.mean, l.rms = float64(covered)/n, l.mean/n, math.Sqrt(l.rms/n)
	return l
}

// counted is the line of the runs of which something is true.
func (s *scene) counted(what string, least float64, found []outcome, is func(o *outcome) bool) line {
	l := line{scene: s.name, what: what, runs: len(found), counted: len(found), least: least, most: 1, rms: math.NaN()}
	n := 0
	for i := range found {
		if is(&found[i]) {
			n++
		}
	}
	l.share = float64(n) / float64(len(found))
	return l
}

// lines are those of a scene.
func (s *scene) lines(found []outcome) (out []line) {
	if s.model != "" {
		out = append(out, s.counted("called "+s.model, s.called, found, func(o *outcome) bool { return o.model == s.model }))
	}
	for _, what := range claimed {
		switch {
		case slices.Contains(s.hidden, what):
			l := s.counted("flag, or right "+what, leastWarned, found, func(o *outcome) bool {
				return o.claims[what].warned ||
					o.claims[what].covers()
			})
			l.flagged = warned(what, found)
			out = append(out, l)
		case s.model != film.ModelBare || what == ofSolarT || what == ofChange: // bare glass has no film to tell of
			out = append(out, s.covered(what, found))
		}
	}
	return out
}

var scenes = []scene{
	{name: "fresh, whole", thickness: freshNM, porosity: span{0.25, 0.45}, angles: fourAngles},
	{name: "fresh", thickness: freshNM, porosity: span{0.25, 0.45}, bare: freshBare, angles: fourAngles},
	{name: "thinned", thickness: span{60, 110}, porosity: span{0.25, 0.45}, bare: span{0.01, 0.05}, angles: fourAngles},
	{name: "patchy", thickness: span{90, 130}, porosity: span{0.25, 0.45}, bare: span{0.05, 0.5}, angles: fourAngles},
	{name: "textured", thickness: span{90, 130}, porosity: span{0.25, 0.45}, bare: span{0.01, 0.2}, angles: fourAngles,
		textured: true},
	{name: "thin", thickness: span{30, 60}, porosity: span{0.25, 0.45}, bare: span{0.01, 0.2}, angles: fourAngles},
	{name: "native beam", thickness: span{90, 130}, porosity: span{0.25, 0.45}, bare: span{0.01, 0.2},
		angles: fourAngles, native: true},
	{name: "unchanged", thickness: freshNM, porosity: span{0.25, 0.45}, bare: freshBare, angles: fourAngles,
		unchanged: true},
	{name: "blank", angles: fourAngles, unchanged: true, model: film.ModelBare, called: 0.982},
	{name: "stripped", angles: fourAngles, model: film.ModelBare, called: 0.982},
	{name: "20 nm film", thickness: span{20, 20}, porosity: span{0.25, 0.45}, angles: fourAngles, model: film.ModelFilm,
		called: 0.95,
		hidden: []string{film.Porosity, film.Bare}},
	{name: "12 nm remnant", thickness: span{12, 12}, porosity: span{0.25, 0.45}, bare: span{0.1, 0.4}, angles: fourAngles,
		hidden: []string{film.Thickness, film.Porosity, film.Bare}},
	{name: "one angle", thickness: span{90, 130}, porosity: span{0.25, 0.45}, bare: span{0.05, 0.3}, angles: []float64{8},
		hidden: []string{film.Thickness, film.Porosity, film.Bare}},
}

// shortRuns is how many spots or sessions of each scene .ci/run simulates.
const shortRuns = 400

// The 95 % intervals of 2,000 spots or sessions per scene (400 unless WANE_LONG is set)
// contain the truth as often as they say, and flags fire where a quantity cannot be
// recovered. Truths are drawn from what is taken to be known beforehand, and each spot is
// read at two pulls, in two sessions.
func TestCoverage(t *testing.T) {
	var table strings.Builder
	check := func(s *scene, found []outcome) {
		lines := s.lines(found)
		for i := range lines {
			l := &lines[i]
			fmt.Fprintln(&table, l)
			least, most := l.limits()
			what := l.scene + ": " + l.what
			switch {
			case l.why == "":
				assert.GreaterOrEqual(t, l.share, least, what)
				assert.LessOrEqual(t, l.share, most, what)
			case l.counted >= 1000:
				assert.False(t, least <= l.share && l.share <= most, "%s is said to miss, and does not: %s", what, l.why)
			}
		}
	}
	for i := range scenes {
		s := scenes[i]
		found, err := simulate(runs(shortRuns), func() (func(int) (outcome, error), error) {
			sim, err := newSimulator(s, uint64(i+1))
			return sim.run, err
		})
		require.NoError(t, err, s.name)
		check(&s, found)
	}
	for i := range sessionScenes {
		s := sessionScenes[i]
		found, err := simulate(runs(shortRuns), func() (func(int) (outcome, error), error) {
			sim, err := newSessionSimulator(s, uint64(100+i))
			return sim.run, err
		})
		require.NoError(t, err, s.name)
		check(&scene{name: s.name, bare: sessionBare, misses: s.misses}, found)
	}
	t.Logf("\n%s\n%s", lineHead, table.String())
}
