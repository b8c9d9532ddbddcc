package ageing_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"

	"wane/study"
	"wane/study/ageing"
)

// Worked by hand, in pp². By single fits the coupon E changed by -0.40, and its control C1 by -0.20; by the joint fits by
// -0.26 and -0.06. What is E's own, at pull 0 and 1, and what it has of the coating:
//
//	single   5e-4, 15e-4    0.02, 0.01    so that its change has 5e-4 + 15e-4 + (0.02 - 0.01)² = 21e-4, that of C1 8e-4
//	joint    5.25e-4, 3e-4  0.01, 0.01    so that its change has 8.25e-4, that of C1 2e-4
//
// In its session a single fit has with a joint fit what that has with itself, 6.25e-4 and 4e-4 of E, in the other session
// what is the coating's, 0.01·0.01 and 0.02·0.01. So both changes of E have 7.25e-4 in common, and those of C1 2e-4:
//
//	none               -0.40
//	controls           -0.20, less none 0.20: minus the change of the control, u = 0.0282843, more than 2 u
//	session            -0.20, less none 0.20, u² = 21e-4 + 10.25e-4 - 2·7.25e-4, u = 0.0409268, more than 2 u
//	session            -0.20, less controls 0, u² = 29e-4 + 10.25e-4 - 2·9.25e-4, u = 0.0455522
func TestRoutesSideBySide(t *testing.T) {
	fits := func(coupon string, before, u0, after, u1 float64, shared ...float64) []*study.Fit {
		shared = append(shared, 0, 0)
		both := []*study.Fit{made(coupon, 0, "1", before, u0, shared[0], 2.8), made(coupon, 1, "1", after, u1, shared[1], 2.8)}
		both[0].Session, both[1].Session = "before", "after"
		return both
	}
	routes := ageing.NewRoutes(roster())
	routes.AddControl(fits("C1", 0.98, 0.0002, 0.9780, 0.0002), fits("C1", 0.98, 0.0001, 0.9794, 0.0001))
	single := fits("E", 0.9860, 0.0003, 0.9820, 0.0004, 0.0002, 0.0001)
	joint := fits("E", 0.9860, 0.00025, 0.9834, 0.0002, 0.0001, 0.0001)
	rows := routes.Rows(single, joint)
	require.Len(t, rows, 2)
	for _, p := range rows[0].Pairs {
		assert.False(t, p.Disagrees(), "pull 0")
	}
	got := rows[1]
	assert.InDelta(t, -0.40, float64(got.By[0].Change.Value), 1e-12)
	assert.False(t, got.By[0].CorrectedChange.Value.Valid())
	assert.InDelta(t, -0.20, float64(got.By[1].CorrectedChange.Value), 1e-12)
	assert.InDelta(t, -0.20, float64(got.By[2].CorrectedChange.Value), 1e-12)
	assert.Equal(t, "session", got.By[2].Correction)
	pair := func(from, less study.Route, difference, u float64, disagrees bool) {
		for _, p := range got.Pairs {
			if p.From == from && p.Less == less {
				assert.InDelta(t, difference, float64(p.Difference.Value), 1e-12, "%s less %s", from, less)
				assert.InDelta(t, u, float64(p.Difference.U), 5e-8, "%s less %s", from, less)
				assert.Equal(t, disagrees, p.Disagrees(), "%s less %s", from, less)
				return
			}
		}
		assert.Fail(t, "no such pair", "%s less %s", from, less)
	}
	pair(study.RouteControls, study.RouteNone, 0.20, 0.0282843, true)
	pair(study.RouteSession, study.RouteNone, 0.20, 0.0409268, true)
	pair(study.RouteSession, study.RouteControls, 0, 0.0455522, false)
	for _, route := range ageing.AllRoutes() {
		assert.Empty(t, got.Missing(route))
	}

	assert.Panics(t, func() { routes.Rows(single, joint[:1]) })
	assert.Panics(t, func() { routes.Rows(single, []*study.Fit{joint[1], joint[0]}) })
}

// A route that states no change names the flag that says why.
func TestRoutesSayWhatIsMissing(t *testing.T) {
	with := func(f *study.Fit, flags ...string) *study.Fit {
		f.Result.Flags = flags
		return f
	}
	fits := func(flags ...string) []*study.Fit {
		return []*study.Fit{with(made("E", 0, "1", 0.986, 0.0003, 0, 2.8), flags...),
			with(made("E", 1, "1", 0.982, 0.0003, 0, 2.8), flags...)}
	}
	none := study.NewFit(study.Unit{Coupon: "E", Pull: 1, Spot: "1"})
	for _, c := range []struct {
		name          string
		single, joint []*study.Fit
		missing       [3]string // by routes none, controls and session
	}{
		{"no control", fits(), fits(), [3]string{"", study.FlagNoControl, ""}},
		{"no session", fits(), fits(study.FlagNoSession), [3]string{"", study.FlagNoControl, study.FlagNoSession}},
		{"over the blank", fits(study.FlagOverBlank), fits(study.FlagOverBlank, study.FlagNoSession),
			[3]string{"", study.FlagNoControl, study.FlagOverBlank}},
		{"no pull 0", fits()[1:], fits()[1:],
			[3]string{study.FlagNoBaseline, study.FlagNoBaseline, study.FlagNoBaseline}},
		{"not evaluated", []*study.Fit{fits()[0], with(none, study.FlagNotEvaluated)},
			[]*study.Fit{fits()[0], with(none, study.FlagNotEvaluated, study.FlagNoSession)},
			[3]string{study.FlagNotEvaluated, study.FlagNotEvaluated, study.FlagNotEvaluated}},
	} {
		rows := ageing.NewRoutes(roster()).Rows(c.single, c.joint)
		last := rows[len(rows)-1]
		for i, route := range ageing.AllRoutes() {
			assert.Equal(t, c.missing[i], last.Missing(route), "%s, route %s", c.name, route)
			assert.Equal(t, c.missing[i] == "", last.Change(route).Value.Valid(), "%s, route %s", c.name, route)
		}
		for _, p := range last.Pairs {
			assert.False(t, p.Disagrees(), c.name)
		}
	}
}

