package film

// arrow holds the normal equations of one spot of a joint fit, in the order own parameters, shared parameters,
// residuals:
//
//	| A_ll  A_ls  g_l |
//	|   .   A_ss  g_s |
//	|   .     .    c  |
//
// with J the Jacobian and r the residuals, A = JᵀJ, g = Jᵀr, c = rᵀr; l are the own parameters, s the shared
// ones. The elimination of the own parameters replaces the lower right part by the normal equations of the
// shared ones, with the own at their best:
//
//	A_ss - A_sl·A_ll⁻¹·A_ls      g_s - A_sl·A_ll⁻¹·g_l      c - g_lᵀ·A_ll⁻¹·g_l
//
// the Schur complement, its gradient, and the sum of squares at the own minimum. The matrix of all spots has
// the shape of an arrow: only the shared parameters connect the spots, so the spots are eliminated one by one.
type arrow struct {
	local, shared int
	a             []float64 // n x n with n = local + shared + 1, by rows, upper triangle
	diagonal      []float64 // local, the diagonal before the elimination
	slopes        []float64 // local x shared: A_ll⁻¹·A_ls
	undetermined  bool      // some own parameter is not determined, and was fixed
}

func newArrow(local, shared int) *arrow {
	n := local + shared + 1
	return &arrow{local: local, shared: shared, a: make([]float64, n*n), diagonal: make([]float64, local),
		slopes: make([]float64, local*shared)}
}

func (w *arrow) row(i int) []float64 {
	n := w.local + w.shared + 1
	return w.a[i*n : (i+1)*n]
}

// isFixed reports whether own parameter k was fixed in the elimination.
func (w *arrow) isFixed(k int) bool { return w.diagonal[k] == 0 }

// dependent is the share of a diagonal element below which its rest after the elimination counts as rounding:
// the square of 1e-7, below which a parameter of normal equations is not determined (fit.Problem.Normal).
const dependent = 1e-14

// eliminate eliminates the own parameters. Those for which fixed is true, one for each, are constants instead.
// It allocates nothing.
func (w *arrow) eliminate(fixed []bool) {
	w.undetermined = false
	n, l := w.local+w.shared+1, w.local
	for k := range l {
		w.diagonal[k] = w.row(k)[k]
	}
	for k := range l {
		pivot := w.row(k)
		if fixed[k] {
			w.diagonal[k] = 0
			continue
		}
		if !(pivot[k] > dependent*w.diagonal[k]) {
			w.diagonal[k], w.undetermined = 0, true
			continue
		}
		for i := k + 1; i < n; i++ {
			f, row := pivot[i]/pivot[k], w.row(i)
			for j := i; j < n; j++ {
				row[j] -= f * pivot[j]
			}
		}
	}
	for k := l - 1; k >= 0; k-- {
		w.backSubstitute(k, w.slope(k), w.row(k)[l:], w.slopes, w.shared)
	}
}

// backSubstitute stores row k of the solution of the triangular equations in dst. right is row k of their right
// side. solution has rows of width columns and must hold the rows below k.
func (w *arrow) backSubstitute(k int, dst, right, solution []float64, width int) {
	clear(dst)
	if w.isFixed(k) {
		return
	}
	row := w.row(k)
	copy(dst, right)
	for i := k + 1; i < w.local; i++ {
		if w.isFixed(i) {
			continue
		}
		for c := range dst {
			dst[c] -= row[i] * solution[i*width+c]
		}
	}
	for c := range dst {
		dst[c] /= row[k]
	}
}

// slope returns row k of A_ll⁻¹·A_ls: the negative derivatives of own parameter k by the shared ones.
func (w *arrow) slope(k int) []float64 { return w.slopes[k*w.shared : (k+1)*w.shared] }

// inverse returns A_ll⁻¹ by rows, with zeros for fixed parameters.
func (w *arrow) inverse() []float64 {
	l := w.local
	lower, out := make([]float64, l*l), make([]float64, l*l) // lower: L⁻¹ of A_ll = L·D·Lᵀ
	for k := range l {
		lower[k*l+k] = 1
		if w.isFixed(k) {
			continue
		}
		for i := k + 1; i < l; i++ {
			f := w.row(k)[i] / w.row(k)[k]
			for c := range k + 1 {
				lower[i*l+c] -= f * lower[k*l+c]
			}
		}
	}
	for k := l - 1; k >= 0; k-- {
		w.backSubstitute(k, out[k*l:(k+1)*l], lower[k*l:(k+1)*l], out, l)
	}
	for k := range l {
		for c := range l {
			if w.isFixed(c) {
				out[k*l+c] = 0
			}
		}
	}
	return out
}

// complement adds the Schur complement to dst, n x n by rows, and its gradient to gradient, of length n. at
// holds the position of each shared parameter in them. Only the part of dst on and above the diagonal is filled.
func (w *arrow) complement(dst, gradient []float64, at []int) {
	n := len(gradient)
	for a, i := range at {
		row := w.row(w.local + a)
		gradient[i] += row[w.local+w.shared]
		for b := a; b < w.shared; b++ {
			j := at[b]
			dst[min(i, j)*n+max(i, j)] += row[w.local+b]
		}
	}
}

// minimum returns the sum of squares at the own minimum, if it is quadratic.
func (w *arrow) minimum() float64 { return w.row(w.local + w.shared)[w.local+w.shared] }
