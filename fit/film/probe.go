package film

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"wane/optics"
)

// Probe is the front surface of a glass at one angle, on wavelengths at which
// the fitted film is asked for. It holds scratch space: use one per goroutine.
type Probe struct {
	*view
	share float64
}

// NewProbe tabulates the front surface of glass under coating for the
// wavelengths nm, at angleDeg and for the polarisation pol.
func NewProbe(nm []float64, angleDeg float64, pol optics.Polarisation, glass optics.Index, coating Coating) (*Probe, error) {
	v, err := newView(&Setup{Glass: Glass{Index: glass}, Coating: coating}, nm, angleDeg, &[]*layer{})
	if err != nil {
		return nil, err
	}
	return &Probe{v, float64(pol)}, nil
}

// Bare returns the mean, weighted by w (one weight per wavelength), of the
// reflectance of the front surface without a film.
func (p *Probe) Bare(w []float64) float64 {
	s, pp := p.surface.Bare()
	sum := 0.0
	for i, wi := range w {
		sum += wi * (p.share*s[i] + (1-p.share)*pp[i])
	}
	return sum
}

// Means returns, for each set of weights, the weighted mean of the reflectance
// of the fitted front surface, seen by the probe: bare fraction included; scale,
// angle factors, texture and the far face left out. Weights are as long as the
// probe's wavelengths. With the model ModelBare the value is that of bare glass,
// and the uncertainty the one-sided one of a film that the curves still allow.
func (v *Verdict) Means(p *Probe, weights ...[]float64) []Estimate {
	out := make([]Estimate, len(weights))
	if v.Model == ModelBare {
		for k, w := range weights {
			out[k] = Estimate{Value: p.Bare(w), U: math.NaN()}
		}
		if v.limit != nil {
			g := v.model.geometry(v.limit)
			p.see(&g, 0)
			for k, w := range weights {
				out[k].U = math.Abs(p.mean(w, v.limit, &g).value - out[k].Value)
			}
		}
		return out
	}
	g := v.model.geometry(v.widest.x)
	p.see(&g, 0)
	for k, w := range weights {
		out[k] = p.mean(w, v.widest.x, &g).estimate(v.widest.cov)
	}
	if v.limit != nil {
		g := v.model.geometry(v.limit)
		p.see(&g, 0)
		for k, w := range weights {
			out[k].U, out[k].Shared = math.Abs(p.mean(w, v.limit, &g).value-out[k].Value), 0
		}
	}
	for _, x := range v.equal {
		g := v.model.geometry(x)
		p.see(&g, 0)
		for k, w := range weights {
			out[k] = out[k].widened(p.mean(w, x, &g).value)
		}
	}
	return out
}

// mean is the weighted reflectance of the patchy film g and its gradient.
func (p *Probe) mean(w, x []float64, g *geometry) derived {
	bareS, bareP := p.surface.Bare()
	var film, glass, byD, byIndex, bySkeleton float64
	for i, wi := range w {
		mix := func(s, pp float64) float64 { return wi * (p.share*s + (1-p.share)*pp) }
		film += mix(p.s.R[i], p.p.R[i])
		glass += mix(bareS[i], bareP[i])
		byD += mix(p.s.DNM[i], p.p.DNM[i])
		byEps := mix(p.s.DEps[i], p.p.DEps[i])
		byIndex += byEps * p.layer.dIdx[i]
		bySkeleton += byEps * p.layer.dSkl[i]
	}
	left := 1 - x[pBare]
	byIndex += byD * g.dIndex
	grad := make([]float64, len(x))
	grad[pTau] = left * byD * g.dTau
	grad[pIndex] = left * byIndex * g.iIndex
	grad[pSkeleton] = left * (bySkeleton + byIndex*g.iSkeleton)
	grad[pBare] = glass - film
	return derived{left*film + x[pBare]*glass, grad}
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
	sigma := make([]float64, len(v.model.curves))
	for k := range sigma {
		sigma[k] = v.model.curves[k].sigma
	}
	m, err := NewFitter(v.model.spot.Setup).model(v.model.spot, sigma)
	if err != nil {
		return nil, err
	}
	s, size := v.chosen, m.size()
	res, jac := make([]float64, m.rows), make([]float64, m.rows*size)
	m.evaluate(s.x, res, jac)
	out := make([]FittedCurve, len(m.curves))
	for k := range m.curves {
		c := &m.curves[k]
		out[k] = FittedCurve{NM: c.nm, Measured: c.r, AngleDeg: m.angles[c.setting], NoiseSD: c.sigma}
	}
	row := mat.NewVecDense(size, nil)
	k := -1
	m.eachPoint(func(c *curve, i, at int) {
		if i == 0 {
			k++
		}
		row.CopyVec(mat.NewVecDense(size, jac[at*size:(at+1)*size]))
		u := c.sigma * math.Sqrt(max(0, mat.Inner(row, s.cov, row)))
		out[k].Fitted = append(out[k].Fitted, c.r[i]+res[at]*c.sigma)
		out[k].Band = append(out[k].Band, 1.959964*u)
	})
	return out, nil
}
