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

// entered finds the gatherings that were entered into, and what touches later pulls.
func (g *guardRun) findEntered() error {
	gatherings, err := g.view.GatheringsSince(g.lastLook.LastReading)
	if err != nil {
		return err
	}
	for _, of := range gatherings {
		g.gatherings[of] = true
	}
	for session := range g.registered {
		g.gatherings[store.Gathering{Session: session}] = true
	}
	first, err := g.view.FirstPullsSince(g.lastLook.LastReading)
	if err != nil {
		return err
	}
	for _, exposure := range slices.Sorted(maps.Keys(first)) {
		if err := g.touchLater(exposure, first[exposure]); err != nil {
			return err
		}
	}
	err = g.view.ReviewedSince(g.lastLook.LastLine, func(m store.Marked) error {
		g.gatherings[gatheringOf(&m)] = true
		return g.touchReading(&m)
	})
	if err != nil {
		return err
	}
	return g.findTwins()
}

func gatheringOf(m *store.Marked) store.Gathering {
	if m.Session == "" {
		return store.Gathering{Coupon: m.Coupon}
	}
	return store.Gathering{Session: m.Session}
}

// touch notes that a reading counts where it did not, or no longer where it did.
func (g *guardRun) touchReading(m *store.Marked) error {
	return g.touchLater(g.exposureOf(m.Coupon), m.Pull)
}

// exposureOf returns the exposure of a coupon, empty for one whose row is missing, which
// others report.
func (g *guardRun) exposureOf(coupon string) string {
	if c := g.coupons[coupon]; c != nil {
		return c.Exposure
	}
	return ""
}

// touchLater notes the later pulls of coupons that go with an exposure.
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

func (g *guardRun) addPending(session string, pull int) {
	if g.pending[pull] == nil {
		g.pending[pull] = map[string]bool{}
	}
	g.pending[pull][session] = true
}

// findTwins finds what has the numbers of others. Of several others the first by its place
// is named.
func (g *guardRun) findTwins() error {
	g.twins = map[int64][]study.Concern{}
	return g.view.TwinsSince(g.lastLook.LastReading, func(group []store.Twin) error {
		for i := range group {
			t := &group[i]
			g.twins[t.Number] = nil
			if k := slices.IndexFunc(group, t.Opposes); k >= 0 {
				g.twins[t.Number] = []study.Concern{guard.TwinConcern(group[k].Place, group[k].Export)}
			}
			m, _, err := g.view.Marked(t.Number)
			if err != nil {
				return err
			}
			g.gatherings[gatheringOf(m)] = true
		}
		return nil
	})
}

