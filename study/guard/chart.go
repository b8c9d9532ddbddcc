package guard

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"wane/fit/film"
	"wane/study"
)

// Figures of control charts.
const (
	// rangeOfTwo is d2 for two values: the mean range of two normal values over their
	// standard deviation, 2/√π to three decimals as handbooks print it.
	rangeOfTwo = 1.128
	ewmaWeight = 0.2 // of the newest value; common practice, no source

	// certificateSigmas is how many standard uncertainties of its certificate a check
	// standard may lie off it; common practice, no source.
	certificateSigmas = 2.0
)

// ChartFrom is how many sessions a chart needs; with fewer, verdicts are provisional.
const ChartFrom = 20

// individuals is what an individuals (Shewhart) chart is made of. With x the values and R
// the mean of |x[i] - x[i-1]|,
//
//	sigma = R / d2        limits = mean(x) ± k·sigma        d2 = 1.128, k = 3 in handbooks
//
// Source: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2.
type individuals struct{ Centre, MeanRange, Sigma float64 }

// newIndividuals returns the chart of at least two values in their order; of fewer, all
// of it but the centre is NaN.
func newIndividuals(x []float64) individuals {
	sum, moved := 0.0, 0.0
	for i, v := range x {
		sum += v
		if i > 0 {
			moved += math.Abs(v - x[i-1])
		}
	}
	c := individuals{Centre: sum / float64(len(x)), MeanRange: math.NaN()}
	if len(x) > 1 {
		c.MeanRange = moved / float64(len(x)-1)
	}
	c.Sigma = c.MeanRange / rangeOfTwo
	return c
}

// Limits returns those at k sigma.
func (c individuals) Limits(k float64) (lower, upper float64) {
	return c.Centre - k*c.Sigma, c.Centre + k*c.Sigma
}

// ewma is an exponentially weighted moving average on its chart. With z[0] the target,
//
//	z[t] = w·x[t] + (1 - w)·z[t-1]
//	limits = target ± L·sigma·√(w/(2 - w)·(1 - (1 - w)^(2t)) + (1 - (1 - w)^t)²/n)
//
// which widen from ±L·w·sigma to what handbooks print, without the last factor and with a
// target that is known. The second term is the variance of a target that is the mean of n
// values, over sigma², as far as z has left it.
// Source: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.4; the last factor of the
// first term is the variance of a sum of t terms, from memory of S. W. Roberts,
// Technometrics 1 (1959).
type ewma struct {
	Target, Sigma, Weight, L float64
	Points                   int     // of which the target is the mean; 0: it is known
	z                        float64 // less the target
	t                        int
}

// Add takes the next value in and returns the average and its limits.
func (e *ewma) Add(x float64) (z, lower, upper float64) {
	e.t++
	e.z += e.Weight * (x - e.Target - e.z)
	variance := e.Weight / (2 - e.Weight) * (1 - math.Pow(1-e.Weight, 2*float64(e.t)))
	if e.Points > 0 {
		left := 1 - math.Pow(1-e.Weight, float64(e.t))
		variance += left * left / float64(e.Points)
	}
	half := e.L * e.Sigma * math.Sqrt(variance)
	return e.Target + e.z, e.Target - half, e.Target + half
}

// chart holds values against those it was made of, by themselves and by their EWMA: both
// limits are at chartFactor standard deviations of what is compared, the scatter of the
// mean of the chart's own points included. To the variance of the values is added that of
// their rounding, step²/12 with the smallest step between them: values that mostly round
// to the same would leave any limits of their own at every other session.
type chart struct {
	individuals
	Lower, Upper float64 // of a value
	average      ewma
}

// newChart makes a chart of at least two values, nil of fewer or if they never differed.
func newChart(x []float64) *chart {
	own := newIndividuals(x)
	if !(own.MeanRange > 0) {
		return nil
	}
	own.Sigma = math.Hypot(own.Sigma, film.SmallestStep(x)/math.Sqrt(12))
	k, n := chartFactor(len(x)), float64(len(x))
	c := &chart{individuals: own}
	c.average = ewma{Target: own.Centre, Sigma: own.Sigma, Weight: ewmaWeight, L: k, Points: len(x)}
	c.Lower, c.Upper = own.Limits(k * math.Sqrt(1+1/n))
	return c
}

// Add takes the next value in and returns its EWMA and the limits of that.
func (c *chart) Add(x float64) (z, lower, upper float64) { return c.average.Add(x) }

// chartFactors are the factors of charts of n points: where a normal process that nothing
// has moved leaves the limits, of values or of their EWMA, in 5 % of runs of 20 sessions.
// The 95 % points of 400,000 simulated runs each, rounded up; chart_limits_test.go has the
// simulation. They fall slowly, for a mean range of few points says little of sigma: with
// 3 sigma throughout, a chart of 20 points raises a false alarm in 23 % of the runs.
var chartFactors = []struct {
	points int
	k      float64
}{
	{2, 26.5}, {3, 9.2}, {4, 6.85}, {5, 5.85}, {6, 5.27}, {7, 4.9}, {8, 4.65},
	{10, 4.32}, {12, 4.1}, {15, 3.9}, {20, 3.71}, {30, 3.52}, {50, 3.37}, {100, 3.26},
}

// chartFactorKnown is that of a chart whose mean and sigma are known.
const chartFactorKnown = 3.15

// chartFactor returns at how many standard deviations the limits of a chart of n points
// stand, n at least 2: between the points of the table, linear in 1/n.
func chartFactor(n int) float64 {
	at := 1 / float64(n)
	last := chartFactors[0]
	for _, f := range chartFactors {
		if n <= f.points {
			return interpolate(at, 1/float64(last.points), last.k, 1/float64(f.points), f.k)
		}
		last = f
	}
	return interpolate(at, 1/float64(last.points), last.k, 0, chartFactorKnown)
}

