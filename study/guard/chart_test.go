package guard

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
)

// Flow rates of ten batches, with mean 50.81, average moving range 1.8778 and limits
// 55.8041 and 45.8159 at d2 = 1.128. Source: NIST/SEMATECH e-Handbook of Statistical
// Methods, 6.3.2.2, individuals control charts; the figures from memory. Tolerance: half a
// unit of the last digit printed.
func TestIndividualsOfTheHandbook(t *testing.T) {
	c := newIndividuals([]float64{49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1})
	assert.InDelta(t, 50.81, c.Centre, 1e-12)
	assert.InDelta(t, 1.8778, c.MeanRange, 5e-5)
	lower, upper := c.limits(3)
	assert.InDelta(t, 55.8041, upper, 5e-5)
	assert.InDelta(t, 45.8159, lower, 5e-5)
}

// d2 is the mean of |a - b| of two standard normal values, which is the mean of a half-normal
// of variance 2: 2/√π. Chart handbooks print 1.128.
func TestRangeOfTwo(t *testing.T) {
	c := newIndividuals([]float64{0, 1})
	assert.InDelta(t, math.Sqrt(math.Pi)/2, c.Sigma, 5e-4*math.Sqrt(math.Pi)/2, "1.128 is 2/√π to three decimals")
}

// An average with target 50, sigma 2.0539 and weight 0.3 over 20 values, with limits
// 52.5884 and 47.4115. Source: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.4,
// EWMA control charts; all figures from memory. Its limits are those of a long run, from
// which the factor for 20 values differs by 4e-7; its 0.4201 for √(0.3/1.7) = 0.42008
// makes 1e-4.
func TestEWMAOfTheHandbook(t *testing.T) {
	e := ewma{target: 50, sigma: 2.0539, weight: 0.3, l: 3}
	want := []float64{50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33, 50.11, 49.36, 49.52, 50.05,
		49.38, 49.92, 50.73, 51.23, 51.94, 51.99}
	var lower, upper float64
	for i, x := range []float64{52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, 49.6, 47.6, 49.9, 51.3, 47.8,
		51.2, 52.6, 52.4, 53.6, 52.1} {
		var z float64
		z, lower, upper = e.add(x)
		assert.InDelta(t, want[i], z, 0.005, "value %d: half a unit of the last digit printed", i+1)
	}
	assert.InDelta(t, 52.5884, upper, 1.5e-4)
	assert.InDelta(t, 47.4115, lower, 1.5e-4)
}

// After one value the average is w·x, so its standard deviation is w·sigma; after two it is
// w·sigma·√(1 + (1-w)²). Worked by hand.
func TestEWMALimitsAtTheStart(t *testing.T) {
	e := ewma{target: 10, sigma: 2, weight: 0.2, l: 3}
	_, lower, upper := e.add(10)
	assert.InDelta(t, 10-3*0.4, lower, 1e-12)
	assert.InDelta(t, 10+3*0.4, upper, 1e-12)
	_, _, upper = e.add(10)
	assert.InDelta(t, 10+3*0.4*math.Sqrt(1.64), upper, 1e-12)
}

// A target that is the mean of n values adds (1 - (1-w)^t)²/n to the variance over sigma²:
// after one value (0.2)²/4 for n = 4, so that the limit is 3·2·√(0.04 + 0.01). By hand.
func TestEWMAOfAnUncertainTarget(t *testing.T) {
	e := ewma{target: 10, sigma: 2, weight: 0.2, l: 3, points: 4}
	_, lower, upper := e.add(10)
	assert.InDelta(t, 10-6*math.Sqrt(0.05), lower, 1e-12)
	assert.InDelta(t, 10+6*math.Sqrt(0.05), upper, 1e-12)
}

// steady are n values about 0.042 that alternate by ±d: mean range and smallest step 2d, so
// that a chart has sigma 2d·√(1/1.128² + 1/12) = 1.86468d, and one of 20 the limits 0.042 ±
// 3.71·√(1 + 1/20)·sigma = 0.042 ± 7.0888d (worked by hand).
func steady(n int, d float64) []CheckPoint {
	points := make([]CheckPoint, n)
	for i := range points {
		points[i] = CheckPoint{Value: 0.042 + d - 2*d*float64(i%2), Certified: study.Measure{Value: 0.0421, U: 0.0004}}
	}
	return points
}

