package store

import (
	"context"
	"fmt"
	"strings"

	"wane/study"
)

var holdTable = newTable(20, "hold", fields[study.Hold]{
	wholeField("reading", func(h *study.Hold) *int64 { return &h.Reading }),
	textField("guard", func(h *study.Hold) *string { return &h.Guard }).asGiven(),
	textField("reason", func(h *study.Hold) *string { return &h.Reason }).asGiven(),
})

var reviewTable = newTable(21, "review", fields[study.Review]{
	wholeField("reading", func(r *study.Review) *int64 { return &r.Reading }),
	{name: "standing",
		get: func(r *study.Review) any { return wordOf(r.Standing) },
		set: func(r *study.Review, x any) error { r.Standing = standingOf(textOf(x)); return nil }},
	textField("why", func(r *study.Review) *string { return &r.Why }),
})

var guardingTable = newTable(22, "guarding", fields[Guarding]{
	wholeField("last_reading", func(l *Guarding) *int64 { return &l.LastReading }),
	wholeField("last_line", func(l *Guarding) *int64 { return &l.LastLine }),
	wholeField("guards", func(l *Guarding) *int { return &l.Guards }),
})

var releaseTable = newTable(23, "hold_release", fields[study.Release]{
	wholeField("hold", func(r *study.Release) *int64 { return &r.Hold }),
	textField("reason", func(r *study.Release) *string { return &r.Reason }),
})

// Guarding is what guards found when they looked at the study.
type Guarding struct {
	After int64 // the number of the look before it: [View.Guarded]

	// They looked at the readings up to a number, and knew roster, register and reviews up to
	// a line of the log. Guards is the version of the guards.
	LastReading, LastLine int64
	Guards                int

	Holds    []study.Hold
	Releases []study.Release // are made before the holds
}

// Guard adds what guards found: holds, unless that guard holds that reading already, and
// releases of holds that still stand. A reading that a person has judged is left alone. Not
// fresh, and nothing is added, if others have looked meanwhile. Holds without a guard or a
// reason, readings and holds that are not there, and releases without a reason are refused.
func (tx *Tx) Guard(l Guarding) (fresh bool, err error) {
	err = tx.atomically(func() error {
		last, err := lastGuarding(tx.ctx, prepared{tx})
		if err != nil || last.After != l.After {
			return err
		}
		fresh = true
		for _, r := range l.Releases {
			if err := tx.release(r); err != nil {
				return err
			}
		}
		for _, h := range l.Holds {
			if err := tx.holdUnjudged(h); err != nil {
				return err
			}
		}
		return tx.noteGuarding(last, l)
	})
	return fresh && err == nil, err
}

// release adds a release unless the hold was released before, or its reading was judged.
func (tx *Tx) release(r study.Release) error {
	old, err := releaseTable.one(tx.ctx, prepared{tx}, "FROM hold_release WHERE hold = ?", r.Hold)
	if old != nil || err != nil {
		return err
	}
	h, err := holdTable.one(tx.ctx, prepared{tx}, "FROM hold WHERE id = ?", r.Hold)
	if err != nil {
		return err
	}
	if h != nil {
		if judged, err := tx.isJudged(h.Row.Reading); judged || err != nil {
			return err
		}
	}
	_, err = releaseTable.add(tx, &r)
	if isConstraint(err) {
		return &study.Refusal{
			Fault: fmt.Sprintf("hold %d cannot be released for the reason %q", r.Hold, r.Reason),
			Try:   "release a hold of the study, and give the reason",
			Cause: err,
		}
	}
	return err
}

func (tx *Tx) holdUnjudged(h study.Hold) error {
	if judged, err := tx.isJudged(h.Reading); judged || err != nil {
		return err
	}
	return tx.hold(h)
}

// isJudged reports whether a person has reviewed a reading.
func (tx *Tx) isJudged(reading int64) (bool, error) {
	r, err := reviewTable.one(tx.ctx, prepared{tx}, "FROM review WHERE reading = ? LIMIT 1", reading)
	return r != nil, err
}

// standingHolds selects the holds that still stand.
const standingHolds = "NOT EXISTS (SELECT 1 FROM hold_release l WHERE l.hold = hold.id)"

// hold adds a hold unless the guard holds the reading already.
func (tx *Tx) hold(h study.Hold) error {
	old, err := holdTable.one(tx.ctx, prepared{tx},
		"FROM hold WHERE reading = ? AND guard = ? AND "+standingHolds, h.Reading, h.Guard)
	if old != nil || err != nil {
		return err
	}
	_, err = holdTable.add(tx, &h)
	if isConstraint(err) {
		return &study.Refusal{
			Fault: fmt.Sprintf("the guard %q cannot hold reading %d for the reason %q", h.Guard, h.Reading, h.Reason),
			Try:   "hold a reading of the study that is not just being reviewed, and give the reason",
			Cause: err,
		}
	}
	return err
}