// What is added to all readings of a session alike changes no contrast to the controls, of one spot or of a group;
// and the order of controls, and of spots, does not matter.
func TestContrastsLeaveOutWhatAllShare(t *testing.T) {
	result := func(added float64, reverse bool) (rows []*study.Result, group ageing.Group) {
		d := drawnStudy{rand.New(rand.NewPCG(7, 8)), map[study.Effect]float64{}}
		prepare := func(coupon string) []*study.Fit {
			fits := d.fits(coupon, false)
			for _, f := range fits {
				share(f, study.Effect{Owner: study.OwnerSession, Of: f.Session, Name: "added"}, study.OutSolarT, added)
			}
			if reverse {
				slices.Reverse(fits)
			}
			return fits
		}
		book := ageing.NewChanges(unchangedRoster(3, 2), study.RouteControls)
		controls := [][]*study.Fit{prepare("C0"), prepare("C1")}
		if reverse {
			slices.Reverse(controls)
		}
		for _, fits := range controls {
			book.AddControl(fits)
		}
		g := ageing.NewGrouper(ageing.ByCoating)
		for _, coupon := range []string{"E0", "E1", "E2"} {
			of := book.Rows(prepare(coupon))
			if reverse {
				slices.Reverse(of)
			}
			for _, r := range of {
				g.Add(r)
			}
			rows = append(rows, of...)
		}
		return rows, g.Groups()[1]
	}
	rows, group := result(0, false)
	for _, c := range []struct {
		name    string
		added   float64
		reverse bool
	}{{"a common effect", 0.01, false}, {"another order", 0, true}} {
		others, other := result(c.added, c.reverse)
		for i := range rows {
			assert.InDelta(t, float64(rows[i].CorrectedChange.Value), float64(others[i].CorrectedChange.Value), 1e-12, c.name)
			assert.InDelta(t, float64(rows[i].CorrectedChange.U), float64(others[i].CorrectedChange.U), 1e-9, c.name)
			if c.added > 0 && rows[i].Pull == 1 {
				assert.Greater(t, float64(others[i].Change.U), 1.4, "the change has it, of two sessions")
			}
		}
		assert.InDelta(t, float64(group.Lo), float64(other.Lo), 1e-9, c.name)
		assert.InDelta(t, float64(group.Hi), float64(other.Hi), 1e-9, c.name)
		assert.InDelta(t, float64(group.DoF), float64(other.DoF), 1e-5, c.name)
	}
}

// The covariance matrix of all changes of a study, as measured and corrected, by all routes, is positive
// semidefinite; a change less itself is exact; and two coupons that the same controls correct share what is theirs.
func TestCovarianceOfChanges(t *testing.T) {
	d := drawnStudy{rand.New(rand.NewPCG(11, 12)), map[study.Effect]float64{}}
	routes := ageing.NewRoutes(unchangedRoster(3, 2))
	for _, code := range []string{"C0", "C1"} {
		routes.AddControl(d.fits(code, false), d.fits(code, true))
	}
	var all [][]study.Weighted
	byControls := map[string][]study.Weighted{} // of the first spot of each coupon
	for _, code := range []string{"E0", "E1", "E2"} {
		for k, row := range routes.Rows(d.fits(code, false), d.fits(code, true)) {
			for _, r := range row.By {
				all = append(all, r.ChangeTerms, r.CorrectedTerms)
			}
			if k == 2 {
				byControls[code] = row.By[1].CorrectedTerms
			}
		}
	}
	cov, trace := mat.NewSymDense(len(all), nil), 0.0
	for i := range all {
		for k := i; k < len(all); k++ {
			cov.SetSym(i, k, study.Covariance(all[i], all[k]))
		}
		trace += cov.At(i, i)
		less := slices.Clone(all[i])
		for _, term := range all[i] {
			term.Weight = -term.Weight
			less = append(less, term)
		}
		assert.Zero(t, study.Uncertainty(less))
	}
	var e mat.EigenSym
	require.True(t, e.Factorize(cov, false))
	assert.Greater(t, e.Values(nil)[0], -1e-12*trace)

	controls := 0.0 // what only the controls have, the mean of which both coupons are corrected by
	for _, term := range byControls["E0"] {
		for _, s := range term.Errors.Shared {
			if s.Owner == study.OwnerControls {
				controls = math.Pow(term.Weight*s.By[term.Output], 2)
			}
		}
	}
	require.Positive(t, controls)
	assert.Greater(t, study.Covariance(byControls["E0"], byControls["E1"]), controls/2)
}
