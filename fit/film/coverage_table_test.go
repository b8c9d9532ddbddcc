package film_test

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"gonum.org/v1/gonum/stat/distuv"
)

// What is asked of the share of 95 % intervals that contain the truth, and of the root mean square of error over
// standard uncertainty: too wide is a fault too. Of unchanged spots 3.5 to 6.5 % may be called changed.
const (
	leastCovered, mostCovered     = 0.93, 0.97
	leastUnchanged, mostUnchanged = 0.935, 0.965
	leastRMS, mostRMS             = 0.9, 1.1
	nominal                       = 0.95 // of intervals, exactly
	tail                          = 0.0005
	longRuns                      = 1000 // from so many on, limits are those asked
)

// line is one line of the table: the intervals of one quantity in one scene.
type line struct {
	scene, what string
	counted     int // runs; those that say that they do not determine the quantity are not
	covered     int
	squares     float64 // sum of squares of error over u
	sum         float64 // of error over u
	u           float64 // sum
	oneSided    bool    // the truth lies on a bound: intervals may be wide, but must not miss
}

// lineOf is the line of a quantity.
func lineOf(scene, what string, found []outcome, oneSided bool) line {
	l := line{scene: scene, what: what, oneSided: oneSided}
	for i := range found {
		c, ok := found[i].claims[what]
		if !ok || c.notSeparable {
			continue
		}
		l.counted++
		if c.covers() {
			l.covered++
		}
		z := c.off / c.u
		l.sum, l.squares, l.u = l.sum+z, l.squares+z*z, l.u+c.u
	}
	return l
}

// add pools another line of the quantity.
func (l *line) add(other *line) {
	l.counted, l.covered = l.counted+other.counted, l.covered+other.covered
	l.sum, l.squares, l.u = l.sum+other.sum, l.squares+other.squares, l.u+other.u
}

func (l *line) share() float64 { return float64(l.covered) / float64(l.counted) }
func (l *line) rms() float64   { return math.Sqrt(l.squares / float64(l.counted)) }

// asked is the range of the share that is asked for.
func (l *line) asked() (least, most float64) {
	if l.what == ofUnchanged || l.what == ofSameSession {
		return leastUnchanged, mostUnchanged
	}
	return leastCovered, mostCovered
}

// limits are those that chance leaves once in 1,000 times, half of them at each end: exact binomial ones of the
// share, from longRuns on of shares at the ends of what is asked, and of intervals that cover exactly 95 % for fewer;
// for rms z those of normal errors at the ends of what is asked.
func (l *line) limits() (share, rms [2]float64) {
	low, high := nominal, nominal
	if l.counted >= longRuns {
		low, high = l.asked()
	}
	share[0], _ = binomialLimits(low, l.counted)
	_, share[1] = binomialLimits(high, l.counted)
	squares := distuv.ChiSquared{K: float64(l.counted)}
	rms[0] = leastRMS * math.Sqrt(squares.Quantile(tail)/squares.K)
	rms[1] = mostRMS * math.Sqrt(squares.Quantile(1-tail)/squares.K)
	if l.oneSided {
		share[1], rms[0] = 1, 0
	}
	return share, rms
}

// check holds the line to its limits.
func (l *line) check(t *testing.T) {
	t.Helper()
	share, rms := l.limits()
	what := l.scene + ": " + l.what
	assert.GreaterOrEqual(t, l.share(), share[0], "%s, share covered", what)
	assert.LessOrEqual(t, l.share(), share[1], "%s, share covered", what)
	assert.GreaterOrEqual(t, l.rms(), rms[0], "%s, rms z", what)
	assert.LessOrEqual(t, l.rms(), rms[1], "%s, rms z", what)
}

const lineHead = "scene                  of                       runs  covered  rms z  mean z    mean u"

func (l *line) String() string {
	n := float64(l.counted)
	mark := ""
	limits, rms := l.limits()
	switch {
	case l.share() < limits[0] || l.rms() > rms[1]:
		mark = "narrow"
	case l.share() > limits[1] || l.rms() < rms[0]:
		mark = "wide"
	case l.oneSided:
		mark = "truth at a bound"
	}
	return fmt.Sprintf("%-22s %-24s %4d  %5.1f %%  %5.2f  %6.2f  %8.3g  %s", l.scene, l.what, l.counted,
		100*l.share(), l.rms(), l.sum/n, l.u/n, mark)
}

// binomialLimits returns the shares of n that a probability p leaves with the probability tail at each end.
func binomialLimits(p float64, n int) (least, most float64) {
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

// The limits of a short run are some: of 400 intervals that cover 85 %, or nearly all of what they should miss, a
// share outside them is as good as certain, and of 700, the runs of several scenes together, of those that cover 90
// %; those that cover 95 % stay inside.
func TestCoverageLimitsTell(t *testing.T) {
	passes := func(p float64, n int) float64 {
		l := line{counted: n}
		share, _ := l.limits()
		d := distuv.Binomial{N: float64(n), P: p}
		return d.CDF(math.Round(share[1]*d.N)) - d.CDF(math.Round(share[0]*d.N)-1)
	}
	// R 4.2.2: qbinom(c(0.0005, 0.9995), 400, 0.95) is 364 393
	least, most := binomialLimits(nominal, 400)
	assert.InDelta(t, 364, least*400, 1e-9)
	assert.InDelta(t, 393, most*400, 1e-9)
	assert.Greater(t, passes(0.95, 400), 0.998)
	assert.Less(t, passes(0.85, 400), 0.001)
	assert.Less(t, passes(0.995, 400), 0.05)
	assert.Greater(t, passes(0.95, 700), 0.998)
	assert.Less(t, passes(0.90, 700), 0.05)
}
