package film

import (
	"math"
	"slices"

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
	sum   []*Probe // in place of all of these: see [SumOf]
}

// SumOf returns a probe of the sum of what probes of one glass and one coating find, such as the mean over several angles
// where the weights of all of them add to 1. There must be at least one.
func SumOf(probes []*Probe) *Probe { return &Probe{sum: probes} }

// weights returns the sum of the weights of p.
func (p *Probe) weights() (all float64) {
	if p.sum == nil {
		return floats.Sum(p.full.w)
	}
	for _, one := range p.sum {
		all += one.weights()
	}
	return all
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
// nm holds the wavelengths in nm, strictly increasing; w the weights, as long as nm, none negative;
// the probe keeps both, so they must not be changed. angleDeg is in degrees from the normal, in air,
// 0 <= angleDeg < 90. The index of the glass is that of the tables; [Verdict.Mean] adds what a fit
// found it to be off.
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
	full, err := newView(&setup, nm, angleDeg, &[]*layer{}, false)
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
		v, err := newView(&setup, nodes.nm, angleDeg, &[]*layer{}, false)
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
	x, worst := make([]float64, pAngles), 0.0 // glass as expected, a film without loss
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
	if p.sum == nil {
		return p.viewFor(g).mean(p.share, x, g)
	}
	front.grad = make([]float64, len(x))
	for _, one := range p.sum {
		f, b := one.meanAndBare(x, g)
		front.value += f.value
		floats.Add(front.grad, f.grad)
		bare.value, bare.byGlass = bare.value+b.value, bare.byGlass+b.byGlass
	}
	return front, bare
}

// absorbed returns what the film g and its residue absorb of what p sees, and its derivatives by the parameters.
func (p *Probe) absorbed(x []float64, g *filmState) derived {
	if p.sum == nil {
		return p.viewFor(g).absorbed(p.share, x, g)
	}
	all := derived{0, make([]float64, len(x))}
	for _, one := range p.sum {
		a := one.absorbed(x, g)
		all.value += a.value
		floats.Add(all.grad, a.grad)
	}
	return all
}

// viewFor returns the view that is right for the film g.
func (p *Probe) viewFor(g *filmState) *weightedView {
	if p.short != nil && g.d*g.index <= probeTau {
		return p.short
	}
	return p.full
}

// Mean returns the weighted mean of the reflectance of the fitted front surface by the probe, a fraction
// where the weights add to 1; where transmittance was read, what the film absorbs is in it, and elsewhere the film counts as
// lossless. It is that of the fit whose structure is free. The bare fraction is in it. Scale, zero,
// leak, factors, steps at detector joins, texture and the far face are not. With the model [ModelBare] the value is that of
// bare glass, and the uncertainty is one-sided: that of the thickest film that the curves still allow.
func (v *Verdict) Mean(p *Probe) Estimate { return v.surfaceEstimate(v.meanOf(p)) }

// BareMean returns the mean of the same probe for the same glass without a film, a fraction where the
// weights add to 1. The glass is the fitted one: its index differs from that of its table by what the
// fit found. The uncertainty comes from that index alone; U is NaN where the index of the glass is fixed.
func (v *Verdict) BareMean(p *Probe) Estimate {
	_, s := v.physical()
	return v.bareOf(p).estimate(s.cov)
}

// Gain returns [Verdict.BareMean] less [Verdict.Mean]: how much less the surface reflects, or absorbs, than the same
// glass without a film, a fraction. An error of the index of the glass changes both, and counts only
// as far as it changes the difference. With the model [ModelBare] the value is 0, and the uncertainty
// is that of the thickest film that the curves still allow.
func (v *Verdict) Gain(p *Probe) Estimate { return v.surfaceEstimate(v.gainOf(p)) }

// Absorbed returns the weighted mean, by the probe, of what film and residue absorb of the light that falls on the front
// surface, a fraction where the weights add to 1. It is NaN where no transmittance was read.
func (v *Verdict) Absorbed(p *Probe) Estimate {
	if m, _ := v.physical(); !m.through {
		return Estimate{math.NaN(), math.NaN()}
	}
	return v.surfaceEstimate(v.absorbedOf(p))
}

// absorbedOf returns what p finds absorbed as a quantity.
func (v *Verdict) absorbedOf(p *Probe) quantity {
	return v.ofPhysical("absorbed", func(m *model, x []float64) derived {
		g := m.filmAt(x)
		return p.absorbed(x, &g)
	})
}

