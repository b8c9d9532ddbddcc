package ageing_test

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/ageing"
)

// row is a made-up row of an exposed coupon at pull 2.
func row(coupon, spot string, change, corrected study.Measure, kept study.Num, state study.State) *study.Result {
	r := study.NewResult()
	r.Coupon, r.Spot, r.Role, r.Coating, r.Exposure = coupon, spot, "exposed", "K", "roof"
	r.Pull, r.Dose, r.DoseUnit, r.State = 2, 180, "days", state
	r.Correction, r.NControls = "controls", 2
	r.ControlsDoF = r.NControls - 1
	r.Change, r.CorrectedChange, r.GainKept.Value, r.Solid.Value = change, corrected, kept, 70
	return &r
}

// Worked by hand. Coupons have the mean changes -0.40 (spots -0.30 and -0.50),
// -0.20 and -0.30: mean -0.30, s = 0.1, s²/n = 0.003333. The controls' mean has
// u = 0.03 in all rows (0.05² = 0.04² + 0.03²) and 1 degree of freedom: the
// variance is 0.003333 + 0.0009 = 0.004233, u = 0.065064, the degrees of freedom
// are 0.004233² / (0.003333²/2 + 0.0009²/1) = 2.8153. t(0.975, 2.8153) = 3.3039
// (scipy 1.10.1: scipy.stats.t.ppf(0.975, 2.8153)), so the interval is
// -0.30 ± 0.2150.
func TestGroupByCoating(t *testing.T) {
	g := ageing.NewGrouper(ageing.ByCoating)
	m := func(v study.Num, u study.Num) study.Measure { return study.Measure{Value: v, U: u} }
	g.Add(row("A", "1", m(-0.32, 0.04), m(-0.30, 0.05), 0.9, study.Full))
	g.Add(row("A", "2", m(-0.52, 0.04), m(-0.50, 0.05), 0.8, study.Patchy))
	g.Add(row("B", "1", m(-0.22, 0.04), m(-0.20, 0.05), 0.95, study.Full))
	g.Add(row("C", "1", m(-0.32, 0.04), m(-0.30, 0.05), 0.9, study.Thinned))
	control := row("D", "1", m(-9, 1), study.NoMeasure(), 0.1, study.Stripped)
	control.Role = "control"
	g.Add(control)

	groups := g.Groups()
	require.Len(t, groups, 1)
	got := groups[0]
	assert.Equal(t, "K", got.Group)
	assert.Equal(t, 3, got.Coupons)
	assert.InDelta(t, -0.30, float64(got.Change), 1e-12)
	assert.InDelta(t, 0.1, float64(got.Spread), 1e-12)
	assert.InDelta(t, -0.30-0.2150, float64(got.Lo), 1e-4) // the digits worked by hand
	assert.InDelta(t, -0.30+0.2150, float64(got.Hi), 1e-4)
	assert.InDelta(t, (0.85+0.95+0.9)/3, float64(got.GainKept), 1e-12)
	assert.Equal(t, map[study.State]int{study.Full: 2, study.Patchy: 1, study.Thinned: 1}, got.States)
	assert.Equal(t, []ageing.CouponMean{{"A", -0.40}, {"B", -0.20}, {"C", -0.30}}, got.Coupon)
}

// Worked by hand. Of three coupons of one supplier, with the changes -0.40, -0.20 and
// -0.30 (s²/n = 0.003333), two have the coating K and one L. The controls of K have u = 0.03
// (1 degree of freedom), those of L 0.04 (3): with the shares 2/3 and 1/3 of the mean they
// add 4/9·0.0009 = 0.0004 and 1/9·0.0016 = 0.000177778. The variance is 0.003911111, the
// degrees of freedom are 0.003911111²/(0.003333²/2 + 0.0004²/1 + 0.000177778²/3) = 2.6714,
// t(0.975, 2.6714) = 3.4158 and the half-width 0.21362 (scipy 1.10.1, stats.t.ppf).
func TestGroupOfTwoCoatings(t *testing.T) {
	g := ageing.NewGrouper(ageing.BySupplier)
	for _, c := range []struct {
		coupon, coating string
		change          study.Num
		u, dof          study.Num // of the controls' mean
	}{{"A", "K", -0.40, 0.03, 1}, {"B", "K", -0.20, 0.03, 1}, {"C", "L", -0.30, 0.04, 3}} {
		own := study.Num(math.Sqrt(0.05*0.05 - float64(c.u*c.u)))
		r := row(c.coupon, "1", study.Measure{Value: c.change, U: own}, study.Measure{Value: c.change, U: 0.05}, 1,
			study.Full)
		r.Supplier, r.Coating, r.ControlsDoF = "S", c.coating, c.dof
		g.Add(r)
	}
	groups := g.Groups()
	require.Len(t, groups, 1)
	assert.InDelta(t, -0.30-0.21362, float64(groups[0].Lo), 1e-5)
	assert.InDelta(t, -0.30+0.21362, float64(groups[0].Hi), 1e-5)
}

