package desk

import (
	"context"
	"errors"
	"fmt"
	"slices"
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
	Condition             string    // of the coupon; [NoCondition]: none is stated
	Polarisation          string    // s, p, u or n
	Position              string    // of the spot on the coupon
	Pull                  int       // [AllPulls]: it stays
	AngleDeg              study.Num // null: it stays
	Replicate, Mounting   int
	Unit                  string   // fraction or percent: the values are read again from the export
	Exchange              []string // two coupons whose readings change places; the other fields are empty then
}

// NoCondition takes the condition of a reading away.
const NoCondition = "none"

// isEmpty reports whether everything would stay as it is.
func (to *MoveTo) isEmpty() bool {
	return to.Coupon+to.Spot+to.Session+to.Condition+to.Polarisation+to.Position+to.Unit == "" && to.Pull == AllPulls &&
		!to.AngleDeg.Valid() &&
		to.Replicate == 0 && to.Mounting == 0 && len(to.Exchange) == 0
}

// trim takes the spaces around texts away, as tables do.
func (to *MoveTo) trim() {
	for _, text := range []*string{&to.Coupon, &to.Spot, &to.Session, &to.Condition, &to.Polarisation, &to.Position, &to.Unit} {
		*text = strings.TrimSpace(*text)
	}
}

// apply puts a reading where it belongs.
func (to *MoveTo) apply(r *study.Reading) {
	for field, value := range map[*string]string{&r.Coupon: to.Coupon, &r.Spot: to.Spot, &r.Session: to.Session,
		&r.Condition: to.Condition, &r.Polarisation: to.Polarisation, &r.Position: to.Position} {
		if value != "" {
			*field = value
		}
	}
	if to.Condition == NoCondition {
		r.Condition = ""
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
	Same     int    // readings that said the same before
	Notes    []Note // on files and the map
	Fits     TouchedFits
	Guards   GuardChanges // after the move
}

// MovedPair is a reading that was moved, and the one that stands instead of it.
type MovedPair struct {
	Old, New                 int64 // their numbers; Old is 0 for a column that was not read before
	From, To                 study.Place
	FromSession, ToSession   string
	FromMounting, ToMounting int
	FromPosition, ToPosition string // of the spot on the coupon
	Export                   string // the name of the file
	Column                   int
	ReadAgain                bool           // its values are not those that they were
	Standing                 study.Standing // of the old one, with which its holds and reviews stay
}

// AsideBefore returns the numbers of readings that were set aside, and of those that stand instead of them, which
// count.
func (m *Moved) AsideBefore() (old, now []int64) {
	for i := range m.Readings {
		if p := &m.Readings[i]; p.Standing == study.Aside {
			old, now = append(old, p.Old), append(now, p.New)
		}
	}
	slices.Sort(old)
	return old, now
}

// errNothingMoves ends a transaction in which nothing would change.
var errNothingMoves = errors.New("desk: nothing moves")

// Move puts the chosen readings where they belong, for a reason that is not empty, in one transaction: all of them
// or none. The readings that were in the wrong place are kept, superseded by these; the exports stay as they are.
// A place that another reading has is refused. Then the guards look at what was moved, and at what it was compared
// with. With preview nothing is kept.
func (d *Desk) Move(ctx context.Context, of MoveSelection, to MoveTo, why string, preview bool) (*Moved, error) {
	if to.trim(); to.isEmpty() {
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
	out, err := d.replaceReadings(ctx, entry, m.changes, nil, preview)
	if errors.Is(err, errNothingMoves) {
		return nil, &study.Refusal{Fault: countReadings(len(m.changes)) + ": there already",
			Try: "choose other readings or another place"}
	}
	return out, err
}

// readingChange is a reading as it is to be, and how it was taken in.
type readingChange struct {
	pair    MovedPair
	pending store.PendingExport
}

// replaceReadings makes changes in one transaction, after what first does in it, and has the guards look at them.
// The summary of the entry is made here, and ends with the words of first; a nil first does nothing. A preview
// undoes it all, and no guard looks.
func (d *Desk) replaceReadings(ctx context.Context, entry *study.Entry, changes []readingChange,
	first func(*store.Tx) (string, error), preview bool) (out *Moved, err error) {
	err = d.store.Write(ctx, entry, func(tx *store.Tx) (err error) {
		words := ""
		if first != nil {
			if words, err = first(tx); err != nil {
				return err
			}
		}
		if out, err = d.replaceIn(tx, changes); err != nil {
			return err
		}
		by, err := d.secondPerson(tx, "move", out.replacedRows()...)
		if err == nil && preview {
			err = errTrialRun
		}
		entry.Summary = summaryOfMove(out.Readings) + words + by
		return err
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

// replaceIn makes changes in a transaction, and finds which fits they touch.
func (d *Desk) replaceIn(tx *store.Tx, changes []readingChange) (*Moved, error) {
	var coupons []string
	for i := range changes {
		coupons = append(coupons, changes[i].pair.From.Coupon, changes[i].pair.To.Coupon)
	}
	before, err := d.fitStates(tx.View(), coupons)
	if err != nil {
		return nil, err
	}
	pending := make([]store.PendingExport, len(changes))
	for i := range changes {
		pending[i] = changes[i].pending
	}
	done, err := tx.Replace(pending)
	if err != nil {
		return nil, err
	}
	if len(done) == 0 {
		return nil, errNothingMoves
	}
	after, err := d.fitStates(tx.View(), coupons)
	if err != nil {
		return nil, err
	}
	return &Moved{Readings: pairsOf(changes, done), Fits: before.touched(after)}, nil
}

// replacedRows are the readings that are superseded.
func (m *Moved) replacedRows() (rows []touched) {
	for i := range m.Readings {
		if old := m.Readings[i].Old; old != 0 {
			rows = append(rows, touched{"reading", old, fmt.Sprintf("reading %d", old)})
		}
	}
	return rows
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
	var from, to, of []string
	var old, now, added []int64
	for i := range pairs {
		p := &pairs[i]
		if p.Old == 0 {
			added, of = append(added, p.New), append(of, p.To.Coupon)
			continue
		}
		old, from = append(old, p.Old), append(from, p.From.Coupon)
		now, to = append(now, p.New), append(to, p.To.Coupon)
	}
	slices.Sort(old)
	var parts []string
	if len(old) > 0 {
		parts = append(parts, fmt.Sprintf("moved %s, of coupons %s to coupons %s: now %s", countedReadings(old), listCodes(from),
			listCodes(to), SpanWords(now)))
	}
	if len(added) > 0 {
		parts = append(parts, fmt.Sprintf("added %s, of coupons %s", countedReadings(added), listCodes(of)))
	}
	return strings.Join(parts, "; ")
}

// listCodes lists codes, each once, in their order.
func listCodes(codes []string) string {
	codes = slices.Compact(slices.Sorted(slices.Values(codes)))
	return joinFirst(codes[:min(len(codes), mostNamed)], len(codes), ", ")
}
