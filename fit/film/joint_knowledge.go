package film

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"

	"wane/fit"
)

// Knowledge is the information of other spots of a joint fit on the parameters that they share with a spot,
// without the priors: see [Joint.Without]. It is a sum of squares of linear residuals about the solution of
// that fit, by their normal equations.
type Knowledge struct {
	slots     []slot
	params    []fit.Param
	x         []float64     // the solution
	residuals int           // their number
	normal    *mat.SymDense // JᵀJ
	gradient  []float64     // Jᵀr at the solution
	squares   float64       // rᵀr there

	uniform *Knowledge // what they say in the fit of the equivalent uniform films
}

// session returns the name of the session of k. ok is false if it belongs to none.
func (k *Knowledge) session() (string, bool) {
	i := slices.IndexFunc(k.slots, func(s slot) bool { return s.ofSession })
	if i < 0 {
		return "", false
	}
	return k.slots[i].Session, true
}

// placedKnowledge is a Knowledge with the positions of its parameters in a joint fit.
type placedKnowledge struct {
	*Knowledge
	at []int
}

// add adds the normal equations at x, a point of the joint fit, to jj and jr and returns the sum of squares
// there.
func (k *placedKnowledge) add(jj, jr, x []float64) (cost float64) {
	if k.residuals == 0 {
		return 0
	}
	n, off := len(jr), make([]float64, len(k.at))
	for a, i := range k.at {
		off[a] = x[i] - k.x[a]
	}
	cost = k.squares
	for a, i := range k.at {
		by := k.gradient[a]
		for b, j := range k.at {
			v := k.normal.At(a, b)
			by += v * off[b]
			if b >= a {
				jj[min(i, j)*n+max(i, j)] += v
			}
		}
		jr[i] += by
		cost += off[a] * (k.gradient[a] + by)
	}
	return max(cost, 0)
}

// Without returns the information of all members but spots, numbers from 0, on the shared parameters. With it,
// [FitPulls] uses the blanks, standards and other coupons of a session in the fit of a coupon's pulls, and no
// reading counts twice. It is exact as far as the sums of squares of the others are quadratic about the
// solution of the joint fit. Its variances have the inflation of the joint fit.
func (j *Joint) Without(spots ...int) *Knowledge {
	k := j.fit.without(spots)
	k.uniform = k
	if j.uniform != j.fit {
		k.uniform = j.uniform.without(spots)
	}
	return k
}

func (t *jointFit) without(spots []int) *Knowledge {
	n := len(t.params)
	jj, jr := make([]float64, n*n), make([]float64, n)
	for _, p := range t.parts {
		if !slices.Contains(spots, p.number) {
			p.arrow.complement(jj, jr, p.at)
		}
	}
	t.addKnown(jj, jr)
	k := &Knowledge{slots: t.slots, params: t.params[:len(t.slots)], x: t.x}
	k.setResiduals(mat.NewSymDense(n, jj), jr, t.inflation)
	return k
}

// negligible is the share of the largest pivot of a scaled normal matrix below which a pivot counts as 0.
const negligible = 1e-12

// setResiduals fills the normal equations of the residuals from the normal matrix H and the gradient g, over the inflation.
// With D the diagonal matrix of √H_ii and D⁻¹·H·D⁻¹ = Uᵀ·U, where U has a row for each residual,
//
//	rᵀ·r = |w|²        Uᵀ·w = D⁻¹·g
//
// which is the fall of the sum of squares to the minimum.
func (k *Knowledge) setResiduals(h *mat.SymDense, g []float64, inflation float64) {
	n := len(g)
	scale, u := factorOf(h)
	order, triangle := u.ColumnPivots(nil), u.RawU()
	k.residuals = u.Rank()
	w := make([]float64, k.residuals)
	for i := range w {
		w[i] = g[order[i]] / scale[order[i]]
		for j := range i {
			w[i] -= triangle.At(j, i) * w[j]
		}
		w[i] /= triangle.At(i, i)
	}
	k.squares = floats.Dot(w, w) / inflation
	k.gradient = floats.ScaleTo(make([]float64, n), 1/inflation, g)
	k.normal = mat.NewSymDense(n, nil)
	k.normal.ScaleSym(1/inflation, h)
}

// factorOf returns the roots of the diagonal of a, 1 where that is not above 0, and the factor of a over them, without what
// is negligible.
func factorOf(a *mat.SymDense) (scale []float64, u *mat.PivotedCholesky) {
	n := a.SymmetricDim()
	scale = make([]float64, n)
	for i := range scale {
		if scale[i] = 1; a.At(i, i) > 0 {
			scale[i] = math.Sqrt(a.At(i, i))
		}
	}
	scaled := mat.NewSymDense(n, nil)
	for i := range n {
		for j := i; j < n; j++ {
			scaled.SetSym(i, j, a.At(i, j)/scale[i]/scale[j])
		}
	}
	u = new(mat.PivotedCholesky)
	u.Factorize(scaled, negligible)
	return scale, u
}

// halfOf returns L with L·Lᵀ = a, which has no negative eigenvalue but for rounding. It is nil where that is 0.
func halfOf(a *mat.SymDense) *mat.Dense {
	scale, u := factorOf(a)
	rank := u.Rank()
	if rank == 0 {
		return nil
	}
	order, triangle, half := u.ColumnPivots(nil), u.RawU(), mat.NewDense(len(scale), rank, nil)
	for j, i := range order {
		for k := range min(j+1, rank) {
			half.Set(i, k, scale[i]*triangle.At(k, j))
		}
	}
	return half
}
