package desk

import (
	"cmp"
	"maps"
	"math"
	"slices"

	"wane/study"
	"wane/study/guard"
	"wane/study/store"
)

// findEntered finds the sets of readings that have something new, and the later pulls that it concerns.
func (g *guardRun) findEntered() error {
	sets, err := g.view.ReadingSetsSince(g.lastRun.LastReading)
	if err != nil {
		return err
	}
	for _, of := range sets {
		g.sets[of] = true
	}
	for session := range g.registered {
		g.sets[store.ReadingSet{Session: session}] = true
	}
	amended, err := g.view.CouponsAmendedSince(g.lastRun.LastLine)
	if err != nil {
		return err
	}
	for _, coupon := range amended {
		g.sets[store.ReadingSet{Coupon: coupon}] = true // what it was read in without a session
		if err := g.touchLater(g.exposureOf(coupon), -1); err != nil {
			return err
		}
	}
	first, err := g.view.FirstPullsSince(g.lastRun.LastReading)
	if err != nil {
		return err
	}
	for _, exposure := range slices.Sorted(maps.Keys(first)) {
		if err := g.touchLater(exposure, first[exposure]); err != nil {
			return err
		}
	}
	err = g.view.ReviewedSince(g.lastRun.LastLine, func(m store.ReadingHeader) error {
		g.sets[setOf(&m)] = true
		return g.touchReading(&m)
	})
	if err != nil {
		return err
	}
	return g.findTwins()
}

// setOf returns the readings that a reading is compared with: those of its session, or of its
// coupon if it names none.
func setOf(m *store.ReadingHeader) store.ReadingSet {
	if m.Session == "" {
		return store.ReadingSet{Coupon: m.Coupon}
	}
	return store.ReadingSet{Session: m.Session}
}

// touchReading notes that a reading counts now and did not, or the other way round.
func (g *guardRun) touchReading(m *store.ReadingHeader) error {
	return g.touchLater(g.exposureOf(m.Coupon), m.Pull)
}

// exposureOf returns the exposure of a coupon; empty if the coupon has no row, which verify
// reports.
func (g *guardRun) exposureOf(coupon string) string {
	if c := g.coupons[coupon]; c != nil {
		return c.Exposure
	}
	return ""
}

// touchLater notes that the coupons of an exposure are to be compared with their history again, at
// each pull after this one.
func (g *guardRun) touchLater(exposure string, pull int) error {
	if first, known := g.firstTouched[exposure]; known && first <= pull {
		return nil
	}
	g.firstTouched[exposure] = pull
	later, err := g.view.ReadLater(exposure, pull)
	for _, p := range later {
		g.addPending(p.Session, p.Pull)
	}
	return err
}

// addPending notes that a session is to be compared with its history at a pull.
func (g *guardRun) addPending(session string, pull int) {
	if g.pending[pull] == nil {
		g.pending[pull] = map[string]bool{}
	}
	g.pending[pull][session] = true
}

// findTwins finds readings that have the same numbers as others. Of several others the first by its
// place is named.
func (g *guardRun) findTwins() error {
	g.twins = map[int64][]study.Concern{}
	return g.view.TwinsSince(g.lastRun.LastReading, func(group []store.Twin) error {
		for i := range group {
			t := &group[i]
			g.twins[t.Number] = nil
			if k := slices.IndexFunc(group, t.Opposes); k >= 0 {
				g.twins[t.Number] = []study.Concern{guard.TwinConcern(group[k].Place, group[k].Export)}
			}
			m, _, err := g.view.ReadingHeader(t.Number)
			if err != nil {
				return err
			}
			g.sets[setOf(m)] = true
		}
		return nil
	})
}

// concernsOf returns what the guards say of a reading at this stage of the run; nil if they say
// nothing.
func (g *guardRun) concernsOf(number int64) *guardConcerns {
	if c := g.claims[number]; c != nil {
		return c
	}
	judged, ever := g.standings[number]
	if !ever {
		return nil
	}
	c := &guardConcerns{}
	for _, h := range judged.Holds {
		switch h.Row.Guard {
		case guard.Swapped:
			c.swapped = append(c.swapped, h.Row.Concern)
		case guard.Exchanged:
			c.exchanged = append(c.exchanged, h.Row.Concern)
		default:
			c.own = append(c.own, h.Row.Concern)
		}
	}
	g.claims[number] = c
	return c
}

