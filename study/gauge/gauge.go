// Package gauge says how far readings of a thing that does not change differ: within one placement (repeatability),
// between placements in a session (placement) and between sessions (reproducibility), and which change can therefore
// be detected.
//
// Start with [Estimate]. The model of a reading of a thing i in session s, placement p and repeat r is
//
//	y = mean(i) + session(s) + placement(i, s, p) + repeat(i, s, p, r)
//
// Each variance is the difference of two mean squares of unweighted means: of a design in which each placement has as
// many repeats and each session as many placements, these are the estimates of the analysis of variance, which
// restricted maximum likelihood has too where none of them is negative. Mean squares are the method because a variance
// without an interval is of no use here, and a likelihood gives one only for many sessions, while a gauge study has few.
// Intervals are those of modified large samples, which are exact where a mean square is a variance by itself; the tests
// hold their coverage by simulation.
//
// Sources, all from memory: N. Ting, R. K. Burdick, F. A. Graybill, S. Jeyaratnam, T.-F. C. Lu, J. Statist. Comput.
// Simul. 35 (1990) 135 (differences); F. A. Graybill, C.-M. Wang, J. Amer. Statist. Assoc. 75 (1980) 869 (sums);
// R. K. Burdick, F. A. Graybill, Confidence Intervals on Variance Components (1992).
package gauge

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
)

// Reading is one value.
type Reading struct {
	Of        string // what was read, which did not change
	Session   string
	Operator  string // of the session; empty: not known
	Placement string // unique within Of and Session
	Value     float64
}

// Component is a standard deviation, in the unit of the readings.
type Component struct {
	SD, Lower, Upper float64 // NaN where it cannot be told; Lower 0: not distinguished from none
	DoF              float64 // of the mean square that it is mainly from; NaN where there is none
	Groups           int     // in which the mean square was taken, such as sessions
	// With names what is in it that the readings do not separate from it, the lower component.
	With string
	Why  string // why it cannot be told; empty: it can
}

// Gauge is the result of a gauge study.
type Gauge struct {
	Repeatability   Component // between repeats of one placement
	Placement       Component // between placements of one session
	Reproducibility Component // between sessions, whoever read them
	Operator        Component // between operators, beyond what the sessions of one operator differ by: a part of reproducibility
	Total           Component // of one reading in any session
	N, Things       int

	within, between []term // the variance of one reading within a session, and that between sessions, as mean squares
}

// InputError says what is wrong with the readings.
type InputError struct{ Fault string }

func (e *InputError) Error() string { return "gauge: " + e.Fault }

// The names of the components.
const (
	Repeatability   = "repeatability"
	Placement       = "placement"
	Reproducibility = "reproducibility"
	Operator        = "operator"
	Total           = "total"
)

// meanSquare is an estimate of a variance that is scaled chi-squared with dof degrees of freedom; 0: there is none.
type meanSquare struct {
	value, dof float64
	groups     int
}

// Estimate estimates the components with intervals at level, between 0 and 1. Values that are not finite and readings
// that are all equal give an [*InputError]; components of which the readings say nothing say why. It panics if level
// is not between 0 and 1.
func Estimate(readings []Reading, level float64) (*Gauge, error) {
	if !(level > 0 && level < 1) {
		panic("gauge: the level of an interval lies between 0 and 1")
	}
	if len(readings) == 0 {
		return nil, &InputError{"there are no readings"}
	}
	for _, r := range readings {
		if math.IsNaN(r.Value) || math.IsInf(r.Value, 0) {
			return nil, &InputError{fmt.Sprintf("a value of %s is %g", r.Of, r.Value)}
		}
	}
	if !slices.ContainsFunc(readings, func(r Reading) bool { return r.Value != readings[0].Value }) && len(readings) > 1 {
		return nil, &InputError{"all values are equal, so that their steps hide the scatter"}
	}
	all := newThings(readings)
	repeat, perPlacement := all.repeats()
	placement := all.placements()
	read, share := all.sessions()
	session := read.square()
	out := &Gauge{N: len(readings), Things: len(all)}
	alpha := (1 - level) / 2
	out.Repeatability = between(repeat, meanSquare{}, 0, alpha, "",
		"no placement was read twice without taking the coupon out")
	out.Placement = between(placement, repeat, 1/perPlacement, alpha, Repeatability,
		"no coupon was set down twice in one session")
	out.within = []term{{placement, 1}, {repeat, 1 - 1/perPlacement}}
	below, with := placement, Placement
	if placement.dof == 0 {
		below, with, share = repeat, Placement+" and "+Repeatability, share/perPlacement
		out.within = []term{{repeat, 1}}
	}
	out.Reproducibility = between(session, below, share, alpha, with, "no coupon was read in two sessions")
	out.Operator = read.operator(readings, alpha)
	if out.Total = missing("no coupon was read in two sessions"); session.dof > 0 {
		out.between = []term{{session, 1}, {below, -share}}
		out.Total = total(alpha, slices.Concat(out.between, out.within))
	}
	return out, nil
}

