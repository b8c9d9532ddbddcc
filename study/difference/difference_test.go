package difference_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/difference"
	"wane/study/population"
	"wane/study/series"
)

// made is made-up data: the changes of coupons of groups at pull 1, all read in one session.
func made(groups map[string][]float64) *series.Data {
	q, _ := series.Find("solar_T")
	d := &series.Data{Quantity: q, Route: study.RouteControls, DoF: map[int]float64{}}
	for _, coating := range []string{"alpha", "beta", "gamma"} {
		for i, change := range groups[coating] {
			d.Coupons = append(d.Coupons, series.Coupon{Coupon: fmt.Sprintf("%s%d", coating[:1], i+1), Role: study.Exposed,
				Supplier: "maker of " + coating, Coating: coating, Lot: "1", Exposure: "roof", DoseUnit: "days",
				Points: []series.Point{{Pull: 0, Baseline: true, Session: "s0", Spots: 1},
					{Pull: 1, Dose: 90, Session: "s1", Spots: 1, Change: series.Value{Value: change}}}})
		}
	}
	return d
}

// three coatings of testdata/welch.R.
func three() *series.Data {
	return made(map[string][]float64{"alpha": {-0.31, -0.42, -0.18, -0.55, -0.29, -0.40},
		"beta": {-0.36, -0.33, -0.35, -0.38, -0.31}, "gamma": {-0.71, -0.95, -0.62, -1.20}})
}

// Each pair against R 4.2.2: t.test of unequal variances, all permutations by combn, and two one-sided t.test
// (testdata/welch.R, welch.txt).
func TestAgainstWelch(t *testing.T) {
	c, err := difference.AtPull(three(), difference.Options{Margin: 0.3})
	require.NoError(t, err)
	require.Len(t, c.Pairs, 3)
	for i, want := range []struct{ difference, t, dof, p, permutation, equivalent float64 }{
		{-0.01233333333, -0.2310740535, 5.53458759, 0.8255601098, 0.8571429, 0.001084123107},
		{0.5116666667, 3.649851151, 3.972412083, 0.02203658856, 0.004761905, 0.8969644308},
		{0.524, 4.007596904, 3.051734182, 0.02699352537, 0.007936508, 0.908177016},
	} {
		p := &c.Pairs[i]
		assert.InDelta(t, want.difference, p.Difference, 1e-10)
		assert.InEpsilon(t, want.t, p.Difference/p.U, 1e-8)
		assert.InEpsilon(t, want.dof, p.DoF, 1e-8)
		assert.InEpsilon(t, want.p, p.P, 1e-8)
		assert.InDelta(t, want.permutation, p.Permutation.P, 1e-7)
		assert.InEpsilon(t, want.equivalent, p.PEquivalent, 1e-8)
		assert.InEpsilon(t, want.equivalent, p.PEquivalentAdjusted, []float64{2.0001, 1, 1}[i])
	}
	assert.InEpsilon(t, 3*0.001084123107, c.Pairs[0].PEquivalentAdjusted, 1e-8, "after Holm")
	assert.Equal(t, difference.Equivalent, c.Pairs[0].Verdict)
	assert.InDelta(t, 1.0/462, c.Pairs[0].Permutation.Least, 1e-12)
	assert.InDelta(t, 3*0.02203658856, c.Pairs[1].PHolm, 1e-8)

	// one pair alone: the interval is that of t.test
	c, err = difference.AtPull(made(map[string][]float64{"alpha": {-0.31, -0.42, -0.18, -0.55, -0.29, -0.40},
		"gamma": {-0.71, -0.95, -0.62, -1.20}}), difference.Options{})
	require.NoError(t, err)
	require.Len(t, c.Pairs, 1)
	assert.InDelta(t, 0.1213729871, c.Pairs[0].Lower, 1e-6)
	assert.InDelta(t, 0.9019603463, c.Pairs[0].Upper, 1e-6)
	assert.InDelta(t, c.Pairs[0].P, c.Pairs[0].PAdjusted, 1e-9)
	assert.Equal(t, difference.Different, c.Pairs[0].Verdict)
	assert.Equal(t, "Of these lots, alpha is better than gamma: its change of solar_T is 0.51 pp higher (interval "+
		"0.12 to 0.90 pp, adjusted p 0.022)", c.Sentence(&c.Pairs[0]))
}

