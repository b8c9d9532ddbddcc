package fit

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
)

// neighbourhood is the part of the problem near a point that covariances need.
type neighbourhood struct {
	free   []int     // indices of the free parameters
	r      []float64 // n x n, R with columns of length 1, or 0
	length []float64 // n, of the columns of the Jacobian with the priors
	tol    float64   // share of the largest singular value below which one counts as 0
}

// Singular values below these shares of the largest count as errors of the Jacobian;
// all columns have length 1. (Our choice. Two equal columns leave
// about 1e-16; second-order differences are good to about the precision to the
// power 2/3, 4e-11, at best.)
const (
	roundingNoise   = 1e-13
	differenceNoise = 1e-9
	squaringNoise   = 1e-7 // of normal equations: above the root of the precision, 1.5e-8
)

func (w *Workspace) neighbourhood() neighbourhood {
	n := len(w.free)
	h := neighbourhood{
		free:   append([]int(nil), w.free...),
		r:      append([]float64(nil), w.now.r...),
		length: make([]float64, n),
		tol:    roundingNoise,
	}
	switch {
	case w.p.Normal != nil:
		h.tol = squaringNoise
	case w.p.Jacobian == nil:
		h.tol = differenceNoise
	}
	for k, norm := range w.now.norm {
		h.length[k] = norm * w.now.scale[k]
		for i := 0; norm > 0 && i < n; i++ {
			h.r[i*n+k] /= norm
		}
	}
	return h
}

// with returns h with a further row 1/sd below R for each sd that is not 0,
// brought to triangular form again.
func (h *neighbourhood) with(sd []float64) *neighbourhood {
	n := len(h.free)
	if sd == nil {
		return h
	}
	out := &neighbourhood{free: h.free, length: make([]float64, n), tol: h.tol}
	var t triangle
	t.resize(n)
	diagonal := make([]float64, n)
	for k, j := range h.free {
		d := 0.0
		if sd[j] != 0 {
			d = 1 / sd[j]
		}
		out.length[k] = math.Hypot(h.length[k], d)
		if out.length[k] == 0 {
			continue
		}
		diagonal[k] = d / out.length[k]
		for i := range k + 1 {
			t.r[i*n+k] = h.r[i*n+k] * (h.length[k] / out.length[k])
		}
	}
	t.addDiagonal(diagonal)
	out.r = t.r
	return out
}

// SingularError reports that residuals and priors do not determine some parameters.
type SingularError struct {
	// Params names the parameters that can change without changing a residual.
	Params []string
}

func (e *SingularError) Error() string {
	return fmt.Sprintf("fit: the residuals and priors do not determine %s", strings.Join(e.Params, ", "))
}

// Covariance returns the covariance matrix of the parameters at X,
//
//	(J'J + P)⁻¹
//
// with J the Jacobian of the residuals at X and P the diagonal matrix of 1/SD² of
// the priors. It has a row for each parameter; those of fixed parameters are
// zero. It is right for residuals divided by their standard uncertainty; for
// residuals of unknown scale multiply it by Cost/DegreesOfFreedom. Parameters on
// a bound are treated as if they could move both ways.
//
// If the residuals do not determine all free parameters, a [*SingularError]
// names those that can change without changing a residual.
func (r *Result) Covariance() (*mat.SymDense, error) { return r.CovarianceWith(nil) }

// CovarianceWith is like [Result.Covariance], with further knowledge of the parameters
// that the fit did not use. sd holds, for each parameter, the standard deviation of an
// independent piece of knowledge, in the unit of the parameter, or 0 for none. It
// panics if sd is not nil and not as long as X.
func (r *Result) CovarianceWith(sd []float64) (*mat.SymDense, error) {
	if sd != nil && len(sd) != len(r.X) {
		panic("fit: one standard deviation for each parameter")
	}
	h := r.near.with(sd)
	n := len(h.free)
	cov := mat.NewSymDense(len(r.X), nil)
	if n == 0 {
		return cov, nil
	}
	if h.invert(cov) {
		return cov, nil
	}
	var d svd
	d.resize(n)
	if !d.factor(slices.Clone(h.r), n, n) {
		return nil, fmt.Errorf("fit: no singular values found for the covariance")
	}
	d.dropBelow(h.tol)
	if lost := d.null(); len(lost) > 0 {
		e := &SingularError{}
		for _, k := range lost {
			e.Params = append(e.Params, r.names[h.free[k]])
		}
		return nil, e
	}
	for a := range n {
		for b := a; b < n; b++ {
			sum := 0.0
			for i, s := range d.s {
				sum += d.vt[i*n+a] / s * (d.vt[i*n+b] / s)
			}
			cov.SetSym(h.free[a], h.free[b], sum/h.length[a]/h.length[b])
		}
	}
	return cov, nil
}

// invert computes the covariance from the inverse of R, stores it in cov and returns
// true. It returns false if the columns of R are nearly dependent.
func (h *neighbourhood) invert(cov *mat.SymDense) bool {
	n := len(h.free)
	inverse := make([]float64, n*n) // of R, upper triangle, by rows
	for i := range n {
		if !(math.Abs(h.r[i*n+i]) > wellConditioned) { // columns have length 1
			return false
		}
	}
	for j := range n {
		for i := j; i >= 0; i-- {
			sum := 0.0
			if i == j {
				sum = 1
			}
			for k := i + 1; k <= j; k++ {
				sum -= h.r[i*n+k] * inverse[k*n+j]
			}
			inverse[i*n+j] = sum / h.r[i*n+i]
		}
	}
	for a := range n {
		for b := a; b < n; b++ {
			sum := floats.Dot(inverse[a*n+b:(a+1)*n], inverse[b*n+b:(b+1)*n])
			cov.SetSym(h.free[a], h.free[b], sum/h.length[a]/h.length[b])
		}
	}
	return true
}

// null returns the components that have a part of more than a thousandth in a
// direction of singular value 0.
func (d *svd) null() (components []int) {
	for a := range d.m {
		part := 0.0
		for i, s := range d.s[:d.m] {
			if s == 0 {
				part = math.Hypot(part, d.vt[i*d.m+a])
			}
		}
		if part > 1e-3 {
			components = append(components, a)
		}
	}
	return components
}

// DegreesOfFreedom returns the number of residuals, priors of free parameters
// included, less the number of free parameters.
func (r *Result) DegreesOfFreedom() int { return r.rows - len(r.near.free) }

// StandardErrors stores the square roots of the diagonal of cov in dst and
// returns it. If dst is nil it is allocated; otherwise it must be as long as cov
// is wide, and StandardErrors panics if it is not.
func StandardErrors(dst []float64, cov mat.Symmetric) []float64 {
	n := cov.SymmetricDim()
	if dst == nil {
		dst = make([]float64, n)
	}
	if len(dst) != n {
		panic("fit: destination and covariance differ in length")
	}
	for i := range dst {
		dst[i] = math.Sqrt(cov.At(i, i))
	}
	return dst
}

// Correlation returns the correlation matrix cov[i,j]/sqrt(cov[i,i]·cov[j,j]).
// Rows of variance 0, those of fixed parameters, are 0, on the diagonal too.
func Correlation(cov mat.Symmetric) *mat.SymDense {
	sd := StandardErrors(nil, cov)
	corr := mat.NewSymDense(len(sd), nil)
	for i, a := range sd {
		for j := i; j < len(sd); j++ {
			if a > 0 && sd[j] > 0 {
				corr.SetSym(i, j, cov.At(i, j)/a/sd[j])
			}
		}
	}
	return corr
}
