package film

import (
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"

	"wane/optics"
)

// Probe computes the weighted mean of the reflectance of the front surface of a glass at one angle, for
// any film on it. It has scratch memory, so two goroutines must not use it at once.
type Probe struct {
	share float64
	short *weightedView // for films up to probeTau; nil if the surface is not smooth enough
	full  *weightedView
}

// weightedView is a view with a weight w for each of its wavelengths.
type weightedView struct {
	*view
	w []float64
}

// A short view replaces the full one for films up to the optical thickness probeTau, in nm. Its
// wavelengths are the nodes of a Gauss quadrature of the weights (surface_compress.go). Their number is
// the first of probeNodes with an error of the mean of at most probeError times the sum of the weights.
const (
	probeTau   = 450.0
	probeError = 1e-9
)

var probeNodes = []int{16, 24, 32, 48, 64}

// NewProbe returns a probe of the mean
//
//	M = Σ w_i · R(nm_i)
//
// of the front surface of glass under coating, at angleDeg and for the polarisation pol. M is a mean if
// the weights add to 1, and otherwise their sum times a mean.
//
// nm holds the wavelengths in nm, strictly increasing; w the weights, as long as nm, none negative.
// The probe keeps both, so they must not be changed afterwards. angleDeg is in degrees from the normal,
// in air, 0 <= angleDeg < 90. The index of the glass is that of its table; [Verdict.Mean] adds the error
// of the index that a fit found, to first order.
//
// A wavelength outside the range of an index gives an [*optics.RangeError]; an angle outside its range
// or a wavelength that is not positive and finite gives an [*optics.DomainError]. Weights are not
// checked: with a NaN among them every mean is NaN.
//
// For films up to 450 nm of optical thickness a Gauss quadrature over few wavelengths replaces the sum.
// Its error is at most 1e-9 of the sum of the weights; NewProbe checks this for bare glass and for films
// of that optical thickness.
func NewProbe(nm, w []float64, angleDeg float64, pol optics.Polarisation, glass optics.Index,
	coating Coating) (*Probe, error) {
	setup := Setup{Glass: Glass{Index: glass}, Coating: coating}
	full, err := newView(&setup, nm, angleDeg, &[]*layer{})
	if err != nil {
		return nil, err
	}
	p := &Probe{share: float64(pol), full: &weightedView{full, w}}
	for _, n := range probeNodes {
		if 2*n > len(nm) {
			break
		}
		nodes := gaussNodes(nm, w, n)
		if nodes == nil {
			break
		}
		v, err := newView(&setup, nodes.nm, angleDeg, &[]*layer{})
		if err != nil {
			break // a node is just outside the range of an index
		}
		short := &weightedView{v, make([]float64, n)}
		floats.MulTo(short.w, nodes.root, nodes.root)
		if p.error(&setup, short) <= probeError*floats.Sum(w) {
			p.short = short
			break
		}
	}
	return p, nil
}

// error returns the largest error of M by short. It tries bare glass and films of optical
// thickness probeTau and of the lowest, the middle and the highest index.
func (p *Probe) error(setup *Setup, short *weightedView) float64 {
	lo, hi := setup.Coating.indexRange()
	skeleton, _ := setup.Coating.skeleton()
	x, worst := make([]float64, pAngles), 0.0
	for _, bare := range []float64{0, 1} {
		for _, index := range []float64{lo, (lo + hi) / 2, hi} {
			g := filmState{d: probeTau / index, index: index, skeleton: skeleton}
			x[pBare] = bare
			few, _ := short.mean(p.share, x, &g)
			all, _ := p.full.mean(p.share, x, &g)
			worst = max(worst, math.Abs(few.value-all.value))
		}
	}
	return worst
}

// mean returns M for the film g, the bare fraction and the error of the glass in x, and
// its derivatives by the parameters.
func (p *Probe) mean(x []float64, g *filmState) derived {
	front, _ := p.meanAndBare(x, g)
	return front
}

// meanAndBare returns what mean returns, and M of the same glass without a film.
func (p *Probe) meanAndBare(x []float64, g *filmState) (front derived, bare bareMean) {
	if p.short != nil && g.d*g.index <= probeTau {
		return p.short.mean(p.share, x, g)
	}
	return p.full.mean(p.share, x, g)
}

// Mean returns the weighted mean M of the reflectance of the fitted front surface, a fraction if the
// weights of the probe add to 1. It includes the bare fraction and the spread. It does not include scale,
// angle factors, steps at detector joins, texture and the far face. With the model [ModelBare] the value
// is that of bare glass, and U is one-sided: the difference to the thickest film that the curves allow.
func (v *Verdict) Mean(p *Probe) Estimate {
	return v.surfaceEstimate(v.meanOf(p).of)
}

// BareMean returns M of the same glass without a film, a fraction if the weights of the probe add to 1.
// The glass is the fitted one: the error of its index that the fit found counts to first order. U comes
// from this error only, and is NaN if the index of the glass is fixed.
func (v *Verdict) BareMean(p *Probe) Estimate {
	return v.estimate(v.bareOf(p))
}

// Gain returns [Verdict.BareMean] less [Verdict.Mean], a fraction if the weights of the probe add to 1:
// how much less the surface reflects than the same glass without a film. U includes the error of the
// index of the glass only as far as it changes the difference. With the model [ModelBare] the value is 0,
// and U is the gain of the thickest film that the curves allow.
func (v *Verdict) Gain(p *Probe) Estimate {
	return v.surfaceEstimate(v.gainOf(p).of)
}