// of returns what guards say of a reading, as far as this look has come; nil for nothing.
func (g *guardRun) concernsOf(number int64) *guardConcerns {
	if c := g.claims[number]; c != nil {
		return c
	}
	said, ever := g.standings[number]
	if !ever {
		return nil
	}
	c := &guardConcerns{}
	for _, h := range said.Holds {
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

// change has do change what guards say of a reading that nobody has judged.
func (g *guardRun) changeConcerns(m *store.Marked, do func(*guardConcerns)) error {
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

// seen is a reading as the guards see it.
func (g *guardRun) asSeen(m *store.Marked) guard.Reading {
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

// amongOthers looks at the gatherings that were entered into: at each reading by itself and
// among the others.
func (g *guardRun) checkGatherings() error {
	order := slices.SortedFunc(maps.Keys(g.gatherings), func(a, b store.Gathering) int {
		return cmp.Or(cmp.Compare(a.Session, b.Session), cmp.Compare(a.Coupon, b.Coupon))
	})
	for _, of := range order {
		if err := g.checkGathering(of); err != nil {
			return err
		}
	}
	return nil
}

func (g *guardRun) checkGathering(of store.Gathering) error {
	anew, err := g.recheckNumbers(of)
	if err != nil {
		return err
	}
	var seen []guard.Reading
	var marked []store.Marked
	concerns := map[int64][]study.Concern{}
	err = g.view.MarkedIn(of, func(m store.Marked) error {
		s := g.asSeen(&m)
		if s.Unjudged {
			own := g.concernsAlone(&s, anew)
			if s.Standing = study.Counted; len(own) > 0 {
				s.Standing, concerns[m.Number] = study.Held, own
			}
		}
		seen, marked = append(seen, s), append(marked, store.Marked{Place: m.Place, Number: m.Number, Session: m.Session})
		if of.Session != "" {
			g.addPending(of.Session, m.Pull)
		}
		return nil
	})
	if err != nil {
		return err
	}
	g.readingsSeen += len(seen)
	for _, h := range g.guard.JudgeSession(of.Session, seen) {
		concerns[h.Reading] = append(concerns[h.Reading], h.Concern)
	}
	for i := range marked {
		m := &marked[i]
		if !seen[i].Unjudged {
			continue
		}
		if err := g.changeConcerns(m, func(c *guardConcerns) { c.own = concerns[m.Number] }); err != nil {
			return err
		}
	}
	return nil
}

// alone returns what a reading by itself is suspicious for. anew holds what its numbers say
// where they were looked at.
func (g *guardRun) concernsAlone(s *guard.Reading, anew map[int64][]study.Concern) []study.Concern {
	twin, ofGroup := g.twins[s.Number]
	var held []study.Concern // before, but for what this look tells anew
	for _, h := range g.standings[s.Number].Holds {
		switch isTwin := h.Row.Guard == guard.Twin; {
		case g.recheckAll, isTwin && ofGroup:
		case isTwin:
			twin = append(twin, h.Row.Concern)
		default:
			held = append(held, h.Row.Concern)
		}
	}
	if own, ok := anew[s.Number]; ok {
		return slices.Concat(own, twin)
	}
	return slices.Concat(g.guard.JudgeAgain(s, held), twin)
}

// byNumbers looks at the numbers of readings that were taken in before their session was
// registered, if that tells more of them, or of all.
func (g *guardRun) recheckNumbers(of store.Gathering) (anew map[int64][]study.Concern, err error) {
	before := g.registered[of.Session]
	if !g.recheckAll && (before == 0 || !g.guard.HasJoins(of.Session)) {
		return nil, nil
	}
	if g.recheckAll || before > g.sinceLine && g.sinceLine > 0 {
		before = math.MaxInt64
	}
	anew = map[int64][]study.Concern{}
	return anew, g.view.ReadingsIn(of, before, func(r store.Kept[study.Reading]) error {
		anew[r.Number] = g.guard.JudgeReading(&r.Row)
		return nil
	})
}

// besideHistory compares the coupons of sessions with their last pulls, one pull after the
// other, since what is held of one counts for the next.
func (g *guardRun) compareWithHistory() error {
	for len(g.pending) > 0 {
		pull := slices.Min(slices.Collect(maps.Keys(g.pending)))
		sessions := slices.Sorted(maps.Keys(g.pending[pull]))
		delete(g.pending, pull)
		for _, session := range sessions {
			if err := g.checkSwapped(session, pull); err != nil {
				return err
			}
		}
	}
	return nil
}

// exchanged compares the coupons of a session at one pull. At pull 0 there is nothing to
// compare them with.
func (g *guardRun) checkSwapped(session string, pull int) error {
	if pull == 0 {
		return nil
	}
	of := store.Gathering{Session: session}
	var seen []guard.Reading
	var marked []store.Marked // those at the pull
	read := map[string]bool{}
	err := g.view.MarkedIn(of, func(m store.Marked) error {
		seen = append(seen, g.asSeen(&m))
		read[m.Coupon] = true
		if m.Pull == pull {
			marked = append(marked, store.Marked{Place: m.Place, Number: m.Number})
		}
		return nil
	})
	if err != nil {
		return err
	}
	if !g.gatherings[of] {
		g.readingsSeen += len(seen)
	}
	last, err := g.lastReadings(session, seen)
	if err != nil {
		return err
	}
	whole := func() ([]guard.Reading, error) { return g.readHistory(session, read) }
	holds, err := g.guard.JudgeNames(pull, seen, last, whole)
	if err != nil {
		return err
	}
	swapped := map[int64][]study.Concern{}
	for _, h := range holds {
		swapped[h.Reading] = append(swapped[h.Reading], h.Concern)
	}
	for i := range marked {
		m := &marked[i]
		if len(g.standings[m.Number].Reviews) > 0 {
			continue
		}
		if err := g.changeConcerns(m, func(c *guardConcerns) { c.swapped = swapped[m.Number] }); err != nil {
			return err
		}
	}
	return nil
}

// lastOf returns what was last read before, in other sessions, at each spot of a session.
func (g *guardRun) lastReadings(session string, seen []guard.Reading) (last []guard.Reading, err error) {
	type at struct {
		coupon string
		pull   int
	}
	spots := map[at]map[string]bool{} // of each coupon and pull of the session
	var order []at
	for i := range seen {
		k := at{seen[i].Coupon, seen[i].Pull}
		if spots[k] == nil {
			spots[k], order = map[string]bool{}, append(order, k)
		}
		spots[k][seen[i].Spot] = true
	}
	for _, k := range order {
		for pull := k.pull; pull >= 0 && len(spots[k]) > 0; {
			found := map[string]bool{}
			pull, err = g.view.MarkedBefore(k.coupon, pull, func(m store.Marked) error {
				if s := g.asSeen(&m); spots[k][m.Spot] && m.Session != session && s.Standing == study.Counted {
					last, found[m.Spot] = append(last, s), found[m.Spot] || !s.Swapped
				}
				return nil
			})
			if err != nil {
				return nil, err
			}
			for spot, is := range found {
				if is {
					delete(spots[k], spot)
				}
			}
		}
	}
	return last, nil
}

// whole returns all that was read in other sessions of the coupons of a session, and
// of the coated ones that were not read in it though they go with those that were: a name of
// the session may be on one of them.
func (g *guardRun) readHistory(session string, read map[string]bool) (history []guard.Reading, err error) {
	coupons := slices.Collect(maps.Keys(read))
	with, all := map[string]bool{"": true}, false // exposures, and whether one that goes with all was read
	for _, c := range coupons {
		exposure := g.exposureOf(c)
		with[exposure], all = true, all || exposure == ""
	}
	for i := range g.roster.Coupons {
		if c := &g.roster.Coupons[i]; c.Role.Coated() && (all || with[c.Exposure]) {
			coupons = append(coupons, c.Coupon)
		}
	}
	slices.Sort(coupons)
	for _, c := range slices.Compact(coupons) {
		err := g.view.MarkedOf(c, func(m store.Marked) error {
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
