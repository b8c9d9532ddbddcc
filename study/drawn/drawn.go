// Package drawn makes figures of what the desk returns: for commands, which write them into files, and for pages. Each
// function returns a figure of study/report without its stamp, which the caller sets.
package drawn

import (
	"wane/study/acceptance"
	"wane/study/ageing"
	"wane/study/report"
)

// Series hands curves of change to a figure.
func Series(curves []ageing.Curve) (all []report.Series) {
	for _, c := range curves {
		s := report.Series{Name: c.Name, DoseUnit: c.DoseUnit}
		for i := range c.Points {
			g := &c.Points[i]
			p := report.Point{Dose: float64(g.Dose), Mean: float64(g.Change), Lo: float64(g.Lo), Hi: float64(g.Hi)}
			for _, coupon := range g.Coupon {
				p.Coupons = append(p.Coupons, report.CouponChange(coupon))
			}
			s.Points = append(s.Points, p)
		}
		all = append(all, s)
	}
	return all
}

// Characteristic returns the figure of the operating characteristic of a rule.
func Characteristic(r *acceptance.Rule) *report.Characteristic {
	const steps = 200
	shares := make([]float64, steps+1)
	for i := range shares {
		shares[i] = float64(i) / steps
	}
	out := &report.Characteristic{Rule: r.Name, Coupons: r.Coupons, Failures: r.Failures, Share: r.Share}
	for _, c := range r.Curve(shares) {
		out.Points = append(out.Points, report.CharacteristicPoint{Share: c.Conforming, Accepted: c.Accepted,
			Certain: c.Certain})
	}
	return out
}
