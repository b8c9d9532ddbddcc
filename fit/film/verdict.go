package film

import (
	"context"
	"math"

	"gonum.org/v1/gonum/mat"
)

// Estimate is a value with its standard uncertainty U, both in the unit of the quantity. U
// is NaN if the value is pinned or follows from the choice of model. BySkeleton and
// ByGlass are the parts of U, with their signs, that come from the priors of the
// coating's skeleton index and of the index of the glass. All fits of coupons with that
// coating or glass share these errors, so a difference counts them once.
type Estimate struct{ Value, U, BySkeleton, ByGlass float64 }

// Verdict is the result of the fit of a spot. Lengths are in nm.
type Verdict struct {
	Model string // ModelBare, ModelFilm or ModelSpread

	OpticalThicknessNM Estimate // index times thickness at 550 nm
	Index              Estimate // of the film at 550 nm
	ThicknessNM        Estimate
	Porosity           Estimate
	Bare               Estimate // bare fraction
	SolidNM            Estimate // material left: (1-bare)·thickness·(1-porosity)
	SpreadNM           Estimate // standard deviation of thickness within the spot; only of ModelSpread, else NaN
	Scale              Estimate

	Converged       bool
	NoiseSD         float64 // of one point, a fraction; root mean square over the curves
	RMSResidual     float64 // a fraction
	ReducedChi2     float64
	Points          int     // points fitted
	EffectivePoints float64 // fewer than Points if neighbouring residuals are correlated
	LeftOut         int     // points not fitted: those inside masks, and spikes
	Ladder          []Rung  // the structures fitted, the simplest first
	LikelihoodRatio float64 // twice its log, of film over bare glass, or a lower bound; NaN if pins allow one model only
	Flags           []string

	model      *model
	chosen     *solution
	widest     *solution   // the uncertainties come from it
	equalFilms [][]float64 // other films that explain the curves equally well, if not separable

	// allowedFilm is the thickest film that the curves allow where there is no film, or hardly any; nil elsewhere.
	allowedFilm []float64
}

// tinyTau is the optical thickness, in nm, below which a film has the one-sided uncertainty of glass without a
// film.
const tinyTau = 5

