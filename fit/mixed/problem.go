package mixed

import "math"

// problem is a model in units in which observations and columns are of the size 1, with its layout.
type problem struct {
	layout
	terms    []Term
	y        []float64
	x        [][]float64
	known    []float64
	residual bool // the variance of e is estimated

	yUnit  float64
	xUnits []float64
	zUnits [][]float64 // by term and column; those of unit terms are 1

	covs   []covariance
	covOf  [][]int     // by term and kind
	params []parameter // the variances and covariances that are estimated; last that of e
}

// covariance is that of the effects of the groups of one kind of a term. Those of Model.Shared have the last one.
type covariance struct {
	width int
	first int // position of its first parameter; -1: a unit matrix
}

// parameter is an element of a covariance. Descent is over those of its Cholesky factor, theta, in their place.
type parameter struct {
	cov  int // -1: the variance of e
	a, b int // row and column, a >= b
}

// newProblem makes a model that is checked ready.
func newProblem(m *Model) *problem {
	p := &problem{residual: !m.NoResidual}
	p.yUnit = sizeOf(m.Y)
	if mean := meanOf(m.Y); len(m.Y) > 1 { // of the scatter, since most of an observation is its mean
		var sum float64
		for _, y := range m.Y {
			sum += (y - mean) * (y - mean)
		}
		if sum > 0 {
			p.yUnit = math.Sqrt(sum / float64(len(m.Y)))
		}
	}
	p.y = scaledBy(1/p.yUnit, m.Y)
	for _, x := range m.X {
		unit := sizeOf(x)
		p.x, p.xUnits = append(p.x, scaledBy(1/unit, x)), append(p.xUnits, unit)
	}
	p.known = make([]float64, len(m.Y))
	for i := range m.Known {
		p.known[i] = m.Known[i] / (p.yUnit * p.yUnit)
	}
	p.terms = append([]Term(nil), m.Terms...)
	for k := range p.terms {
		p.scaleTerm(&p.terms[k])
		p.addCovariances(&p.terms[k])
	}
	p.covs = append(p.covs, covariance{1, -1})
	if p.residual {
		p.params = append(p.params, parameter{-1, 0, 0})
	}
	p.lay(m.Shared)
	return p
}

// scaleTerm gives a term columns of its own, in their units.
func (p *problem) scaleTerm(t *Term) {
	units := make([]float64, t.width())
	columns := make([][]float64, t.width())
	for c := range units {
		values := make([]float64, len(p.y))
		for i, g := range t.Of {
			if g >= 0 {
				values[i] = t.value(c, i)
			}
		}
		units[c] = sizeOf(values)
		if t.Unit {
			units[c] = p.yUnit
		}
		columns[c] = scaledBy(1/units[c], values)
	}
	t.Columns = columns
	p.zUnits = append(p.zUnits, units)
}

// addCovariances adds those of a term.
func (p *problem) addCovariances(t *Term) {
	var of []int
	for range t.kinds() {
		c := covariance{t.width(), -1}
		if !t.Unit {
			c.first = len(p.params)
			for a := range c.width {
				for b := range a + 1 {
					p.params = append(p.params, parameter{len(p.covs), a, b})
				}
			}
		}
		of = append(of, len(p.covs))
		p.covs = append(p.covs, c)
	}
	p.covOf = append(p.covOf, of)
}

func meanOf(values []float64) (mean float64) {
	for _, v := range values {
		mean += v / float64(len(values))
	}
	return mean
}

// sizeOf is the root mean square of the values that are not 0; 1 if there are none.
func sizeOf(values []float64) float64 {
	sum, n := 0.0, 0.0
	for _, v := range values {
		if v != 0 {
			sum, n = sum+v*v, n+1
		}
	}
	if n == 0 {
		return 1
	}
	return math.Sqrt(sum / n)
}

func scaledBy(f float64, values []float64) []float64 {
	out := make([]float64, len(values))
	for i, v := range values {
		out[i] = f * v
	}
	return out
}

// factor returns the Cholesky factor of a covariance, by rows, at the parameters theta.
func (p *problem) factor(cov int, theta []float64) []float64 {
	r, at := p.covs[cov].width, p.covs[cov].first
	to := make([]float64, r*r)
	for a := range r {
		if at < 0 {
			to[a*r+a] = 1
			continue
		}
		for b := range a + 1 {
			to[a*r+b] = theta[p.covs[cov].first+a*(a+1)/2+b]
		}
	}
	return to
}

// sigma returns the variance of e beyond the known one at theta.
func (p *problem) sigma(theta []float64) float64 {
	if !p.residual {
		return 0
	}
	last := theta[len(p.params)-1]
	return last * last
}
