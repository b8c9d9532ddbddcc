package desk

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"strings"

	"wane/study"
	"wane/study/guard"
	"wane/study/store"
)

// Guards look at a reading by itself as it is taken in, and at what was entered beside all
// it touches when an intake, an enrolment or a review is done. The second look is due as
// long as it has not been made: fit makes it too, so that an intake that was cut off lets
// nothing through.
//
// What guards hold follows from what the study holds, not from the order in which it came:
// each stage of a look depends on the stages before it alone. They are (1) each reading by
// itself and its twins, (2) the readings of a session among one another, (3) the coupons
// of a session beside their last pulls, one pull after the other. So a look goes over the
// sessions that were entered into, by readings, by the register or by a review, and then over
// those in which coupons that go with a reading that changed were read at later pulls. The third
// look, at what was found (see thirdlook.go), follows at each pull; what it holds is no history
// for (3) at later ones. What no longer looks wrong is released, with a reason. A reading that a
// person has judged is left as it is.

// Looked is what guards changed when they looked.
type Looked struct {
	Held     []Judged // that were not held before
	Released []Judged // that no guard holds any more
}

// then returns what two looks changed, one after the other: what the second released of what the
// first held is no change, nor the other way round.
func (l Looked) followedBy(next *Looked) Looked {
	return Looked{
		Held:     slices.Concat(excluding(l.Held, next.Released), excluding(next.Held, l.Released)),
		Released: slices.Concat(excluding(l.Released, next.Held), excluding(next.Released, l.Held)),
	}
}

// without returns those that are not among others.
func excluding(of, others []Judged) []Judged {
	numbers := map[int64]bool{}
	for i := range others {
		numbers[others[i].Number] = true
	}
	return slices.DeleteFunc(slices.Clone(of), func(j Judged) bool { return numbers[j.Number] })
}

// guard has the guards look at what was entered since they last did. A session that was
// registered after the line from of the log was not known to those who took readings in.
func (d *Desk) runGuards(ctx context.Context, from int64) (*Looked, error) {
	return d.runUntilFresh(ctx, func() *guardRun { return &guardRun{sinceLine: from} }, (*guardRun).checkEntered, countReadings)
}

// lookWith makes a round, and again if others have looked meanwhile, and keeps what it found.
func (d *Desk) runUntilFresh(ctx context.Context, round func() *guardRun, look func(*guardRun, *store.View) error,
	at func(int) string) (*Looked, error) {
	for {
		g := round()
		err := d.store.View(ctx, func(v *store.View) error { return look(g, v) })
		if err != nil || g.readingsSeen == 0 {
			return &Looked{}, err
		}
		again, err := d.unitsBehind(ctx, slices.Concat(g.changes.Held, g.changes.Released))
		if err != nil {
			return nil, err
		}
		fresh := false
		entry := d.entry("guard", fmt.Sprintf("looked at %s; held: %d, released: %d",
			at(g.readingsSeen), len(g.changes.Held), len(g.changes.Released)))
		if len(g.changes.Released) > 0 {
			entry.Summary += " (" + listNumbers(g.changes.Released) + ")"
			entry.Why = releaseReasons(g.toStore.Releases)
		}
		err = d.store.Write(ctx, entry, func(tx *store.Tx) (err error) {
			if fresh, err = tx.Guard(g.toStore); !fresh || err != nil {
				return err
			}
			return putFits(tx, again)
		})
		if fresh || err != nil {
			return &g.changes, err
		}
	}
}

// guardRound is one look of the guards.
type guardRun struct {
	view       *store.View
	roster     *study.Roster
	coupons    map[string]*study.Coupon
	guard      *guard.Guard
	sinceLine  int64
	lastLook   store.Look // the look before
	recheckAll bool       // other guards looked then: everything is looked at
	standings  map[int64]store.Judged

	claims       map[int64]*guardConcerns // of readings that are or were held
	twins        map[int64][]study.Concern
	registered   map[string]int64 // sessions registered since the last look, with the line of the log
	gatherings   map[store.Gathering]bool
	firstTouched map[string]int          // by exposure: the pull whose later ones are pending, or were looked at
	pending      map[int]map[string]bool // by pull: sessions whose coupons are to be compared with their history
	readingsSeen int                     // readings

	toStore store.Look
	changes Looked
}

// claims are what guards say of a reading: of it by itself and among the others of its
// session, of its coupon's name, and of what was found of it, which is left to the third look.
type guardConcerns struct{ own, swapped, exchanged []study.Concern }

// counts tells what later pulls see of it: whether it is held by itself, and whether it may have
// been read under another coupon's name.
func (c *guardConcerns) effectOnLater() [2]bool { return [2]bool{len(c.own) > 0, c.misnamed()} }

