package population

import (
	"wane/fit/mixed"
)

// history is what of a coupon takes part.
type history struct {
	coupon int // in Data.Coupons
	values int
	cell   int
	group  int     // -1: a control
	t      float64 // of its first value
	moves  bool    // it has values at two doses
	ages   bool    // it has a value at a dose other than 0
}

// histories returns those of the coupons that take part, in the order of their values.
func (d *design) histories() (list []history) {
	for i := range d.values {
		v := &d.values[i]
		if n := len(list); n == 0 || list[n-1].coupon != v.coupon { // values come coupon by coupon
			list = append(list, history{coupon: v.coupon, cell: v.cell, group: v.group, t: v.t})
		}
		h := &list[len(list)-1]
		h.values++
		h.moves, h.ages = h.moves || v.t != h.t, h.ages || v.t != 0
	}
	return list
}

// classes sorts members, such as coupons, into kinds: those of one key have one variance, which can be estimated where there
// are more of them than means.
type classes struct {
	at    map[[3]string]int
	list  []kind
	means []map[int]bool // of each
	able  []bool
	of    map[int]int // of each member
}

func newClasses() *classes { return &classes{at: map[[3]string]int{}, of: map[int]int{}} }

// add adds a member of a key. If it counts, it tells something of its kind, and mean is the coefficient that is its mean. Of
// those that count one must be able to tell its effect from the errors.
func (c *classes) add(member int, key [3]string, k kind, mean int, counts, able bool) {
	at, ok := c.at[key]
	if !ok {
		at = len(c.list)
		c.at[key] = at
		c.list, c.means, c.able = append(c.list, k), append(c.means, map[int]bool{}), append(c.able, false)
	}
	c.of[member] = at
	if !counts {
		return
	}
	c.list[at].n++
	c.means[at][mean] = true
	c.able[at] = c.able[at] || able
}

// spare returns how many members of a kind there are beyond their means.
func (c *classes) spare(at int) int { return c.list[at].n - len(c.means[at]) }

// settle leaves out the kinds that cannot be estimated, and returns the others.
func (c *classes) settle() []kind {
	var list []kind
	to := make([]int, len(c.list))
	for k := range c.list {
		to[k] = -1
		if c.able[k] && c.spare(k) > 0 {
			to[k] = len(list)
			list = append(list, c.list[k])
		}
	}
	for member, k := range c.of {
		c.of[member] = to[k]
	}
	return list
}

// addTerm adds a term to the model: member is of each value which member it is of, -1 for none. It returns the position of
// the term, -1 if it has no kind.
func (d *design) addTerm(name string, kinds []kind, c *classes, t []float64, member func(v *value) int) int {
	if len(kinds) == 0 {
		return -1
	}
	term := mixed.Term{Name: name, Of: make([]int, len(d.values))}
	if t != nil {
		term.Columns = [][]float64{t}
	}
	for i := range d.values {
		of := member(&d.values[i])
		if k, ok := c.of[of]; !ok || k < 0 {
			of = -1
		}
		term.Of[i] = of
		for of >= len(term.Kinds) {
			term.Kinds = append(term.Kinds, 0)
		}
		if of >= 0 {
			term.Kinds[of] = c.of[of]
		}
	}
	d.model.Terms = append(d.model.Terms, term)
	return len(d.model.Terms) - 1
}

// addCouponLevels adds what coupons are off in level, with a variance for each coating.
func (d *design) addCouponLevels(histories []history) {
	c := newClasses()
	for i := range histories {
		h := &histories[i]
		of := &d.cells[h.cell]
		c.add(h.coupon, [3]string{of.supplier, of.coating}, kind{of: of.coating}, h.cell, true, h.values > 1)
	}
	d.levelKinds = c.settle()
	d.levelTerm = d.addTerm("coupon level", d.levelKinds, c, nil, func(v *value) int { return v.coupon })
}

