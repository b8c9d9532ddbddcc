package mixed

import (
	"fmt"
	"math"
	"slices"
)

// Model is a linear mixed model with its data: n observations, p coefficients.
type Model struct {
	Y     []float64   // n
	X     [][]float64 // p columns of length n; together of full rank
	Terms []Term      // the first one should have the most groups

	// Shared holds for each observation, n, the effects of unit variance that it shares with others, such as the errors of
	// owners, each at most once; nil: there are none.
	Shared [][]Share
	// Known holds the variance of the own error of each observation that is known beforehand, n; nil: none is.
	Known []float64
	// NoResidual leaves out the variance of e that is estimated: the own errors are all there is. Known must be positive.
	NoResidual bool
	// Residuals says for each observation, n, which estimated variance of e it has, from 0; nil: all have one. Those of one
	// group of the first term, and those of none, have the same.
	Residuals []int
}

// Share is what an observation is off, with its sign, when an effect of unit variance is 1.
type Share struct {
	Effect int // from 0
	By     float64
}

// Term says what the groups of some observations are off.
type Term struct {
	Name string
	// Of is the group of each observation, n, from 0; -1: the term does not concern it.
	Of []int
	// Columns are what the effects of a group are multiplied by, of length n each; nil: one column of 1, an intercept.
	Columns [][]float64
	// Kinds says for each group which covariance of the term its effects have, from 0; nil: all have one.
	Kinds []int
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

// kind returns the kind of a group.
func (t *Term) kind(group int) int {
	if t.Kinds == nil {
		return 0
	}
	return t.Kinds[group]
}

// kinds returns the number of kinds.
func (t *Term) kinds() int {
	n := 1
	for _, k := range t.Kinds {
		n = max(n, k+1)
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
		if groups := t.groups(); t.Kinds != nil && (len(t.Kinds) < groups || slices.Min(append(t.Kinds, 0)) < 0) {
			return faultf("term %s has %d kinds of groups, of which one may be negative, for %d groups", t.Name, len(t.Kinds), groups)
		}
		for _, c := range t.Columns {
			if err := finite("a column of term "+t.Name, n, c); err != nil {
				return err
			}
		}
	}
	if err := m.checkShared(); err != nil {
		return err
	}
	if err := m.checkResiduals(); err != nil {
		return err
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

func (m *Model) checkShared() error {
	if m.Shared != nil && len(m.Shared) != len(m.Y) {
		return faultf("%d observations share effects, and there are %d", len(m.Shared), len(m.Y))
	}
	for i, shares := range m.Shared {
		for _, s := range shares {
			if s.Effect < 0 || math.IsNaN(s.By) || math.IsInf(s.By, 0) {
				return faultf("observation %d shares effect %d by %g", i, s.Effect, s.By)
			}
		}
	}
	return nil
}

func (m *Model) checkResiduals() error {
	if m.Residuals == nil {
		return nil
	}
	if len(m.Residuals) != len(m.Y) || slices.Min(m.Residuals) < 0 {
		return faultf("%d kinds of residuals, of which one may be negative, for %d observations", len(m.Residuals), len(m.Y))
	}
	of := map[int]int{}
	for i, kind := range m.Residuals {
		group := -1
		if len(m.Terms) > 0 {
			group = m.Terms[0].Of[i]
		}
		if known, seen := of[group]; seen && known != kind {
			return faultf("observation %d has a residual of another kind than others of its group", i)
		}
		of[group] = kind
	}
	return nil
}

// residuals returns the number of variances of e that are estimated.
func (m *Model) residuals() int {
	switch {
	case m.NoResidual:
		return 0
	case m.Residuals == nil:
		return 1
	}
	return slices.Max(m.Residuals) + 1
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
