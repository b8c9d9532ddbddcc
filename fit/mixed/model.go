package mixed

import (
	"fmt"
	"math"
)

// Model is a linear mixed model with its data: n observations, p coefficients.
type Model struct {
	Y     []float64   // n
	X     [][]float64 // p columns of length n; together of full rank
	Terms []Term      // the first one should have the most groups

	// Known holds the variance of the own error of each observation that is known beforehand, n; nil: none is.
	Known []float64
	// NoResidual leaves out the variance of e that is estimated: the own errors are all there is. Known must be positive.
	NoResidual bool
}

// Term says what the groups of some observations are off.
type Term struct {
	Name string
	// Of is the group of each observation, n, from 0; -1: the term does not concern it.
	Of []int
	// Columns are what the effects of a group are multiplied by, of length n each; nil: one column of 1, an intercept.
	Columns [][]float64
	// Unit says that the effects are independent and of variance 1: they are not estimated.
	Unit bool
}

// ProblemError says what is wrong with a model.
type ProblemError struct{ Fault string }

func (e *ProblemError) Error() string { return "mixed: " + e.Fault }

func faultf(format string, args ...any) error { return &ProblemError{fmt.Sprintf(format, args...)} }

// width returns the number of effects of a group.
func (t *Term) width() int { return max(1, len(t.Columns)) }

// value returns what effect k of its group is multiplied by in an observation.
func (t *Term) value(k, i int) float64 {
	if t.Columns == nil {
		return 1
	}
	return t.Columns[k][i]
}

// groups returns the number of groups.
func (t *Term) groups() (n int) {
	for _, g := range t.Of {
		n = max(n, g+1)
	}
	return n
}

// check returns a [*ProblemError] for the first fault.
func (m *Model) check() error {
	n, p := len(m.Y), len(m.X)
	if p == 0 || n <= p {
		return faultf("%d observations for %d coefficients: there must be at least one coefficient, and more observations than that", n, p)
	}
	if err := finite("an observation", n, m.Y); err != nil {
		return err
	}
	for _, x := range m.X {
		if err := finite("a column of X", n, x); err != nil {
			return err
		}
	}
	for k := range m.Terms {
		t := &m.Terms[k]
		if len(t.Of) != n {
			return faultf("term %s has %d groups of observations for %d observations", t.Name, len(t.Of), n)
		}
		for _, c := range t.Columns {
			if err := finite("a column of term "+t.Name, n, c); err != nil {
				return err
			}
		}
	}
	if m.Known == nil {
		if m.NoResidual {
			return faultf("no variance of the observations is known, and none is to be estimated")
		}
		return nil
	}
	if err := finite("a known variance", n, m.Known); err != nil {
		return err
	}
	for i, v := range m.Known {
		if v < 0 || v == 0 && m.NoResidual {
			return faultf("the known variance of observation %d is %g", i, v)
		}
	}
	return nil
}

func finite(what string, n int, values []float64) error {
	if len(values) != n {
		return faultf("%s has the length %d, and there are %d observations", what, len(values), n)
	}
	for i, v := range values {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return faultf("%s is %g, of observation %d", what, v, i)
		}
	}
	return nil
}
