package population

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"wane/study"
	"wane/study/series"
)

// value is one response of the model.
type value struct {
	coupon  int // in Data.Coupons
	group   int // -1: of a control
	cell    int // whose mean level it has
	t, y    float64
	pull    int
	session int
	*series.Errors
}

// cell is what has one mean level: a coating of a group, or the controls of a coating.
type cell struct {
	group             int // -1: controls
	supplier, coating string
}

// sample is the values of a study, with their groups.
type sample struct {
	*series.Data
	opt      Options
	groups   []Group
	members  []int // of each coupon of the data: its group, -1
	values   []value
	cells    []cell
	sessions []string
	skipped  int
	controls int
	doseless []bool // of each group: it has values at doses that are not known
}

// newSample gathers the values of a study.
func newSample(d *series.Data, opt Options) *sample {
	s := &sample{Data: d, opt: opt}
	s.makeGroups()
	exposed := map[string]int{}
	for i := range d.Coupons {
		if s.members[i] >= 0 {
			s.addExposed(i, exposed)
		}
	}
	if d.Route != study.RouteNone {
		for i := range d.Coupons {
			if d.Coupons[i].Role == study.Control {
				s.addControl(i, exposed)
			}
		}
	}
	s.count()
	return s
}

// key returns the group of an exposed coupon, without its name.
func (s *sample) key(c *series.Coupon) Group {
	g := Group{Exposure: c.Exposure, DoseUnit: c.DoseUnit}
	if s.opt.Days {
		g.DoseUnit = "days"
	}
	switch s.opt.By {
	case BySupplier:
		g.Supplier = c.Supplier
	case ByLot:
		g.Supplier, g.Coating, g.Lot = c.Supplier, c.Coating, c.Lot
	default:
		g.Supplier, g.Coating = c.Supplier, c.Coating
	}
	return g
}

// makeGroups makes the groups of the exposed coupons, in the order of their names.
func (s *sample) makeGroups() {
	exposures := map[string]bool{}
	for i := range s.Coupons {
		if c := &s.Coupons[i]; c.Role == study.Exposed {
			exposures[c.Exposure] = true
		}
	}
	at := map[[4]string]int{}
	keyOf := func(g *Group) [4]string { return [4]string{g.Supplier, g.Coating, g.Lot, g.Exposure} }
	for i := range s.Coupons {
		c := &s.Coupons[i]
		if c.Role != study.Exposed {
			continue
		}
		g := s.key(c)
		if _, ok := at[keyOf(&g)]; !ok {
			g.Name = s.nameOf(&g, len(exposures) > 1)
			g.RateUnit = rateUnit(s.Quantity.Unit, g.DoseUnit)
			at[keyOf(&g)] = 0
			s.groups = append(s.groups, g)
		}
	}
	slices.SortStableFunc(s.groups, func(a, b Group) int { return cmp.Compare(a.Name, b.Name) })
	for g := range s.groups {
		at[keyOf(&s.groups[g])] = g
	}
	s.doseless = make([]bool, len(s.groups))
	for i := range s.Coupons {
		s.members = append(s.members, -1)
		if c := &s.Coupons[i]; c.Role == study.Exposed {
			key := s.key(c)
			s.members[i] = at[keyOf(&key)]
		}
	}
}

// nameOf names a group by what it is grouped by.
func (s *sample) nameOf(g *Group, exposures bool) string {
	name := g.Coating
	switch s.opt.By {
	case BySupplier:
		name = g.Supplier
	case ByLot:
		lot := g.Lot
		if lot == "" {
			lot = "not named"
		}
		name = fmt.Sprintf("%s, lot %s", g.Coating, lot)
	}
	if exposures {
		name += " in " + g.Exposure
	}
	return name
}

// rateUnit returns the unit of a change over one unit of dose.
func rateUnit(unit, dose string) string {
	if one, ok := map[string]string{"days": "day", "hours": "hour", "cycles": "cycle"}[dose]; ok {
		dose = one
	}
	return strings.TrimSpace(unit + " per " + dose)
}

// addExposed adds the values of an exposed coupon, and notes that its sessions have some.
func (s *sample) addExposed(i int, sessions map[string]int) {
	c, g, at := &s.Coupons[i], s.members[i], -1
	for k := range c.Points {
		p := &c.Points[k]
		if math.IsNaN(p.Level.Value) {
			s.skipped++
			continue
		}
		t := p.Dose
		if s.opt.Days {
			t = p.Days
		}
		if math.IsNaN(t) {
			s.skipped++
			s.doseless[g] = true
			continue
		}
		if _, ok := sessions[p.Session]; !ok {
			sessions[p.Session] = len(s.sessions)
			s.sessions = append(s.sessions, p.Session)
		}
		if at < 0 {
			at = s.cellOf(cell{g, c.Supplier, c.Coating})
		}
		s.values = append(s.values, value{i, g, at, t, p.Level.Value, p.Pull, sessions[p.Session], &p.Level.Errors})
	}
}

// addControl adds the values of a control that were read in the sessions.
func (s *sample) addControl(i int, sessions map[string]int) {
	c := &s.Coupons[i]
	at := -1
	for k := range c.Points {
		p := &c.Points[k]
		session, ok := sessions[p.Session]
		if !ok || math.IsNaN(p.Level.Value) {
			continue
		}
		if at < 0 {
			at = s.cellOf(cell{-1, c.Supplier, c.Coating})
			s.controls++
		}
		s.values = append(s.values, value{i, -1, at, 0, p.Level.Value, p.Pull, session, &p.Level.Errors})
	}
}

// cellOf returns the position of a cell, which it makes if it is new.
func (s *sample) cellOf(c cell) int {
	if at := slices.Index(s.cells, c); at >= 0 {
		return at
	}
	s.cells = append(s.cells, c)
	return len(s.cells) - 1
}

// count counts what the groups have.
func (s *sample) count() {
	type seen struct {
		coupons, pulls, sessions map[int]bool
		lots                     map[string]bool
	}
	of := make([]seen, len(s.groups))
	for g := range of {
		of[g] = seen{map[int]bool{}, map[int]bool{}, map[int]bool{}, map[string]bool{}}
	}
	for i := range s.values {
		v := &s.values[i]
		if v.group < 0 {
			continue
		}
		g, n := &s.groups[v.group], &of[v.group]
		g.Values++
		if c := &s.Coupons[v.coupon]; !n.coupons[v.coupon] {
			n.coupons[v.coupon] = true
			n.lots[c.Supplier+"\x00"+c.Coating+"\x00"+c.Lot] = true
			if c.Ended != "" {
				g.Ended++
			}
		}
		n.pulls[v.pull], n.sessions[v.session] = true, true
	}
	for g := range of {
		s.groups[g].Coupons, s.groups[g].Lots = len(of[g].coupons), len(of[g].lots)
		s.groups[g].Pulls, s.groups[g].Sessions = len(of[g].pulls), len(of[g].sessions)
	}
}