// Equal spreads and sizes: the adjusted p against a million draws of R, in which each group has its own variance, of all
// pairs and of those with the first group; the power at the least detectable difference by power.t.test
// (testdata/welch.R).
func TestAgainstDraws(t *testing.T) {
	shifted := func(by float64) (out []float64) {
		for _, e := range []float64{-0.25, -0.15, -0.05, 0.05, 0.15, 0.25} {
			out = append(out, e-by)
		}
		return out
	}
	d := made(map[string][]float64{"alpha": shifted(1), "beta": shifted(1.3), "gamma": shifted(1.42)})
	c, err := difference.AtPull(d, difference.Options{})
	require.NoError(t, err)
	for i, want := range []float64{0.051253, 0.008504, 0.544778} {
		p := &c.Pairs[i]
		assert.InDelta(t, 10, p.DoF, 1e-9)
		assert.InDelta(t, want, p.PAdjusted, 2e-3)
		assert.InEpsilon(t, 2.793338, (p.Upper-p.Difference)/p.U, 5e-3)
	}
	c, err = difference.AtPull(d, difference.Options{Against: "alpha"})
	require.NoError(t, err)
	require.Len(t, c.Pairs, 2)
	assert.Equal(t, "alpha", c.Groups[c.Pairs[0].B].Name)
	for i, want := range []float64{0.036652, 0.005783} {
		assert.InDelta(t, want, c.Pairs[i].PAdjusted, 1e-3)
	}
	assert.InEpsilon(t, 2.59297, (c.Pairs[0].Upper-c.Pairs[0].Difference)/c.Pairs[0].U, 5e-3)

	c, err = difference.AtPull(made(map[string][]float64{"alpha": shifted(1), "beta": shifted(2)}), difference.Options{})
	require.NoError(t, err)
	p := &c.Pairs[0]
	assert.InEpsilon(t, (2.228139+0.879058)*p.U, p.LeastDetectable, 1e-5, "quantiles of t with 10 degrees, by tables")
	// of that difference power.t.test gives 0.7993: the sum of quantiles is near enough
}

// What groups share, by hand: a session in common cancels, two sessions do not, and what differs within groups is in
// the scatter already.
func TestSharedErrors(t *testing.T) {
	share := func(d *series.Data, effects []study.Effect, of map[string][]series.Share) *difference.Pair {
		d.Effects = effects
		for i := range d.Coupons {
			d.Coupons[i].Points[1].Change.Known = true
			d.Coupons[i].Points[1].Change.Shared = of[d.Coupons[i].Coupon]
		}
		c, err := difference.AtPull(d, difference.Options{})
		require.NoError(t, err)
		return &c.Pairs[0]
	}
	two := func() *series.Data { return made(map[string][]float64{"alpha": {-0.3, -0.4}, "beta": {-0.6, -0.8}}) }
	scatter := 0.1*0.1/4 + 0.2*0.2/4 // of two values that are d apart: variance d²/2, over 2
	one := []study.Effect{{Owner: study.OwnerSession, Of: "s1", Name: "scale"}}
	same := []series.Share{{Effect: 0, By: 0.05}}
	p := share(two(), one, map[string][]series.Share{"a1": same, "a2": same, "b1": same, "b2": same})
	assert.InDelta(t, scatter, p.U*p.U, 1e-12, "the session cancels")
	assert.InDelta(t, 0, p.SessionShare, 1e-12)

	each := []study.Effect{{Owner: study.OwnerSession, Of: "s1"}, {Owner: study.OwnerSession, Of: "s2"}}
	other := []series.Share{{Effect: 1, By: 0.05}}
	p = share(two(), each, map[string][]series.Share{"a1": same, "a2": same, "b1": other, "b2": other})
	assert.InDelta(t, scatter+2*0.05*0.05, p.U*p.U, 1e-12)
	assert.InDelta(t, 0.005/(scatter+0.005), p.SessionShare, 1e-12)
	assert.InDelta(t, math.Pow(scatter+0.005, 2)/(math.Pow(0.0025, 2)+math.Pow(0.01, 2)), p.DoF, 1e-9, "sessions are known")

	p = share(two(), each, map[string][]series.Share{"a1": same, "a2": other, "b1": same, "b2": other})
	assert.InDelta(t, scatter, p.U*p.U, 1e-12, "what differs within a group is in its scatter")

	d := two()
	d.DoF = map[int]float64{1: 1} // what the controls of beta are off, by two of them
	p = share(d, []study.Effect{{}, {Owner: study.OwnerControls, Of: "beta"}}, map[string][]series.Share{"b1": other, "b2": other})
	v := scatter + 0.0025
	assert.InDelta(t, v, p.U*p.U, 1e-12)
	assert.InDelta(t, v*v/(math.Pow(0.0025, 2)+math.Pow(0.01, 2)+math.Pow(0.0025, 2)), p.DoF, 1e-9)
}

