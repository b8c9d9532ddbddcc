package shape_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/series"
	"wane/study/shape"
)

// What the data cannot say is refused, with the reason and with what to do.
func TestNoPath(t *testing.T) {
	for because, c := range map[string]struct {
		spoil func(c *series.Coupon)
		in    shape.Axis
	}{
		"none of its coupons has a reading that counts": {func(c *series.Coupon) { c.Points = nil }, shape.InDose},
		"it was read at its baseline only":              {func(c *series.Coupon) { c.Points = c.Points[:1] }, shape.InDose},
		"all of its coupons were lost before a pull after the baseline (A1 broken at pull 1)": {func(c *series.Coupon) {
			c.Points, c.Ended = c.Points[:1], "broken at pull 1"
		}, shape.InDose},
		"the study corrects by controls, and none": {func(c *series.Coupon) {
			for i := range c.Points {
				c.Points[i].Change.Value, c.Points[i].Flags = math.NaN(), []string{study.FlagNoControl}
			}
		}, shape.InDose},
		"no reading at its baseline can be compared": {func(c *series.Coupon) {
			for i := range c.Points {
				c.Points[i].Change.Value = math.NaN()
			}
		}, shape.InDose},
		"no dose is known": {func(c *series.Coupon) {
			for i := range c.Points {
				c.Points[i].Dose = math.NaN()
			}
		}, shape.InDose},
		"no days is known": {func(c *series.Coupon) {
			for i := range c.Points {
				c.Points[i].Days = math.NaN()
			}
		}, shape.InDays},
		"the dose of coupon A1 goes back, from 200 at pull 2 to 150 at pull 3": {func(c *series.Coupon) { c.Points[3].Dose = 150 }, shape.InDose},
	} {
		t.Run(because, func(t *testing.T) {
			m := newMaker()
			c.spoil(m.coupon("A1", pulls, []float64{-.1, -.2, -.3, -.4}, 0.01, 0.01))
			g := shape.Groups(m.d, shape.ByCoating)
			require.Len(t, g, 1)
			_, err := g[0].Path(m.d, shape.ByCoating, c.in)
			var refusal *study.Refusal
			require.ErrorAs(t, err, &refusal)
			assert.Contains(t, refusal.Fault, "cannot be told from these data, because "+because)
			assert.NotEmpty(t, refusal.Try)
			_, err = g[0].Lives(m.d, 0.5, c.in)
			require.ErrorAs(t, err, &refusal)
		})
	}
}

// Values that are all the same say nothing of their scatter: there is no interval.
func TestConstantDataHaveNoInterval(t *testing.T) {
	m := newMaker()
	for _, name := range []string{"a", "b", "c"} {
		m.coupon(name, pulls, []float64{0, 0, 0, 0}, math.NaN(), 0)
	}
	e := fitOf(t, pathOf(t, m.d, shape.ByCoating), shape.Linear).Parameters[0]
	assert.True(t, math.IsNaN(e.U) && math.IsNaN(e.Lower) && math.IsNaN(e.Upper))
	assert.Contains(t, e.Flags, shape.FlagConstant)
	m = newMaker()
	m.coupon("a", pulls, []float64{0, 0, 0, 0}, math.NaN(), 0)
	e = fitOf(t, pathOf(t, m.d, shape.ByCoupon), shape.Linear).Parameters[0]
	assert.Equal(t, 0.0, e.Value)
	assert.True(t, math.IsNaN(e.U) && math.IsNaN(e.Lower))
	m = newMaker()
	m.coupon("a", pulls, []float64{0, 0, 0, 0}, 0, 0)
	_, err := pathOf(t, m.d, shape.ByCoupon).Fit(t.Context(), shape.Linear)
	require.ErrorContains(t, err, "stated to be none", "an uncertainty of 0 is none")
}

