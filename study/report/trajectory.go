package report

import (
	"math"

	"gonum.org/v1/plot/plotter"
)

// trajectory is a series as it is drawn: beside its doses, and without values that cannot
// be drawn.
type trajectory struct {
	style
	name    string
	mean    plotter.XYs
	fitted  plotter.XYs // nil: none
	bars    []bar
	each    []plotter.XYs // one line for each coupon, in the order of their first points
	codes   []string      // of the coupons
	coupons span          // range of the number drawn at a pull
	leftOut int           // points with a value that cannot be drawn
}

// bar is an interval of changes.
type bar struct{ x, lo, hi float64 }

// newTrajectory returns the trajectory of a series. offset returns the distance by which a
// point is moved along the axis of doses.
func newTrajectory(st style, s *Series, offset func(dose float64) float64) trajectory {
	t := trajectory{style: st, name: s.label(), coupons: emptySpan()}
	place := map[string]int{}
	for i := range s.Points {
		p := &s.Points[i]
		if !usable(p.Dose) {
			t.leftOut++
			continue
		}
		x := p.Dose + offset(p.Dose)
		meanDrawn, couponsDrawn := t.addMean(x, p), t.addCoupons(x, p, place)
		if !meanDrawn || !couponsDrawn {
			t.leftOut++
		}
	}
	for _, at := range s.Fitted {
		if usable(at.Dose) && usable(at.Change) {
			t.fitted = append(t.fitted, plotter.XY{X: at.Dose, Y: at.Change})
		}
	}
	return t
}

// addMean adds a mean and its interval, and reports whether both can be drawn. A missing
// interval counts as drawn.
func (t *trajectory) addMean(x float64, p *Point) bool {
	if !usable(p.Mean) {
		return false
	}
	t.mean = append(t.mean, plotter.XY{X: x, Y: p.Mean})
	if usable(p.Lo) && usable(p.Hi) {
		t.bars = append(t.bars, bar{x, p.Lo, p.Hi})
		return true
	}
	return math.IsNaN(p.Lo) && math.IsNaN(p.Hi)
}

// addCoupons adds the coupons of a pull, and reports whether all can be drawn. place holds
// the positions of known coupons in each.
func (t *trajectory) addCoupons(x float64, p *Point, place map[string]int) bool {
	drawn := 0
	for _, c := range p.Coupons {
		if !usable(c.Change) {
			continue
		}
		k, known := place[c.Coupon]
		if !known {
			k = len(t.each)
			place[c.Coupon] = k
			t.each, t.codes = append(t.each, nil), append(t.codes, words(c.Coupon))
		}
		t.each[k] = append(t.each[k], plotter.XY{X: x, Y: c.Change})
		drawn++
	}
	if drawn > 0 {
		t.coupons = t.coupons.with(float64(drawn))
	}
	return drawn == len(p.Coupons)
}
