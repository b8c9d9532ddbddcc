package shape_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/series"
	"wane/study/shape"
)

// pathOf returns the path of the first group.
func pathOf(t *testing.T, d *series.Data, by shape.By) *shape.Path {
	t.Helper()
	g := shape.Groups(d, by)
	require.NotEmpty(t, g)
	p, err := g[0].Path(d, by, shape.InDose)
	require.NoError(t, err)
	return p
}

func fitOf(t *testing.T, p *shape.Path, s shape.Shape) *shape.Fit {
	t.Helper()
	f, err := p.Fit(t.Context(), s)
	require.NoError(t, err)
	return f
}

// fivePulls is the path of testdata/scipy_shape.py.
func fivePulls() *series.Data {
	m := newMaker()
	c := m.coupon("A1", []float64{30, 90, 180, 270, 365}, []float64{-0.09, -0.21, -0.29, -0.36, -0.37}, 1e-2, math.Sqrt(5e-5))
	c.Points[2].Change.Own, c.Points[4].Change.Own = 2e-4, 3e-4
	session := m.effect(study.OwnerSession, "shared")
	for _, k := range []int{2, 3} {
		e := &c.Points[k].Change.Errors
		e.Shared = append(e.Shared, series.Share{Effect: session, By: math.Sqrt(2e-5)})
	}
	return m.d
}

// By scipy.optimize.curve_fit with the covariance (testdata/scipy_shape.py, SciPy 1.10.1): parameters, their
// uncertainties by the covariance, chi-square, AICc by its formula there. The uncertainty of scipy is by differences:
// 1e-4.
func TestShapesAgainstSciPy(t *testing.T) {
	p := pathOf(t, fivePulls(), shape.ByCoupon)
	for _, c := range []struct {
		shape           shape.Shape
		x, u            []float64
		chiSquare, aicc float64
	}{
		{shape.Linear, []float64{-0.00103664734}, []float64{3.040603e-05}, 117.44336, 120.7767},
		{shape.Exponential, []float64{-0.38708302, 121.563912}, []float64{0.01468672, 14.01845}, 2.0010082, 12.001008},
		{shape.Power, []float64{-0.388529786, 0.495305968}, []float64{0.01097647, 0.03522242}, 13.355212, 23.355212},
		{shape.TwoStage, []float64{-0.00240287985, -0.000421547522, 108.941522},
			[]float64{0.0001787631, 8.003551e-05, 10.79585}, 5.3656505, 35.36565},
		{shape.Stretched, []float64{-0.404531156, 132.949483, 0.913898516},
			[]float64{0.03368462, 26.98231, 0.1149908}, 1.4309882, 31.430988},
	} {
		t.Run(string(c.shape), func(t *testing.T) {
			f := fitOf(t, p, c.shape)
			assert.InEpsilon(t, c.chiSquare, f.ChiSquare, 1e-6)
			assert.InEpsilon(t, c.aicc, f.AICc, 1e-6)
			require.Len(t, f.Parameters, len(c.x))
			nu := float64(f.Pulls - len(c.x))
			for j, e := range f.Parameters {
				assert.InEpsilon(t, c.x[j], e.Value, 2e-5, e.Parameter)
				u := c.u[j]
				if e.DF == nu { // drawn out by what the shape does not explain
					assert.Contains(t, e.Flags, shape.FlagScatter)
					u *= math.Sqrt(c.chiSquare / nu)
				}
				assert.InEpsilon(t, u, e.U, 1e-4, e.Parameter)
				assert.Less(t, e.Lower, e.Value, e.Parameter)
				assert.Greater(t, e.Upper, e.Value, e.Parameter)
			}
		})
	}
	all, err := p.FitAll(t.Context())
	require.NoError(t, err)
	var order []shape.Shape
	for _, f := range all {
		order = append(order, f.Shape)
	}
	assert.Equal(t, []shape.Shape{shape.Exponential, shape.Power, shape.Stretched, shape.TwoStage, shape.Linear}, order)
	assert.InDelta(t, 23.355212-12.001008, all[1].Difference, 1e-4)
	assert.InEpsilon(t, -0.38708302*(1-math.Exp(-180/121.563912)), all[0].At(180), 1e-5, "by hand")
}

// Generalised least squares of the levels with a free intercept, by lm.gls of R's MASS (testdata/shape.R): the same
// slope and the same uncertainty as that of the changes, here before it is drawn out by the scatter.
func TestChangesAreAsGoodAsLevels(t *testing.T) {
	f := fitOf(t, pathOf(t, fivePulls(), shape.ByCoupon), shape.Linear)
	assert.InEpsilon(t, -0.001036647337, f.Parameters[0].Value, 1e-9)
	assert.InEpsilon(t, 3.04060332e-05*math.Sqrt(f.ChiSquare/4), f.Parameters[0].U, 1e-8)
}