// One pull after the baseline: a difference over the dose, by the law. Errors that are not known leave no interval.
func TestOnePullAfterTheBaseline(t *testing.T) {
	m := newMaker()
	m.coupon("a", pulls[:1], []float64{-.2}, 0.03, 0.04)
	f := fitOf(t, pathOf(t, m.d, shape.ByCoupon), shape.Linear)
	e := f.Parameters[0]
	assert.InEpsilon(t, -.2/100, e.Value, 1e-12)
	assert.InEpsilon(t, .05/100, e.U, 1e-9, "by hand")
	assert.InEpsilon(t, -.2/100-1.959964*.05/100, e.Lower, 1e-6)
	assert.Contains(t, e.Flags, shape.FlagNotTested)
	assert.True(t, math.IsNaN(f.AICc))
	f = fitOf(t, pathOf(t, m.d, shape.ByCoupon), shape.Exponential)
	assert.Contains(t, f.Parameters[0].Why.Fault, "1 pull after the baseline cannot tell this shape")
	m = newMaker()
	m.coupon("a", pulls[:1], []float64{-.2}, math.NaN(), 0)
	e = fitOf(t, pathOf(t, m.d, shape.ByCoupon), shape.Linear).Parameters[0]
	assert.True(t, math.IsNaN(e.U) && math.IsNaN(e.Lower))
}

// A coating of which there is one coupon has no interval; the coupon has one.
func TestOneCouponSaysNothingOfOthers(t *testing.T) {
	m := newMaker()
	m.coupon("a", []float64{30, 60, 90, 120}, []float64{-.1, -.2, -.31, -.39}, 0.01, 0.01)
	for _, s := range []shape.Shape{shape.Linear, shape.Power} {
		for _, e := range fitOf(t, pathOf(t, m.d, shape.ByCoating), s).Parameters {
			assert.False(t, math.IsNaN(e.Value))
			assert.True(t, math.IsNaN(e.U) && math.IsNaN(e.Lower) && math.IsNaN(e.Upper))
			assert.Contains(t, e.Flags, shape.FlagOneCoupon)
		}
		for _, e := range fitOf(t, pathOf(t, m.d, shape.ByCoupon), s).Parameters {
			assert.Less(t, e.Lower, e.Value)
		}
	}
}

// A path that is straight shows no floor: the scale has no end, and neither has the floor.
func TestAStraightPathShowsNoFloor(t *testing.T) {
	m := newMaker()
	m.coupon("a", []float64{50, 100, 200, 300, 400}, []float64{-.05, -.105, -.2, -.29, -.4}, 0.02, 0.01)
	f := fitOf(t, pathOf(t, m.d, shape.ByCoupon), shape.Exponential)
	if floor := f.Parameters[0]; math.IsNaN(floor.Value) {
		assert.Contains(t, floor.Why.Fault, "its scale runs to the end of what is tried")
	} else {
		assert.True(t, math.IsNaN(f.Parameters[1].Upper) && math.IsNaN(floor.Lower))
		assert.Contains(t, floor.Flags, shape.FlagOpen)
		assert.Contains(t, f.Parameters[1].Flags, shape.FlagOpen)
	}
	all, err := pathOf(t, m.d, shape.ByCoupon).FitAll(t.Context())
	require.NoError(t, err)
	assert.Equal(t, shape.Linear, all[0].Shape)
}

// Coupons that do not have all pulls do not enter a mean; the path says so.
func TestLostCouponsDoNotBendAPath(t *testing.T) {
	m := newMaker()
	m.coupon("a", pulls, []float64{-.1, -.2, -.3, -.4}, 0.01, 0)
	m.coupon("b", pulls, []float64{-.1, -.2, -.3, -.4}, 0.01, 0)
	m.coupon("c", pulls[:2], []float64{-.5, -1}, 0.01, 0)
	p := pathOf(t, m.d, shape.ByCoating)
	assert.Equal(t, []string{"c"}, p.Skipped)
	assert.Contains(t, p.Flags, shape.FlagFewer)
	assert.Equal(t, []float64{-.1, -.2, -.3, -.4}, p.Y)
	assert.NotContains(t, p.Flags, study.FlagSessionNotTrusted)

	m.d.Coupons[1].Points[2].Flags = []string{study.FlagSessionNotTrusted}
	assert.Contains(t, pathOf(t, m.d, shape.ByCoating).Flags, study.FlagSessionNotTrusted)
}

