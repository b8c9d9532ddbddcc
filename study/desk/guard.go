package desk

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"strings"

	"wane/study"
	"wane/study/guard"
	"wane/study/life"
	"wane/study/store"
)

// The guards check a reading by itself when it is taken in. They run again after an intake, an
// enrolment or a review, over what is new and all that it concerns. A fit makes this run too if it
// is still due, so that an intake that was cut off lets nothing through.
//
// What the guards hold follows from what is in the study, not from the order in which it came. A
// run has stages, and each depends on the earlier ones only:
//
//  1. each reading by itself, and the readings that have the same numbers,
//  2. the readings of a session beside one another,
//  3. the coupons of a session beside their last pulls, one pull after the other,
//  4. the films that were found, see guard_fits.go.
//
// A run goes over the sessions that have a new reading, a new entry in the register or a review. Then
// it goes over later sessions that read coupons of the same exposure as a reading that changed. What
// stage 4 holds is no history for stage 3 at later pulls.
//
// A hold ends, with a reason, if the guards no longer find anything wrong. A reading that a person has
// judged stays as it is.

// GuardChanges is what a run of the guards changed.
type GuardChanges struct {
	Held     []Judged // readings that were not held before
	Released []Judged // readings that no guard holds now
	// Waiting are the numbers of readings in which no guard finds a fault now, and that stay held: this person took them in, and
	// the study is of two people.
	Waiting []int64
}

// followedBy returns what two runs changed together, one after the other. A reading that one of
// them held and the other released has not changed.
func (l GuardChanges) followedBy(next *GuardChanges) GuardChanges {
	return GuardChanges{
		Held:     slices.Concat(excluding(l.Held, next.Released), excluding(next.Held, l.Released)),
		Released: slices.Concat(excluding(l.Released, next.Held), excluding(next.Released, l.Held)),
		Waiting:  next.Waiting,
	}
}

// excluding returns the readings that are not among others.
func excluding(all, others []Judged) []Judged {
	numbers := map[int64]bool{}
	for i := range others {
		numbers[others[i].Number] = true
	}
	return slices.DeleteFunc(slices.Clone(all), func(j Judged) bool { return numbers[j.Number] })
}

// runGuards has the guards check what is new since their last run. A session that was enrolled
// after the line sinceLine of the log was not known when its readings were taken in.
func (d *Desk) runGuards(ctx context.Context, sinceLine int64) (*GuardChanges, error) {
	start := func() *guardRun { return &guardRun{sinceLine: sinceLine, tookIn: d.tookIn()} }
	return d.runUntilFresh(ctx, start, (*guardRun).checkEntered, countReadings)
}

// runUntilFresh makes a run and stores what it found. If another process has stored a run
// meanwhile, it makes the run again. inWords says what a run went over, for the log.
func (d *Desk) runUntilFresh(
	ctx context.Context, start func() *guardRun, check func(*guardRun, *store.View) error, inWords func(int) string,
) (*GuardChanges, error) {
	for {
		g := start()
		err := d.store.View(ctx, func(v *store.View) error { return check(g, v) })
		if err != nil || g.seen == 0 {
			return &GuardChanges{}, err
		}
		unfitted, err := d.unitsBehind(ctx, slices.Concat(g.changes.Held, g.changes.Released))
		if err != nil {
			return nil, err
		}
		fresh := false
		entry := d.entry("guard", fmt.Sprintf("looked at %s; held: %d, released: %d",
			inWords(g.seen), len(g.changes.Held), len(g.changes.Released)))
		if len(g.changes.Released) > 0 {
			entry.Summary += " (" + listNumbers(g.changes.Released) + ")"
			entry.Why = releaseReasons(g.toStore.Releases)
		}
		err = d.write(ctx, entry, func(tx *store.Tx) (err error) {
			if fresh, err = tx.Guard(g.toStore); !fresh || err != nil {
				return err
			}
			return putFits(tx, unfitted)
		})
		if fresh || err != nil {
			return &g.changes, err
		}
	}
}

// guardRun is one run of the guards, on one moment of the study.
type guardRun struct {
	view       *store.View
	roster     *study.Roster
	coupons    map[string]*study.Coupon
	lives      *life.Lives
	guard      *guard.Guard
	sinceLine  int64
	lastRun    store.Guarding                                  // the run before
	recheckAll bool                                            // that run had other guards: everything is checked again
	tookIn     func(v *store.View, number int64) (bool, error) // see Desk.tookIn
	standings  map[int64]store.Judged

	claims       map[int64]*guardConcerns // of readings that are or were held
	twins        map[int64][]study.Concern
	registered   map[string]int64 // sessions enrolled since the last run, with the line of the log
	sets         map[store.ReadingSet]bool
	firstTouched map[string]int          // by exposure: the pull whose later ones are pending, or were checked
	pending      map[int]map[string]bool // by pull: sessions whose coupons are to be compared with their history
	seen         int                     // readings

	toStore store.Guarding
	changes GuardChanges
}

