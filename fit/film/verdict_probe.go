package film

import (
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"

	"wane/optics"
)

// Probe computes the weighted mean of the reflectance of the front surface of a glass at one angle, for
// any film on it. It keeps scratch memory, so each goroutine needs a probe of its own.
type Probe struct {
	share float64
	short *weightedView // for films up to probeTau; nil if the surface is not smooth enough
	full  *weightedView
}

// weightedView is a view with the weights of its wavelengths.
type weightedView struct {
	*view
	w []float64
}

// A probe of few wavelengths is valid for films up to the optical thickness probeTau, in nm. The
// wavelengths are the nodes of a Gauss quadrature of the weights (surface_compress.go); their number is
// the first of probeNodes that gives the mean to probeError.
const (
	probeTau   = 450.0
	probeError = 1e-9
)

var probeNodes = []int{16, 24, 32, 48, 64}

// NewProbe returns a probe of the mean
//
//	M = Σ w_i · R(nm_i)
//
// of the front surface of glass under coating, at angleDeg and for the polarisation pol. If the weights
// add to 1, M is a mean; if they add to less, it is a part of one.
//
// nm holds the wavelengths in nm, strictly increasing; w the weights, as long as nm, none negative;
// the probe keeps both, so they must not be changed. angleDeg is in degrees from the normal, in air,
// 0 <= angleDeg < 90. The index of the glass is that of the tables: what a fit finds it to be off
// counts to first order in [Verdict.Mean].
//
// A wavelength outside the range of an index gives an [*optics.RangeError], an angle or a wavelength
// that is none an [*optics.DomainError]. The mean over few nodes, which replaces the full sum for films
// up to 450 nm of optical thickness, is held to 1e-9 of the sum of the weights when the probe is made.
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
			break // just outside the range of an index
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

// error returns the largest error of the mean by short, for bare glass and for films
// of optical thickness probeTau and of the lowest, middle and highest index.
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

// mean returns the mean for the film g with the bare fraction of x, and its gradient.
func (p *Probe) mean(x []float64, g *filmState) derived {
	front, _ := p.meanAndBare(x, g)
	return front
}

// meanAndBare returns mean, and that for the same glass without a film.
func (p *Probe) meanAndBare(x []float64, g *filmState) (front derived, bare bareMean) {
	if p.short != nil && g.d*g.index <= probeTau {
		return p.short.mean(p.share, x, g)
	}
	return p.full.mean(p.share, x, g)
}

// Mean returns the weighted mean of the reflectance of the fitted front surface by the probe, a fraction
// where the weights add to 1. The bare fraction and the spread are in it. Scale, angle factors, steps at
// detector joins, texture and the far face are not. With the model [ModelBare] the value is that of
// bare glass, and the uncertainty is one-sided: that of the thickest film that the curves still allow.
func (v *Verdict) Mean(p *Probe) Estimate {
	return v.surfaceEstimate(v.meanOf(p).of)
}

// BareMean returns the mean of the same probe for the same glass without a film, a fraction where the
// weights add to 1. The glass is the fitted one: its index differs from that of its table by what the
// fit found, to first order. The uncertainty comes from that index alone; U is NaN where the index of
// the glass is fixed.
func (v *Verdict) BareMean(p *Probe) Estimate {
	return v.estimate(v.bareOf(p))
}

// Gain returns [Verdict.BareMean] less [Verdict.Mean]: how much less the surface reflects than the same
// glass without a film, a fraction. An error of the index of the glass changes both, and counts only
// as far as it changes the difference. With the model [ModelBare] the value is 0, and the uncertainty
// is that of the thickest film that the curves still allow.
func (v *Verdict) Gain(p *Probe) Estimate {
	return v.surfaceEstimate(v.gainOf(p).of)
}

// surfaceEstimate returns the estimate of a quantity of the front surface, which at computes from a
// vector of parameters.
func (v *Verdict) surfaceEstimate(at func(x []float64) derived) Estimate {
	d := at(v.chosen.x)
	out := v.estimate(d)
	if v.allowedFilm != nil {
		// Nothing of the film is linear there: what it adds, beside what the glass may be off.
		byGlass := d.grad[pGlass] * math.Sqrt(v.widest.cov.At(pGlass, pGlass))
		out.U, out.BySkeleton = math.Hypot(byGlass, at(v.allowedFilm).value-out.Value), 0
	}
	for _, x := range v.equalFilms {
		out = out.widened(at(x).value)
	}
	return out
}

// bareMean is the mean of a glass without a film, at the parameters where it was asked
// for, and its derivative by the index of the glass.
type bareMean struct{ value, byGlass float64 }

// meanOf is the mean of p as a quantity.
func (v *Verdict) meanOf(p *Probe) quantity {
	return quantity{"mean", -1, func(x []float64) derived {
		g := v.model.filmAt(x)
		return p.mean(x, &g)
	}}
}

// gainOf is the gain of p as a quantity.
func (v *Verdict) gainOf(p *Probe) quantity {
	return quantity{"gain", -1, func(x []float64) derived {
		g := v.model.filmAt(x)
		front, bare := p.meanAndBare(x, &g)
		floats.Scale(-1, front.grad)
		front.grad[pGlass] += bare.byGlass
		return derived{bare.value - front.value, front.grad}
	}}
}

// bareOf is the mean of p without a film at the parameters chosen.
func (v *Verdict) bareOf(p *Probe) derived {
	g := v.model.filmAt(v.chosen.x)
	_, bare := p.meanAndBare(v.chosen.x, &g)
	grad := make([]float64, len(v.chosen.x))
	grad[pGlass] = bare.byGlass
	return derived{bare.value, grad}
}

// mean is the weighted reflectance of the patchy film g and its gradient, and that of the
// glass alone. The few thousandths by which the index of the glass may be off count to the
// first order.
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
	left := 1 - bare
	byIndex += byD * g.dIndex
	grad := make([]float64, len(x))
	grad[pTau] = left * byD * g.dTau
	grad[pIndex] = left * byIndex * g.iIndex
	grad[pSkeleton] = left * (bySkeleton + byIndex*g.iSkeleton)
	grad[pBare] = glass - film
	grad[pGlass] = left*filmByGlass + bare*bareByGlass
	grad[pSpread2] = left * bySpread
	front := derived{left*film + bare*glass + grad[pGlass]*x[pGlass], grad}
	return front, bareMean{glass + bareByGlass*x[pGlass], bareByGlass}
}

// FittedCurve is one curve with its fit, for figures.
type FittedCurve struct {
	NM, Measured, Fitted []float64
	Band                 []float64 // half-width of the 95 % confidence band of Fitted
	AngleDeg             float64
	NoiseSD              float64
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
