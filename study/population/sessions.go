package population

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"wane/fit/mixed"
	"wane/study"
	"wane/study/series"
)

// addSessions adds what sessions are off, and finds out which sums of rates the data determine if they know nothing of the
// sessions.
func (d *design) addSessions() {
	if len(d.values) == 0 {
		return
	}
	if d.sessionSpare = d.anchor(); d.sessionSpare < 1 {
		return
	}
	term := mixed.Term{Name: "session", Of: make([]int, len(d.values))}
	for i := range d.values {
		term.Of[i] = d.values[i].session
	}
	d.model.Terms = append(d.model.Terms, term)
	d.sessionTerm = len(d.model.Terms) - 1
}

// Directions of which less is determined than undetermined, and sums of which more than astray lies in one, are not told.
const (
	undetermined = 1e-10
	astray       = 1e-5
)

// anchor finds the directions of the coefficients, as columns, in which a change is the same as one of the sessions. It
// returns the number of sessions beyond those that the coefficients explain.
//
// With X the columns, each of size 1, and S those of the sessions, they are the null space of XᵀX - XᵀS (SᵀS)⁻¹ SᵀX.
func (d *design) anchor() (spare int) {
	p, sessions := len(d.model.X), len(d.sessions)
	d.sizes = make([]float64, p)
	gram, sums := mat.NewSymDense(p, nil), mat.NewDense(p, sessions, nil)
	n := make([]float64, sessions)
	for i := range d.values {
		v := &d.values[i]
		n[v.session]++
		for _, a := range d.columnsOf(v) {
			x := d.model.X[a][i]
			sums.Set(a, v.session, sums.At(a, v.session)+x)
			for _, b := range d.columnsOf(v) {
				if b <= a {
					gram.SetSym(a, b, gram.At(a, b)+x*d.model.X[b][i])
				}
			}
		}
	}
	for a := range p {
		d.sizes[a] = math.Sqrt(gram.At(a, a))
	}
	for s, count := range n {
		if count > 0 {
			spare++
			gram.SymRankOne(gram, -1/count, sums.ColView(s))
		}
	}
	for a := range p {
		for b := range a + 1 {
			gram.SetSym(a, b, gram.At(a, b)/(d.sizes[a]*d.sizes[b]))
		}
	}
	var eigen mat.EigenSym
	if !eigen.Factorize(gram, true) {
		return 0
	}
	null := 0
	for _, value := range eigen.Values(nil) { // in increasing order
		if value < undetermined {
			null++
		}
	}
	if null > 0 {
		var vectors mat.Dense
		eigen.VectorsTo(&vectors)
		d.loose = mat.DenseCopyOf(vectors.Slice(0, p, 0, null))
	}
	return spare - null
}

// Confounded returns the exposed coupons of whose group the rate cannot be told from what sessions are off
// ([SessionIsDose]), by their codes. It fits nothing.
func Confounded(data *series.Data, opt Options) map[string]bool {
	d := &design{sample: newSample(data, opt), levelTerm: -1, rateTerm: -1, lotTerm: -1, sessionTerm: -1}
	d.choose()
	d.addColumns()
	if len(d.values) == 0 {
		return nil
	}
	d.anchor()
	out := map[string]bool{}
	told := make([]bool, len(d.groups))
	for g, column := range d.rates {
		weights := make([]float64, len(d.model.X))
		if column >= 0 {
			weights[column] = 1
		}
		told[g] = column < 0 || d.determined(weights)
	}
	for i, g := range d.members {
		if g >= 0 && !told[g] {
			out[data.Coupons[i].Coupon] = true
		}
	}
	return out
}

// columnsOf returns the coefficients that a value has.
func (d *design) columnsOf(v *value) []int {
	if v.group < 0 {
		return []int{d.levels[v.cell]}
	}
	return []int{d.levels[v.cell], d.rates[v.group]}
}

// jointly reports whether sessions are known by joint fits: then the errors of all values are.
func (d *design) jointly() bool {
	if d.Route != study.RouteSession {
		return false
	}
	for i := range d.values {
		if !d.values[i].Known {
			return false
		}
	}
	return true
}

// determined reports whether the data tell a sum of coefficients from what the sessions are off.
func (d *design) determined(weights []float64) bool {
	if d.loose == nil || d.jointly() {
		return true
	}
	p, null := d.loose.Dims()
	scaled := mat.NewVecDense(p, nil)
	for a, w := range weights {
		scaled.SetVec(a, w/d.sizes[a])
	}
	for k := range null {
		if math.Abs(mat.Dot(scaled, d.loose.ColView(k))) > astray*mat.Norm(scaled, 2) {
			return false
		}
	}
	return true
}
