package mixed_test

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/fit/mixed"
)

// What cannot be fitted is refused.
func TestRefusals(t *testing.T) {
	good := func() *mixed.Model {
		return &mixed.Model{Y: []float64{1, 2, 4, 3}, X: [][]float64{{1, 1, 1, 1}},
			Terms: []mixed.Term{{Name: "coupon", Of: []int{0, 0, 1, 1}}}}
	}
	_, err := good().Fit(t.Context())
	require.NoError(t, err)
	for _, c := range []struct {
		name, fault string
		change      func(m *mixed.Model)
	}{
		{"no coefficient", "at least one coefficient", func(m *mixed.Model) { m.X = nil }},
		{"too few observations", "more observations", func(m *mixed.Model) {
			m.X = [][]float64{{1, 0, 0, 0}, {0, 1, 0, 0}, {0, 0, 1, 0}, {0, 0, 0, 1}}
		}},
		{"no number", "an observation is NaN, of observation 2", func(m *mixed.Model) { m.Y[2] = math.NaN() }},
		{"a short column", "a column of X has the length 3", func(m *mixed.Model) { m.X[0] = m.X[0][:3] }},
		{"a short term", "term coupon has 3 groups", func(m *mixed.Model) { m.Terms[0].Of = m.Terms[0].Of[:3] }},
		{"a negative variance", "the known variance of observation 1 is -1", func(m *mixed.Model) { m.Known = []float64{1, -1, 1, 1} }},
		{"no variance", "no variance of the observations is known", func(m *mixed.Model) { m.NoResidual = true }},
		{"residuals of two kinds in a group", "a residual of another kind", func(m *mixed.Model) { m.Residuals = []int{0, 1, 0, 1} }},
		{"too few kinds of residuals", "2 kinds of residuals", func(m *mixed.Model) { m.Residuals = []int{0, 1} }},
		{"columns that depend", "depend on each other", func(m *mixed.Model) { m.X = append(m.X, []float64{2, 2, 2, 2}) }},
		{"a column of nothing", "coefficient 1 has no observation", func(m *mixed.Model) { m.X = append(m.X, make([]float64, 4)) }},
		{"data that are explained exactly", "explained exactly", func(m *mixed.Model) { m.Y = []float64{2, 2, 2, 2} }},
	} {
		t.Run(c.name, func(t *testing.T) {
			m := good()
			c.change(m)
			_, err := m.Fit(t.Context())
			var p *mixed.ProblemError
			require.ErrorAs(t, err, &p)
			assert.Contains(t, p.Error(), c.fault)
		})
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	_, err = good().Fit(ctx)
	assert.ErrorIs(t, err, context.Canceled)
}