// surfaceEstimate returns the estimate of a quantity of the front surface.
func (v *Verdict) surfaceEstimate(q quantity) Estimate {
	d := q.of(q.s.x)
	out := d.estimate(q.s.cov)
	if v.allowedFilm != nil {
		// Nothing of the film is linear there: what it adds, beside what the glass may be off.
		glass := derived{d.value, make([]float64, len(d.grad))}
		allowed := slices.Clone(v.allowedFilm) // on the same glass, under the same residue
		for _, k := range []kind{kGlass, kCouponGlass, kResidue} {
			glass.grad[k], allowed[k] = d.grad[k], q.s.x[k]
		}
		out.U = math.Hypot(orZero(glass.estimate(q.s.cov).U), q.of(allowed).value-out.Value)
	}
	if len(v.equalFilms) > 0 { // which are uniform
		uniform := q.on(v.model, v.chosen)
		best := uniform.of(v.chosen.x).value
		for _, x := range v.equalFilms {
			out = out.widened(out.Value + uniform.of(x).value - best)
		}
	}
	return out
}

// orZero returns u, 0 for a NaN.
func orZero(u float64) float64 {
	if math.IsNaN(u) {
		return 0
	}
	return u
}

// bareMean is the mean of a glass without a film, at the parameters where it was asked
// for, and its derivative by the index of the glass.
type bareMean struct{ value, byGlass float64 }

// meanOf returns M of p as a quantity.
func (v *Verdict) meanOf(p *Probe) quantity {
	return v.ofPhysical("mean", func(m *model, x []float64) derived {
		g := m.filmAt(x)
		return p.mean(x, &g)
	})
}

// gainOf returns the gain of p as a quantity.
func (v *Verdict) gainOf(p *Probe) quantity {
	return v.ofPhysical("gain", func(m *model, x []float64) derived {
		g := m.filmAt(x)
		front, bare := p.meanAndBare(x, &g)
		floats.Scale(-1, front.grad)
		front.grad[pGlass] += bare.byGlass
		front.grad[kCouponGlass] += bare.byGlass
		return derived{bare.value - front.value, front.grad}
	})
}

// bareOf returns M of p without a film, at the chosen solution.
func (v *Verdict) bareOf(p *Probe) derived {
	m, s := v.physical()
	g := m.filmAt(s.x)
	_, bare := p.meanAndBare(s.x, &g)
	grad := make([]float64, len(s.x))
	grad[pGlass], grad[kCouponGlass] = bare.byGlass, bare.byGlass
	return derived{bare.value, grad}
}

// mean is the weighted mean of what the patchy film g does not let through, and its gradient, and the weighted reflectance of
// the glass alone, on glass of the index that x says.
func (v *weightedView) mean(share float64, x []float64, g *filmState) (derived, bareMean) {
	v.setFilm(g, &sight{glass: x[pGlass] + x[kCouponGlass]})
	v.loseTo(g)
	var sum, ofGlass pointSlopes // of the film alone, and of what a residue takes from the glass
	var glass, bareByGlass float64
	for i, wi := range v.w {
		for q, w := range [2]float64{wi * share, wi * (1 - share)} {
			glass += w * v.bare[q].R[i]
			bareByGlass += w * v.bare[q].DGlass[i]
			v.addFilmPoint(&sum, i, q, w, g)
			if g.absorbing {
				v.losses[q].t.addLostPoint(&sum, i, w) // what is lost of T is not let through
				v.bareLosses[q].t.addLostPoint(&ofGlass, i, w)
			}
		}
	}
	bare := x[pBare]
	left := 1 - bare
	byIndex := sum.byIndex + sum.byD*g.dIndex
	grad := make([]float64, len(x))
	grad[pTau] = left * sum.byD * g.dTau
	grad[pIndex] = left * byIndex * g.iIndex
	grad[pSkeleton] = left * (sum.bySolid + byIndex*g.iSkeleton)
	grad[pBare] = glass + ofGlass.r - sum.r
	grad[pGlass] = left*sum.byGlass + bare*(bareByGlass+ofGlass.byGlass)
	grad[kCouponGlass] = grad[pGlass]
	grad[kGradient], grad[kSkin], grad[kVariance] = left*sum.byGradient, left*sum.bySkin, left*sum.byVariance
	grad[kLoss], grad[kResidue] = left*sum.byLoss, left*sum.byResidue+bare*ofGlass.byResidue
	grad[kGradientOff], grad[kSkinOff], grad[kVarianceOff] = grad[kGradient], grad[kSkin], grad[kVariance]
	soiled := glass + ofGlass.r // with what is on it
	return derived{left*sum.r + bare*soiled, grad}, bareMean{glass, bareByGlass}
}

// loseTo fills the losses of the film g, which is set, where it may absorb.
func (v *weightedView) loseTo(g *filmState) {
	if g.absorbing {
		v.clearLosses()
		v.addLosses(g, 0, &optics.Ray{DAngle: 1, Weight: 1}) // on the surface as it is set
	}
}