func TestJudgeByCertificate(t *testing.T) {
	points := steady(5, 0.0001)
	points[2].Value = 0.0430
	points[3].Expired = true
	points[4].Certified = study.NoMeasure()
	j := JudgeChecks(points)
	assert.Equal(t, InControl, j[0].Verdict)
	assert.Equal(t, ByCertificate, j[0].Rule)
	assert.InDelta(t, 0.0413, float64(j[0].Lower), 1e-12)
	assert.InDelta(t, 0.0429, float64(j[0].Upper), 1e-12)
	assert.Equal(t, "within 2u of the certificate; provisional: 0 of the 20 sessions that a chart needs came before",
		j[0].Why)
	assert.True(t, j[0].Provisional)
	assert.False(t, j[0].EWMA.Valid(), "there is no chart yet")
	assert.Equal(t, OutOfLimits, j[2].Verdict)
	assert.Equal(t, "0.043 is above the upper limit 0.0429 of the certificate", j[2].Why)
	assert.Equal(t, ExpiredCertificate, j[3].Verdict)
	assert.Equal(t, NoCertificate, j[4].Verdict)
	assert.False(t, j[4].Upper.Valid())
}

func TestJudgeByChart(t *testing.T) {
	points := steady(26, 0.0001)
	points[20].Value = 0.0420
	points[21].Value = 0.04275 // beyond 0.042 + 7.0888e-4, though within the certificate
	points[22].Value = 0.0412  // on the other side
	j := JudgeChecks(points)
	assert.Equal(t, ByCertificate, j[19].Rule)
	assert.Equal(t, InControl, j[19].Verdict)
	require.Equal(t, ByChart, j[20].Rule)
	assert.Equal(t, InControl, j[20].Verdict)
	assert.InDelta(t, 0.042, float64(j[20].Centre), 1e-12)
	assert.False(t, j[20].Provisional)
	assert.InDelta(t, 0.04270888, float64(j[20].Upper), 5e-9)
	assert.InDelta(t, 0.042, float64(j[20].EWMA), 1e-12, "the average starts at the centre")
	assert.Equal(t, OutOfLimits, j[21].Verdict)
	assert.Equal(t, "0.04275 is above the upper limit 0.042709 of the chart", j[21].Why)
	assert.Equal(t, OutOfLimits, j[22].Verdict)
	assert.Contains(t, j[22].Why, "0.0412 is below the lower limit 0.041291 of the chart")
	assert.Equal(t, j[20].Upper, j[25].Upper, "the limits stand")

	for i := range points { // what comes later changes nothing
		part := JudgeChecks(points[:i+1])
		assert.Equal(t, j[i].Verdict, part[i].Verdict)
		assert.Equal(t, j[i].Why, part[i].Why)
	}
}

// A drift of 1.8 sigma that no single value shows is found by the EWMA. By hand: z[t] =
// centre + 1.8 sigma·(1 - 0.8^t), and the limit of a chart of 20 is 3.71 sigma·√((1 - 0.64^t)/9 +
// (1 - 0.8^t)²/20), which it passes first at t = 7 (1.4225 against 1.3755; at t = 6 1.3281
// against 1.3412).
func TestJudgeByEWMA(t *testing.T) {
	points := steady(32, 0.0001)
	for i := 20; i < 32; i++ {
		points[i].Value = 0.042 + 1.8*1.86468e-4
	}
	j := JudgeChecks(points)
	for i := 20; i < 32; i++ {
		want := InControl
		if i >= 26 {
			want = OutOfLimits
		}
		assert.Equal(t, want, j[i].Verdict, "value %d after the chart: %s", i-19, j[i].Why)
	}
	assert.Contains(t, j[31].Why, "the EWMA 0.0423")
	assert.Contains(t, j[31].Why, "is above the upper limit")
}

// A change restarts the chart, values out of limits by the certificate and under expired ones
// do not make it, and values that never differ make none.
func TestWhatMakesAChart(t *testing.T) {
	points := steady(60, 0.0001)
	points[30].Changed = true
	j := JudgeChecks(points)
	assert.Equal(t, ByChart, j[29].Rule)
	assert.Equal(t, ByCertificate, j[30].Rule)
	assert.Equal(t, ByCertificate, j[49].Rule)
	assert.Equal(t, ByChart, j[50].Rule)

	points = steady(24, 0.0001)
	points[3].Value = 0.05
	points[4].Expired = true
	j = JudgeChecks(points)
	assert.Equal(t, ByCertificate, j[21].Rule)
	assert.Equal(t, ByChart, j[22].Rule)

	j = JudgeChecks(steady(30, 0))
	assert.Equal(t, ByCertificate, j[29].Rule)

	points = steady(22, 0.0001)
	points[21].Expired = true
	assert.Equal(t, ExpiredCertificate, JudgeChecks(points)[21].Verdict,
		"by the chart in control, but nothing says what the standard is")
	assert.Empty(t, JudgeChecks(nil))
	one := newIndividuals([]float64{7})
	assert.Equal(t, 7.0, one.Centre)
	assert.True(t, math.IsNaN(one.Sigma))
	assert.Nil(t, newChart([]float64{7}))
	assert.Nil(t, newChart([]float64{7, 7, 7}))
}