// With three lots the unit is the lot: the difference is that of means over lots, by Welch's t of the means of lots.
func TestLots(t *testing.T) {
	d := made(map[string][]float64{"alpha": {-0.1, -0.3, -0.4, -0.6, -0.8, -0.8, -0.9}, "beta": {-1, -1.1}})
	for i, lot := range []string{"1", "1", "2", "2", "3", "3", "3"} {
		d.Coupons[i].Lot = lot
	}
	c, err := difference.AtPull(d, difference.Options{})
	require.NoError(t, err)
	a := &c.Groups[0]
	assert.Equal(t, population.UnitLot, a.Unit)
	assert.Equal(t, [3]int{3, 3, 7}, [3]int{a.Units, a.Lots, a.Coupons})
	assert.InDelta(t, -(0.2+0.5+2.5/3)/3, a.Mean, 1e-12)
	assert.Contains(t, c.Pairs[0].Flags, difference.FlagTheseLots, "beta has one lot")
	c, err = difference.AtPull(d, difference.Options{By: population.ByLot})
	require.NoError(t, err)
	assert.Len(t, c.Groups, 4)
	assert.Equal(t, population.UnitCoupon, c.Groups[0].Unit)
	assert.Equal(t, "alpha, lot 1", c.Groups[0].Name)
}

// Two coatings of three of which one changed: what was lost and what was not read is named.
func TestLostAndMissing(t *testing.T) {
	d := three()
	for i := range d.Coupons {
		switch c := &d.Coupons[i]; c.Coupon {
		case "a1":
			c.Ended, c.EndedPull, c.Points = "broken at pull 1", 1, c.Points[:1]
		case "b1":
			c.Points = c.Points[:1]
		case "g1":
			c.Points[1].Change, c.Points[1].Flags = series.Value{Value: math.NaN()}, []string{study.FlagNoControl}
		}
	}
	c, err := difference.AtPull(d, difference.Options{})
	require.NoError(t, err)
	assert.Equal(t, []difference.Without{{Coupon: "a1", Why: "broken at pull 1"}}, c.Groups[0].Ended)
	assert.Equal(t, "b1 (not read)", c.Groups[1].Lost())
	assert.Equal(t, "g1 (no control corrects it)", c.Groups[2].Lost())
	assert.Contains(t, c.Pairs[0].Flags, difference.FlagSurvivors)
	assert.NotContains(t, c.Pairs[2].Flags, difference.FlagSurvivors)
	assert.Contains(t, c.Pairs[2].Flags, difference.FlagMissing)
}

// What the data cannot tell has a reason and no number but the difference.
func TestCannotTell(t *testing.T) {
	c, err := difference.AtPull(made(map[string][]float64{"alpha": {-0.3, -0.4}, "beta": {-0.6}, "gamma": {-0.5, -0.5}}),
		difference.Options{})
	require.NoError(t, err)
	for i, word := range []string{difference.OneUnit, "", difference.OneUnit} {
		p := &c.Pairs[i]
		if word == "" {
			assert.Nil(t, p.Why)
			assert.Contains(t, p.Flags, difference.FlagConstant)
			continue
		}
		require.NotNil(t, p.Why)
		assert.Equal(t, word, p.Why.Word)
		assert.Equal(t, difference.CannotTell, p.Verdict)
		assert.False(t, math.IsNaN(p.Difference))
		for _, v := range []float64{p.U, p.DoF, p.Lower, p.Upper, p.P, p.PAdjusted, p.LeastDetectable} {
			assert.True(t, math.IsNaN(v))
		}
	}
	assert.Equal(t, "Whether alpha and beta differ cannot be told from these data, because beta has one coupon only, and those of "+
		"one group differ by more than their readings do", c.Sentence(&c.Pairs[0]))

	c, err = difference.AtPull(made(map[string][]float64{"alpha": {-0.3, -0.3}, "beta": {-0.5, -0.5}}), difference.Options{})
	require.NoError(t, err)
	assert.Equal(t, difference.Constant, c.Pairs[0].Why.Word)
}

