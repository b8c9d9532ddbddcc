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
	ewmaWeight = 0.2 // weight of the newest value; common practice, no source

	// certificateSigmas is the largest allowed difference of a check standard from its
	// certificate, in standard uncertainties of the certificate; common practice, no source.
	certificateSigmas = 2.0
)

// ChartFrom is the number of sessions that a chart needs. With fewer, verdicts are
// provisional.
const ChartFrom = 20

// individuals holds the figures of an individuals (Shewhart) chart, in the unit of the
// values. With x the values and R the mean of |x[i] - x[i-1]|,
//
//	sigma = R / d2        limits = mean(x) ± k·sigma        d2 = 1.128, k = 3 in handbooks
//
// Source: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2.
type individuals struct{ Centre, MeanRange, Sigma float64 }

// newIndividuals returns the chart of the values x in their order. With one value,
// MeanRange and Sigma are NaN; with none, Centre is NaN too.
func newIndividuals(x []float64) individuals {
	sum, ranges := 0.0, 0.0
	for i, v := range x {
		sum += v
		if i > 0 {
			ranges += math.Abs(v - x[i-1])
		}
	}
	c := individuals{Centre: sum / float64(len(x)), MeanRange: math.NaN()}
	if len(x) > 1 {
		c.MeanRange = ranges / float64(len(x)-1)
	}
	c.Sigma = c.MeanRange / rangeOfTwo
	return c
}

// limits returns the limits at k sigma.
func (c individuals) limits(k float64) (lower, upper float64) {
	return c.Centre - k*c.Sigma, c.Centre + k*c.Sigma
}

// ewma is an exponentially weighted moving average on its chart. With z[0] the target,
//
//	z[t] = w·x[t] + (1 - w)·z[t-1]
//	limits = target ± L·sigma·√(w/(2 - w)·(1 - (1 - w)^(2t)) + (1 - (1 - w)^t)²/n)
//
// The first term under the root is the variance of z over sigma². For large t it is
// w/(2 - w), as handbooks print it. The second term is the variance of a target that is the
// mean of n values; it is 0 if the target is known.
// Source: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.4; the last factor of the
// first term is the variance of a sum of t terms, from memory of S. W. Roberts,
// Technometrics 1 (1959).
type ewma struct {
	target, sigma, weight, l float64
	points                   int     // n, number of values of which the target is the mean; 0: it is known
	z                        float64 // average less the target
	t                        int     // number of values added
}

// add adds the next value and returns the average and its limits.
func (e *ewma) add(x float64) (z, lower, upper float64) {
	e.t++
	e.z += e.weight * (x - e.target - e.z)
	variance := e.weight / (2 - e.weight) * (1 - math.Pow(1-e.weight, 2*float64(e.t)))
	if e.points > 0 {
		share := 1 - math.Pow(1-e.weight, float64(e.t))
		variance += share * share / float64(e.points)
	}
	half := e.l * e.sigma * math.Sqrt(variance)
	return e.target + e.z, e.target - half, e.target + half
}

// chart compares values with the points of which it was made, singly and by their EWMA.
// With n points and k = chartFactor(n), the limits of a single value are
//
//	mean ± k·sigma·√(1 + 1/n)
//
// and those of the EWMA include the same scatter of the mean. The variance of the values
// includes that of their rounding, step²/12 with the smallest step between them. Values
// that mostly round to the same number would otherwise exceed their own limits at every
// other session.
type chart struct {
	individuals
	Lower, Upper float64 // of a value
	average      ewma
}

// newChart returns the chart of at least two values. It returns nil for fewer, and if all
// values are equal.
func newChart(x []float64) *chart {
	own := newIndividuals(x)
	if !(own.MeanRange > 0) {
		return nil
	}
	own.Sigma = math.Hypot(own.Sigma, film.SmallestStep(x)/math.Sqrt(12))
	k, n := chartFactor(len(x)), float64(len(x))
	c := &chart{individuals: own}
	c.average = ewma{target: own.Centre, sigma: own.Sigma, weight: ewmaWeight, l: k, points: len(x)}
	c.Lower, c.Upper = own.limits(k * math.Sqrt(1+1/n))
	return c
}