// Without known errors: lm of R with an intercept, and the profile of nls (testdata/shape.R), levels with their
// baseline.
func TestErrorsNotKnown(t *testing.T) {
	m := newMaker()
	m.coupon("A1", []float64{30, 90, 180, 270, 365}, []float64{-0.09, -0.21, -0.29, -0.36, -0.37}, math.NaN(), 0)
	e := fitOf(t, pathOf(t, m.d, shape.ByCoupon), shape.Linear).Parameters[0]
	assert.InEpsilon(t, -0.0009855546917, e.Value, 1e-8)
	assert.InEpsilon(t, 0.000182058901, e.U, 1e-8)
	assert.InEpsilon(t, -0.001491031236, e.Lower, 1e-8)
	assert.InEpsilon(t, -0.000480078147, e.Upper, 1e-8)
	assert.Equal(t, 4.0, e.DF)
	assert.Contains(t, e.Flags, shape.FlagNoErrors)

	m = newMaker()
	m.coupon("A1", []float64{30, 60, 90, 120, 180, 270, 365}, []float64{-.08, -.17, -.20, -.26, -.31, -.37, -.38}, math.NaN(), 0)
	f := fitOf(t, pathOf(t, m.d, shape.ByCoupon), shape.Exponential)
	floor, scale := f.Parameters[0], f.Parameters[1]
	assert.InEpsilon(t, -0.4070075144, floor.Value, 1e-6)
	assert.InEpsilon(t, 0.01266763163, floor.U, 1e-5)
	assert.InEpsilon(t, -0.4408565757, floor.Lower, 1e-5)
	assert.InEpsilon(t, -0.3752753517, floor.Upper, 1e-5)
	assert.InEpsilon(t, 120.2683823, scale.Value, 1e-5)
	assert.InEpsilon(t, 120.2683823*0.08222792543, scale.U, 1e-5)
	assert.InEpsilon(t, 98.58377753, scale.Lower, 1e-5)
	assert.InEpsilon(t, 150.578176, scale.Upper, 1e-5)
	assert.Equal(t, 5.0, scale.DF)
}

// Five coupons with the same errors: the t interval of their slopes, by t.test of R (testdata/shape.R).
func TestGroupIsTheScatterOfItsCoupons(t *testing.T) {
	m := newMaker()
	for i, y := range [][]float64{{-.05, -.12, -.21}, {-.09, -.18, -.37}, {-.07, -.13, -.30}, {-.11, -.20, -.44}, {-.04, -.10, -.19}} {
		m.coupon(string(rune('a'+i)), []float64{90, 180, 365}, y, 1e-2, math.Sqrt(2e-4))
	}
	e := fitOf(t, pathOf(t, m.d, shape.ByCoating), shape.Linear).Parameters[0]
	assert.InEpsilon(t, -0.0008313213305, e.Value, 1e-8)
	assert.InEpsilon(t, 0.000127865475, e.U, 1e-8)
	assert.InEpsilon(t, -0.001186332803, e.Lower, 1e-8)
	assert.InEpsilon(t, -0.0004763098583, e.Upper, 1e-8)
	assert.InDelta(t, 4, e.DF, 1e-9)
	assert.Contains(t, e.Flags, shape.FlagTheseLots)

	// A session that all coupons share moves all slopes alike and is no scatter. By hand, of slopes -1, -2 and -3 per
	// 1000 days: s²/n = 1/3·10⁻⁶, the session 0.05 pp / 100 days, u² = (1/3 + 1/4)·10⁻⁶, df = 2·(7/4)².
	m = newMaker()
	for i, y := range []float64{-0.1, -0.2, -0.3} {
		m.coupon(string(rune('a'+i)), []float64{100}, []float64{y}, 0.01, 0.02)
	}
	m.share(1, 0.05)
	e = fitOf(t, pathOf(t, m.d, shape.ByCoating), shape.Linear).Parameters[0]
	assert.InEpsilon(t, -2e-3, e.Value, 1e-12)
	assert.InEpsilon(t, math.Sqrt(7./12)*1e-3, e.U, 1e-12)
	assert.InEpsilon(t, 2*49./16, e.DF, 1e-12)
	assert.Equal(t, "pp/day", e.Unit)
	assert.Contains(t, e.Flags, shape.FlagNotTested)

	// The same from two controls: one degree of freedom more, df = (7/12)² / ((1/3)²/2 + (1/4)²/1).
	m.d.DoF = map[int]float64{len(m.d.Effects) - 1: 1}
	e = fitOf(t, pathOf(t, m.d, shape.ByCoating), shape.Linear).Parameters[0]
	assert.InEpsilon(t, (49./144)/(1./18+1./16), e.DF, 1e-9)
	// A coupon alone: its variance is 0.01² + 0.02² + 0.05², all in (pp / 100 days)², of which 0.05² has one degree of
	// freedom.
	e = fitOf(t, pathOf(t, m.d, shape.ByCoupon), shape.Linear).Parameters[0]
	assert.InEpsilon(t, 30.*30/(25*25), e.DF, 1e-9)
}