// With three lots the lot is the unit.
func TestTheLotIsTheUnit(t *testing.T) {
	m := newMaker()
	for i, lot := range []string{"L1", "L1", "L2", "L2", "L3", "L3"} {
		m.coupon(string(rune('a'+i)), pulls[:1], []float64{-.1 * float64(i/2+1)}, 0.01, 0).Lot = lot
	}
	p := pathOf(t, m.d, shape.ByCoating)
	assert.Equal(t, 3, p.Units)
	assert.NotContains(t, p.Flags, shape.FlagTheseLots)
	e := fitOf(t, p, shape.Linear).Parameters[0]
	assert.InEpsilon(t, 1e-3/math.Sqrt(3), e.U, 1e-9, "of -1, -2 and -3 per 1000 days, by hand")
	assert.InDelta(t, 2, e.DF, 1e-9)
	assert.Contains(t, e.Method, "lots")
	means, err := shape.Groups(m.d, shape.ByCoating)[0].Means(m.d, shape.ByCoating, shape.InDose)
	require.NoError(t, err)
	assert.True(t, means[1].Lots)
	assert.InEpsilon(t, .2+4.303*.1/math.Sqrt(3), -means[1].Lower, 1e-4, "t from memory")
}

// 95 % intervals contain the truth, of coupons and of groups, with sessions that all share and slopes that scatter.
// 0.95 of 1,000 lies within 0.924 and 0.972 with a chance of 99.9 % (binomial distribution).
func TestIntervalsCover(t *testing.T) {
	const runs, rate, scatter, u, base, session = 1000, -1e-3, 3e-4, 0.02, 0.015, 0.02
	random := rand.New(rand.NewPCG(7, 11))
	ofCoupon, ofGroup := 0, 0
	for range runs {
		m := newMaker()
		sessions := make([]float64, len(pulls))
		for k := range sessions {
			sessions[k] = session * random.NormFloat64()
		}
		var first float64
		for i := range 5 {
			slope := rate + scatter*random.NormFloat64()
			if i == 0 {
				first = slope
			}
			y, b := make([]float64, len(pulls)), base*random.NormFloat64()
			for k, x := range pulls {
				y[k] = slope*x + u*random.NormFloat64() - b + sessions[k]
			}
			m.coupon(string(rune('a'+i)), pulls, y, u, base)
		}
		for k := range pulls {
			m.share(k+1, session)
		}
		e := fitOf(t, pathOf(t, m.d, shape.ByCoupon), shape.Linear).Parameters[0]
		if e.Lower < first && first < e.Upper {
			ofCoupon++
		}
		e = fitOf(t, pathOf(t, m.d, shape.ByCoating), shape.Linear).Parameters[0]
		if e.Lower < rate && rate < e.Upper {
			ofGroup++
		}
	}
	assert.InDelta(t, 948, ofCoupon, 24)
	assert.InDelta(t, 948, ofGroup, 24)
}

// The mean at a pull is over all coupons that have a change there: by hand, of -0.1, -0.2 and -0.3 the t interval with
// two degrees of freedom (4.303, from memory), and of two coupons that say the same there is none.
func TestMeansAreOfAllCoupons(t *testing.T) {
	m := newMaker()
	m.coupon("a", pulls[:2], []float64{-.1, -.2}, 0.01, 0)
	m.coupon("b", pulls[:2], []float64{-.2, -.2}, 0.01, 0)
	m.coupon("c", pulls[:1], []float64{-.3}, 0.01, 0)
	means, err := shape.Groups(m.d, shape.ByCoating)[0].Means(m.d, shape.ByCoating, shape.InDays)
	require.NoError(t, err)
	require.Len(t, means, 3)
	assert.Equal(t, 0.0, means[0].Value)
	assert.InEpsilon(t, -.2, means[1].Value, 1e-12)
	assert.InEpsilon(t, .2+4.303*.1/math.Sqrt(3), -means[1].Lower, 1e-4)
	assert.Equal(t, 200.0, means[2].X)
	assert.Equal(t, []shape.CouponChange{{"a", -.2}, {"b", -.2}}, means[2].Coupons)
	assert.True(t, math.IsNaN(means[2].Lower))
}