// verdict chooses between film and bare. bare is nil if the pins require a film, or if the
// likelihood ratio leaves no doubt. It then fits a film with a spread, if that is
// requested or the residuals of film call for it.
func (m *model) verdict(ctx context.Context, film, bare *solution) (*Verdict, error) {
	v := &Verdict{Model: ModelFilm, LikelihoodRatio: math.NaN(), model: m, chosen: film, widest: film}
	var err error
	if bare != nil {
		_, pinned := m.spot.Pins[Bare]
		if v.LikelihoodRatio = likelihoodRatio(film, bare); pinned || v.LikelihoodRatio < likelihoodLimit {
			v.Model, v.chosen, v.widest = ModelBare, bare, bare
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
	v.fillEstimates()
	if v.Model == ModelFilm && v.allowedFilm == nil && len(v.notSeparable()) > 0 {
		best, equal, err := m.equalFilms(ctx, film)
		if err != nil {
			return nil, err
		}
		film = best
		v.chosen, v.widest, v.equalFilms = best, best, equal
		v.fillEstimates()
	}
	var spread *solution
	if from, ok := m.needsSpread(film); ok {
		if spread, err = v.trySpread(ctx, film, from); err != nil {
			return nil, err
		}
	}
	v.fillLadder(bare, film, spread)
	v.fillQuality()
	v.setFlags()
	return v, nil
}

// trySpread fits the film with a spread. It is chosen if both the likelihood ratio and the criterion call for
// it. If it is not chosen but separable, the uncertainties still come from it.
func (v *Verdict) trySpread(ctx context.Context, film *solution, from float64) (*solution, error) {
	wide, spread, err := v.model.fitSpread(ctx, film, from)
	if err != nil || v.Model == ModelBare || v.allowedFilm != nil {
		return spread, err
	}
	points := v.model.points
	called := (film.cost-spread.cost)/spread.inflation() > spreadLimit &&
		spread.akaike(spread, points) < film.akaike(spread, points)
	if called {
		v.Model, v.chosen, v.widest, v.model, v.equalFilms = ModelSpread, spread, spread, wide, nil
	} else if len(v.equalFilms) == 0 && v.separates(spread) {
		v.widest = spread
	}
	v.fillEstimates()
	return spread, nil
}

// fillEstimates fills the parameters: the values of the chosen solution, the uncertainties of the widest.
func (v *Verdict) fillEstimates() {
	v.Scale = v.parameter(pScale)
	v.SpreadNM = Estimate{Value: math.NaN(), U: math.NaN()}
	if v.Model == ModelBare {
		v.fillNoFilm()
		return
	}
	d := v.derive(v.chosen.x)
	v.OpticalThicknessNM, v.Index = v.estimate(d.tau), v.estimate(d.index)
	v.ThicknessNM, v.Porosity = v.estimate(d.thickness), v.estimate(d.porosity)
	v.Bare, v.SolidNM = v.parameter(pBare), v.estimate(d.solid)
	if v.Model == ModelSpread {
		v.SpreadNM = v.estimate(d.spread)
	}
	v.widenByEqualFilms()
	if v.allowedFilm != nil { // hardly any film: linear uncertainties are not valid
		most := v.derive(v.allowedFilm)
		v.OpticalThicknessNM.U, v.ThicknessNM.U, v.SolidNM.U = most.tau.value, most.thickness.value, most.solid.value
	}
	v.Porosity.Value = min(max(v.Porosity.Value, 0), 1)
}

// widenByEqualFilms raises uncertainties to cover the other films that explain the curves equally well. Pinned
// quantities keep no uncertainty.
func (v *Verdict) widenByEqualFilms() {
	for _, x := range v.equalFilms {
		d := v.derive(x)
		for _, q := range []struct {
			e     *Estimate
			other float64
		}{{&v.OpticalThicknessNM, d.tau.value}, {&v.Index, d.index.value}, {&v.ThicknessNM, d.thickness.value},
			{&v.Porosity, d.porosity.value}, {&v.Bare, x[pBare]}, {&v.SolidNM, d.solid.value}} {
			*q.e = q.e.widened(q.other)
		}
	}
}

// fillNoFilm fills the estimates of glass without a film.
func (v *Verdict) fillNoFilm() {
	none, null := Estimate{U: math.NaN()}, Estimate{Value: math.NaN(), U: math.NaN()}
	v.OpticalThicknessNM, v.ThicknessNM, v.SolidNM = none, none, none
	v.Index, v.Porosity = null, null
	v.Bare = Estimate{Value: 1, U: math.NaN()}
	if v.allowedFilm != nil {
		v.SolidNM.U = v.derive(v.allowedFilm).solid.value
	}
}

// parameter returns the estimate of parameter i.
func (v *Verdict) parameter(i int) Estimate {
	if v.chosen.params[i].Fixed {
		return Estimate{Value: v.chosen.x[i], U: math.NaN()}
	}
	unit := make([]float64, len(v.chosen.x))
	unit[i] = 1
	return v.estimate(derived{v.chosen.x[i], unit})
}

// estimate returns d with its uncertainty and the parts of it that are shared.
//
// An error δ of the mean of a prior, with the standard deviation SD of the prior, changes d
// by cov(d, parameter)·δ/SD². The part of U is therefore cov(d, parameter)/SD.
func (v *Verdict) estimate(d derived) Estimate {
	e := d.estimate(v.widest.cov)
	if math.IsNaN(e.U) {
		return e
	}
	part := func(i int) (sum float64) {
		sd := v.widest.params[i].Prior.SD
		if sd == 0 || v.widest.params[i].Fixed {
			return 0
		}
		for k, g := range d.grad {
			if g != 0 {
				sum += g * v.widest.cov.At(k, i)
			}
		}
		return sum / sd / v.widest.covarianceFactor // priors are not inflated
	}
	e.BySkeleton, e.ByGlass = part(pSkeleton), part(pGlass)
	return e
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

// filmQuantities are the quantities of a film.
type filmQuantities struct{ tau, index, thickness, porosity, solid, spread derived }

// derive computes the film's quantities and their gradients at x.
func (v *Verdict) derive(x []float64) filmQuantities {
	g := v.model.filmAt(x)
	p, pIdx, pSkl := v.model.spot.Coating.porosityOf(g.index, g.skeleton)
	if pinned, ok := v.model.spot.Pins[Porosity]; ok {
		// It does not change: the effects of index and skeleton cancel.
		p, pIdx, pSkl = pinned, 0, 0
	}
	grad := func(byD, byIndex, bySkeleton, byBare float64) []float64 {
		out := make([]float64, len(x))
		out[pTau] = byD * g.dTau
		out[pIndex] = (byD*g.dIndex + byIndex) * g.iIndex
		out[pSkeleton] = bySkeleton + (byD*g.dIndex+byIndex)*g.iSkeleton
		out[pBare] = byBare
		return out
	}
	covered, solid := 1-x[pBare], 1-p
	share := math.Sqrt(x[pSpread2])
	bySpread := grad(share, 0, 0, 0)
	bySpread[pSpread2] = g.d / (2 * max(share, leastSpread))
	return filmQuantities{
		spread:    derived{share * g.d, bySpread},
		tau:       derived{g.d * g.index, grad(g.index, g.d, 0, 0)},
		index:     derived{g.index, grad(0, 1, 0, 0)},
		thickness: derived{g.d, grad(1, 0, 0, 0)},
		porosity:  derived{p, grad(0, pIdx, pSkl, 0)},
		solid:     derived{covered * g.d * solid, grad(covered*solid, -covered*g.d*pIdx, -covered*g.d*pSkl, -g.d*solid)},
	}
}

// fillQuality fills what describes the fit as a whole.
func (v *Verdict) fillQuality() {
	m := v.model
	v.Converged, v.ReducedChi2, v.Points = v.chosen.converged, v.chosen.givenChi2, m.points
	noise := 0.0
	for k := range m.curves {
		c := &m.curves[k]
		noise += c.sigma * c.sigma * float64(c.points)
	}
	v.RMSResidual = v.chosen.rms
	v.NoiseSD = math.Sqrt(noise / m.noiseFactor / float64(v.Points))
	v.EffectivePoints, v.LeftOut = v.chosen.effectiveShare*float64(v.Points), m.spot.leftOut
}

// isWithinModel reports whether the model is valid for the film that was found.
func (v *Verdict) isWithinModel() bool {
	return v.ReducedChi2 < PoorFit && (v.Model == ModelBare || v.OpticalThicknessNM.Value < 0.95*v.model.maxTau)
}
