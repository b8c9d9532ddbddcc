package population_test

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/population"
	"wane/study/series"
)

// keep keeps the coupons of which keep says so.
func keep(d *series.Data, keep func(i int, c *series.Coupon) bool) *series.Data {
	var list []series.Coupon
	for i := range d.Coupons {
		if keep(i, &d.Coupons[i]) {
			list = append(list, d.Coupons[i])
		}
	}
	d.Coupons = list
	return d
}

// each hands each point to do.
func each(d *series.Data, do func(c *series.Coupon, p *series.Point)) *series.Data {
	for i := range d.Coupons {
		for k := range d.Coupons[i].Points {
			do(&d.Coupons[i], &d.Coupons[i].Points[k])
		}
	}
	return d
}

func fitted(t *testing.T, d *series.Data, opt population.Options) *population.Population {
	p, err := population.Fit(t.Context(), d, opt)
	require.NoError(t, err)
	return p
}

// What the data cannot tell has a reason in the place of an interval, and each reason has a sentence.
func TestCannotBeTold(t *testing.T) {
	exposed := func(c *series.Coupon) bool { return c.Role == study.Exposed }
	for _, c := range []struct {
		name string
		data func() *series.Data
		why  population.Reason // of the first group; the others are told
	}{
		{"all is told", func() *series.Data { return large(3, 6, 5, 1, true) }, ""},
		{"one coupon", func() *series.Data {
			return keep(large(3, 6, 5, 1, true), func(i int, c *series.Coupon) bool { return !exposed(c) || i%3 > 0 || i < 3 })
		}, population.OneCoupon},
		{"one pull", func() *series.Data {
			d := large(3, 6, 5, 1, true)
			for i := range d.Coupons {
				if c := &d.Coupons[i]; exposed(c) && c.Coating == "coating 00" {
					c.Points = c.Points[2:3]
				}
			}
			return d
		}, population.OnePull},
		{"each coupon read once", func() *series.Data {
			d := large(3, 6, 5, 1, true)
			for i := range d.Coupons {
				if c := &d.Coupons[i]; exposed(c) && c.Coating == "coating 00" {
					c.Points = c.Points[i/3%5 : i/3%5+1]
				}
			}
			return d
		}, population.NoRepeat},
		{"no dose", func() *series.Data {
			return each(large(3, 6, 5, 1, true), func(c *series.Coupon, p *series.Point) {
				if exposed(c) && c.Coating == "coating 00" {
					p.Dose = math.NaN()
				}
			})
		}, population.NoDose},
		{"no value", func() *series.Data {
			return each(large(3, 6, 5, 1, true), func(c *series.Coupon, p *series.Point) {
				if c.Coating == "coating 00" {
					p.Level.Value = math.NaN()
				}
			})
		}, population.NoValue},
		{"values that never change", func() *series.Data {
			return each(large(3, 6, 5, 1, false), func(c *series.Coupon, p *series.Point) {
				if c.Coating == "coating 00" {
					p.Level.Value = 12
				}
			})
		}, population.Constant},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := fitted(t, c.data(), population.Options{})
			require.Len(t, p.Groups, 3)
			for g := range p.Groups {
				rate := &p.Groups[g].Rate
				lower, upper := rate.Interval(0.95)
				if g == 0 && c.why != "" {
					assert.Equal(t, c.why, rate.Why)
					assert.True(t, math.IsNaN(rate.SE) && math.IsNaN(rate.DoF) && math.IsNaN(lower) && math.IsNaN(upper))
					assert.True(t, math.IsNaN(rate.P()))
					assert.NotEmpty(t, c.why.Sentence())
					assert.NotEmpty(t, c.why.Try())
					continue
				}
				assert.Empty(t, rate.Why)
				assert.True(t, rate.SE > 0 && rate.DoF > 1, "%+v", rate)
			}
			e := p.Difference(1, 0)
			assert.Equal(t, c.why, e.Why)
			e = p.Difference(2, 1)
			assert.Empty(t, e.Why)
			all := p.Contrasts([][]float64{{-1, 1, 0}, {0, -1, 1}, {-1, 0, 1}})
			if c.why == "" {
				assert.Equal(t, []int{0, 1, 2}, all.Told)
			} else {
				assert.Equal(t, []int{1}, all.Told)
				assert.Equal(t, 1, all.Correlation.SymmetricDim())
			}
		})
	}
}

