package store

import (
	"context"
	"fmt"
	"strings"

	"wane/study"
)

// Guard adds holds that are not there yet, by reading and guard, and returns how many;
// and it notes that guards which compare readings have been over all up to the number
// upTo, unless that was known. Readings that are not there, holds without a guard or
// a reason, and a reading that is reviewed under the same line of the log are refused.
func (tx *Tx) Guard(upTo int64, holds []study.Hold) (added int, err error) {
	err = tx.atomically(func() error {
		for _, h := range holds {
			isNew, err := tx.hold(h)
			if err != nil {
				return err
			}
			if isNew {
				added++
			}
		}
		return tx.mark(upTo)
	})
	if err != nil {
		return 0, err
	}
	return added, nil
}

// hold adds a hold unless the guard holds the reading already.
func (tx *Tx) hold(h study.Hold) (added bool, err error) {
	old, err := holdTable.one(tx.ctx, prepared{tx}, "FROM hold WHERE reading = ? AND guard = ?", h.Reading, h.Guard)
	if old != nil || err != nil {
		return false, err
	}
	err = tx.insert(holdTable, row{nil, nil, h.Reading, h.Guard, h.Reason})
	if isConstraint(err) {
		return false, &study.Refusal{
			Fault: fmt.Sprintf("the guard %q cannot hold reading %d for the reason %q", h.Guard, h.Reading, h.Reason),
			Try:   "hold a reading of the study that is not just being reviewed, and give the reason",
			Cause: err,
		}
	}
	return true, err
}

// mark notes how far guards have been, if that is further than before.
func (tx *Tx) mark(upTo int64) error {
	before, err := guardedUpTo(tx.ctx, prepared{tx})
	if err != nil || upTo <= before {
		return err
	}
	err = tx.insert(guardingTable, row{nil, nil, upTo})
	if isConstraint(err) {
		return &study.Refusal{Fault: fmt.Sprintf("there is no reading %d to have been guarded", upTo), Try: "guard up to a reading of the study", Cause: err}
	}
	return err
}

// Review adds what a person decided of a reading. Refused are a reading that is not
// there, a review without a reason, one that changes nothing, and one of a reading
// that is held under the same line of the log.
func (tx *Tx) Review(r study.Review) error {
	if strings.TrimSpace(r.Why) == "" {
		return &study.Refusal{Fault: fmt.Sprintf("the review of reading %d does not say why", r.Reading), Try: "give the reason"}
	}
	if r.Standing != study.Counted && r.Standing != study.Aside {
		return &study.Refusal{Fault: fmt.Sprintf("a review cannot make reading %d %q", r.Reading, r.Standing), Try: "count it, or set it aside"}
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
			return &study.Refusal{Fault: fmt.Sprintf("reading %d is %s already", r.Reading, wordOf(r.Standing)), Try: "leave it as it is"}
		}
		err = tx.insert(reviewTable, row{nil, nil, r.Reading, wordOf(r.Standing), r.Why})
		if isConstraint(err) {
			return &study.Refusal{Fault: fmt.Sprintf("reading %d is only just being held", r.Reading), Try: "review it afterwards", Cause: err}
		}
		return err
	})
}

// Judged is what was said of a reading that was ever held or reviewed.
type Judged struct {
	Standing study.Standing
	Holds    []Kept[study.Hold] // in the order in which they came
	Reviews  []Kept[study.Review]
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
	err = holdTable.each(v.ctx, v.q, "", nil, func(r row) error {
		f := r.fields()
		h := study.Hold{Reading: int64(f.whole()), Concern: study.Concern{Guard: f.text(), Reason: f.text()}}
		j := judged[h.Reading]
		j.Holds = append(j.Holds, Kept[study.Hold]{h, r.whole(0), r.whole(1)})
		judged[h.Reading] = j
		return nil
	})
	if err != nil {
		return nil, err
	}
	return judged, reviewTable.each(v.ctx, v.q, "", nil, func(r row) error {
		f := r.fields()
		w := study.Review{Reading: int64(f.whole()), Standing: standingOf(f.text()), Why: f.text()}
		j := judged[w.Reading]
		j.Reviews = append(j.Reviews, Kept[study.Review]{w, r.whole(0), r.whole(1)})
		judged[w.Reading] = j
		return nil
	})
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
