package report

import (
	"math"

	"gonum.org/v1/plot/plotter"
)

// trajectory is a series made ready for drawing, beside its doses and without
// values that cannot be drawn.
type trajectory struct {
	style
	name    string
	mean    plotter.XYs
	bars    []bar
	each    []plotter.XYs // the coupons, in the order in which they come first
	codes   []string      // of the coupons
	coupons span          // how many are drawn at a pull
	leftOut int           // points with a value that cannot be drawn
}

// bar is an interval of changes.
type bar struct{ x, lo, hi float64 }

// newTrajectory returns the trajectory of a series, each point moved along the
// dose by what aside says.
func newTrajectory(st style, s *Series, aside func(dose float64) float64) trajectory {
	t := trajectory{style: st, name: s.label(), coupons: emptySpan()}
	place := map[string]int{}
	for i := range s.Points {
		p := &s.Points[i]
		if !usable(p.Dose) {
			t.leftOut++
			continue
		}
		x := p.Dose + aside(p.Dose)
		meanDrawn, couponsDrawn := t.addMean(x, p), t.addCoupons(x, p, place)
		if !meanDrawn || !couponsDrawn {
			t.leftOut++
		}
	}
	return t
}

// addMean returns whether all there is of a mean and its interval can be drawn.
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

// addCoupons returns whether all coupons can be drawn. place holds where in each
// those of earlier pulls are.
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