// What other instruments measured without a correction: what their sessions are off is not known. The uncertainty of a
// group is at least that of its mean path about the line, by hand with an intercept: residuals 2, -4, 2 (times 1/60) at
// 0, 1, 2.
func TestSessionsThatAreNotKnown(t *testing.T) {
	m := newMaker()
	m.d.Quantity = series.Quantity{Name: "haze", LevelUnit: "percent", Unit: "pp", Worse: 1, Measured: true}
	for i, d := range []float64{-.001, 0, .001} {
		m.coupon(string(rune('a'+i)), []float64{1, 2}, []float64{.2 + d, .3 + d}, math.NaN(), 0)
	}
	e := fitOf(t, pathOf(t, m.d, shape.ByCoating), shape.Linear).Parameters[0]
	assert.InEpsilon(t, .15, e.Value, 1e-9)
	assert.InEpsilon(t, math.Sqrt((1+4+1)/3600./2), e.U, 1e-9)
	assert.Equal(t, 1.0, e.DF)

	// A coupon whose own errors are stated: the sessions show in its scatter alone, with as few degrees of freedom.
	k := newMaker()
	k.d.Quantity = m.d.Quantity
	k.coupon("a", []float64{1, 2}, []float64{.2, .3}, 0.001, 0.001)
	e = fitOf(t, pathOf(t, k.d, shape.ByCoupon), shape.Linear).Parameters[0]
	assert.InEpsilon(t, math.Sqrt((1+4+1)/3600./2), e.U, 1e-9)
	assert.Equal(t, 1.0, e.DF)

	m.d.Coupons[0].Points, m.d.Coupons[1].Points, m.d.Coupons[2].Points =
		m.d.Coupons[0].Points[:2], m.d.Coupons[1].Points[:2], m.d.Coupons[2].Points[:2]
	e = fitOf(t, pathOf(t, m.d, shape.ByCoating), shape.Linear).Parameters[0]
	assert.True(t, math.IsNaN(e.U) && math.IsNaN(e.Lower) && math.IsNaN(e.Upper))
	assert.Contains(t, e.Flags, shape.FlagSessionIsDose)
}

// The intervals of an exponential contain its truth: of coupons, and of groups whose floors scatter by a fifth. 0.95 of
// 300 lies within 0.90 and 0.984 with a chance of 99.9 % (binomial distribution).
func TestIntervalsOfShapesCover(t *testing.T) {
	const runs, floor, scale, scatter, u, base = 300, -0.5, 120, 0.1, 0.01, 0.008
	doses := []float64{30, 60, 120, 200, 300, 400}
	random := rand.New(rand.NewPCG(3, 5))
	covered := map[string]int{}
	count := func(of string, e shape.Estimate, truth float64) {
		if e.Lower < truth && truth < e.Upper {
			covered[of+" "+e.Parameter]++
		}
	}
	for range runs {
		m := newMaker()
		var first float64
		for i := range 5 {
			own := floor + scatter*random.NormFloat64()
			if i == 0 {
				first = own
			}
			y, b := make([]float64, len(doses)), base*random.NormFloat64()
			for k, x := range doses {
				y[k] = -own*math.Expm1(-x/scale) + u*random.NormFloat64() - b
			}
			m.coupon(string(rune('a'+i)), doses, y, u, base)
		}
		of := fitOf(t, pathOf(t, m.d, shape.ByCoupon), shape.Exponential).Parameters
		count("coupon", of[0], first)
		count("coupon", of[1], scale)
		of = fitOf(t, pathOf(t, m.d, shape.ByCoating), shape.Exponential).Parameters
		count("group", of[0], floor)
		count("group", of[1], scale)
	}
	assert.Len(t, covered, 4)
	for of, n := range covered {
		most := 296
		if of == "group scale" { // which does not scatter: t with few degrees of freedom is longer than need be
			most = runs
		}
		assert.True(t, 270 <= n && n <= most, "%s: %d of %d", of, n, runs)
	}
}

