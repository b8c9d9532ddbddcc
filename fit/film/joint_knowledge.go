package film

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"wane/fit"
)

// Knowledge is the information of other spots of a joint fit on the parameters that they share with a spot,
// without the priors: see [Joint.Without]. It is a sum of squares of linear residuals about the solution of
// that fit.
type Knowledge struct {
	slots  []slot
	params []fit.Param
	x      []float64 // the solution
	slope  *mat.Dense
	rest   []float64 // residuals there

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
	n := len(jr)
	for i, r := range k.rest {
		row := k.slope.RawRowView(i)
		for a, s := range row {
			r += s * (x[k.at[a]] - k.x[a])
		}
		cost += r * r
		for a, s := range row {
			jr[k.at[a]] += s * r
			for b := a; b < len(row); b++ {
				i, j := k.at[a], k.at[b]
				jj[min(i, j)*n+max(i, j)] += s * row[b]
			}
		}
	}
	return cost
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

// negligible is the share of the largest eigenvalue of a scaled normal matrix below which an eigenvalue counts
// as 0.
const negligible = 1e-12

// setResiduals fills slope and rest from the normal matrix H and the gradient g. With D the diagonal matrix of
// √H_ii, and Λ and U the eigenvalues and eigenvectors of D⁻¹·H·D⁻¹, they are
//
//	√Λ·Uᵀ·D / √inflation        Uᵀ·D⁻¹·g / √(Λ·inflation)
func (k *Knowledge) setResiduals(h *mat.SymDense, g []float64, inflation float64) {
	n := len(g)
	scale := make([]float64, n)
	for i := range scale {
		if scale[i] = math.Sqrt(h.At(i, i)); scale[i] == 0 {
			scale[i] = 1
		}
	}
	scaled := mat.NewSymDense(n, nil)
	for i := range n {
		for j := i; j < n; j++ {
			scaled.SetSym(i, j, h.At(i, j)/scale[i]/scale[j])
		}
	}
	var e mat.EigenSym
	if !e.Factorize(scaled, true) {
		return // nothing is known
	}
	values := e.Values(nil)
	var u mat.Dense
	e.VectorsTo(&u)
	largest, rows := values[n-1], 0
	for _, v := range values {
		if v > negligible*largest {
			rows++
		}
	}
	if rows == 0 {
		return
	}
	k.slope = mat.NewDense(rows, n, nil)
	for r := range rows {
		c := n - 1 - r
		root, rest := math.Sqrt(values[c]), 0.0
		for i := range n {
			k.slope.Set(r, i, root*u.At(i, c)*scale[i]/math.Sqrt(inflation))
			rest += u.At(i, c) * g[i] / scale[i] / root
		}
		k.rest = append(k.rest, rest/math.Sqrt(inflation))
	}
}
