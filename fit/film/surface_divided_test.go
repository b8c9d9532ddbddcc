package film

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/optics"
)

// A divided reading is what the coupon reads over what the blank reads, both with the errors of the session, times what
// the blank reflects. The reading of the blank is that of the same model without a film, without the placement's tilt and
// zero; its angle is to the first order.
func TestDividedReading(t *testing.T) {
	spot := Spot{Setup: Setup{Glass: Glass{Index: optics.SodaLime()}, Instrument: Instrument{JoinsNM: []float64{860}, UJoin: 0.001}}}
	for _, deg := range []float64{8, 60} {
		c := Curve{AngleDeg: deg, Pol: optics.U}
		for nm := 400.0; nm < 1100; nm += 50 {
			c.NM, c.R = append(c.NM, nm), append(c.R, 0.02)
		}
		spot.Curves = append(spot.Curves, c)
	}
	divided := spot
	divided.Divided = true
	read := func(s *Spot, change func(m *model, x []float64)) []float64 {
		m, err := NewFitter(s.Setup).fullModel(s, slices.Repeat([]float64{1}, len(s.Curves)))
		require.NoError(t, err)
		x := make([]float64, m.size())
		for i, p := range m.params(0) {
			x[i] = p.Start
		}
		x[pLeak] = 0
		change(m, x)
		var r []float64
		for k := range m.curves {
			c, g := &m.curves[k], m.filmAt(x)
			c.prepare(&g, x)
			var slopes [kinds]float64
			for i := range c.nm {
				r = append(r, c.point(i, &slopes))
			}
		}
		return r
	}
	session := func(m *model, x []float64) {
		x[pZero], x[pShare], x[m.pJoin(0)] = 0.0007, 0.515, 0.0012
		for k := range m.angles {
			x[pAngleError(k)] = 0.02
		}
	}
	coupon := func(m *model, x []float64) {
		session(m, x)
		x[m.curves[0].at.tilt], x[m.curves[0].at.zero] = 0.03, 0.0002
	}
	of := func(from ...func(m *model, x []float64)) func(m *model, x []float64) {
		return func(m *model, x []float64) {
			for _, f := range from {
				f(m, x)
			}
		}
	}
	bare := func(_ *model, x []float64) { x[pBare] = 1 }
	film, blank, nominal := read(&spot, coupon), read(&spot, of(bare, session)), read(&spot, bare)
	for i, q := range read(&divided, coupon) {
		assert.InEpsilon(t, film[i]/blank[i]*nominal[i], q, 3e-5, "point %d", i)
	}
}