// theilslopes of SciPy 1.10.1 (testdata/scipy_shape.py).
func TestTheilSenAgainstSciPy(t *testing.T) {
	slope, lo, hi := shape.TheilSen([]float64{0, 30, 90, 180, 270, 365}, []float64{0, -0.02, -0.11, -0.16, -0.31, -0.36})
	assert.InEpsilon(t, -0.0010149253731343282, slope, 1e-12)
	assert.InEpsilon(t, -0.0015, lo, 1e-12)
	assert.InEpsilon(t, -0.0005555555555555556, hi, 1e-12)
	slope, lo, hi = shape.TheilSen([]float64{0, 1, 2, 2, 3, 4, 5, 6}, []float64{0, 1, 1, 3, 2, 2, 5, 4})
	assert.InEpsilon(t, 0.6666666666666666, slope, 1e-12)
	assert.InEpsilon(t, 0.25, lo, 1e-12)
	assert.InEpsilon(t, 1.0, hi, 1e-12)

	slope, lo, hi = shape.TheilSen([]float64{0, 1, 2, 3}, []float64{0, 1, 2, 4})
	assert.InEpsilon(t, 7./6, slope, 1e-12, "of 1, 1, 1, 4/3, 3/2, 2: the median by hand")
	assert.True(t, math.IsNaN(lo) && math.IsNaN(hi), "four points have no interval of 95 %")
	slope, lo, hi = shape.TheilSen([]float64{0, 1, 2, 3, 4, 5}, make([]float64, 6))
	assert.Equal(t, 0.0, slope)
	assert.True(t, math.IsNaN(lo) && math.IsNaN(hi), "values that never change have none")
	slope, _, _ = shape.TheilSen([]float64{5, 5}, []float64{0, 1})
	assert.True(t, math.IsNaN(slope))
}

// The slope by ranks of a group is the median of those of its coupons, by hand, without an interval: Sen's interval of
// the mean path has no scatter of coupons in it. That of a coupon is Sen's (SciPy above), where its errors are known.
func TestRanksOfGroups(t *testing.T) {
	doses := []float64{30, 90, 180, 270, 365}
	whole := []float64{-0.02, -0.11, -0.16, -0.31, -0.36}
	scaled := func(by float64) (y []float64) {
		for _, v := range whole {
			y = append(y, by*v)
		}
		return y
	}
	slope, lo, hi := shape.TheilSen(append([]float64{0}, doses...), append([]float64{0}, whole...))
	m := newMaker()
	for i, by := range []float64{1, 5, 0.1, 1.2} { // their mean is far from the median
		m.coupon(string(rune('a'+i)), doses, scaled(by), 0.01, 0.01)
	}
	e := pathOf(t, m.d, shape.ByCoating).Ranks()
	assert.InEpsilon(t, 1.1*slope, e.Value, 1e-9)
	assert.True(t, math.IsNaN(e.U) && math.IsNaN(e.Lower) && math.IsNaN(e.Upper))
	assert.Equal(t, "theil-sen, median of coupons", e.Method)
	assert.Contains(t, e.Flags, shape.FlagMedianOfCoupons)
	e = pathOf(t, m.d, shape.ByCoupon).Ranks()
	assert.Equal(t, [3]float64{slope, lo, hi}, [3]float64{e.Value, e.Lower, e.Upper})
	assert.Equal(t, "theil-sen", e.Method)

	m = newMaker()
	m.coupon("a", doses, whole, 0.01, 0.01)
	e = pathOf(t, m.d, shape.ByCoating).Ranks()
	assert.True(t, math.IsNaN(e.Lower))
	assert.Contains(t, e.Flags, shape.FlagOneCoupon)
	m = newMaker()
	m.coupon("a", doses, whole, math.NaN(), 0)
	e = pathOf(t, m.d, shape.ByCoupon).Ranks()
	assert.Equal(t, slope, e.Value)
	assert.True(t, math.IsNaN(e.Lower))
	assert.Contains(t, e.Flags, shape.FlagNoErrors)
}