// Groups that were read in different sessions: refused where nothing is known of what sessions are off, else flagged.
func TestSessions(t *testing.T) {
	apart := func() *series.Data {
		d := made(map[string][]float64{"alpha": {-0.3, -0.4}, "beta": {-0.6, -0.8}})
		d.Route = study.RouteNone
		for i := range d.Coupons {
			if d.Coupons[i].Coating == "beta" {
				d.Coupons[i].Points[1].Session = "s2"
			}
		}
		return d
	}
	c, err := difference.AtPull(apart(), difference.Options{})
	require.NoError(t, err)
	require.NotNil(t, c.Pairs[0].Why)
	assert.Equal(t, difference.Sessions, c.Pairs[0].Why.Word)
	assert.Equal(t, "alpha was read in s1, and beta in s2; nothing is known of what these sessions are off", c.Pairs[0].Why.Because)

	d := apart()
	for i := range d.Coupons {
		d.Coupons[i].Points[1].Change.Known = true
	}
	c, err = difference.AtPull(d, difference.Options{})
	require.NoError(t, err)
	assert.Nil(t, c.Pairs[0].Why)
	assert.Contains(t, c.Pairs[0].Flags, difference.FlagSessions)
	d.Quantity, _ = series.Find("haze") // the law says nothing of sessions of other instruments
	c, err = difference.AtPull(d, difference.Options{})
	require.NoError(t, err)
	assert.NotNil(t, c.Pairs[0].Why)
	d.Route = study.RouteControls
	c, err = difference.AtPull(d, difference.Options{})
	require.NoError(t, err)
	assert.Nil(t, c.Pairs[0].Why)
}

// What cannot be compared at all is refused, with what to do.
func TestRefused(t *testing.T) {
	refused := func(d *series.Data, opt difference.Options, fault, try string) {
		t.Helper()
		_, err := difference.AtPull(d, opt)
		var r *study.Refusal
		require.ErrorAs(t, err, &r)
		assert.Contains(t, r.Fault, fault)
		assert.Contains(t, r.Try, try)
	}
	refused(&series.Data{}, difference.Options{}, "no exposed coupons", "role exposed")
	d := made(map[string][]float64{"alpha": {1, 2}})
	refused(d, difference.Options{}, "the only coating", "enrol coupons of another coating in this exposure")
	d.Coupons[1].Lot = "2"
	refused(d, difference.Options{}, "the only coating", "compare --by lot, or enrol coupons of another coating")
	refused(d, difference.Options{By: population.BySupplier}, "the only supplier", "compare --by lot, or enrol")
	refused(three(), difference.Options{Against: "gama"}, "there is no coating gama", "gamma")
	refused(three(), difference.Options{Exposure: "rof"}, "exposure rof", "roof")
	refused(three(), difference.Options{Pull: 7}, "at pull 7", "name another pull")
	d = made(map[string][]float64{"alpha": {-0.3, -0.4}, "beta": {-0.6, -0.8}})
	for i := range d.Coupons {
		if d.Coupons[i].Coating == "beta" {
			d.Coupons[i].Points[1].Pull = 2
		}
	}
	refused(d, difference.Options{}, "alpha has one at pull 1; beta has one at pull 2", "--rate")
	d = three()
	for i := range d.Coupons {
		d.Coupons[i].Points = d.Coupons[i].Points[:1]
	}
	refused(d, difference.Options{}, "no exposed coupon has a change", "wane fit")
	d.Coupons[0].Exposure = "rig"
	refused(d, difference.Options{}, "2 exposures", "--exposure rig")
}