// misnamed reports whether it may have been read under another coupon's name, by the
// readings or by the films that were found.
func (c *guardConcerns) misnamed() bool { return len(c.swapped)+len(c.exchanged) > 0 }

func (c *guardConcerns) all() []study.Concern { return slices.Concat(c.own, c.swapped, c.exchanged) }

// look finds what to hold and what to release.
func (g *guardRun) checkEntered(v *store.View) error {
	reading, line, err := g.load(v)
	if err != nil || reading == 0 {
		return err
	}
	if g.lastLook.Guards != guard.Version() {
		g.recheckAll = g.lastLook.LastReading > 0
		g.lastLook.LastReading, g.lastLook.LastLine = 0, 0
	}
	if g.registered, err = v.RegisteredSince(g.lastLook.LastLine); err != nil {
		return err
	}
	for _, stage := range []func() error{g.findEntered, g.checkGatherings, g.compareWithHistory} {
		if err := stage(); err != nil {
			return err
		}
	}
	g.toStore = store.Look{After: g.lastLook.After, LastReading: reading, LastLine: line, Guards: guard.Version()}
	return g.compareWithStandings()
}

// begin reads what every look needs, and returns the numbers of the last reading and of the last
// line of the log.
func (g *guardRun) load(v *store.View) (reading, line int64, err error) {
	g.view, g.claims, g.gatherings, g.pending = v, map[int64]*guardConcerns{}, map[store.Gathering]bool{}, map[int]map[string]bool{}
	g.firstTouched = map[string]int{}
	if g.lastLook, reading, line, err = v.Guarded(); err != nil || reading == 0 {
		return 0, 0, err
	}
	if g.standings, err = v.Standings(); err != nil {
		return 0, 0, err
	}
	if g.roster, err = v.Roster(); err != nil {
		return 0, 0, err
	}
	g.coupons, g.guard = couponsByCode(g.roster), guard.New(g.roster)
	return reading, line, nil
}

// whyReleased says why released readings were, each reason once.
func releaseReasons(releases []study.Release) string {
	var reasons []string
	for _, r := range releases {
		if r.Reason != reasonReplaced && !slices.Contains(reasons, r.Reason) {
			reasons = append(reasons, r.Reason)
		}
	}
	return strings.Join(reasons, "; ")
}

// whyOther is why a hold is released that another one follows.
const reasonReplaced = "the guard looked again, with what was entered since, and holds it for another reason"

// whyNot says why a guard no longer holds a reading.
func releaseReason(word string) string {
	if why := guard.WhyRemoved(word); why != "" {
		return why
	}
	return "the guard looked again, with what was entered since, and found nothing wrong"
}

// compare finds what differs between what guards said and what they say now.
func (g *guardRun) compareWithStandings() error {
	for _, n := range slices.Sorted(maps.Keys(g.claims)) {
		if len(g.standings[n].Reviews) > 0 {
			continue
		}
		if err := g.compareReading(n, g.claims[n].all()); err != nil {
			return err
		}
	}
	return nil
}

// tell notes what differs in what guards say of one reading.
func (g *guardRun) compareReading(number int64, concerns []study.Concern) error {
	said, now := g.standings[number], map[string]string{}
	for _, k := range concerns {
		if now[k.Guard] == "" {
			now[k.Guard] = k.Reason
		}
	}
	held := len(now) > 0
	from := len(g.toStore.Releases)
	for _, h := range said.Holds {
		switch reason := now[h.Row.Guard]; reason {
		case h.Row.Reason:
			delete(now, h.Row.Guard)
		case "":
			g.toStore.Releases = append(g.toStore.Releases, study.Release{Hold: h.Number, Reason: releaseReason(h.Row.Guard)})
		default:
			g.toStore.Releases = append(g.toStore.Releases, study.Release{Hold: h.Number, Reason: reasonReplaced})
		}
	}
	for _, guard := range slices.Sorted(maps.Keys(now)) {
		concern := study.Concern{Guard: guard, Reason: now[guard]}
		g.toStore.Holds = append(g.toStore.Holds, study.Hold{Reading: number, Concern: concern})
	}
	if held == (said.Standing == study.Held) {
		return nil
	}
	j, err := loadJudged(g.view, number, said)
	if err != nil {
		return err
	}
	if !held {
		j.Standing, j.Released = study.Counted, releaseReasons(g.toStore.Releases[from:])
		g.changes.Released = append(g.changes.Released, j)
		return nil
	}
	j.Standing, j.Holds = study.Held, nil
	for _, c := range concerns {
		j.Holds = append(j.Holds, study.Hold{Reading: number, Concern: c})
	}
	g.changes.Held = append(g.changes.Held, j)
	return nil
}
