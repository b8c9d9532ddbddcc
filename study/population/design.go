package population

import (
	"gonum.org/v1/gonum/mat"

	"wane/fit/mixed"
)

// design is the model of a sample, and where its parts stand in it.
type design struct {
	*sample
	model  mixed.Model
	values []value // that take part

	levels []int // of each cell: its coefficient; -1: it has no value that takes part
	rates  []int // of each group: its coefficient; -1: none
	why    []Reason

	// The terms of the model, -1: it has none, and what their kinds are.
	levelTerm, rateTerm, lotTerm, sessionTerm int
	levelKinds, rateKinds, lotKinds           []kind
	residualKinds                             []kind // of the variances of the residual; nil: there is one

	rateKind []int      // of each group: in rateKinds; -1: none
	lotKind  []int      // of each group: in lotKinds; -1: none
	loose    *mat.Dense // directions of the coefficients that sessions can take the place of, each of size 1; nil: none
	sizes    []float64  // of the columns

	spare  []int  // of each group: coupons, or lots, beyond those that the means take
	ofLots []bool // of each group: the lot is the unit

	sessionSpare int // sessions beyond those that the coefficients explain
}

// kind is what has one variance.
type kind struct {
	of, exposure string
	unit         string // of its standard deviation, if it is one of rates
	n            int    // of coupons, or lots
}

// newDesign makes the model.
func newDesign(s *sample) *design {
	d := &design{sample: s, levelTerm: -1, rateTerm: -1, lotTerm: -1, sessionTerm: -1}
	d.choose()
	d.addColumns()
	h := d.histories()
	d.addCouponLevels(h)
	d.addCouponRates(h)
	d.addLots(h)
	d.addSessions()
	d.addErrors()
	d.addResiduals(h)
	return d
}

// choose says of each group why it has no rate, if so, and keeps the values of the others.
func (d *design) choose() {
	d.why = make([]Reason, len(d.groups))
	within := make([]bool, len(d.groups)) // a cell with two doses
	varies := make([]bool, len(d.groups)) // two values, or errors that are known
	first := make([]*value, len(d.cells))
	start := make([]*value, len(d.groups))
	for i := range d.sample.values {
		v := &d.sample.values[i]
		if v.group < 0 {
			continue
		}
		if first[v.cell] == nil {
			first[v.cell] = v
		}
		if start[v.group] == nil {
			start[v.group] = v
		}
		within[v.group] = within[v.group] || v.t != first[v.cell].t
		varies[v.group] = varies[v.group] || v.y != start[v.group].y || v.Known && v.Own > 0
	}
	for g := range d.groups {
		switch {
		case start[g] == nil && d.doseless[g]:
			d.why[g] = NoDose
		case start[g] == nil:
			d.why[g] = NoValue
		case !within[g]:
			d.why[g] = OnePull
		case !varies[g]:
			d.why[g] = Constant
		}
	}
	some := false
	for i := range d.sample.values {
		if v := &d.sample.values[i]; v.group < 0 || d.why[v.group] == "" {
			d.values = append(d.values, *v)
			some = some || v.group >= 0
		}
	}
	if !some {
		d.values = nil
	}
}

// addColumns adds the columns of mean levels and of rates.
func (d *design) addColumns() {
	d.levels, d.rates = make([]int, len(d.cells)), make([]int, len(d.groups))
	for c := range d.levels {
		d.levels[c] = -1
	}
	for g := range d.rates {
		d.rates[g] = -1
	}
	column := func() int {
		d.model.X = append(d.model.X, make([]float64, len(d.values)))
		return len(d.model.X) - 1
	}
	for i := range d.values {
		v := &d.values[i]
		d.model.Y = append(d.model.Y, v.y)
		if d.levels[v.cell] < 0 {
			d.levels[v.cell] = column()
		}
		d.model.X[d.levels[v.cell]][i] = 1
		if v.group >= 0 {
			if d.rates[v.group] < 0 {
				d.rates[v.group] = column()
			}
			d.model.X[d.rates[v.group]][i] = v.t
		}
	}
}
