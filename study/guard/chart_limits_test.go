package guard

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
)

// alarm reports whether a chart of n values of a normal process raises an alarm, by a
// value or by the EWMA, in the 20 values after the first skip.
func alarm(rng *rand.Rand, n, skip int) bool {
	x := make([]float64, n)
	for i := range x {
		x[i] = rng.NormFloat64()
	}
	c, found := newChart(x), false
	for t := range skip + 20 {
		v := rng.NormFloat64()
		z, lower, upper := c.add(v)
		found = found || t >= skip && (v < c.Lower || v > c.Upper || z < lower || z > upper)
	}
	return found
}

// A process that nothing has moved is called out of control in at most 6 % of runs of 20
// sessions, by values and their EWMA together, whatever number of sessions from 2 to 100
// its chart was made of; and the limits are no wider than that asks for. The limits aim at
// 5 %; of 10,000 runs that has a standard deviation of 0.22 %, so the band is 4 of them
// below and more above.
func TestFalseAlarmsOfCharts(t *testing.T) {
	const runs = 10_000
	rate := func(n, skip int) float64 {
		rng := rand.New(rand.NewPCG(uint64(n), 1928))
		alarms := 0
		for range runs {
			if alarm(rng, n, skip) {
				alarms++
			}
		}
		return float64(alarms) / runs
	}
	for n := 2; n <= 100; n++ {
		r := rate(n, 0)
		assert.LessOrEqual(t, r, 0.06, "a chart of %d", n)
		assert.GreaterOrEqual(t, r, 0.041, "a chart of %d", n)
	}
	for _, n := range []int{5, 20, 60, 400} { // and in any later 20 sessions
		assert.LessOrEqual(t, rate(n, 40), 0.06, "a chart of %d, later", n)
	}
}

// Values that are written with few digits, down to those that mostly round to the same,
// raise no more false alarms. Without the variance of the rounding, a standard deviation of a
// quarter of a digit raised one in 40 % of the runs.
func TestFalseAlarmsOfRoundedValues(t *testing.T) {
	const runs = 4_000
	for _, sd := range []float64{0.15, 0.25, 0.4, 0.5, 0.7, 1, 2} { // of the last digit
		rng := rand.New(rand.NewPCG(3, 1928))
		alarms, charts := 0, 0
		for range runs {
			off := rng.Float64()
			draw := func() float64 { return math.Round(off + sd*rng.NormFloat64()) }
			x := make([]float64, ChartFrom)
			for i := range x {
				x[i] = draw()
			}
			c := newChart(x)
			if c == nil {
				continue
			}
			charts++
			found := false
			for range 20 {
				v := draw()
				z, lower, upper := c.add(v)
				found = found || v < c.Lower || v > c.Upper || z < lower || z > upper
			}
			if found {
				alarms++
			}
		}
		assert.LessOrEqual(t, float64(alarms), 0.06*float64(charts), "a standard deviation of %g digits", sd)
	}
}

// The same by the judgement of sessions: 20 that make the chart, and 20 held against it. A
// process that moved by three of its standard deviations is found.
func TestFalseAlarmsOfSessions(t *testing.T) {
	const runs = 4_000
	out := func(shift float64) float64 {
		rng := rand.New(rand.NewPCG(20, 1928))
		alarms := 0
		for range runs {
			points := make([]CheckPoint, 2*ChartFrom)
			for i := range points {
				points[i] = CheckPoint{Value: 0.04 + 1e-4*rng.NormFloat64(), Certified: study.Measure{Value: 0.04, U: 0.001}}
				if i >= ChartFrom {
					points[i].Value += shift * 1e-4
				}
			}
			judged := JudgeChecks(points)
			found := false
			for i, j := range judged {
				require.Equal(t, i < ChartFrom, j.Provisional)
				found = found || j.Verdict != InControl
			}
			if found {
				alarms++
			}
		}
		return float64(alarms) / runs
	}
	assert.LessOrEqual(t, out(0), 0.06)
	assert.GreaterOrEqual(t, out(3), 0.99)
}

// Before there is a chart the certificate decides; that a value leaves the ways of the
// sessions before is remarked.
func TestRemarkBeforeThereIsAChart(t *testing.T) {
	points := steady(10, 0.00005)
	points[9].Value = 0.0427 // within the certificate, 0.0413 to 0.0429
	j := JudgeChecks(points)[9]
	assert.Equal(t, InControl, j.Verdict)
	// by hand: 9 values of mean 0.042 + 0.00005/9 and sigma 0.932340e-4; the factor of 9, linear
	// in 1/n between 4.65 for 8 and 4.32 for 10, is 4.4667; 4.4667·√(1 + 1/9)·sigma = 4.3897e-4
	assert.Equal(t, "within 2u of the certificate; provisional: 9 of the 20 sessions that a chart needs came before, "+
		"and 0.0427 is above the upper limit 0.042445 of a chart of these", j.Why)
	assert.NotContains(t, JudgeChecks(points)[8].Why, "a chart of these")
}