// noteGuarding notes what guards knew, if that is more than before.
func (tx *Tx) noteGuarding(before, l Guarding) error {
	if l.LastReading <= before.LastReading && l.LastLine <= before.LastLine && l.Guards == before.Guards {
		return nil
	}
	l.LastReading, l.LastLine = max(l.LastReading, before.LastReading), max(l.LastLine, before.LastLine)
	_, err := guardingTable.add(tx, &l)
	if isConstraint(err) {
		return &study.Refusal{Fault: fmt.Sprintf("there is no reading %d to have been guarded", l.LastReading),
			Try: "guard up to a reading of the study", Cause: err}
	}
	return err
}

// Review adds what a person decided of a reading. Refused are a reading that is not
// there, a review without a reason, one that changes nothing, and one of a reading
// that is held under the same line of the log.
func (tx *Tx) Review(r study.Review) error {
	if strings.TrimSpace(r.Why) == "" {
		return &study.Refusal{Fault: fmt.Sprintf("the review of reading %d does not say why", r.Reading),
			Try: "give the reason"}
	}
	if r.Standing != study.Counted && r.Standing != study.Aside {
		return &study.Refusal{Fault: fmt.Sprintf("a review cannot make reading %d %q", r.Reading, r.Standing),
			Try: "count it, or set it aside"}
	}
	return tx.atomically(func() error {
		before, err := standings(tx.ctx, prepared{tx}, "WHERE reading = ?", r.Reading)
		if err != nil {
			return err
		}
		was, there := before[r.Reading]
		if !there {
			return &study.Refusal{Fault: fmt.Sprintf("there is no reading %d", r.Reading), Try: "name a reading of the study"}
		}
		if was == r.Standing {
			return &study.Refusal{Fault: fmt.Sprintf("reading %d is %s already", r.Reading, wordOf(r.Standing)),
				Try: "leave it as it is"}
		}
		_, err = reviewTable.add(tx, &r)
		if isConstraint(err) {
			return &study.Refusal{Fault: fmt.Sprintf("reading %d is only just being held", r.Reading),
				Try: "review it afterwards", Cause: err}
		}
		return err
	})
}

// Judged is what was said of a reading that was ever held or reviewed.
type Judged struct {
	Standing study.Standing
	Holds    []Kept[study.Hold] // that still stand, in the order in which they came
	Released []Released         // in the order of their holds
	Reviews  []Kept[study.Review]
}

// Released is a hold that no longer stands.
type Released struct {
	Kept[study.Hold]
	By Kept[study.Release]
}

// Standings returns the readings that were ever held or reviewed, by their numbers.
// What came last by the line of the log decides how they stand.
func (v *View) Standings() (map[int64]Judged, error) {
	judged, err := v.judged()
	return judged, v.refuse(err)
}

func (v *View) judged() (map[int64]Judged, error) {
	now, err := v.standings()
	if err != nil {
		return nil, err
	}
	judged := make(map[int64]Judged, len(now))
	for number, s := range now {
		judged[number] = Judged{Standing: s}
	}
	released, err := v.releases()
	if err != nil {
		return nil, err
	}
	err = holdTable.each(v.ctx, v.q, "", nil, func(k *Kept[study.Hold]) error {
		h := *k
		j := judged[h.Row.Reading]
		if by, ok := released[h.Number]; ok {
			j.Released = append(j.Released, Released{h, by})
		} else {
			j.Holds = append(j.Holds, h)
		}
		judged[h.Row.Reading] = j
		return nil
	})
	if err != nil {
		return nil, err
	}
	return judged, reviewTable.each(v.ctx, v.q, "", nil, func(k *Kept[study.Review]) error {
		j := judged[k.Row.Reading]
		j.Reviews = append(j.Reviews, *k)
		judged[k.Row.Reading] = j
		return nil
	})
}

// releases returns the releases by the numbers of their holds.
func (v *View) releases() (map[int64]Kept[study.Release], error) {
	all := map[int64]Kept[study.Release]{}
	err := releaseTable.each(v.ctx, v.q, "", nil, func(k *Kept[study.Release]) error {
		all[k.Row.Hold] = *k
		return nil
	})
	return all, err
}

// everJudged selects the readings that were ever held or reviewed.
const everJudged = "WHERE reading IN (SELECT reading FROM hold UNION SELECT reading FROM review)"

// standings returns how all readings stand that were ever judged. The moment of a view
// has one answer, which is kept.
func (v *View) standings() (now map[int64]study.Standing, err error) {
	if v.now == nil {
		v.now, err = standings(v.ctx, v.q, everJudged)
	}
	return v.now, err
}

// standings returns how the readings that where selects stand, by their numbers.
func standings(ctx context.Context, q querier, where string, args ...any) (map[int64]study.Standing, error) {
	found := map[int64]study.Standing{}
	err := ask(ctx, q, "SELECT reading, standing FROM v_standings "+where, args, func(r row) error {
		found[r.whole(0)] = standingOf(r.text(1))
		return nil
	})
	return found, err
}

// In the file the standing Counted has a word.
const counted = "counted"

func standingOf(word string) study.Standing {
	if word == counted {
		return study.Counted
	}
	return study.Standing(word)
}

func wordOf(s study.Standing) string {
	if s == study.Counted {
		return counted
	}
	return string(s)
}