// interpolate is the value at x of the line through two points.
func interpolate(x, x0, y0, x1, y1 float64) float64 {
	if x1 == x0 {
		return y0
	}
	return y0 + (y1-y0)*(x-x0)/(x1-x0)
}

// CheckVerdict is what a check standard says of a session.
type CheckVerdict string

// The verdicts. NoReading is that of a session without one.
const (
	NoReading          CheckVerdict = "no reading"
	OutOfLimits        CheckVerdict = "out of limits"
	ExpiredCertificate CheckVerdict = "expired certificate"
	NoCertificate      CheckVerdict = "no certificate"
	InControl          CheckVerdict = "in control"
)

// The rules by which a reading of a check standard is judged.
const (
	ByCertificate = "certificate"
	ByChart       = "chart"
)

// CheckPoint is the value of a check standard in one session.
type CheckPoint struct {
	Value     float64
	Certified study.Measure // by the certificate that held; null: none did
	Expired   bool          // it had
	// Changed marks the first session after something moved the readings on purpose.
	Changed bool
}

// Judged is the verdict on a point with what it was held against. Limits that do not
// apply are null.
type Judged struct {
	Rule                       string // ByCertificate or ByChart, empty if there is nothing to hold it against
	Centre, Lower, Upper       study.Num
	EWMA, EWMALower, EWMAUpper study.Num
	Verdict                    CheckVerdict
	Provisional                bool // by the certificate, for want of a chart
	Why                        string
}

// JudgeChecks judges the values of one check standard at one instrument, in the order of
// the sessions. Each verdict depends on what was known at the session: nothing that comes
// later changes it.
//
// A value is held against the certificate, certified ± 2u, until 20 sessions since the
// last change were found in control by it: provisionally, for a process may leave its own
// ways without leaving those limits, which is remarked. From their values comes the chart,
// which stands until the next change, with the EWMA (weight 0.2) of the sessions after them
// from its centre on. Values that never differed at all make no chart.
func JudgeChecks(points []CheckPoint) []Judged {
	out := make([]Judged, len(points))
	var good []float64
	var chart *chart
	for i, p := range points {
		if p.Changed {
			good, chart = nil, nil
		}
		j := &out[i]
		*j = Judged{Centre: study.Null(), Lower: study.Null(), Upper: study.Null(), EWMA: study.Null(),
			EWMALower: study.Null(), EWMAUpper: study.Null()}
		if chart != nil {
			j.byChart(&p, chart)
		} else if j.byCertificate(&p, good); j.Verdict == InControl {
			good = append(good, p.Value)
		}
		if chart == nil && len(good) >= ChartFrom {
			chart = newChart(good)
		}
	}
	return out
}

// byCertificate judges a point after sessions in control, whose values are good.
func (j *Judged) byCertificate(p *CheckPoint, good []float64) {
	if !p.Certified.Value.Valid() {
		j.Verdict, j.Why = NoCertificate, "no certificate was issued by then"
		return
	}
	v, u := p.Certified.Value, p.Certified.U
	j.Rule, j.Centre, j.Lower, j.Upper = ByCertificate, v, v-certificateSigmas*u, v+certificateSigmas*u
	j.Verdict, j.Provisional = InControl, true
	j.Why = fmt.Sprintf("within 2u of the certificate; provisional: %d of the %d sessions that a chart needs came before",
		len(good), ChartFrom)
	if c := newChart(good); c != nil {
		if said := sayOutside("", p.Value, study.Num(c.Lower), study.Num(c.Upper), " of a chart of these"); said != "" {
			j.Why += ", and " + said
		}
	}
	j.judge(p, sayOutside("", p.Value, j.Lower, j.Upper, " of the certificate"))
}

func (j *Judged) byChart(p *CheckPoint, c *chart) {
	j.Rule, j.Centre, j.Lower, j.Upper = ByChart, study.Num(c.Centre), study.Num(c.Lower), study.Num(c.Upper)
	z, lower, upper := c.Add(p.Value)
	j.EWMA, j.EWMALower, j.EWMAUpper = study.Num(z), study.Num(lower), study.Num(upper)
	j.Verdict, j.Why = InControl, "within the limits of the chart and of its EWMA"
	var faults []string
	for _, f := range []string{sayOutside("", p.Value, j.Lower, j.Upper, " of the chart"),
		sayOutside("the EWMA ", z, j.EWMALower, j.EWMAUpper, "")} {
		if f != "" {
			faults = append(faults, f)
		}
	}
	j.judge(p, strings.Join(faults, ", and "))
}

// judge worsens a verdict of in control: fault says how the point lies outside, if it
// does.
func (j *Judged) judge(p *CheckPoint, fault string) {
	switch {
	case fault != "":
		j.Verdict, j.Why = OutOfLimits, fault
	case p.Expired:
		j.Verdict, j.Why = ExpiredCertificate, "its certificate had expired"
	}
}

// sayOutside says on which side of the limits of something a value lies, "" if on neither.
func sayOutside(who string, value float64, lower, upper study.Num, of string) string {
	switch {
	case value < float64(lower):
		return who + formatShort(value) + " is below the lower limit " + formatShort(float64(lower)) + of
	case value > float64(upper):
		return who + formatShort(value) + " is above the upper limit " + formatShort(float64(upper)) + of
	}
	return ""
}

func formatShort(v float64) string { return strconv.FormatFloat(v, 'g', 5, 64) }