// rateKey returns what has one variance of rates: a group, or of groups by lot their coating.
func (d *design) rateKey(g int) ([3]string, kind) {
	of := &d.groups[g]
	if d.opt.By == ByLot {
		return [3]string{of.Supplier, of.Coating, of.Exposure}, kind{of: of.Coating, exposure: of.Exposure, unit: of.RateUnit}
	}
	return [3]string{of.Name}, kind{of: of.Name, unit: of.RateUnit}
}

// addCouponRates adds what coupons are off in rate.
func (d *design) addCouponRates(histories []history) {
	c := newClasses()
	moving := map[int]int{} // a coupon of each group
	for i := range histories {
		if h := &histories[i]; h.ages && h.group >= 0 {
			key, k := d.rateKey(h.group)
			c.add(h.coupon, key, k, h.group, h.moves, h.moves)
			if h.moves {
				moving[h.group] = h.coupon
			}
		}
	}
	d.spare, d.rateKind = make([]int, len(d.groups)), make([]int, len(d.groups))
	for g := range d.groups {
		coupon, ok := moving[g]
		if ok {
			d.spare[g] = c.spare(c.of[coupon])
		}
		switch {
		case d.rates[g] < 0:
		case !ok:
			d.why[g] = NoRepeat
		case d.spare[g] < 1:
			d.why[g] = OneCoupon
		}
	}
	d.rateKinds = c.settle()
	for g := range d.groups {
		d.rateKind[g] = -1
		if coupon, ok := moving[g]; ok {
			d.rateKind[g] = c.of[coupon]
		}
	}
	d.rateTerm = d.addTerm("coupon rate", d.rateKinds, c, d.doses(), func(v *value) int { return v.coupon })
}

func (d *design) doses() []float64 {
	t := make([]float64, len(d.values))
	for i := range t {
		t[i] = d.values[i].t
	}
	return t
}

// fewestLots is the number of lots from which on the lot is the unit.
const fewestLots = 3

// addLots adds what lots are off in rate, of the groups that have enough of them, with two coupons in one.
func (d *design) addLots(histories []history) {
	names := map[[4]string]int{}
	lotOf := map[int]int{} // of each coupon
	coupons, lots := map[int]int{}, make([]map[int]bool, len(d.groups))
	repeats := make([]bool, len(d.groups))
	for i := range histories {
		h := &histories[i]
		if h.group < 0 || !h.moves {
			continue
		}
		of := &d.Coupons[h.coupon]
		name := [4]string{of.Supplier, of.Coating, of.Lot, d.groups[h.group].Name}
		if _, ok := names[name]; !ok {
			names[name] = len(names)
		}
		lot := names[name]
		lotOf[h.coupon] = lot
		coupons[lot]++
		repeats[h.group] = repeats[h.group] || coupons[lot] > 1
		if lots[h.group] == nil {
			lots[h.group] = map[int]bool{}
		}
		lots[h.group][lot] = true
	}
	c := newClasses()
	d.lotKind, d.ofLots = make([]int, len(d.groups)), make([]bool, len(d.groups))
	for g := range d.groups {
		d.lotKind[g] = -1
		if d.opt.By == ByLot || len(lots[g]) < fewestLots {
			continue
		}
		d.spare[g], d.ofLots[g] = len(lots[g])-1, true
		if !repeats[g] {
			continue // one coupon of each lot: what lots are off is among what coupons are
		}
		for lot := range lots[g] {
			c.add(lot, [3]string{d.groups[g].Name}, kind{of: d.groups[g].Name, unit: d.groups[g].RateUnit}, g, true, true)
			d.lotKind[g] = c.of[lot]
		}
	}
	d.lotKinds = c.settle()
	d.lotTerm = d.addTerm("lot rate", d.lotKinds, c, d.doses(), func(v *value) int {
		if lot, ok := lotOf[v.coupon]; ok {
			return lot
		}
		return -1
	})
}

// addErrors adds what is known of the errors of the values.
func (d *design) addErrors() {
	c := compress(d.values, len(d.Effects))
	d.model.Known, d.model.Shared = c.own, c.shared
}