// surfaceEstimate returns the estimate of a quantity of the front surface. at computes the quantity and
// its derivatives from a vector of parameters.
func (v *Verdict) surfaceEstimate(at func(x []float64) derived) Estimate {
	d := at(v.chosen.x)
	out := v.estimate(d)
	if v.allowedFilm != nil {
		// The film is not linear at bare glass: add the change by the thickest film to the error of the glass.
		byGlass := d.grad[pGlass] * math.Sqrt(v.widest.cov.At(pGlass, pGlass))
		out.U, out.BySkeleton = math.Hypot(byGlass, at(v.allowedFilm).value-out.Value), 0
	}
	for _, x := range v.equalFilms {
		out = out.widened(at(x).value)
	}
	return out
}

// bareMean is M of a glass without a film, and its derivative by the index of the glass.
type bareMean struct{ value, byGlass float64 }

// meanOf returns M of p as a quantity.
func (v *Verdict) meanOf(p *Probe) quantity {
	return quantity{"mean", -1, func(x []float64) derived {
		g := v.model.filmAt(x)
		return p.mean(x, &g)
	}}
}

// gainOf returns the gain of p as a quantity.
func (v *Verdict) gainOf(p *Probe) quantity {
	return quantity{"gain", -1, func(x []float64) derived {
		g := v.model.filmAt(x)
		front, bare := p.meanAndBare(x, &g)
		floats.Scale(-1, front.grad)
		front.grad[pGlass] += bare.byGlass
		return derived{bare.value - front.value, front.grad}
	}}
}

// bareOf returns M of p without a film, at the chosen solution.
func (v *Verdict) bareOf(p *Probe) derived {
	g := v.model.filmAt(v.chosen.x)
	_, bare := p.meanAndBare(v.chosen.x, &g)
	grad := make([]float64, len(v.chosen.x))
	grad[pGlass] = bare.byGlass
	return derived{bare.value, grad}
}

// mean returns the weighted reflectance of the patchy film g and its derivatives by the
// parameters,
//
//	M = Σ w·((1-b)·R_film + b·R_glass) + ∂M/∂n·e
//
// and that of the glass without a film. b is the bare fraction in x; R is share·R_s +
// (1-share)·R_p; e is the error of the index n of the glass in x, a few thousandths, which
// counts to first order.
func (v *weightedView) mean(share float64, x []float64, g *filmState) (derived, bareMean) {
	v.setFilm(g, 0, 0)
	var film, glass, byD, byIndex, bySkeleton, bySpread, filmByGlass, bareByGlass float64
	for i, wi := range v.w {
		ws, wp := wi*share, wi*(1-share)
		film += ws*v.s.R[i] + wp*v.p.R[i]
		glass += ws*v.bareS.R[i] + wp*v.bareP.R[i]
		byD += ws*v.s.DNM[i] + wp*v.p.DNM[i]
		byIndex += ws*v.slopes[0].index[i] + wp*v.slopes[1].index[i]
		bySkeleton += ws*v.slopes[0].solid[i] + wp*v.slopes[1].solid[i]
		filmByGlass += ws*v.s.DGlass[i] + wp*v.p.DGlass[i]
		bareByGlass += ws*v.bareS.DGlass[i] + wp*v.bareP.DGlass[i]
		if g.spreads {
			bySpread += ws*v.slopes[0].spread2[i] + wp*v.slopes[1].spread2[i]
		}
	}
	bare := x[pBare]
	covered := 1 - bare
	byIndex += byD * g.dIndex
	grad := make([]float64, len(x))
	grad[pTau] = covered * byD * g.dTau
	grad[pIndex] = covered * byIndex * g.iIndex
	grad[pSkeleton] = covered * (bySkeleton + byIndex*g.iSkeleton)
	grad[pBare] = glass - film
	grad[pGlass] = covered*filmByGlass + bare*bareByGlass
	grad[pSpread2] = covered * bySpread
	front := derived{covered*film + bare*glass + grad[pGlass]*x[pGlass], grad}
	return front, bareMean{glass + bareByGlass*x[pGlass], bareByGlass}
}

// FittedCurve is one curve with its fit, for figures. All slices are as long as NM.
type FittedCurve struct {
	NM, Measured, Fitted []float64 // nm, fraction, fraction
	Band                 []float64 // half-width of the 95 % confidence band of Fitted, a fraction
	AngleDeg             float64
	NoiseSD              float64 // of one point, as given to the fit, a fraction
}

// Curves returns the measured and the fitted values of each curve, in the order
// of the spot, as fractions. The errors are those of [Fit].
func (v *Verdict) Curves() ([]FittedCurve, error) {
	spot := v.model.spot
	sigma := make([]float64, len(spot.Curves))
	for k := range v.model.curves {
		c := &v.model.curves[k]
		sigma[c.source] = c.sigma
	}
	m, err := NewFitter(spot.Setup).fullModel(spot, sigma)
	if err != nil {
		return nil, err
	}
	s, size := v.chosen, m.size()
	res, jac := make([]float64, m.rows), make([]float64, m.rows*size)
	m.evaluate(s.x, res, jac)
	out := make([]FittedCurve, len(spot.Curves))
	for k := range out {
		c := &spot.Curves[k]
		out[k] = FittedCurve{NM: c.NM, Measured: c.R, AngleDeg: c.AngleDeg,
			NoiseSD: sigma[k] / math.Sqrt(v.model.noiseFactor)}
	}
	row := mat.NewVecDense(size, nil)
	m.eachPoint(func(c *curve, i, at int) {
		row.CopyVec(mat.NewVecDense(size, jac[at*size:(at+1)*size]))
		to := &out[c.source]
		to.Fitted = append(to.Fitted, c.r[i]+res[at]*c.sigma)
		to.Band = append(to.Band, 1.959964*c.sigma*math.Sqrt(max(0, mat.Inner(row, s.cov, row))))
	})
	return out, nil
}