// Worked by hand. What the sessions add to the change of every coupon, u = 0.03, no number
// of coupons averages out: the variance of the mean is 0.003333 + 0.0009, its degrees of
// freedom 0.004233²/(0.003333²/2) = 3.2258, t(0.975, 3.2258) = 3.0601 and the half-width
// 0.19910 (scipy 1.10.1, stats.t.ppf).
func TestGroupOfSessions(t *testing.T) {
	g := ageing.NewGrouper(ageing.ByCoating)
	for coupon, change := range map[string]study.Num{"A": -0.40, "B": -0.20, "C": -0.30} {
		r := row(coupon, "1", study.Measure{Value: change, U: 0.05}, study.Measure{Value: change, U: 0.05}, 1, study.Full)
		r.Correction, r.CorrectedShared, r.ControlsDoF = "session", 0.03, study.Null()
		g.Add(r)
	}
	groups := g.Groups()
	require.Len(t, groups, 1)
	assert.Equal(t, "corrected", groups[0].Changes)
	assert.InDelta(t, -0.30-0.19910, float64(groups[0].Lo), 1e-5)
	assert.InDelta(t, -0.30+0.19910, float64(groups[0].Hi), 1e-5)
}

// Without a correction the interval is the plain t interval of the coupons: for
// 1, 2, 3 the mean is 2 and the half-width 4.3027·1/√3 = 2.4842 (t(0.975, 2) =
// 4.3027, R 4.2.2: qt(0.975, 2)).
func TestGroupWithoutCorrection(t *testing.T) {
	g := ageing.NewGrouper(ageing.BySupplier)
	for i := range 3 {
		r := row(fmt.Sprint("C", i), "1", study.Measure{Value: study.Num(i + 1), U: 0.1}, study.NoMeasure(), 1, study.Full)
		r.Correction, r.Supplier = "none", "S"
		g.Add(r)
	}
	one := row("only", "1", study.Measure{Value: 5, U: 0.1}, study.NoMeasure(), 1, study.Full)
	one.Correction, one.Supplier = "none", "T"
	g.Add(one)
	groups := g.Groups()
	require.Len(t, groups, 2)
	assert.InDelta(t, 2-2.4842, float64(groups[0].Lo), 1e-4)
	assert.InDelta(t, 2+2.4842, float64(groups[0].Hi), 1e-4)
	assert.Equal(t, "as measured", groups[0].Changes)
	assert.InDelta(t, 5, float64(groups[1].Change), 1e-12)
	assert.False(t, groups[1].Lo.Valid(), "one coupon has no interval")
}

// Readings as found and cleaned are different groups, and so are lots of two
// coatings that carry one number.
func TestWhatIsNotMixed(t *testing.T) {
	found, cleaned := row("A", "1", study.Measure{Value: -2, U: 0.1}, study.Measure{Value: -2, U: 0.1}, 0.5, study.Full),
		row("A", "1", study.Measure{Value: -1, U: 0.1}, study.Measure{Value: -1, U: 0.1}, 0.8, study.Full)
	found.Condition, cleaned.Condition = "as_found", "cleaned"
	g := ageing.NewGrouper(ageing.ByCoating)
	g.Add(found)
	g.Add(cleaned)
	groups := g.Groups()
	require.Len(t, groups, 2)
	assert.Equal(t, "as_found", groups[0].Condition)
	assert.InDelta(t, -2, float64(groups[0].Change), 1e-12)
	assert.InDelta(t, -1, float64(groups[1].Change), 1e-12)

	other := *cleaned
	cleaned.Lot, other.Lot, other.Coating, other.Coupon = "1", "1", "L", "B"
	g = ageing.NewGrouper(ageing.ByLot)
	g.Add(cleaned)
	g.Add(&other)
	groups = g.Groups()
	require.Len(t, groups, 2)
	assert.Equal(t, "K / 1", groups[0].Group)
	assert.Equal(t, "L / 1", groups[1].Group)
}
