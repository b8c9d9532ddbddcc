package evaluate

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"wane/study"
)

// Figures of control charts.
const (
	// rangeOfTwo is d2 for two values: the mean range of two normal values over their
	// standard deviation, 2/√π to three decimals as handbooks print it.
	rangeOfTwo  = 1.128
	limitSigmas = 3.0 // of the individuals chart, and of the EWMA chart
	ewmaWeight  = 0.2 // of the newest value; common practice, no source
	chartFrom   = 20  // sessions that a chart needs; fewer are held against the certificate
)

// Individuals is an individuals (Shewhart) chart. With x the values and R the mean of
// |x[i] - x[i-1]|,
//
//	sigma = R / d2        limits = mean(x) ± 3·sigma        d2 = 1.128
//
// Source: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2.
type Individuals struct {
	Centre, MeanRange, Lower, Upper float64
}

// NewIndividuals returns the chart of at least two values in their order; of fewer, all
// of it but the centre is NaN.
func NewIndividuals(x []float64) Individuals {
	sum, moved := 0.0, 0.0
	for i, v := range x {
		sum += v
		if i > 0 {
			moved += math.Abs(v - x[i-1])
		}
	}
	c := Individuals{Centre: sum / float64(len(x)), MeanRange: math.NaN()}
	if len(x) > 1 {
		c.MeanRange = moved / float64(len(x)-1)
	}
	c.Lower, c.Upper = c.Centre-limitSigmas*c.Sigma(), c.Centre+limitSigmas*c.Sigma()
	return c
}

// Sigma returns the standard deviation of one value.
func (c Individuals) Sigma() float64 { return c.MeanRange / rangeOfTwo }

// EWMA is an exponentially weighted moving average on its chart. With z[0] the target,
//
//	z[t] = w·x[t] + (1 - w)·z[t-1]
//	limits = target ± L·sigma·√(w/(2 - w)·(1 - (1 - w)^(2t)))
//
// which widen from ±L·w·sigma to what handbooks print, without the last factor.
// Source: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.4; the last factor is
// the variance of a sum of t terms, from memory of S. W. Roberts, Technometrics 1 (1959).
type EWMA struct {
	Target, Sigma, Weight, L float64
	z                        float64 // less the target
	t                        int
}

// Add takes the next value in and returns the average and its limits.
func (e *EWMA) Add(x float64) (z, lower, upper float64) {
	e.t++
	e.z += e.Weight * (x - e.Target - e.z)
	half := e.L * e.Sigma * math.Sqrt(e.Weight/(2-e.Weight)*(1-math.Pow(1-e.Weight, 2*float64(e.t))))
	return e.Target + e.z, e.Target - half, e.Target + half
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
	Why                        string
}

// JudgeChecks judges the values of one check standard at one instrument, in the order of
// the sessions. Each verdict depends on what was known at the session: nothing that comes
// later changes it.
//
// A value is held against the certificate, certified ± 2u, until 20 sessions since the
// last change were found in control by it. From their values comes the individuals chart,
// which stands until the next change, with the EWMA (weight 0.2, 3 sigma) of the sessions
// after them from its centre on. Values that never differed at all make no chart.
func JudgeChecks(points []CheckPoint) []Judged {
	out := make([]Judged, len(points))
	var good []float64
	var chart *Individuals
	var average EWMA
	for i, p := range points {
		if p.Changed {
			good, chart = nil, nil
		}
		j := &out[i]
		*j = Judged{Centre: study.Null(), Lower: study.Null(), Upper: study.Null(), EWMA: study.Null(), EWMALower: study.Null(), EWMAUpper: study.Null()}
		if chart != nil {
			j.byChart(&p, chart, &average)
		} else if j.byCertificate(&p, len(good)); j.Verdict == InControl {
			good = append(good, p.Value)
		}
		if chart == nil && len(good) >= chartFrom {
			if c := NewIndividuals(good); c.MeanRange > 0 {
				chart, average = &c, EWMA{Target: c.Centre, Sigma: c.Sigma(), Weight: ewmaWeight, L: limitSigmas}
			}
		}
	}
	return out
}

// byCertificate judges a point after good sessions in control.
func (j *Judged) byCertificate(p *CheckPoint, good int) {
	if !p.Certified.Value.Valid() {
		j.Verdict, j.Why = NoCertificate, "no certificate was issued by then"
		return
	}
	v, u := p.Certified.Value, p.Certified.U
	j.Rule, j.Centre, j.Lower, j.Upper = ByCertificate, v, v-certainty*u, v+certainty*u
	j.Verdict, j.Why = InControl, fmt.Sprintf("within 2u of the certificate; %d of the %d sessions that a chart needs came before", good, chartFrom)
	j.judge(p, outside("", p.Value, j.Lower, j.Upper, " of the certificate"))
}

func (j *Judged) byChart(p *CheckPoint, c *Individuals, average *EWMA) {
	j.Rule, j.Centre, j.Lower, j.Upper = ByChart, study.Num(c.Centre), study.Num(c.Lower), study.Num(c.Upper)
	z, lower, upper := average.Add(p.Value)
	j.EWMA, j.EWMALower, j.EWMAUpper = study.Num(z), study.Num(lower), study.Num(upper)
	j.Verdict, j.Why = InControl, "within the limits of the chart and of its EWMA"
	var faults []string
	for _, f := range []string{outside("", p.Value, j.Lower, j.Upper, " of the chart"), outside("the EWMA ", z, j.EWMALower, j.EWMAUpper, "")} {
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

// outside says on which side of the limits of something a value lies, "" if on neither.
func outside(who string, value float64, lower, upper study.Num, of string) string {
	switch {
	case value < float64(lower):
		return who + short(value) + " is below the lower limit " + short(float64(lower)) + of
	case value > float64(upper):
		return who + short(value) + " is above the upper limit " + short(float64(upper)) + of
	}
	return ""
}

func short(v float64) string { return strconv.FormatFloat(v, 'g', 5, 64) }
