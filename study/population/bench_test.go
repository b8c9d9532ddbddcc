package population_test

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/population"
	"wane/study/series"
)

// large makes up a study of coatings of three lots each, with two controls of each coating in each sitting. A pull is read in
// several sittings, the same coupons in the same one. If known is set, values share errors by sessions, coupons and coatings.
func large(coatings, coupons, pulls, sittings int, known bool) *series.Data {
	const perSession, perCoupon, perCoating = 12, 8, 2
	r := rand.New(rand.NewPCG(1, 2))
	d := &series.Data{Quantity: series.Quantity{Name: "solar_T", LevelUnit: "percent", Unit: "pp", Worse: -1}, Route: study.RouteControls}
	sessions := make([]float64, pulls*sittings)
	for s := range sessions {
		sessions[s] = 0.02 * r.NormFloat64()
	}
	for i := range coatings * (coupons + 2*sittings) {
		c := series.Coupon{Coupon: fmt.Sprintf("C%05d", i), Role: study.Exposed, Coating: fmt.Sprintf("coating %02d", i%coatings),
			Lot: fmt.Sprint(i / coatings % 3), Exposure: "rig", DoseUnit: "cycles"}
		if i >= coatings*coupons {
			c.Role = study.Control
		}
		sitting := i / coatings % sittings
		spread := 0.01 * float64(1+i%coatings%10)
		a, b, film := 0.05*r.NormFloat64(), -0.1+spread*r.NormFloat64(), r.NormFloat64()
		for pull := range pulls {
			s := pull*sittings + sitting
			p := series.Point{Pull: pull, Session: fmt.Sprint("S", s), Spots: 2}
			if c.Role == study.Exposed {
				p.Dose = float64(pull) / float64(pulls-1)
			}
			p.Level.Value = 96 + a + b*p.Dose + sessions[s] + 0.008*r.NormFloat64()
			if known {
				share := func(from, n int, size float64) {
					for e := range n {
						by := size / float64(1+e) * (1 + 0.1*float64(e)*film + 0.01*r.NormFloat64())
						p.Level.Shared = append(p.Level.Shared, series.Share{Effect: from + e, By: by})
					}
				}
				p.Level.Known, p.Level.Own = true, 2e-5*(1+r.Float64())
				share(s*perSession, perSession, 0.01)
				share(len(sessions)*perSession+i%coatings*perCoating, perCoating, 0.01)
				share(len(sessions)*perSession+coatings*perCoating+i*perCoupon, perCoupon, 0.005)
			}
			c.Points = append(c.Points, p)
		}
		d.Coupons = append(d.Coupons, c)
	}
	n := len(sessions)*perSession + coatings*perCoating + len(d.Coupons)*perCoupon
	d.Effects = make([]study.Effect, n)
	return d
}

// BenchmarkFit fits 30 coatings of 150,000 values, which are the means over the spots of 300,000 results.
func BenchmarkFit(b *testing.B) {
	for _, known := range []bool{false, true} {
		d := large(30, 480, 10, 10, known)
		b.Run(fmt.Sprintf("known %v", known), func(b *testing.B) {
			for b.Loop() {
				p, err := population.Fit(b.Context(), d, population.Options{})
				require.NoError(b, err)
				require.Len(b, p.Groups, 30)
			}
		})
	}
}