// A path that is made straight is called straight, and a curved one that ends at a floor is not, in most of 40 studies. At
// six pulls a second parameter must lower chi-square by 5, by the formula of AICc.
func TestTheShapeIsFound(t *testing.T) {
	doses := []float64{30, 60, 120, 200, 300, 400}
	random := rand.New(rand.NewPCG(13, 17))
	straight, curved := 0, 0
	for range 40 {
		for _, bend := range []bool{false, true} {
			m := newMaker()
			for i := range 4 {
				amplitude := 1 + 0.2*random.NormFloat64()
				y, b := make([]float64, len(doses)), 0.008*random.NormFloat64()
				for k, x := range doses {
					y[k] = -0.4*x/400*amplitude + 0.01*random.NormFloat64() - b
					if bend {
						y[k] += (0.4*x/400 + 0.4*math.Expm1(-x/100)) * amplitude
					}
				}
				m.coupon(string(rune('a'+i)), doses, y, 0.01, 0.008)
			}
			all, err := pathOf(t, m.d, shape.ByCoating).FitAll(t.Context())
			require.NoError(t, err)
			switch {
			case !bend && all[0].Shape == shape.Linear:
				straight++
			case bend && all[0].Shape == shape.Exponential:
				curved++
			}
		}
	}
	assert.Greater(t, straight, 32)
	assert.Greater(t, curved, 32)
}

// Whatever a path is, each number is finite and inside its interval, or is told to be missing.
func TestAnyPath(t *testing.T) {
	random := rand.New(rand.NewPCG(5, 9))
	kinds := []func(k int) float64{
		func(int) float64 { return 0 },
		func(int) float64 { return -1 },
		func(k int) float64 { return float64(k%2) - 0.5 },
		func(k int) float64 { return -1e8 * float64(k) },
		func(k int) float64 { return 1e-9 * math.Sqrt(float64(k+1)) },
		func(int) float64 { return random.NormFloat64() },
	}
	for i, value := range kinds {
		for _, doses := range [][]float64{{1, 2, 3, 4, 5, 6}, {7, 7, 7, 7, 7, 8}, {1e-3, 1, 1e3, 1e4, 1e5, 1e6}, {5}, {3, 3}} {
			for _, u := range []float64{math.NaN(), 1e-6, 0.1} {
				m := newMaker()
				for c := range 1 + i%3 {
					y := make([]float64, len(doses))
					for k := range y {
						y[k] = value(k) * (1 + 0.1*float64(c))
					}
					m.coupon(string(rune('a'+c)), doses, y, u, u)
				}
				for _, by := range []shape.By{shape.ByCoupon, shape.ByCoating} {
					all, err := pathOf(t, m.d, by).FitAll(t.Context())
					require.NoError(t, err)
					for _, f := range all {
						for _, e := range f.Parameters {
							what := fmt.Sprint(i, doses, u, by, f.Shape, e)
							assert.False(t, math.IsNaN(e.Value) && e.Why == nil, what)
							for _, v := range []float64{e.Value, e.U, e.Lower, e.Upper} {
								assert.False(t, math.IsInf(v, 0), what)
							}
							assert.False(t, e.Lower > e.Value || e.Value > e.Upper, what)
						}
					}
				}
			}
		}
	}
}