// Where each dose was read in one session and no control with it, rates are not told but their differences are; two coatings that
// share no session have no difference either. A second reading of some coupons in another session ties the sessions together.
func TestSessionsAndDoses(t *testing.T) {
	exposed := func(_ int, c *series.Coupon) bool { return c.Role == study.Exposed }
	d := keep(large(2, 6, 5, 1, true), exposed)
	p := fitted(t, d, population.Options{})
	assert.Zero(t, p.Controls)
	assert.Len(t, population.Confounded(d, population.Options{}), 12, "all exposed coupons")
	assert.Empty(t, population.Confounded(large(2, 6, 5, 1, true), population.Options{}), "with controls")
	for g := range p.Groups {
		assert.Equal(t, population.SessionIsDose, p.Groups[g].Rate.Why)
		assert.False(t, math.IsNaN(p.Groups[g].Rate.Value))
		assert.Contains(t, p.Groups[g].Remarks, population.NoControl)
	}
	assert.Empty(t, p.Difference(0, 1).Why)

	d = large(2, 6, 5, 1, true)
	d.Route = study.RouteNone
	p = fitted(t, d, population.Options{})
	assert.Zero(t, p.Controls, "controls take part where changes are corrected")
	assert.Equal(t, population.SessionIsDose, p.Groups[0].Rate.Why)

	d = each(keep(large(2, 6, 5, 1, false), exposed), func(c *series.Coupon, p *series.Point) {
		if c.Coating == "coating 01" {
			p.Session += " evening"
		}
	})
	p = fitted(t, d, population.Options{})
	assert.Equal(t, population.SessionIsDose, ptr(p.Difference(0, 1)).Why)

	d = keep(large(2, 6, 5, 1, false), exposed)
	for i := range d.Coupons { // coupons of which each pull is read in the session of the pull before too
		if c := &d.Coupons[i]; i%3 == 0 {
			for k := 1; k < 5; k++ {
				again := c.Points[k]
				again.Session = c.Points[k-1].Session
				c.Points = append(c.Points, again)
			}
		}
	}
	p = fitted(t, d, population.Options{})
	assert.Empty(t, p.Groups[0].Rate.Why)
}

func ptr(e population.Estimate) *population.Estimate { return &e }

// The lot is the unit where there are three, also where they differ by nothing, and else the coupon, of these lots.
func TestUnits(t *testing.T) {
	d := large(2, 9, 5, 1, true)
	for i := range d.Coupons {
		if c := &d.Coupons[i]; c.Coating == "coating 01" && c.Lot == "2" {
			c.Lot = "1"
		}
	}
	rates := lotRates(d, "coating 00") // made equal
	each(d, func(c *series.Coupon, p *series.Point) {
		if c.Coating == "coating 00" && c.Role == study.Exposed {
			p.Level.Value -= rates[c.Lot] * p.Dose
		}
	})
	p := fitted(t, d, population.Options{})
	assert.Equal(t, population.UnitLot, p.Groups[0].Unit)
	assert.NotContains(t, p.Groups[0].Remarks, population.TheseLots)
	assert.Equal(t, population.UnitCoupon, p.Groups[1].Unit)
	assert.Contains(t, p.Groups[1].Remarks, population.TheseLots)
	// Without the bound the rate of the first one would have the degrees of freedom of its coupons.
	require.Contains(t, p.Groups[0].Remarks, population.NoSpread)
	assert.LessOrEqual(t, p.Groups[0].Rate.DoF, 2.0)
	assert.Greater(t, p.Groups[1].Rate.DoF, 4.0)

	p = fitted(t, d, population.Options{By: population.ByLot})
	require.Len(t, p.Groups, 5)
	assert.Equal(t, "coating 00, lot 0", p.Groups[0].Name)
	assert.Equal(t, 3, p.Groups[0].Coupons)

	for i := range d.Coupons {
		d.Coupons[i].Supplier = "S"
	}
	p = fitted(t, d, population.Options{By: population.BySupplier})
	require.Len(t, p.Groups, 1)
	assert.Equal(t, "S", p.Groups[0].Name)
	assert.Equal(t, 5, p.Groups[0].Lots)
	assert.Equal(t, population.UnitLot, p.Groups[0].Unit)
}

// lotRates returns the mean rates of the lots of a coating by ordinary least squares, coupon by coupon.
func lotRates(d *series.Data, coating string) map[string]float64 {
	means, n := map[string]float64{}, map[string]float64{}
	for i := range d.Coupons {
		c := &d.Coupons[i]
		if c.Coating != coating || c.Role != study.Exposed {
			continue
		}
		sum, squares := 0.0, 0.0
		for k := range c.Points {
			sum += (c.Points[k].Dose - 0.5) * c.Points[k].Level.Value
			squares += (c.Points[k].Dose - 0.5) * (c.Points[k].Dose - 0.5)
		}
		n[c.Lot]++
		means[c.Lot] += (sum/squares - means[c.Lot]) / n[c.Lot]
	}
	return means
}

