package film

import (
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/stat/distuv"

	"wane/fit"
)

// Whether a model describes the curves is asked of their smooth part, where models fail: with c_k the first cosine
// coefficients of the residuals of a curve (DCT-II, orthonormal) over its noise,
//
//	Q = Σ c_k²        over the first 12 coefficients of all curves
//
// is, for the right model, ν times an F distribution of ν and ν_s degrees of freedom, where ν is the number of coefficients
// less the trace of the hat matrix on them, and ν_s that of the noise. Noise, not the inflated one, is what it is compared
// with: what a model leaves over must not hide itself.
//
// ν_s is a quarter of the number of points where the noise comes from second differences of the curves themselves: the
// efficiency of the median absolute deviation, 0.37, for differences of which neighbours are correlated. By simulation of
// noise alone (40,000 times four curves) 0.31 % are called at 61 points a curve and 0.12 % at 361, where 0.1 % is asked.

const (
	cosines       = 12    // coefficients of a curve
	misfitLevel   = 0.001 // share of sound spots that are called
	noiseDoFShare = 0.25
)

// misfit is Q with what it is compared with.
type misfit struct {
	q     float64
	least float64 // ν at least: as if the fit took one degree of freedom from the smooth part with each parameter
	most  float64 // ν at most
	noise float64 // ν_s
}

// misfitOf returns Q at the solution s of m, where fillNormalEquations has been called last.
func (m *model) misfitOf(s *solution) misfit {
	var f misfit
	for k := range m.curves {
		c := &m.curves[k]
		n := c.cosineCount()
		f.q += c.cosineSquares(n) * m.noiseFactor
		f.most += float64(n)
		if m.spot.Curves[c.source].NoiseSD > 0 {
			f.noise = math.Inf(1)
		} else {
			f.noise += noiseDoFShare * float64(c.points)
		}
	}
	f.least = max(1, f.most-float64(s.countFree()))
	return f
}

// cosineCount returns the number of coefficients of the curve: fewer than usual for one of few points.
func (c *curve) cosineCount() int { return min(cosines, c.points/4) }

// cosineSquares returns the sum of squares of the first n cosine coefficients of the residuals, over the noise.
func (c *curve) cosineSquares(n int) float64 {
	if len(c.cosines) != n { // of the readings, once
		readings, rows := c.readings, &c.cosineRows
		if c.packed == nil {
			readings = c.r
		} else {
			rows = &c.packed.at.cosineRows
		}
		c.cosines = make([]float64, n)
		rows.transform(c.cosines, readings)
	}
	sum := 0.0
	for k, of := range c.cosines {
		d := (c.cosineOf(k, c.fitted) - of) / c.sigma
		sum += d * d
	}
	return sum
}

// cosineOf returns cosine coefficient k of values at the points of the curve, or at its nodes.
func (c *curve) cosineOf(k int, values []float64) float64 {
	if c.packed == nil {
		return floats.Dot(c.cosineRows.row(k, len(values)), values)
	}
	return floats.Dot(c.packed.at.cosine(k), values)
}

// cosine returns the row that makes cosine coefficient k of the polynomial through values at the nodes.
func (g *nodes) cosine(k int) []float64 {
	n := len(g.nm)
	if g.cosines == nil {
		g.cosines = make([]float64, cosines*n)
		unit, whole := make([]float64, n), make([]float64, g.grid)
		for j := range n {
			unit[j] = 1
			g.interpolate(whole, unit)
			unit[j] = 0
			for k := range cosines {
				g.cosines[k*n+j] = floats.Dot(g.cosineRows.row(k, g.grid), whole)
			}
		}
	}
	return g.cosines[k*n : (k+1)*n]
}

// cosineTable holds the rows that make the cosine coefficients of n values:
//
//	√((2 - δ_k0)/n)·cos(π·(i + ½)·k/n)
type cosineTable struct {
	rows              []float64
	sums, differences []float64 // scratch
}

// row returns that of coefficient k, below [cosines]. All tables of one owner have the same n.
func (t *cosineTable) row(k, n int) []float64 {
	if len(t.rows) != cosines*n {
		t.rows = make([]float64, cosines*n)
		for k := range cosines {
			norm := math.Sqrt(2 / float64(n))
			if k == 0 {
				norm = math.Sqrt(1 / float64(n))
			}
			for i := range n {
				t.rows[k*n+i] = norm * math.Cos(math.Pi*(float64(i)+0.5)*float64(k)/float64(n))
			}
		}
	}
	return t.rows[k*n : (k+1)*n]
}

// transform stores the first coefficients of values in dst. The rows are even or odd about the middle, so that half of the
// values are enough: their sums, or their differences, with those at the other end.
func (t *cosineTable) transform(dst, values []float64) {
	n := len(values)
	half := n / 2
	if len(t.sums) != half {
		t.sums, t.differences = make([]float64, half), make([]float64, half)
	}
	for i := range half {
		a, b := values[i], values[n-1-i]
		t.sums[i], t.differences[i] = a+b, a-b
	}
	for k := range dst {
		row := t.row(k, n)
		if k%2 == 1 {
			dst[k] = floats.Dot(row[:half], t.differences)
			continue
		}
		dst[k] = floats.Dot(row[:half], t.sums)
		if n%2 == 1 {
			dst[k] += row[half] * values[half]
		}
	}
}

// isCalled reports whether f is larger than chance. trace returns that of the hat matrix on the coefficients.
func (f *misfit) isCalled(trace func() float64) bool {
	called := func(nu float64) bool { return f.survival(nu) < misfitLevel }
	if !called(f.least) {
		return false
	}
	return called(f.most) || called(max(f.least, f.most-trace()))
}

// survival returns the probability of a larger Q for nu degrees of freedom.
func (f *misfit) survival(nu float64) float64 {
	if math.IsInf(f.noise, 1) {
		return distuv.ChiSquared{K: nu}.Survival(f.q)
	}
	return distuv.F{D1: nu, D2: f.noise}.Survival(f.q / nu)
}

// cosineTrace returns the trace of the hat matrix of s on the cosine coefficients, for the noise as it was given.
func (m *model) cosineTrace(s *solution) (trace float64) {
	g := m.filmAt(s.x)
	m.setFreeParams(s.params)
	for i := range m.curves {
		c := &m.curves[i]
		c.prepare(&g, s.x)
		n := len(c.nm)
		var slopes [kinds]float64
		for i := range n {
			c.point(i, &slopes)
			for a, kind := range c.slopes {
				m.column(a, n)[i] = slopes[kind] / c.sigma
			}
		}
		by := make([]float64, len(c.slopes))
		for k := range c.cosineCount() {
			for a := range c.slopes {
				by[a] = c.cosineOf(k, m.column(a, n))
			}
			for _, a := range c.free {
				for _, b := range c.free {
					trace += by[a.column] * by[b.column] * s.cov.At(a.at, b.at)
				}
			}
		}
	}
	return trace / s.inflation()
}

// calledMisfit reports whether the solution s of m leaves more in the smooth part of the curves than noise does.
func (m *model) calledMisfit(s *solution) bool {
	if m.spot.Loss != fit.Squares {
		return false
	}
	return s.misfit.isCalled(func() float64 { return m.cosineTrace(s) })
}