// absorbed is the weighted mean of what the patchy film g and its residue absorb, and its gradient.
func (v *weightedView) absorbed(share float64, x []float64, g *filmState) derived {
	v.setFilm(g, &sight{glass: x[pGlass] + x[kCouponGlass]})
	v.loseTo(g)
	var sum, ofGlass pointSlopes
	for i, wi := range v.w {
		for q, w := range [2]float64{wi * share, wi * (1 - share)} {
			for _, lost := range []*lossSlopes{&v.losses[q].r, &v.losses[q].t} {
				lost.addLostPoint(&sum, i, w)
			}
			for _, lost := range []*lossSlopes{&v.bareLosses[q].r, &v.bareLosses[q].t} {
				lost.addLostPoint(&ofGlass, i, w)
			}
		}
	}
	bare := x[pBare]
	left, byIndex := 1-bare, sum.byIndex+sum.byD*g.dIndex
	grad := make([]float64, len(x))
	grad[pTau], grad[pIndex] = left*sum.byD*g.dTau, left*byIndex*g.iIndex
	grad[pSkeleton], grad[pBare] = left*(sum.bySolid+byIndex*g.iSkeleton), ofGlass.r-sum.r
	grad[pGlass] = left*sum.byGlass + bare*ofGlass.byGlass
	grad[kCouponGlass] = grad[pGlass]
	grad[kLoss], grad[kResidue] = left*sum.byLoss, left*sum.byResidue+bare*ofGlass.byResidue
	return derived{left*sum.r + bare*ofGlass.r, grad}
}

// addLostPoint adds w times what is lost at point i.
func (l *lossSlopes) addLostPoint(sum *pointSlopes, i int, w float64) {
	sum.r, sum.byD = sum.r-w*l.value[i], sum.byD-w*l.byD[i]
	sum.byIndex, sum.bySolid = sum.byIndex-w*l.byIndex[i], sum.bySolid-w*l.bySolid[i]
	sum.byLoss, sum.byResidue = sum.byLoss-w*l.byLoss[i], sum.byResidue-w*l.byResidue[i]
	sum.byGlass -= w * l.byGlass[i]
}

// addFilmPoint adds w times what a direct view shows of the film at point i in polarisation q.
func (v *view) addFilmPoint(sum *pointSlopes, i, q int, w float64, g *filmState) {
	if g.structured {
		f := &v.structured[q]
		sum.r, sum.byD = sum.r+w*f.R[i], sum.byD+w*f.DNM[i]
		sum.byIndex, sum.bySolid = sum.byIndex+w*f.DIndex[i], sum.bySolid+w*f.DSkeleton[i]
		sum.byGradient, sum.bySkin = sum.byGradient+w*f.DGradient[i], sum.bySkin+w*f.DSkin[i]
		sum.byVariance, sum.byGlass = sum.byVariance+w*f.DVariance[i], sum.byGlass+w*f.DGlass[i]
		return
	}
	f := &v.uniform[q]
	byEps := w * f.DEps[i]
	sum.r, sum.byD, sum.byGlass = sum.r+w*f.R[i], sum.byD+w*f.DNM[i], sum.byGlass+w*f.DGlass[i]
	sum.byIndex, sum.bySolid = sum.byIndex+byEps*v.layer.dIdx[i], sum.bySolid+byEps*v.layer.dSkl[i]
}

// FittedCurve is one curve with its fit, for figures. All slices are as long as NM.
type FittedCurve struct {
	NM, Measured, Fitted []float64 // nm, fraction, fraction
	Band                 []float64 // half-width of the 95 % confidence band of Fitted, a fraction
	AngleDeg             float64
	Through              bool    // of transmittance
	NoiseSD              float64 // of one point, as given to the fit, a fraction
}

// Curves returns the measured and the fitted values of each curve, in the order
// of the spot, as fractions. The errors are those of [Fit].
func (v *Verdict) Curves() ([]FittedCurve, error) {
	spot := v.model.spot
	full, s := v.physical()
	sigma := full.sigma()
	m, err := NewFitter(spot.Setup).fullModel(spot, sigma)
	if err != nil {
		return nil, err
	}
	m.structured, m.structure = full.structured, full.structure
	size := m.size()
	res, jac := make([]float64, m.rows), make([]float64, m.rows*size)
	m.evaluate(s.x, res, jac)
	out := make([]FittedCurve, len(spot.Curves))
	for k := range out {
		c := &spot.Curves[k]
		out[k] = FittedCurve{NM: c.NM, Measured: c.R, AngleDeg: c.AngleDeg, Through: c.Through,
			NoiseSD: sigma[k] / math.Sqrt(full.noiseFactor)}
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
