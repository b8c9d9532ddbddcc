package foreign

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
)

// unknown is one parameter of a linear estimate: where it is, by how much it is moved for a
// difference, and the standard deviation of what is known of it (infinite: nothing).
type unknown struct {
	step, prior float64
	move        func(*Surface, *Session, *Placement, *Pane, float64)
}

// filmUnknowns are thickness, porosity and bare fraction, of which nothing is known.
func filmUnknowns() []unknown {
	surface := func(step, prior float64, field func(*Surface) *float64) unknown {
		return unknown{step, prior, func(s *Surface, _ *Session, _ *Placement, _ *Pane, by float64) { *field(s) += by }}
	}
	return []unknown{
		surface(0.1, math.Inf(1), func(s *Surface) *float64 { return &s.Thickness }),
		surface(1e-3, math.Inf(1), func(s *Surface) *float64 { return &s.Porosity }),
		surface(1e-3, math.Inf(1), func(s *Surface) *float64 { return &s.Bare }),
	}
}

// ownerUnknowns are all owners of one reading at four angles but structure, with the zero of the
// session known to zero.
func ownerUnknowns(law Law, zero float64) []unknown {
	together := func(a, b Effect) float64 { return math.Hypot(a.Width, b.Width) }
	session := func(step, prior float64, field func(*Session) *float64) unknown {
		return unknown{step, prior, func(_ *Surface, s *Session, _ *Placement, _ *Pane, by float64) { *field(s) += by }}
	}
	list := []unknown{
		session(1e-3, law.Scale.Width, func(s *Session) *float64 { return &s.Scale }),
		session(1e-3, law.SShare.Width, func(s *Session) *float64 { return &s.SShare }),
		session(0.1, law.WavelengthNM.Width, func(s *Session) *float64 { return &s.WavelengthNM }),
		session(1e-4, math.Hypot(zero, law.PlaceZero.Width), func(s *Session) *float64 { return &s.Zero }),
		{0.02, law.TiltDeg.Width, func(_ *Surface, _ *Session, p *Placement, _ *Pane, by float64) { p.TiltDeg += by }},
		{1e-4, 0.00012, func(_ *Surface, _ *Session, _ *Placement, c *Pane, by float64) { c.Leak += by }},
		{1e-3, together(law.BatchFloat, law.CouponGlass),
			func(s *Surface, _ *Session, _ *Placement, _ *Pane, by float64) { s.GlassShift += by }},
		{1e-3, law.Skeleton.Width, func(s *Surface, _ *Session, _ *Placement, _ *Pane, by float64) { s.Skeleton += by }},
	}
	for i := range Standard().AnglesDeg {
		list = append(list,
			session(1e-3, together(law.Factor, law.PlaceFactor), func(s *Session) *float64 { return &s.Factor[i] }),
			session(0.05, law.AngleDeg.Width, func(s *Session) *float64 { return &s.AngleDeg[i] }))
	}
	return list
}

// structureUnknowns are g, t and v of one reading: of its spot and of its deviation together.
func structureUnknowns(law Law) []unknown {
	return []unknown{
		{0.01, math.Hypot(law.Gradient.Width, law.GradientDrift.Width),
			func(s *Surface, _ *Session, _ *Placement, _ *Pane, by float64) { s.Gradient += by }},
		{0.5, math.Hypot(3, law.SkinDriftNM.Width),
			func(s *Surface, _ *Session, _ *Placement, _ *Pane, by float64) { s.Skin += by }},
		{5e-4, math.Hypot(0.0035, law.VarianceDrift.Width),
			func(s *Surface, _ *Session, _ *Placement, _ *Pane, by float64) { s.Variance += by }},
	}
}

// solarUncertainty returns u of solar_T in pp of one reading of a surface by least squares with
// priors, linear about it: S = (J'WJ + P)^-1 and u^2 = c'Sc, derivatives by central differences.
func solarUncertainty(t *testing.T, surface Surface, unknowns []unknown, noise float64) float64 {
	u := Standard()
	moved := func(k int, by float64) ([]Curve, float64) {
		s, c := surface, Pane{Leak: 0.00016}
		session, place := neutral(u)
		session.Factor = append([]float64{}, session.Factor...)
		unknowns[k].move(&s, &session, &place, &c, by)
		return measure(s, u, session, place, c), s.Solar().SolarT
	}
	points := len(u.Band.WavelengthNM)
	jacobian := mat.NewDense(points*len(u.AnglesDeg), len(unknowns), nil)
	gradient := mat.NewVecDense(len(unknowns), nil)
	for k, x := range unknowns {
		up, solarUp := moved(k, x.step)
		down, solarDown := moved(k, -x.step)
		for i := range up {
			for j := range up[i].Reflectance {
				jacobian.Set(i*points+j, k, (up[i].Reflectance[j]-down[i].Reflectance[j])/(2*x.step))
			}
		}
		gradient.SetVec(k, (solarUp-solarDown)/(2*x.step))
	}
	var normal mat.SymDense
	normal.SymOuterK(1/(noise*noise), jacobian.T())
	for k, x := range unknowns {
		normal.SetSym(k, k, normal.At(k, k)+1/(x.prior*x.prior))
	}
	var factor mat.Cholesky
	require.True(t, factor.Factorize(&normal))
	var solved mat.VecDense
	require.NoError(t, factor.SolveVecTo(&solved, gradient))
	return 100 * math.Sqrt(mat.Dot(gradient, &solved))
}

// The table of the description of the model: u of solar_T in pp of a single spot at noise 0.0003,
// with all owners and a zero of 0.0003, then with structure, then with the default zero; printed to
// three decimals. Differences need room below a bare fraction of 0: it is 0.002.
func TestFigureUncertaintyOfSolarT(t *testing.T) {
	law := Prior()
	for _, c := range []struct{ thickness, bare, owners, structure, zero float64 }{
		{118, 0.002, 0.020, 0.020, 0.023}, {70, 0.1, 0.021, 0.022, 0}, {40, 0.002, 0.022, 0.022, 0},
	} {
		s := Surface{Glass: SodaLime, Skeleton: 1.458, Thickness: c.thickness, Porosity: 0.36, Bare: c.bare}
		uniform := append(filmUnknowns(), ownerUnknowns(law, 0.0003)...)
		assert.InDelta(t, c.owners, solarUncertainty(t, s, uniform, 0.0003), 0.0005, "%g nm, owners", c.thickness)
		s.Skin, s.Variance = 4, 0.0025
		free := append(uniform, structureUnknowns(law)...)
		assert.InDelta(t, c.structure, solarUncertainty(t, s, free, 0.0003), 0.0005, "%g nm, structure", c.thickness)
		if c.zero > 0 {
			free = append(append(filmUnknowns(), ownerUnknowns(law, 0.0005)...), structureUnknowns(law)...)
			assert.InDelta(t, c.zero, solarUncertainty(t, s, free, 0.0003), 0.0005, "%g nm, default zero", c.thickness)
		}
	}
}
