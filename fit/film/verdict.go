package film

import (
	"context"
	"math"

	"gonum.org/v1/gonum/mat"
)

// Estimate is a value with its standard uncertainty; U is NaN where the value is
// pinned or follows from the choice of model.
type Estimate struct{ Value, U float64 }

// Verdict is the result of the fit of a spot. Lengths are in nm.
type Verdict struct {
	Model string // ModelBare or ModelFilm

	// Of the equivalent uniform film: the uniform film that reflects most like the film in these curves.
	OpticalThicknessNM Estimate // index times thickness at 550 nm
	Index              Estimate // of the film at 550 nm
	ThicknessNM        Estimate
	Porosity           Estimate
	Bare               Estimate // bare fraction

	// Of the fit whose structure is free: (1-bare)·(thickness·(1-porosity) + skin).
	SolidNM Estimate // material left
	K       Estimate // imaginary part of the index of the film, at all wavelengths; NaN where no transmittance was read
	Scale   Estimate // of reflectance; NaN where none was read

	Converged       bool
	NoiseSD         float64 // of one point, a fraction; root mean square over the curves
	RMSResidual     float64 // a fraction
	ReducedChi2     float64
	Points          int     // those excluded are not counted
	EffectivePoints float64 // fewer where neighbouring residuals hang together
	LeftOut         int     // points inside masks, and spikes
	Rungs           []Rung  // what was fitted to choose between bare glass and a film, and see Method.Structures
	LikelihoodRatio float64 // of film over bare, or at least; NaN where pins leave one model only
	Flags           []string

	model      *model                       // of the equivalent uniform film, or of bare glass
	chosen     *solution                    // of it
	structured *model                       // of the film whose structure is free; nil: none was fitted
	full       *solution                    // of it
	apart      owners                       // whose effects are not merged with others in the parameters
	called     struct{ uniform, full bool } // the uniform film, and the model with the structure free, leave a misfit
	join       *triedJoin                   // a detector join that explains the misfit; nil: none
	equalFilms [][]float64                  // other uniform films that explain the curves as well, where not separable
	// the film that glass with none, or hardly any, still allows; nil: none looked for, or none known
	allowedFilm []float64
}

// physical returns the model and the solution that solar values and material left come from: those with the structure free,
// where there is a film.
func (v *Verdict) physical() (*model, *solution) {
	if v.structured != nil {
		return v.structured, v.full
	}
	return v.model, v.chosen
}

// tinyTau is the optical thickness, in nm, below which a film counts as none for its uncertainty: that of
// glass without a film.
const tinyTau = 5

// verdict chooses between film and bare, which is nil where pins or a likelihood ratio beyond doubt say that there is a
// film.
func (m *model) verdict(ctx context.Context, film, bare *solution) (*Verdict, error) {
	v := &Verdict{Model: ModelFilm, LikelihoodRatio: math.NaN(), model: m, chosen: film}
	var err error
	if bare != nil {
		_, pinned := m.spot.Pins[Bare]
		if v.LikelihoodRatio = likelihoodRatio(film, bare); pinned || v.LikelihoodRatio < likelihoodLimit {
			v.Model, v.chosen = ModelBare, bare
		}
		if pinned {
			v.LikelihoodRatio = math.NaN()
		} else if v.Model == ModelBare {
			if v.allowedFilm, err = m.thickestAllowed(ctx, bare, 1); err != nil {
				return nil, err
			}
		}
	}
	if v.Model == ModelFilm && film.x[pTau] < tinyTau && !film.params[pTau].Fixed {
		if v.allowedFilm, err = m.thickestAllowed(ctx, film, 1); err != nil {
			return nil, err
		}
	}
	v.fillEquivalent()
	if v.Model == ModelFilm && v.allowedFilm == nil && len(v.notSeparable()) > 0 {
		if v.chosen, v.equalFilms, err = m.equalFilms(ctx, film); err != nil {
			return nil, err
		}
		v.fillEquivalent()
	}
	return v, v.fillRungs(ctx, bare, film)
}

// finish fits the structure of the film, where there is one, on m, whose noise is as it was given, and completes the
// verdict.
func (v *Verdict) finish(ctx context.Context, m *model) error {
	known := m.spot.known()
	if v.Model == ModelFilm && v.allowedFilm == nil && !known.Structure.isNone() {
		if err := v.fitStructure(ctx, m); err != nil {
			return err
		}
	}
	v.fillPhysical()
	v.fillQuality()
	v.setFlags()
	return nil
}

// fillEquivalent fills the parameters of the equivalent uniform film.
func (v *Verdict) fillEquivalent() {
	if v.Model == ModelBare {
		none, null := Estimate{U: math.NaN()}, Estimate{Value: math.NaN(), U: math.NaN()}
		v.OpticalThicknessNM, v.ThicknessNM = none, none
		v.Index, v.Porosity = null, null
		v.Bare = Estimate{Value: 1, U: math.NaN()}
		return
	}
	d := v.model.derive(v.chosen.x)
	of := func(d derived) Estimate { return d.estimate(v.chosen.cov) }
	v.OpticalThicknessNM, v.Index = of(d.tau), of(d.index)
	v.ThicknessNM, v.Porosity = of(d.thickness), of(d.porosity)
	v.Bare = parameterOf(v.chosen, pBare)
	v.widenByEqualFilms()
	if v.allowedFilm != nil { // hardly any film: linear uncertainties mean nothing
		most := v.model.derive(v.allowedFilm)
		v.OpticalThicknessNM.U, v.ThicknessNM.U = most.tau.value, most.thickness.value
	}
	v.Porosity.Value = min(max(v.Porosity.Value, 0), 1)
}