// Each dose in one session of which nothing is known: no shape of a group has an interval, nor one of a coupon, unless
// the sessions are in its errors. The numbers stand.
func TestConfoundedSessionsLeaveNoInterval(t *testing.T) {
	made := func(measured bool, by shape.By) *shape.Path {
		m := newMaker()
		m.d.Quantity.Measured, m.d.Route = measured, study.RouteNone
		for i, y := range [][]float64{{-.1, -.22, -.27, -.38}, {-.12, -.2, -.3, -.41}, {-.09, -.18, -.31, -.4}} {
			m.coupon(string(rune('a'+i)), pulls, y, 0.01, 0.01)
		}
		p := pathOf(t, m.d, by)
		p.Confound(shape.Cannot("sessions look like ageing", "read controls"))
		return p
	}
	for _, c := range []struct {
		measured bool
		by       shape.By
		told     bool
	}{{true, shape.ByCoating, false}, {false, shape.ByCoating, false}, {true, shape.ByCoupon, false},
		{false, shape.ByCoupon, true}} {
		p := made(c.measured, c.by)
		all, err := p.FitAll(t.Context())
		require.NoError(t, err)
		estimates := []shape.Estimate{*p.Ranks()}
		for _, f := range all {
			if f.Found() {
				estimates = append(estimates, f.Parameters...)
			}
		}
		require.Greater(t, len(estimates), 3)
		for _, e := range estimates {
			what := fmt.Sprint(c, e)
			assert.False(t, math.IsNaN(e.Value), what)
			if c.told {
				assert.NotContains(t, e.Flags, shape.FlagSessionIsDose, what)
				assert.Nil(t, e.Why, what)
				continue
			}
			assert.True(t, math.IsNaN(e.Lower) && math.IsNaN(e.Upper) && math.IsNaN(e.U), what)
			assert.Contains(t, e.Flags, shape.FlagSessionIsDose, what)
		}
		e := fitOf(t, p, shape.Linear).Parameters[0]
		assert.Equal(t, c.told, !math.IsNaN(e.Lower))
		if !c.told {
			assert.Contains(t, e.Why.Fault, "because sessions look like ageing")
		}
	}
}

// A straight path is called bent in 5 of 100 studies or somewhat more, also where coupons differ in rate and sessions
// are off for all; one as bent as -0.02, -0.11, -0.47 at 90, 180 and 365 days is found. 0.05 of 1,000 lies below 75
// with a chance of 99.9 % (binomial distribution); the scatter of five coupons that weighs the path is estimated,
// which adds to it.
func TestBent(t *testing.T) {
	const runs = 1000
	doses, curve := []float64{90, 180, 365}, []float64{-.02, -.11, -.47}
	random := rand.New(rand.NewPCG(23, 29))
	wrong, found := 0, 0
	for run := range runs + 100 {
		m := newMaker()
		sessions := []float64{0.02 * random.NormFloat64(), 0.02 * random.NormFloat64(), 0.02 * random.NormFloat64()}
		for i := range 5 {
			amplitude, b := 1+0.3*random.NormFloat64(), 0.015*random.NormFloat64()
			y := make([]float64, len(doses))
			for k, x := range doses {
				if y[k] = -1e-3 * x * amplitude; run >= runs {
					y[k] = curve[k] * amplitude
				}
				y[k] += 0.02*random.NormFloat64() - b + sessions[k]
			}
			m.coupon(string(rune('a'+i)), doses, y, 0.02, 0.015)
		}
		for k := range doses {
			m.share(k+1, 0.02)
		}
		switch bent := pathOf(t, m.d, shape.ByCoating).Bent(); {
		case bent && run < runs:
			wrong++
		case bent:
			found++
		}
	}
	assert.True(t, 25 < wrong && wrong < 75, "%d of %d", wrong, runs)
	assert.Greater(t, found, 90)
}

// Doses that are too small are said with the numbers that rest on them, not with those over days.
func TestDosesThatAreTooSmallAreSaid(t *testing.T) {
	m := newMaker()
	for _, name := range []string{"a", "b"} {
		m.coupon(name, pulls, []float64{-.1, -.2, -.3, -.4}, 0.01, 0).Points[4].Flags = []string{study.FlagDoseShort}
	}
	p := pathOf(t, m.d, shape.ByCoating)
	assert.Contains(t, fitOf(t, p, shape.Linear).Parameters[0].Flags, study.FlagDoseShort)
	assert.Contains(t, p.Ranks().Flags, study.FlagDoseShort)
	laws, err := livesOf(t, m.d, 0.25).Laws(false)
	require.NoError(t, err)
	assert.Contains(t, laws[0].Parameters[0].Flags, study.FlagDoseShort)
	days, err := shape.Groups(m.d, shape.ByCoating)[0].Path(m.d, shape.ByCoating, shape.InDays)
	require.NoError(t, err)
	assert.NotContains(t, days.Flags, study.FlagDoseShort)
}