// changeConcerns has do change what the guards say of a reading, and notes the later pulls if the
// change has an effect on them.
func (g *guardRun) changeConcerns(m *store.ReadingHeader, do func(*guardConcerns)) error {
	c := g.concernsOf(m.Number)
	if c == nil {
		c = &guardConcerns{}
	}
	before := c.effectOnLater()
	do(c)
	if len(c.all()) > 0 {
		g.claims[m.Number] = c
	}
	if before == c.effectOnLater() {
		return nil
	}
	return g.touchReading(m)
}

// asSeen returns a reading as the guards see it.
func (g *guardRun) asSeen(m *store.ReadingHeader) guard.Reading {
	s := guard.Reading{Number: m.Number, Place: m.Place, Session: m.Session, Geometry: m.Geometry,
		Traits: m.Traits, Standing: m.Standing}
	if len(g.standings[m.Number].Reviews) > 0 {
		return s
	}
	s.Standing, s.Unjudged = study.Counted, m.Guardable
	if c := g.concernsOf(m.Number); c != nil {
		if len(c.own) > 0 {
			s.Standing = study.Held
		}
		s.Swapped = c.misnamed()
	}
	return s
}

// checkSets checks the sets of readings that have something new: each reading by itself and beside the
// others.
func (g *guardRun) checkSets() error {
	order := slices.SortedFunc(maps.Keys(g.sets), func(a, b store.ReadingSet) int {
		return cmp.Or(cmp.Compare(a.Session, b.Session), cmp.Compare(a.Coupon, b.Coupon))
	})
	for _, of := range order {
		if err := g.checkSet(of); err != nil {
			return err
		}
	}
	return nil
}

// checkSet checks the readings of one set.
func (g *guardRun) checkSet(of store.ReadingSet) error {
	rechecked, err := g.recheckNumbers(of)
	if err != nil {
		return err
	}
	var seen []guard.Reading
	var headers []store.ReadingHeader
	concerns := map[int64][]study.Concern{}
	err = g.view.HeadersIn(of, func(m store.ReadingHeader) error {
		s := g.asSeen(&m)
		if s.Unjudged {
			own := g.readingConcerns(&s, rechecked)
			if s.Standing = study.Counted; len(own) > 0 {
				s.Standing, concerns[m.Number] = study.Held, own
			}
		}
		seen = append(seen, s)
		headers = append(headers, store.ReadingHeader{Place: m.Place, Number: m.Number, Session: m.Session})
		if of.Session != "" {
			g.addPending(of.Session, m.Pull)
		}
		return nil
	})
	if err != nil {
		return err
	}
	g.seen += len(seen)
	for _, h := range g.guard.JudgeSession(of.Session, seen) {
		concerns[h.Reading] = append(concerns[h.Reading], h.Concern)
	}
	for i := range headers {
		m := &headers[i]
		if !seen[i].Unjudged {
			continue
		}
		if err := g.changeConcerns(m, func(c *guardConcerns) { c.own = concerns[m.Number] }); err != nil {
			return err
		}
	}
	return nil
}

// readingConcerns returns the concerns about a reading by itself. rechecked holds those about its
// numbers, for readings whose numbers were checked again.
func (g *guardRun) readingConcerns(s *guard.Reading, rechecked map[int64][]study.Concern) []study.Concern {
	twin, ofGroup := g.twins[s.Number]
	var held []study.Concern // before, without those that this run finds again
	for _, h := range g.standings[s.Number].Holds {
		switch isTwin := h.Row.Guard == guard.Twin; {
		case g.recheckAll, isTwin && ofGroup:
		case isTwin:
			twin = append(twin, h.Row.Concern)
		default:
			held = append(held, h.Row.Concern)
		}
	}
	if own, ok := rechecked[s.Number]; ok {
		return slices.Concat(own, twin)
	}
	return slices.Concat(g.guard.JudgeAgain(s, held), twin)
}

// recheckNumbers checks again the numbers of readings that were taken in before their session was
// enrolled, if the register says more of them, or of all readings if the guards have changed.
func (g *guardRun) recheckNumbers(of store.ReadingSet) (rechecked map[int64][]study.Concern, err error) {
	before := g.registered[of.Session]
	if !g.recheckAll && (before == 0 || !g.guard.HasJoins(of.Session)) {
		return nil, nil
	}
	if g.recheckAll || before > g.sinceLine && g.sinceLine > 0 {
		before = math.MaxInt64
	}
	rechecked = map[int64][]study.Concern{}
	return rechecked, g.view.ReadingsIn(of, before, func(r store.Kept[study.Reading]) error {
		rechecked[r.Number] = g.guard.JudgeReading(&r.Row)
		return nil
	})
}

