package evaluate

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"wane/fit/film"
	"wane/study"
)

// The written rules of the package comment, one case at each side of each limit.
func TestState(t *testing.T) {
	good := film.Verdict{Model: film.ModelFilm, Converged: true, ReducedChi2: 1,
		ThicknessNM: film.Estimate{Value: 120, U: 0.5}, Bare: film.Estimate{Value: 0.01, U: 0.003},
		SolidNM: film.Estimate{Value: 75, U: 0.5}}
	pull0 := func(nm, u float64) *Baseline {
		return &Baseline{Thickness: study.Measure{Value: study.Num(nm), U: study.Num(u)}}
	}
	for _, c := range []struct {
		name   string
		change func(v *film.Verdict)
		base   *Baseline
		want   study.State
	}{
		{"full", func(*film.Verdict) {}, pull0(121, 0.5), study.Full},
		{"no baseline", func(*film.Verdict) {}, nil, ""},
		{"not converged", func(v *film.Verdict) { v.Converged = false }, pull0(121, 0.5), study.Unclear},
		{"chi-square at the limit", func(v *film.Verdict) { v.ReducedChi2 = 3 }, pull0(121, 0.5), study.Full},
		{"chi-square above the limit", func(v *film.Verdict) { v.ReducedChi2 = 3.01 }, pull0(121, 0.5), study.Unclear},
		{"not separable", func(v *film.Verdict) { v.Flags = []string{"not-separable:bare"} }, pull0(121, 0.5), study.Unclear},
		{"no film is clear though nothing else is", func(v *film.Verdict) {
			v.Model, v.SolidNM = film.ModelBare, film.Estimate{Value: 0, U: 40}
		}, nil, study.Stripped},
		{"solid just below 3 nm", func(v *film.Verdict) { v.SolidNM = film.Estimate{Value: 2.99, U: 0.1} }, nil,
			study.Stripped},
		{"solid of 3 nm", func(v *film.Verdict) { v.SolidNM = film.Estimate{Value: 3, U: 0.1} }, nil, ""},
		{"solid below twice its uncertainty", func(v *film.Verdict) { v.SolidNM = film.Estimate{Value: 9.9, U: 5} }, nil,
			study.Stripped},
		{"patchy", func(v *film.Verdict) { v.Bare = film.Estimate{Value: 0.05, U: 0.025} }, nil, study.Patchy},
		{"bare just below 0.05", func(v *film.Verdict) { v.Bare = film.Estimate{Value: 0.0499, U: 0.001} }, nil, ""},
		{"bare within its uncertainty", func(v *film.Verdict) { v.Bare = film.Estimate{Value: 0.08, U: 0.041} }, nil, ""},
		{"bare pinned", func(v *film.Verdict) { v.Bare = film.Estimate{Value: 0.08, U: math.NaN()} }, nil, study.Patchy},
		// 0.9·140 = 126: short by 6; 2·hypot(0.5, 0.9·0.5) = 1.3
		{"thinned", func(*film.Verdict) {}, pull0(140, 0.5), study.Thinned},
		// 0.9·134 = 120.6: short by 0.6, which is within 1.3
		{"thinner, but within the uncertainty", func(*film.Verdict) {}, pull0(134, 0.5), study.Full},
		// 0.9·134.6 = 121.14: short by 1.14, more than 2·0.5 of the reading alone
		{"thinner, but within the uncertainty of the baseline", func(*film.Verdict) {}, pull0(134.6, 0.5), study.Full},
		{"thinner, and beyond it", func(*film.Verdict) {}, pull0(134.9, 0.5), study.Thinned},
		{"thinned against a baseline taken as exact", func(v *film.Verdict) { v.ThicknessNM.U = 0.2 },
			pull0(134, math.NaN()), study.Thinned},
	} {
		t.Run(c.name, func(t *testing.T) {
			v := good
			c.change(&v)
			assert.Equal(t, c.want, state(&v, c.base))
		})
	}
}

// The table of states has the numbers of the rules as they were written before the guide was made
// from the table.
func TestStatesSayTheirLimits(t *testing.T) {
	says := []struct {
		state  study.State
		limits []string
	}{
		{study.Unclear, []string{"chi-square is above 3", "larger of 5 nm and 5 %", "porosity above 0.05",
			"fraction above 0.10"}},
		{study.Stripped, []string{"larger of 3 nm and 2 of its standard uncertainties"}},
		{study.Patchy, []string{"at least 0.05 and at least 2 of its standard uncertainties"}},
		{study.Thinned, []string{"below 0.9 of that of the baseline", "more than 2 standard uncertainties of the " +
			"difference"}},
		{study.Full, []string{"no other state applies"}},
	}
	states := States()
	for i, s := range says {
		assert.Equal(t, string(s.state), states[i].Word)
		for _, limit := range s.limits {
			assert.Contains(t, states[i].Limit, limit)
		}
	}
	assert.Len(t, states, len(says))
}