func missing(why string) Component {
	nan := math.NaN()
	return Component{SD: nan, Lower: nan, Upper: nan, DoF: nan, Why: why}
}

// thing is what was read: values by placement by session, sessions and placements in the order of their names.
type thing struct {
	sessions []string
	values   map[string][][]float64 // by session: of each placement
}

type things []*thing

func newThings(readings []Reading) things {
	type at struct{ of, session, placement string }
	sorted := slices.Clone(readings)
	slices.SortStableFunc(sorted, func(a, b Reading) int {
		return strings.Compare(a.Of+"\x00"+a.Session+"\x00"+a.Placement, b.Of+"\x00"+b.Session+"\x00"+b.Placement)
	})
	var all things
	var last at
	for i, r := range sorted {
		here := at{r.Of, r.Session, r.Placement}
		if i == 0 || here.of != last.of {
			all = append(all, &thing{values: map[string][][]float64{}})
		}
		t := all[len(all)-1]
		if i == 0 || here != last {
			if t.values[r.Session] == nil {
				t.sessions = append(t.sessions, r.Session)
			}
			t.values[r.Session] = append(t.values[r.Session], nil)
		}
		p := t.values[r.Session]
		p[len(p)-1] = append(p[len(p)-1], r.Value)
		last = here
	}
	return all
}

// repeats returns the mean square within placements, and the harmonic mean of the repeats of a placement.
func (all things) repeats() (m meanSquare, perPlacement float64) {
	inverse, n := 0.0, 0
	for _, t := range all {
		for _, s := range t.sessions {
			for _, values := range t.values[s] {
				m.add(values)
				inverse += 1 / float64(len(values))
				n++
			}
		}
	}
	return m.mean(), float64(n) / inverse
}

// placements returns the mean square between the placements of a session.
func (all things) placements() (m meanSquare) {
	for _, t := range all {
		for _, s := range t.sessions {
			m.add(t.means(s))
		}
	}
	return m.mean()
}

// means returns the mean of each placement of a session.
func (t *thing) means(session string) []float64 {
	out := make([]float64, len(t.values[session]))
	for i, values := range t.values[session] {
		out[i] = mean(values)
	}
	return out
}

// sessions returns the mean square between sessions, of the mean over all things that were read in them, and the
// share of that between placements which is in it. Where another choice has more sessions, it is that of one thing
// alone.
func (all things) sessions() (read sessionMeans, share float64) {
	var several things
	var common []string
	for _, t := range all {
		if len(t.sessions) < 2 {
			continue
		}
		if several = append(several, t); len(several) == 1 {
			common = slices.Clone(t.sessions)
		}
		common = slices.DeleteFunc(common, func(s string) bool { return t.values[s] == nil })
	}
	for _, t := range several {
		if len(t.sessions) > len(common) {
			common, several = t.sessions, things{t}
		}
	}
	read.names = common
	for _, s := range common {
		sum := 0.0
		for _, t := range several {
			sum += mean(t.means(s)) / float64(len(several))
			share += 1 / float64(len(t.values[s]))
		}
		read.means = append(read.means, sum)
	}
	n := float64(len(several))
	return read, share / (n * n * float64(max(1, len(common))))
}

// sessionMeans are sessions with the means of what was read in them.
type sessionMeans struct {
	names []string
	means []float64
}

// square returns the mean square between the sessions.
func (s *sessionMeans) square() (m meanSquare) {
	m.add(s.means)
	return m.mean()
}

// operator returns the component between operators: that of their means, less what the sessions of one operator
// differ by.
func (s *sessionMeans) operator(readings []Reading, alpha float64) Component {
	of := map[string]string{}
	for _, r := range readings {
		of[r.Session] = r.Operator
	}
	byOperator := map[string][]float64{}
	for i, name := range s.names {
		if of[name] == "" {
			return missing("the operator of a session is not known")
		}
		byOperator[of[name]] = append(byOperator[of[name]], s.means[i])
	}
	if len(byOperator) < 2 {
		return missing("no two operators read the same coupons")
	}
	var means []float64
	var within, top meanSquare
	share := 0.0
	for _, name := range slices.Sorted(maps.Keys(byOperator)) {
		values := byOperator[name]
		within.add(values)
		means = append(means, mean(values))
		share += 1 / float64(len(values)) / float64(len(byOperator))
	}
	top.add(means)
	return between(top.mean(), within.mean(), share, alpha, "session", "")
}

// add adds the squares about the mean of a group of values.
func (m *meanSquare) add(values []float64) {
	if len(values) < 2 {
		return
	}
	about := mean(values)
	for _, v := range values {
		m.value += (v - about) * (v - about)
	}
	m.dof += float64(len(values) - 1)
	m.groups += len(values)
}

// mean returns the mean square of the squares that were added.
func (m *meanSquare) mean() meanSquare {
	if m.dof == 0 {
		return meanSquare{}
	}
	return meanSquare{m.value / m.dof, m.dof, m.groups}
}

func mean(values []float64) float64 {
	sum := 0.0
	for _, v := range values {
		sum += v
	}
	return sum / float64(len(values))
}