// compareWithHistory compares the coupons of sessions with their last pulls. It goes one pull after
// the other, since what is held at one pull is no history for the next.
func (g *guardRun) compareWithHistory() error {
	for len(g.pending) > 0 {
		pull := slices.Min(slices.Collect(maps.Keys(g.pending)))
		sessions := slices.Sorted(maps.Keys(g.pending[pull]))
		delete(g.pending, pull)
		for _, session := range sessions {
			if err := g.compareSession(session, pull); err != nil {
				return err
			}
		}
	}
	return nil
}

// compareSession compares the coupons that were read at one pull in a session with their history. At
// pull 0 there is none.
func (g *guardRun) compareSession(session string, pull int) error {
	if pull == 0 {
		return nil
	}
	of := store.ReadingSet{Session: session}
	var seen []guard.Reading
	var headers []store.ReadingHeader // those at the pull
	read := map[string]bool{}
	err := g.view.HeadersIn(of, func(m store.ReadingHeader) error {
		seen = append(seen, g.asSeen(&m))
		read[m.Coupon] = true
		if m.Pull == pull {
			headers = append(headers, store.ReadingHeader{Place: m.Place, Number: m.Number})
		}
		return nil
	})
	if err != nil {
		return err
	}
	if !g.sets[of] {
		g.seen += len(seen)
	}
	last, err := g.lastReadings(session, seen)
	if err != nil {
		return err
	}
	history := func() ([]guard.Reading, error) { return g.readHistory(session, pull, read) }
	holds, err := g.guard.JudgeNames(pull, seen, last, history)
	if err != nil {
		return err
	}
	swapped := map[int64][]study.Concern{}
	for _, h := range holds {
		swapped[h.Reading] = append(swapped[h.Reading], h.Concern)
	}
	for i := range headers {
		m := &headers[i]
		if len(g.standings[m.Number].Reviews) > 0 {
			continue
		}
		if err := g.changeConcerns(m, func(c *guardConcerns) { c.swapped = swapped[m.Number] }); err != nil {
			return err
		}
	}
	return nil
}

// lastReadings returns, for each spot of a session, what was read of it last before, in other
// sessions.
func (g *guardRun) lastReadings(session string, seen []guard.Reading) (last []guard.Reading, err error) {
	type couponPull struct {
		coupon string
		pull   int
	}
	spots := map[couponPull]map[string]bool{} // those whose last reading is not found yet
	var order []couponPull
	for i := range seen {
		k := couponPull{seen[i].Coupon, seen[i].Pull}
		if spots[k] == nil {
			spots[k], order = map[string]bool{}, append(order, k)
		}
		spots[k][seen[i].Spot] = true
	}
	for _, k := range order {
		for pull := k.pull; pull >= 0 && len(spots[k]) > 0; {
			found := map[string]bool{}
			pull, err = g.view.HeadersBefore(k.coupon, pull, func(m store.ReadingHeader) error {
				if s := g.asSeen(&m); spots[k][m.Spot] && m.Session != session && s.Standing == study.Counted {
					last, found[m.Spot] = append(last, s), found[m.Spot] || !s.Swapped
				}
				return nil
			})
			if err != nil {
				return nil, err
			}
			for spot, certain := range found {
				if certain {
					delete(spots[k], spot)
				}
			}
		}
	}
	return last, nil
}

// readHistory returns all that was read in other sessions: of the coupons of a session, and of the
// coated coupons of the same exposures that were not read in it. A reading of the session may be of one
// of those, unless its history has ended before the pull.
func (g *guardRun) readHistory(session string, pull int, read map[string]bool) (history []guard.Reading, err error) {
	coupons := slices.Collect(maps.Keys(read))
	with, all := map[string]bool{"": true}, false // exposures, and whether one that goes with all was read
	for _, c := range coupons {
		exposure := g.exposureOf(c)
		with[exposure], all = true, all || exposure == ""
	}
	for i := range g.roster.Coupons {
		if c := &g.roster.Coupons[i]; c.Role.Coated() && (all || with[c.Exposure]) && !g.lives.Of(c.Coupon).After(pull) {
			coupons = append(coupons, c.Coupon)
		}
	}
	slices.Sort(coupons)
	for _, c := range slices.Compact(coupons) {
		err := g.view.HeadersOf(c, func(m store.ReadingHeader) error {
			if m.Session != session {
				history = append(history, g.asSeen(&m))
			}
			return nil
		})
		if err != nil {
			return nil, err
		}
	}
	return history, nil
}