// fillPhysical fills what comes from the fit whose structure is free.
func (v *Verdict) fillPhysical() {
	m, s := v.physical()
	null := Estimate{math.NaN(), math.NaN()}
	if v.Scale, v.K = null, null; m.reflects {
		v.Scale = parameterOf(s, pScale)
	}
	if m.through && v.Model != ModelBare {
		v.K = parameterOf(s, int(kLoss))
	}
	if v.Model == ModelBare {
		v.SolidNM = Estimate{U: math.NaN()}
	} else {
		v.SolidNM = m.derive(s.x).solid.estimate(s.cov)
	}
	if v.allowedFilm != nil {
		v.SolidNM.U = v.model.derive(v.allowedFilm).solid.value
	}
	best := 0.0
	if len(v.equalFilms) > 0 {
		best = v.model.derive(v.chosen.x).solid.value
	}
	for _, x := range v.equalFilms {
		v.SolidNM = v.SolidNM.widened(v.SolidNM.Value + v.model.derive(x).solid.value - best)
	}
}

// widenByEqualFilms raises uncertainties to cover the other films that explain the curves equally well. Pinned
// quantities keep no uncertainty.
func (v *Verdict) widenByEqualFilms() {
	for _, x := range v.equalFilms {
		d := v.model.derive(x)
		for _, q := range []struct {
			e     *Estimate
			other float64
		}{{&v.OpticalThicknessNM, d.tau.value}, {&v.Index, d.index.value}, {&v.ThicknessNM, d.thickness.value},
			{&v.Porosity, d.porosity.value}, {&v.Bare, x[pBare]}} {
			*q.e = q.e.widened(q.other)
		}
	}
}

// parameterOf returns the estimate of parameter i of s.
func parameterOf(s *solution, i int) Estimate {
	if s.params[i].Fixed {
		return Estimate{Value: s.x[i], U: math.NaN()}
	}
	return Estimate{Value: s.x[i], U: math.Sqrt(s.cov.At(i, i))}
}

// derived is a quantity computed from the parameters, with its gradient.
type derived struct {
	value float64
	grad  []float64
}

// estimate propagates the covariance of the parameters, U² = gᵀ·cov·g with the gradient g.
// U is NaN if the quantity depends on no free parameter.
func (d derived) estimate(cov mat.Symmetric) Estimate {
	variance := 0.0
	for i, gi := range d.grad {
		if gi == 0 {
			continue // most are
		}
		for j, gj := range d.grad {
			if gj != 0 {
				variance += gi * gj * cov.At(i, j)
			}
		}
	}
	if variance <= 1e-24*d.value*d.value { // only rounding
		return Estimate{Value: d.value, U: math.NaN()}
	}
	return Estimate{Value: d.value, U: math.Sqrt(variance)}
}

type filmQuantities struct{ tau, index, thickness, porosity, solid derived }

// derive computes the film's quantities and their gradients at x.
func (m *model) derive(x []float64) filmQuantities {
	g := m.filmAt(x)
	p, pIdx, pSkl := m.spot.Coating.porosityOf(g.index, g.skeleton)
	if pinned, ok := m.spot.Pins[Porosity]; ok {
		// It does not move: what index and skeleton do to it cancels.
		p, pIdx, pSkl = pinned, 0, 0
	}
	n := len(x)
	rows := make([]float64, 5*n)
	grad := func(byD, byIndex, bySkeleton, byBare float64) []float64 {
		out := rows[:n:n]
		rows = rows[n:]
		out[pTau] = byD * g.dTau
		out[pIndex] = (byD*g.dIndex + byIndex) * g.iIndex
		out[pSkeleton] = bySkeleton + (byD*g.dIndex+byIndex)*g.iSkeleton
		out[pBare] = byBare
		return out
	}
	left, solid := 1-x[pBare], 1-p
	q := filmQuantities{
		tau:       derived{g.d * g.index, grad(g.index, g.d, 0, 0)},
		index:     derived{g.index, grad(0, 1, 0, 0)},
		thickness: derived{g.d, grad(1, 0, 0, 0)},
		porosity:  derived{p, grad(0, pIdx, pSkl, 0)},
		solid: derived{left * (g.d*solid + g.skin), grad(left*solid, -left*g.d*pIdx, -left*g.d*pSkl,
			-g.d*solid-g.skin)},
	}
	if g.structured {
		q.solid.grad[kSkin], q.solid.grad[kSkinOff] = left, left
	}
	return q
}

// fillQuality fills what describes the fit as a whole.
func (v *Verdict) fillQuality() {
	m, s := v.physical()
	v.Converged, v.ReducedChi2, v.Points = v.chosen.converged && s.converged, s.givenChi2, m.points
	noise := 0.0
	for k := range m.curves {
		c := &m.curves[k]
		noise += c.sigma * c.sigma * float64(c.points)
	}
	v.RMSResidual = s.rms
	v.NoiseSD = math.Sqrt(noise / m.noiseFactor / float64(v.Points))
	v.EffectivePoints, v.LeftOut = s.effectiveShare*float64(v.Points), m.spot.leftOut
}

// isWithinModel reports whether the model is valid for the film that was found.
func (v *Verdict) isWithinModel() bool {
	return v.ReducedChi2 < PoorFit && v.isThinEnough()
}

// isThinEnough reports whether the film that was found is not thicker than the model is valid for.
func (v *Verdict) isThinEnough() bool {
	return v.Model == ModelBare || v.OpticalThicknessNM.Value < nearlyMost*v.model.maxTau
}

// sigma returns the noise of one point of each curve.
func (m *model) sigma() []float64 {
	sigma := make([]float64, len(m.spot.Curves))
	for k := range m.curves {
		c := &m.curves[k]
		sigma[c.source] = c.sigma
	}
	return sigma
}
