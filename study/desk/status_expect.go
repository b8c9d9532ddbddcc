package desk

import (
	"slices"

	"wane/study"
	"wane/study/store"
)

// expectation says which spots and angles a coupon is expected to be read at.
//
// At its baseline, pull 0 unless it joined late, those that it was read at; the spots that more than half of the coupons of its role
// were read at at theirs, and the angles that more than half of all coupons were. At later pulls
// those of its baseline; if that was not read, those of the others, and those that it was read at at
// any pull. And always those at which a reading was set aside.
type expectation struct {
	s       *standing
	coupons int // that were read at pull 0
	curves  counted[store.CurveKind]
	roles   map[study.Role]*roleExpectation
}

// roleExpectation counts the spots of the coupons of a role at pull 0.
type roleExpectation struct {
	coupons int // that were read at it
	spots   counted[string]
}

// counted counts things, in the order in which they came first.
type counted[T comparable] struct {
	things []T
	counts map[T]int
}

func (c *counted[T]) add(thing T) {
	if c.counts == nil {
		c.counts = map[T]int{}
	}
	if c.counts[thing]++; c.counts[thing] == 1 {
		c.things = append(c.things, thing)
	}
}

// most returns the things that more than half of all have.
func (c *counted[T]) most(all int) (most []T) {
	for _, thing := range c.things {
		if 2*c.counts[thing] > all {
			most = append(most, thing)
		}
	}
	return most
}

func newExpectation(s *standing) *expectation {
	e := &expectation{s: s, roles: map[study.Role]*roleExpectation{}}
	for i := range s.roster.Coupons {
		c := &s.roster.Coupons[i]
		of := e.roles[c.Role]
		if of == nil {
			of = &roleExpectation{}
			e.roles[c.Role] = of
		}
		base := s.readAt(c.Coupon, c.BaselinePull)
		if base == nil || len(base.Spots) == 0 {
			continue
		}
		e.coupons++
		of.coupons++
		for _, kind := range kindsOf(base) {
			e.curves.add(kind)
		}
		for k := range base.Spots {
			of.spots.add(base.Spots[k].Spot)
		}
	}
	return e
}

// kindsOf returns the kinds of all curves, each once.
func kindsOf(read *store.PullReads) (kinds []store.CurveKind) {
	for i := range read.Spots {
		kinds = addOnce(kinds, read.Spots[i].Curves...)
	}
	return kinds
}

func addOnce[T comparable](list []T, things ...T) []T {
	for _, thing := range things {
		if !slices.Contains(list, thing) {
			list = append(list, thing)
		}
	}
	return list
}

// spots returns the names of the spots that are expected of a coupon at a pull.
func (e *expectation) spots(c *study.Coupon, pull int) (names []string) {
	if now := e.s.readAt(c.Coupon, pull); now != nil {
		names = appendSpots(names, now.SetAside)
	}
	base := e.s.readAt(c.Coupon, c.BaselinePull)
	read := base != nil && len(base.Spots) > 0
	if read {
		if names = appendSpots(names, base.Spots); pull != c.BaselinePull {
			return names
		}
	}
	of := e.roles[c.Role]
	names = addOnce(names, of.spots.most(of.coupons)...)
	if r := e.s.reads[c.Coupon]; r != nil && !read {
		for i := range r.Pulls {
			names = appendSpots(names, r.Pulls[i].Spots)
		}
	}
	return names
}

// appendSpots appends the names of spots that are not there yet.
func appendSpots(names []string, spots []store.SpotReads) []string {
	for i := range spots {
		names = addOnce(names, spots[i].Spot)
	}
	return names
}

// kinds returns the curves that are expected of a spot of a coupon at a pull.
func (e *expectation) kinds(c *study.Coupon, pull int, spot string) (kinds []store.CurveKind) {
	now, base := e.s.readAt(c.Coupon, pull), e.s.readAt(c.Coupon, c.BaselinePull)
	if now != nil {
		kinds = appendKinds(kinds, now.SetAside, spot)
	}
	switch {
	case base == nil || len(base.Spots) == 0:
		kinds = addOnce(kinds, e.curves.most(e.coupons)...)
		if now != nil {
			kinds = addOnce(kinds, kindsOf(now)...)
		}
		return kinds
	case pull == c.BaselinePull:
		return addOnce(addOnce(kinds, kindsOf(base)...), e.curves.most(e.coupons)...)
	case hasSpot(base.Spots, spot):
		return appendKinds(kinds, base.Spots, spot)
	}
	return addOnce(kinds, kindsOf(base)...)
}

// appendKinds appends the curves of a spot that are not there yet.
func appendKinds(kinds []store.CurveKind, spots []store.SpotReads, spot string) []store.CurveKind {
	for i := range spots {
		if spots[i].Spot == spot {
			kinds = addOnce(kinds, spots[i].Curves...)
		}
	}
	return kinds
}

func hasSpot(spots []store.SpotReads, name string) bool {
	return slices.ContainsFunc(spots, func(s store.SpotReads) bool { return s.Spot == name })
}

// gaps returns the words of attention for spots and angles that are expected and not read.
func (e *expectation) gaps(c *study.Coupon, pull int, spots []string, read *store.PullReads) (words []string) {
	base := e.s.readAt(c.Coupon, c.BaselinePull)
	if pull != c.BaselinePull && base != nil && isOneList(base.Spots, read.Spots) && len(read.SetAside) == 0 {
		return nil // as most are, of a study that was surveyed
	}
	for _, spot := range spots {
		if !hasSpot(read.Spots, spot) {
			words = append(words, AttentionSpot+spot)
		}
	}
	for i := range read.Spots {
		s := &read.Spots[i]
		for _, kind := range e.kinds(c, pull, s.Spot) {
			if !slices.Contains(s.Curves, kind) {
				words = append(words, AttentionAngle+s.Spot+"@"+angleWords(kind))
			}
		}
	}
	return words
}

// isOneList reports whether two lists of spots are the same one, not only equal, and not empty.
func isOneList(a, b []store.SpotReads) bool { return len(a) > 0 && len(a) == len(b) && &a[0] == &b[0] }
