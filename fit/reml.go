package fit

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// Observed is one observation of a vector, with the covariance of its own errors. Both may be in any unit, which may
// differ between coordinates.
type Observed struct {
	Y []float64
	C mat.Symmetric // positive semidefinite, as wide as Y is long; zeros are allowed
}

// Variances says by how much vectors scatter beyond their own errors: the solution of [REML].
type Variances struct {
	SD       []float64     // of each component, in the unit of its coordinates; 0 where the own errors explain the scatter
	Mean     []float64     // of the vectors, by generalised least squares with these SD
	Cov      *mat.SymDense // of Mean
	Deviance float64       // -2 log of the restricted likelihood

	model *varianceModel
}

// REML estimates, by restricted maximum likelihood, the variances with which vectors scatter about a common mean that
// is not known, beyond the known covariance of the errors of each:
//
//	y_i ~ N(mean, V_i),  V_i = diag(sd²) + C_i
//
// component names, for each coordinate, the component whose sd it has, from 0 to the largest number, so that several
// coordinates can share one. The deviance that is least at the estimate is, with V̂ the covariance of the mean and M
// vectors of p coordinates,
//
//	(M-1)·p·log 2π + Σ log|V_i| - log|V̂| + Σ (y_i - mean)ᵀ V_i⁻¹ (y_i - mean),  V̂ = (Σ V_i⁻¹)⁻¹
//
// It counts that the mean is taken from the same vectors: with C_i zero, sd² of one coordinate is its sample variance
// with M-1 degrees of freedom.
//
// Fewer than two vectors, a number that is not finite, a C that is no covariance and vectors of a component that agree
// exactly and claim no errors give a [*ProblemError]. REML panics if the lengths differ, or if a component has no
// coordinate. The minimum is the one that descent from the moments finds; with few components there is hardly another.
//
// Source: H. D. Patterson, R. Thompson, Biometrika 58 (1971), 545-554 (from memory). The tests hold sd to 1e-6 of
// lme4 and of metafor, both in R.
func REML(vectors []Observed, component []int) (*Variances, error) {
	m, err := newVarianceModel(vectors, component)
	if err != nil {
		return nil, err
	}
	start, err := m.moments()
	if err != nil {
		return nil, err
	}
	at, err := m.descend(start, -1)
	if err != nil {
		return nil, err
	}
	v := &Variances{SD: make([]float64, m.components), Mean: at.mean, Cov: &at.cov, model: m,
		Deviance: at.deviance + float64((len(vectors)-1)*len(component))*math.Log(2*math.Pi)}
	for k, t := range at.variance {
		v.SD[k] = math.Sqrt(t)
	}
	return v, nil
}

// Interval returns the profile-likelihood interval of the sd of component k: the values for which the deviance, least
// over the other components, is no more than rise above the least one. 3.841 gives about 95 %. A lower end that is
// open is 0: the vectors do not tell the scatter from none. Ends are good to 1e-8 of their size.
//
// A rise that is not positive and finite gives a [*ProblemError], a lower deviance than that of v a
// [*LowerMinimumError] with the sds of all components. Interval panics if there is no component k.
func (v *Variances) Interval(k int, rise float64) (*Interval, error) {
	if !(rise > 0) || math.IsInf(rise, 1) {
		return nil, &ProblemError{"", "rise", rise, "it must be positive and finite"}
	}
	p := &sdProfile{m: v.model, k: k, rise: rise, sd: v.SD[k], last: make([]float64, len(v.SD))}
	for i, sd := range v.SD {
		p.last[i] = sd * sd
	}
	best, err := p.m.descend(p.last, k)
	if err != nil {
		return nil, err
	}
	p.least = best.deviance
	return p.interval()
}

// sdProfile finds the ends of an interval.
type sdProfile struct {
	m               *varianceModel
	k               int
	rise, sd, least float64   // asked for; at the estimate: sd of component k, and deviance
	last            []float64 // variances of the solution before
	solves          int
}

func (p *sdProfile) interval() (*Interval, error) {
	out := &Interval{}
	atZero, err := p.above(0)
	switch {
	case err != nil:
		return nil, err
	case atZero <= 0:
		out.LowerOpen = true
	default:
		if out.Lower, err = p.root(0, atZero, p.sd, -math.Sqrt(p.rise)); err != nil {
			return nil, err
		}
	}
	const steps = 200 // of doubling: beyond any scatter that numbers can have
	near, value := p.sd, -math.Sqrt(p.rise)
	sample, own := p.m.scatter(p.k)
	far := max(2*p.sd, math.Sqrt(sample+own)/8)
	for range steps {
		beyond, err := p.above(far)
		if err != nil {
			return nil, err
		}
		if beyond > 0 {
			out.Upper, err = p.root(near, value, far, beyond)
			out.Solves = p.solves
			return out, err
		}
		near, value, far = far, beyond, 2*far
	}
	return nil, fmt.Errorf("fit: the deviance of variance #%d does not rise by %v up to %v", p.k, p.rise, near)
}

// above returns the root of the rise of the deviance where sd is held, less that of the rise asked for: nearly linear
// in sd. It is infinite where no covariance is left.
func (p *sdProfile) above(sd float64) (float64, error) {
	start := append([]float64(nil), p.last...)
	start[p.k] = sd * sd
	p.solves++
	at, err := p.m.descend(start, p.k)
	if err != nil {
		return 0, err
	}
	over := at.deviance - p.least
	if over < -1e-6*p.rise {
		better := make([]float64, len(at.variance))
		for i, t := range at.variance {
			better[i] = math.Sqrt(t)
		}
		return 0, &LowerMinimumError{better, at.deviance, p.least}
	}
	if !math.IsInf(at.deviance, 1) {
		copy(p.last, at.variance)
	}
	return math.Sqrt(max(over, 0)) - math.Sqrt(p.rise), nil
}

// root returns where above is zero between a and b, with values fa and fb of different signs: by false position in the
// variant called Illinois, and halving where that is slow.
func (p *sdProfile) root(a, fa, b, fb float64) (float64, error) {
	const enough, steps = 1e-9, 200
	for i := range steps {
		if math.Abs(b-a) <= enough*max(a, b) {
			break
		}
		x := b - fb*(b-a)/(fb-fa)
		if i%4 == 3 || !(x > min(a, b) && x < max(a, b)) {
			x = (a + b) / 2
		}
		fx, err := p.above(x)
		if err != nil {
			return 0, err
		}
		if fx == 0 {
			return x, nil
		}
		if (fx < 0) == (fb < 0) {
			fa /= 2
		} else {
			a, fa = b, fb
		}
		b, fb = x, fx
	}
	return b, nil
}
