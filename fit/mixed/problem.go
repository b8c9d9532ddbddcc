package mixed

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// problem is a model in units in which observations and columns are of the size 1, with its layout. Its observations are what
// ordinary least squares leave of those of the model.
type problem struct {
	layout
	terms     []Term
	y         []float64
	x         *sparse
	base      []float64 // the coefficients of what they take off, in the units of x
	known     []float64
	residuals int   // how many variances of e are estimated
	kinds     []int // of the observations, which of them; nil: all have the first

	yUnit  float64
	xUnits []float64
	zUnits [][]float64 // by term and column; those of unit terms are 1

	covs   []covariance
	covOf  [][]int     // by term and kind
	params []parameter // the variances and covariances that are estimated; last those of e

	rooms *rooms
}

// rooms are the rooms of the factors of leaves that are needed no more: each is as large as the data.
type rooms struct{ l, f [][]float64 }

// take returns rooms of these sizes, with anything in them.
func (r *rooms) take(sizeL, sizeF int) (l, f []float64) {
	last := len(r.l) - 1
	if last < 0 {
		return make([]float64, sizeL), make([]float64, sizeF)
	}
	l, f = r.l[last], r.f[last]
	r.l, r.f = r.l[:last], r.f[:last]
	return l, f
}

// covariance is that of the effects of the groups of one kind of a term. Those of Model.Shared have the last one.
type covariance struct {
	width int
	first int // position of its first parameter; -1: a unit matrix
}

// parameter is an element of a covariance. Descent is over those of its Cholesky factor, theta, in their place.
type parameter struct {
	cov  int // -1: a variance of e
	a, b int // row and column, a >= b
}

// newProblem makes a model that is checked ready. It refuses columns of X that depend on each other.
func newProblem(m *Model) (*problem, error) {
	p := &problem{residuals: m.residuals(), kinds: m.Residuals, rooms: &rooms{}}
	for _, x := range m.X {
		p.xUnits = append(p.xUnits, sizeOf(x))
	}
	p.x = newSparse(m.X, p.xUnits)
	if err := p.takeOff(m.Y); err != nil {
		return nil, err
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
	for range p.residuals {
		p.params = append(p.params, parameter{-1, 0, 0})
	}
	p.lay(m.Shared)
	return p, nil
}

// nothing is the share of the largest observation below which what is left of them is rounding.
const nothing = 1e-14

// takeOff makes the observations, less what ordinary least squares explain.
func (p *problem) takeOff(y []float64) error {
	var c mat.Cholesky
	gram := p.x.gram()
	for a := range p.x.columns {
		if gram.At(a, a) == 0 {
			return faultf("coefficient %d has no observation", a)
		}
	}
	if !c.Factorize(gram) || c.Cond() > 1e13 {
		return faultf("the columns of X depend on each other, so that the coefficients are not determined")
	}
	rest := append([]float64(nil), y...)
	p.base = make([]float64, p.x.columns)
	step := mat.NewVecDense(p.x.columns, nil)
	for range 3 { // the second and third time for the digits
		if err := c.SolveVecTo(step, mat.NewVecDense(p.x.columns, p.x.sums(rest))); err != nil {
			return faultf("the columns of X depend on each other: %v", err)
		}
		for a := range p.base {
			p.base[a] += step.AtVec(a)
		}
		p.x.take(rest, step.RawVector().Data)
	}
	most, left := 0.0, 0.0
	for i, v := range y {
		most, left = max(most, math.Abs(v)), max(left, math.Abs(rest[i]))
	}
	p.yUnit = sizeOf(rest)
	if left <= nothing*most {
		clear(rest)
		p.yUnit = sizeOf(y)
	}
	p.y = scaledBy(1/p.yUnit, rest)
	return nil
}

// sparse is a matrix by rows, of which only elements that are not 0 are held.
type sparse struct {
	columns int
	spans   []int // where the rows begin, and the end
	at      []int32
	value   []float64
}

// newSparse makes the matrix of columns over their units.
func newSparse(columns [][]float64, units []float64) *sparse {
	s := &sparse{columns: len(columns)}
	for i := range columns[0] {
		s.spans = append(s.spans, len(s.at))
		for c, column := range columns {
			if column[i] != 0 {
				s.at, s.value = append(s.at, int32(c)), append(s.value, column[i]/units[c])
			}
		}
	}
	s.spans = append(s.spans, len(s.at))
	return s
}

// row returns the columns and the values of a row.
func (s *sparse) row(i int) ([]int32, []float64) {
	return s.at[s.spans[i]:s.spans[i+1]], s.value[s.spans[i]:s.spans[i+1]]
}

// gram returns the products of the columns.
func (s *sparse) gram() *mat.SymDense {
	gram := mat.NewSymDense(s.columns, nil)
	for i := range len(s.spans) - 1 {
		at, value := s.row(i)
		for j, a := range at {
			for k, b := range at[j:] {
				gram.SetSym(int(a), int(b), gram.At(int(a), int(b))+value[j]*value[j+k])
			}
		}
	}
	return gram
}

// sums returns the products of the columns with v.
func (s *sparse) sums(v []float64) []float64 {
	sums := make([]float64, s.columns)
	for i, x := range v {
		at, value := s.row(i)
		for j, a := range at {
			sums[a] += value[j] * x
		}
	}
	return sums
}

// take takes the matrix times b off v.
func (s *sparse) take(v, b []float64) {
	for i := range v {
		at, value := s.row(i)
		for j, a := range at {
			v[i] -= value[j] * b[a]
		}
	}
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

// sigma returns a variance of e beyond the known one at theta.
func (p *problem) sigma(theta []float64, kind int) float64 {
	if p.residuals == 0 {
		return 0
	}
	of := theta[p.residual(kind)]
	return of * of
}

// residual returns the position of the parameter of a variance of e.
func (p *problem) residual(kind int) int { return len(p.params) - p.residuals + kind }

// kindOf returns which variance of e an observation has.
func (p *problem) kindOf(i int) int {
	if p.kinds == nil {
		return 0
	}
	return p.kinds[i]
}
