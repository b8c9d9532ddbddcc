package desk

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"wane/study"
	"wane/study/store"
)

// MoveSelection chooses the readings that are moved.
type MoveSelection struct {
	Selection
	Export string // only those from files of this name or SHA-256; empty: from any
}

// MoveTo says where readings belong. What is empty or 0 stays as it is.
type MoveTo struct {
	Coupon, Spot, Session string
	Pull                  int       // [AllPulls]: it stays
	AngleDeg              study.Num // null: it stays
	Replicate, Mounting   int
	Unit                  string   // fraction or percent: the values are read again from the export
	Exchange              []string // two coupons whose readings change places; the other fields are empty then
}

// isEmpty reports whether everything would stay as it is.
func (to *MoveTo) isEmpty() bool {
	return to.Coupon+to.Spot+to.Session+to.Unit == "" && to.Pull == AllPulls && !to.AngleDeg.Valid() &&
		to.Replicate == 0 && to.Mounting == 0 && len(to.Exchange) == 0
}

// apply puts a reading where it belongs.
func (to *MoveTo) apply(r *study.Reading) {
	for field, value := range map[*string]string{&r.Coupon: to.Coupon, &r.Spot: to.Spot, &r.Session: to.Session} {
		if value != "" {
			*field = value
		}
	}
	if to.Pull != AllPulls {
		r.Pull = to.Pull
	}
	if to.AngleDeg.Valid() {
		r.AngleDeg = float64(to.AngleDeg)
	}
	if to.Replicate != 0 {
		r.Replicate = to.Replicate
	}
	if to.Mounting != 0 {
		r.Mounting = to.Mounting
	}
	if i := slices.Index(to.Exchange, r.Coupon); i >= 0 {
		r.Coupon = to.Exchange[1-i]
	}
}

// Moved is what a move changed, or would change.
type Moved struct {
	Readings []MovedPair
	Fits     TouchedFits
	Guards   GuardChanges // after the move
}

// MovedPair is a reading that was moved, and the one that stands instead of it.
type MovedPair struct {
	Old, New                 int64 // their numbers; Old is 0 for a column that was not read before
	From, To                 study.Place
	FromSession, ToSession   string
	FromMounting, ToMounting int
	Export                   string // the name of the file
	Column                   int
	ReadAgain                bool           // its values are not those that they were
	Standing                 study.Standing // of the old one, with which its holds and reviews stay
}

// CountAside counts the readings that were set aside where they were: those that stand instead of them count.
func (m *Moved) CountAside() (n int) {
	for i := range m.Readings {
		if m.Readings[i].Standing == study.Aside {
			n++
		}
	}
	return n
}

// errNothingMoves ends a transaction in which nothing would change.
var errNothingMoves = errors.New("desk: nothing moves")

// Move puts the chosen readings where they belong, for a reason that is not empty, in one transaction: all of them or
// none. The readings that were in the wrong place are kept, superseded by these; the exports stay as they are. A place
// that another reading has is refused. Then the guards look at what was moved, and at what it was compared with. With
// preview nothing is kept.
func (d *Desk) Move(ctx context.Context, of MoveSelection, to MoveTo, why string, preview bool) (*Moved, error) {
	if to.isEmpty() {
		return nil, usagef("say where the readings belong, such as --to-coupon or --to-angle", "nothing is to be changed")
	}
	why, err := checkReason(why)
	if err != nil {
		return nil, err
	}
	m := &mover{desk: d, to: to, reread: rereader{}}
	err = d.store.View(ctx, func(v *store.View) error { return m.plan(v, of) })
	if err != nil {
		return nil, err
	}
	entry := d.entry("move", "")
	entry.Why = why
	out, err := d.replaceReadings(ctx, entry, m.changes, preview)
	if errors.Is(err, errNothingMoves) {
		return nil, &study.Refusal{Fault: countReadings(len(m.changes)) + ": there already", Try: "choose other readings or another place"}
	}
	return out, err
}

// readingChange is a reading as it is to be, and how it was taken in.
type readingChange struct {
	pair    MovedPair
	pending store.PendingExport
}

// replaceReadings makes changes in one transaction, and has the guards look at them. The summary of the entry is made here.
// A preview undoes it, and no guard looks.
func (d *Desk) replaceReadings(ctx context.Context, entry *study.Entry, changes []readingChange, preview bool) (
	out *Moved, err error) {
	pending := make([]store.PendingExport, len(changes))
	rows := make([]touched, 0, len(changes))
	for i := range changes {
		pending[i] = changes[i].pending
		if old := changes[i].pair.Old; old != 0 {
			rows = append(rows, touched{"reading", old, fmt.Sprintf("reading %d", old)})
		}
	}
	err = d.store.Write(ctx, entry, func(tx *store.Tx) error {
		out = &Moved{}
		by, err := d.secondPerson(tx, "move", rows...)
		if err != nil {
			return err
		}
		before, err := d.fitStates(tx.View())
		if err != nil {
			return err
		}
		done, err := tx.Replace(pending)
		if err != nil {
			return err
		}
		if len(done) == 0 {
			return errNothingMoves
		}
		after, err := d.fitStates(tx.View())
		if err != nil {
			return err
		}
		out.Fits, out.Readings = before.touched(after), pairsOf(changes, done)
		entry.Summary = summaryOfMove(out.Readings) + by
		if preview {
			return errTrialRun
		}
		return nil
	})
	if err != nil {
		if errors.Is(err, errTrialRun) {
			err = nil
		}
		return out, err
	}
	changed, err := d.runGuards(ctx, 0)
	if err == nil {
		out.Guards = *changed
	}
	return out, err
}

// pairsOf returns the changes that were made, with the numbers of the new readings.
func pairsOf(changes []readingChange, done []store.Replaced) (pairs []MovedPair) {
	for _, r := range done {
		p := changes[r.Pending].pair
		p.Old, p.New = r.Old, r.Number
		pairs = append(pairs, p)
	}
	return pairs
}

// summaryOfMove says in the log what was moved: which readings, of which coupons, to which.
func summaryOfMove(pairs []MovedPair) string {
	var from, to, old, now []string
	var added int
	for i := range pairs {
		p := &pairs[i]
		to = append(to, p.To.Coupon)
		if p.Old == 0 {
			added++
			continue
		}
		from = append(from, p.From.Coupon)
		if len(old) < mostNamed {
			old, now = append(old, strconv.FormatInt(p.Old, 10)), append(now, strconv.FormatInt(p.New, 10))
		}
	}
	var parts []string
	if n := len(pairs) - added; n > 0 {
		more := ""
		if n > len(old) {
			more = fmt.Sprintf(" and %d more", n-len(old))
		}
		parts = append(parts, fmt.Sprintf("moved %s of coupons %s to coupons %s: %s%s, now %s%s", countReadings(n), listCodes(from),
			listCodes(to), strings.Join(old, " "), more, strings.Join(now, " "), more))
	}
	if added > 0 {
		parts = append(parts, fmt.Sprintf("added %s of coupons %s", countReadings(added), listCodes(to)))
	}
	return strings.Join(parts, "; ")
}

// listCodes lists codes, each once, in their order.
func listCodes(codes []string) string {
	slices.Sort(codes)
	codes = slices.Compact(codes)
	return joinFirst(codes[:min(len(codes), mostNamed)], len(codes), ", ")
}