// guardConcerns are what the guards say of a reading.
type guardConcerns struct {
	own       []study.Concern // of it by itself, and beside the others of its session
	swapped   []study.Concern // of its coupon, beside the last pulls
	exchanged []study.Concern // of its coupon, by the films that were found; stage 4 alone changes it
}

// effectOnLater returns what the check of later pulls depends on: whether the reading is held by
// itself, and whether it may be of another coupon.
func (c *guardConcerns) effectOnLater() [2]bool { return [2]bool{len(c.own) > 0, c.misnamed()} }

// misnamed reports whether the reading may be of another coupon, by the readings or by the films that
// were found.
func (c *guardConcerns) misnamed() bool { return len(c.swapped)+len(c.exchanged) > 0 }

func (c *guardConcerns) all() []study.Concern { return slices.Concat(c.own, c.swapped, c.exchanged) }

// checkEntered finds what to hold and what to release after something was entered.
func (g *guardRun) checkEntered(v *store.View) error {
	reading, line, err := g.load(v)
	if err != nil || reading == 0 {
		return err
	}
	if g.lastRun.Guards != guard.Version() {
		g.recheckAll = g.lastRun.LastReading > 0
		g.lastRun.LastReading, g.lastRun.LastLine = 0, 0
	}
	if g.registered, err = v.RegisteredSince(g.lastRun.LastLine); err != nil {
		return err
	}
	for _, stage := range []func() error{g.findEntered, g.checkSets, g.compareWithHistory} {
		if err := stage(); err != nil {
			return err
		}
	}
	g.toStore = store.Guarding{After: g.lastRun.After, LastReading: reading, LastLine: line, Guards: guard.Version()}
	return g.compareWithStandings()
}

// load loads what every run needs. It returns the numbers of the last reading and of the last line
// of the log; 0 if there is no reading.
func (g *guardRun) load(v *store.View) (reading, line int64, err error) {
	g.view, g.claims, g.sets = v, map[int64]*guardConcerns{}, map[store.ReadingSet]bool{}
	g.pending, g.firstTouched = map[int]map[string]bool{}, map[string]int{}
	if g.lastRun, reading, line, err = v.Guarded(); err != nil || reading == 0 {
		return 0, 0, err
	}
	if g.standings, err = v.Standings(); err != nil {
		return 0, 0, err
	}
	if g.roster, err = v.Roster(); err != nil {
		return 0, 0, err
	}
	g.coupons, g.lives, g.guard = couponsByCode(g.roster), life.New(g.roster), guard.New(g.roster)
	return reading, line, nil
}

// releaseReasons joins the reasons of releases, each once.
func releaseReasons(releases []study.Release) string {
	var reasons []string
	for _, r := range releases {
		if r.Reason != reasonReplaced && !slices.Contains(reasons, r.Reason) {
			reasons = append(reasons, r.Reason)
		}
	}
	return strings.Join(reasons, "; ")
}

// reasonReplaced is the reason for which a hold ends that another one follows.
const reasonReplaced = "the guard looked again, with what was entered since, and holds it for another reason"

// releaseReason says why a guard no longer holds a reading.
func releaseReason(word string) string {
	if why := guard.WhyRemoved(word); why != "" {
		return why
	}
	return "the guard looked again, with what was entered since, and found nothing wrong"
}

// compareWithStandings finds what differs between what the guards said before and what they say now.
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

// compareReading notes what differs in what the guards say of one reading.
func (g *guardRun) compareReading(number int64, concerns []study.Concern) error {
	judged, now := g.standings[number], map[string]string{}
	for _, k := range concerns {
		if now[k.Guard] == "" {
			now[k.Guard] = k.Reason
		}
	}
	held := len(now) > 0
	if g.tookIn != nil && !held && judged.Standing == study.Held {
		if own, err := g.tookIn(g.view, number); own || err != nil {
			g.changes.Waiting = append(g.changes.Waiting, number)
			return err
		}
	}
	from := len(g.toStore.Releases)
	for _, h := range judged.Holds {
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
	if held == (judged.Standing == study.Held) {
		return nil
	}
	j, err := loadJudged(g.view, number, judged)
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

// GuardKinds explains the words of the guards, in the order of their work.
func GuardKinds() []study.Term { return guard.Kinds() }