// Coupons that broke before a pull are named with what ended them, at a pull and in rate; so are those of one group only.
func TestAllBroken(t *testing.T) {
	broken := func(coatings ...string) *series.Data {
		d := three()
		for i := range d.Coupons {
			if c := &d.Coupons[i]; slices.Contains(coatings, c.Coating) {
				c.Ended, c.EndedPull, c.Points = "broken on 2031-05-01", 1, c.Points[:1]
			}
		}
		return d
	}
	refused := func(d *series.Data, pull int, words ...string) {
		t.Helper()
		_, err := difference.AtPull(d, difference.Options{Pull: pull})
		if pull < 0 {
			_, err = difference.InRate(t.Context(), d, difference.Options{})
		}
		var r *study.Refusal
		require.ErrorAs(t, err, &r)
		for _, w := range words {
			assert.Contains(t, r.Fault, w)
		}
		assert.Contains(t, r.Try, "expose other coupons")
	}
	all := broken("alpha", "beta", "gamma")
	const four = "a1 (broken on 2031-05-01, by pull 1), a2 (broken on 2031-05-01, by pull 1), " +
		"a3 (broken on 2031-05-01, by pull 1), a4 (broken on 2031-05-01, by pull 1)"
	for pull, at := range map[int]string{0: "a pull after their baseline", -1: "a pull after their baseline", 2: "pull 2"} {
		refused(all, pull, "all exposed coupons ended before they were read at "+at+": "+four+", and 11 others")
	}
	two := broken("alpha", "beta")
	refused(two, 0, "only gamma has a change, at pull 1; all coupons of alpha ended before that: "+four)
	refused(two, 1, "only gamma has a change there; alpha has none, because all its coupons ended "+
		"before they were read at pull 1: "+four)
	refused(two, -1, "alpha has none, because all its coupons ended before they were read at a pull after their "+
		"baseline: "+four)
	c, err := difference.AtPull(broken("gamma"), difference.Options{})
	require.NoError(t, err)
	require.Len(t, c.LeftOut, 1)
	assert.Contains(t, c.LeftOut[0].Why, "all its coupons ended before they were read at pull 1: g1 (broken on 2031-05-01, by pull 1)")
}

// Energy against photons: a pair is marked where they disagree.
func TestMarkFlips(t *testing.T) {
	energy, err := difference.AtPull(three(), difference.Options{})
	require.NoError(t, err)
	photons, err := difference.AtPull(three(), difference.Options{})
	require.NoError(t, err)
	assert.False(t, energy.MarkFlips(photons))
	d := made(map[string][]float64{"alpha": {-0.9, -0.91, -0.92}, "gamma": {-0.3, -0.31, -0.32}})
	photons, err = difference.AtPull(d, difference.Options{})
	require.NoError(t, err)
	d = made(map[string][]float64{"alpha": {-0.3, -0.31, -0.32}, "gamma": {-0.9, -0.91, -0.92}})
	energy, err = difference.AtPull(d, difference.Options{})
	require.NoError(t, err)
	assert.True(t, energy.MarkFlips(photons))
	assert.Contains(t, energy.Pairs[0].Flags, difference.FlagWeighting)
}

// Permutations by hand: of the 20 ways two are as far apart as 1, 2, 3 and 4, 5, 6.
func TestPermutation(t *testing.T) {
	c, err := difference.AtPull(made(map[string][]float64{"alpha": {1, 2, 3}, "beta": {4, 5, 6}}), difference.Options{})
	require.NoError(t, err)
	assert.Equal(t, difference.Permutation{P: 0.1, Least: 0.1}, c.Pairs[0].Permutation)
	many := make([]float64, 12)
	for i := range many {
		many[i] = float64(i)
	}
	c, err = difference.AtPull(made(map[string][]float64{"alpha": many, "beta": many}), difference.Options{})
	require.NoError(t, err)
	p := c.Pairs[0].Permutation
	assert.True(t, p.Drawn)
	assert.Equal(t, 1.0, p.P, "equal means are as near as can be")
	assert.InDelta(t, 1.0/20000, p.Least, 1e-12)
}

// BenchmarkThirtyCoatings compares 30 coatings of 300 coupons each, with twenty errors that all of a session share and
// ten of each coating.
func BenchmarkThirtyCoatings(b *testing.B) {
	d := made(nil)
	r := rand.New(rand.NewPCG(1, 2))
	d.Effects = make([]study.Effect, 20+30*10)
	for g := range 30 {
		for i := range 300 {
			v := series.Value{Value: r.NormFloat64(), Errors: series.Errors{Known: true, Own: 0.01}}
			for e := range 20 {
				v.Shared = append(v.Shared, series.Share{Effect: e, By: 0.01 * r.NormFloat64()})
			}
			for e := range 10 {
				v.Shared = append(v.Shared, series.Share{Effect: 20 + 10*g + e, By: 0.01})
			}
			d.Coupons = append(d.Coupons, series.Coupon{Coupon: fmt.Sprint(g, i), Role: study.Exposed, Coating: fmt.Sprint(g),
				Lot: "1", Exposure: "roof", DoseUnit: "days", Points: []series.Point{{Baseline: true}, {Pull: 1, Change: v}}})
		}
	}
	for b.Loop() {
		_, err := difference.AtPull(d, difference.Options{})
		require.NoError(b, err)
	}
}