// add adds the next value and returns the EWMA and its limits.
func (c *chart) add(x float64) (z, lower, upper float64) { return c.average.add(x) }

// chartFactors holds the factors k of charts of n points. With k, a normal process without
// change exceeds the limits of values or of their EWMA in 5 % of runs of 20 sessions. Each
// is the 95 % point of 400,000 simulated runs, rounded up; chart_limits_test.go has the
// simulation. The factors fall slowly with n, since the mean range of few points is a poor
// measure of sigma: with k = 3, a chart of 20 points raises a false alarm in 23 % of the
// runs.
var chartFactors = []struct {
	points int
	k      float64
}{
	{2, 26.5}, {3, 9.2}, {4, 6.85}, {5, 5.85}, {6, 5.27}, {7, 4.9}, {8, 4.65},
	{10, 4.32}, {12, 4.1}, {15, 3.9}, {20, 3.71}, {30, 3.52}, {50, 3.37}, {100, 3.26},
}

// chartFactorKnown is the factor of a chart with known mean and sigma.
const chartFactorKnown = 3.15

// chartFactor returns the factor k of a chart of n points, n at least 2. Between the points
// of the table it is linear in 1/n.
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

// interpolate returns the value at x of the line through (x0, y0) and (x1, y1).
func interpolate(x, x0, y0, x1, y1 float64) float64 {
	if x1 == x0 {
		return y0
	}
	return y0 + (y1-y0)*(x-x0)/(x1-x0)
}

// CheckVerdict is the verdict of a check standard on a session.
type CheckVerdict string

// The verdicts. NoReading is that of a session without a reading of the check standard.
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
	Certified study.Measure // by the certificate of the day; null: none was valid
	Expired   bool          // whether that certificate had expired

	// Changed marks the first session after an intended change of the readings.
	Changed bool
}

// Judged is the verdict on a point, with the centre and the limits that it was compared
// with. Limits that do not apply are null.
type Judged struct {
	Rule                       string // ByCertificate or ByChart, empty if there is nothing to compare it with
	Centre, Lower, Upper       study.Num
	EWMA, EWMALower, EWMAUpper study.Num
	Verdict                    CheckVerdict
	Provisional                bool // by the certificate, since there is no chart yet
	Why                        string
}

// JudgeChecks judges the values of one check standard at one instrument, in the order of
// the sessions. Each verdict depends only on the sessions before it: later ones do not
// change it. The result is as long as points, which are not changed.
//
// Until 20 sessions since the last change are in control, a value is compared with the
// certificate, certified ± 2u. Such a verdict is provisional: a process may drift within
// those limits. The reason says so if the value is outside the limits of a chart of the
// sessions so far. After 20 sessions their values make the chart, which is valid until the
// next change. Its EWMA (weight 0.2) begins at the centre with the next session. Values that
// are all equal make no chart.
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

// byCertificate judges a point by the certificate. good holds the values of the sessions in
// control before it.
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

// byChart judges a point by the chart and adds it to the EWMA.
func (j *Judged) byChart(p *CheckPoint, c *chart) {
	j.Rule, j.Centre, j.Lower, j.Upper = ByChart, study.Num(c.Centre), study.Num(c.Lower), study.Num(c.Upper)
	z, lower, upper := c.add(p.Value)
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

// judge replaces the verdict in control if there is a fault or if the certificate had
// expired. fault says how the point lies outside the limits; empty if it does not.
func (j *Judged) judge(p *CheckPoint, fault string) {
	switch {
	case fault != "":
		j.Verdict, j.Why = OutOfLimits, fault
	case p.Expired:
		j.Verdict, j.Why = ExpiredCertificate, "its certificate had expired"
	}
}

// sayOutside says on which side of the limits a value lies; empty if it is between them.
func sayOutside(who string, value float64, lower, upper study.Num, of string) string {
	switch {
	case value < float64(lower):
		return who + formatShort(value) + " is below the lower limit " + formatShort(float64(lower)) + of
	case value > float64(upper):
		return who + formatShort(value) + " is above the upper limit " + formatShort(float64(upper)) + of
	}
	return ""
}

// formatShort writes v with five significant digits.
func formatShort(v float64) string { return strconv.FormatFloat(v, 'g', 5, 64) }
