package ageing_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"gonum.org/v1/gonum/stat/distuv"

	"wane/study"
	"wane/study/ageing"
)

// drawnStudy is a made-up study of coupons that do not change: each effect of each owner is drawn once from its
// normal distribution, and each fit is off by the sum of what the effects do to it.
type drawnStudy struct {
	rng   *rand.Rand
	drawn map[study.Effect]float64
}

// effectOf is an effect with the size of what it does to solar_T, in units of 1e-5, and by how much that differs
// from fit to fit.
type effectOf struct {
	study.Effect
	size, differs float64
}

// lawOf returns the effects on a fit of a coupon's spot at a pull. Their sizes are about those of a fresh film on
// soda-lime glass at four angles. In a joint fit, what a session does is mostly removed.
func lawOf(f *study.Fit, joint bool) []effectOf {
	spot := f.Coupon + "/" + f.Spot
	reading := fmt.Sprintf("%s/%d", spot, f.Pull)
	list := []effectOf{
		{study.Effect{Owner: study.OwnerCoating, Of: "K", Name: "skeleton_index"}, 8, 1},
		{study.Effect{Owner: study.OwnerBatch, Of: "float", Name: "glass_index"}, -6, 0.5},
		{study.Effect{Owner: study.OwnerCoupon, Of: f.Coupon, Name: "leak"}, 6, 2},
		{study.Effect{Owner: study.OwnerSpot, Of: spot, Name: "gradient"}, 5, 0},
		{study.Effect{Owner: study.OwnerReading, Of: reading, Name: "gradient"}, 2, 0},
		{study.Effect{Owner: study.OwnerPlacement, Of: reading, Name: "factor"}, 4, 1},
		{study.Effect{Owner: study.OwnerPlacement, Of: reading, Name: "tilt"}, -3, 1},
	}
	if joint {
		return append(list, effectOf{study.Effect{Owner: study.OwnerJoint, Of: f.Session, Name: "1"}, 5, 0.5},
			effectOf{study.Effect{Owner: study.OwnerJoint, Of: f.Session, Name: "2"}, -3, 1})
	}
	return append(list, effectOf{study.Effect{Owner: study.OwnerSession, Of: f.Session, Name: "scale"}, 9, 2},
		effectOf{study.Effect{Owner: study.OwnerSession, Of: f.Session, Name: "zero"}, 14, 2})
}

// fits returns the fits of a coupon: of two spots at pulls 0 and 1.
func (d *drawnStudy) fits(coupon string, joint bool) []*study.Fit {
	var fits []*study.Fit
	for pull := range 2 {
		for _, spot := range []string{"1", "2"} {
			f := study.NewFit(study.Unit{Coupon: coupon, Pull: pull, Spot: spot})
			f.Session = fmt.Sprint("m", pull)
			off := 0.0
			for _, e := range lawOf(f, joint) {
				if _, ok := d.drawn[e.Effect]; !ok {
					d.drawn[e.Effect] = d.rng.NormFloat64()
				}
				size := 1e-5 * (e.size + e.differs*d.rng.NormFloat64())
				share(f, e.Effect, study.OutSolarT, size)
				off += size * d.drawn[e.Effect]
			}
			const noise = 3e-5
			setOwn(f, study.OutSolarT, noise*noise)
			off += noise * d.rng.NormFloat64()
			f.Result.SolarT = study.Measure{Value: study.Num(0.985 + off), U: study.Num(study.Uncertainty(
				[]study.Weighted{{Errors: &f.Errors, Output: study.OutSolarT, Weight: 1}}))}
			fits = append(fits, f)
		}
	}
	return fits
}

// unchangedRoster is the roster of a made-up study.
func unchangedRoster(exposed, controls int) *study.Roster {
	r := roster()
	r.Coupons = nil
	for i := range exposed {
		r.Coupons = append(r.Coupons, study.Coupon{Coupon: fmt.Sprint("E", i), Role: study.Exposed, Coating: "K",
			Exposure: "roof"})
	}
	for i := range controls {
		r.Coupons = append(r.Coupons, study.Coupon{Coupon: fmt.Sprint("C", i), Role: study.Control, Coating: "K"})
	}
	return r
}

// calls returns what is called changed at pull 1: by each route the first spot of the first coupon, and the group.
// A study without controls has the suffix "alone".
func (d *drawnStudy) calls(exposed, controls int) map[string]bool {
	called := map[string]bool{}
	r := unchangedRoster(exposed, controls)
	routes, groups := ageing.NewRoutes(r), [3]*ageing.Grouper{}
	for i := range controls {
		routes.AddControl(d.fits(fmt.Sprint("C", i), false), d.fits(fmt.Sprint("C", i), true))
	}
	names := [3]string{"none", "controls", "session"}
	if controls == 0 {
		names[2] = "session alone"
	}
	for i := range groups {
		groups[i] = ageing.NewGrouper(ageing.ByCoating)
	}
	for i := range exposed {
		code := fmt.Sprint("E", i)
		joint := d.fits(code, true)
		single := joint
		if controls > 0 {
			single = d.fits(code, false)
		}
		for k, rows := range routes.Rows(single, joint) {
			for j, row := range rows.By {
				groups[j].Add(row)
				change := row.CorrectedChange
				if names[j] == "none" {
					change = row.Change
				}
				if i == 0 && k == 2 {
					called[names[j]] = math.Abs(float64(change.Value)) > 1.959964*float64(change.U)
				}
			}
		}
	}
	for i, name := range names {
		g := groups[i].Groups()[1]
		called["group "+name] = g.Lo > 0 || g.Hi < 0
	}
	return called
}

// Of studies in which nothing changes, each route and each group calls about 5 % changed: 3.5 to 6.5 % must be
// possible by the exact binomial limits of 99.9 %.
func TestFalseCalls(t *testing.T) {
	const studies, exposed, controls = 2000, 4, 2
	called := map[string]int{}
	for seed := range uint64(studies) {
		d := drawnStudy{rand.New(rand.NewPCG(seed, 1)), map[study.Effect]float64{}}
		for what, is := range d.calls(exposed, controls) {
			if is {
				called[what]++
			}
		}
		for what, is := range d.calls(exposed, 0) {
			if is && strings.HasSuffix(what, "alone") {
				called[what]++
			}
		}
	}
	for _, what := range []string{"none", "controls", "session", "session alone", "group none", "group controls",
		"group session", "group session alone"} {
		lo, hi := binomialLimits(called[what], studies)
		t.Logf("%-20s %5.2f %% (%.2f to %.2f)", what, 100*float64(called[what])/studies, 100*lo, 100*hi)
		assert.LessOrEqual(t, lo, 0.065, what)
		assert.GreaterOrEqual(t, hi, 0.035, what)
	}
}

// binomialLimits are the exact limits of 99.9 % of a share, of k of n. Source: C. J. Clopper, E. S. Pearson,
// Biometrika 26 (1934) 404-413, in terms of beta quantiles, from memory.
func binomialLimits(k, n int) (lo, hi float64) {
	lo, hi = 0, 1
	if k > 0 {
		lo = distuv.Beta{Alpha: float64(k), Beta: float64(n - k + 1)}.Quantile(0.0005)
	}
	if k < n {
		hi = distuv.Beta{Alpha: float64(k + 1), Beta: float64(n - k)}.Quantile(0.9995)
	}
	return lo, hi
}