// Lots that differ, as the unit: on balanced data the rate is the mean over lots with the standard error of their scatter and two
// degrees of freedom.
func TestLotsThatDiffer(t *testing.T) {
	d := each(large(1, 12, 5, 1, false), func(c *series.Coupon, p *series.Point) {
		if c.Role == study.Exposed {
			p.Level.Value += p.Dose * 0.3 * map[string]float64{"0": -1, "1": 0.2, "2": 0.9}[c.Lot]
		}
	})
	d.Route = study.RouteNone
	d = keep(d, func(_ int, c *series.Coupon) bool { return c.Role == study.Exposed })
	each(d, func(_ *series.Coupon, p *series.Point) { p.Session = "S" })
	p := fitted(t, d, population.Options{})
	means := lotRates(d, "coating 00")
	mean := (means["0"] + means["1"] + means["2"]) / 3
	scatter := 0.0
	for _, m := range means {
		scatter += (m - mean) * (m - mean) / 2
	}
	rate := p.Groups[0].Rate
	assert.InDelta(t, mean, rate.Value, 1e-6)
	assert.InEpsilon(t, math.Sqrt(scatter/3), rate.SE, 0.005)
	assert.InDelta(t, 2, rate.DoF, 0.01)
}

// Groups of several exposures are named with theirs, and rates in different units of dose are not compared.
func TestExposures(t *testing.T) {
	d := large(1, 12, 5, 1, true)
	for i := range d.Coupons {
		if c := &d.Coupons[i]; c.Role == study.Exposed && i%2 == 0 {
			c.Exposure, c.DoseUnit = "field", "days"
		}
	}
	p := fitted(t, d, population.Options{})
	require.Len(t, p.Groups, 2)
	assert.Equal(t, "coating 00 in field", p.Groups[0].Name)
	assert.Equal(t, "pp per day", p.Groups[0].RateUnit)
	assert.Equal(t, "pp per cycle", p.Groups[1].RateUnit)
	assert.Equal(t, population.OtherUnits, ptr(p.Difference(0, 1)).Why)

	each(d, func(_ *series.Coupon, p *series.Point) { p.Days = 10 * p.Dose })
	days := fitted(t, d, population.Options{Days: true})
	assert.InEpsilon(t, p.Groups[1].Rate.Value/10, days.Groups[1].Rate.Value, 1e-6)
	assert.Empty(t, ptr(days.Difference(0, 1)).Why)
}

// A study without an exposed coupon is refused with what to try.
func TestRefusal(t *testing.T) {
	d := keep(large(1, 3, 3, 1, true), func(_ int, c *series.Coupon) bool { return c.Role == study.Control })
	_, err := population.Fit(t.Context(), d, population.Options{})
	var r *study.Refusal
	require.ErrorAs(t, err, &r)
	assert.Contains(t, r.Fault, "cannot be told from these data, because")
	assert.NotEmpty(t, r.Try)
}

// Data on a straight line without any scatter give no error, so no interval.
func TestExact(t *testing.T) {
	d := each(large(2, 6, 5, 1, false), func(c *series.Coupon, p *series.Point) { p.Level.Value = 96 - p.Dose })
	p := fitted(t, d, population.Options{})
	assert.Equal(t, population.Exact, p.Groups[0].Rate.Why)
}

// Predictions shrink the coupons' rates towards that of their group, and come in the order of the data.
func TestPredictions(t *testing.T) {
	d := large(2, 8, 6, 1, true)
	p := fitted(t, d, population.Options{})
	require.Len(t, p.Coupons, 16)
	for g := range p.Groups {
		sum := 0.0
		for i := range p.Coupons {
			assert.Equal(t, d.Coupons[i].Coupon, p.Coupons[i].Coupon)
			if p.Coupons[i].Group == g {
				sum += p.Coupons[i].Rate / 8
			}
		}
		assert.InDelta(t, p.Groups[g].Rate.Value, sum, 0.3*p.Groups[g].Rate.SE)
	}
	names := map[population.ComponentName]bool{}
	for _, c := range p.Components {
		names[c.Name] = true
		assert.GreaterOrEqual(t, c.Variance, 0.0)
	}
	for _, name := range []population.ComponentName{population.CouponLevels, population.CouponRates, population.LotRates, population.Sessions,
		population.Residual, population.OwnErrors, population.SharedErrors} {
		assert.True(t, names[name], name)
	}
}

// The correlation of differences is that of their covariance: two of three pairs share a group.
func TestContrasts(t *testing.T) {
	p := fitted(t, large(3, 8, 6, 1, true), population.Options{})
	c := p.Contrasts([][]float64{{1, -1, 0}, {1, 0, -1}, {0, 1, -1}})
	v := func(k int) float64 { return c.Estimates[k].SE * c.Estimates[k].SE }
	// (a - b) - (a - c) = c - b: its variance is the sum of two less twice their covariance.
	r := c.Correlation.At(0, 1) * c.Estimates[0].SE * c.Estimates[1].SE
	assert.InEpsilon(t, v(2), v(0)+v(1)-2*r, 1e-9)
	assert.InDelta(t, c.Estimates[1].Value-c.Estimates[0].Value, c.Estimates[2].Value, 1e-12)
	assert.True(t, slices.IsSorted(c.Told))
	assert.Panics(t, func() { p.Contrasts([][]float64{{1}}) })
}
