package store

import (
	"slices"

	"wane/study"
)

// AmendCouponEvent amends the event in the life of a coupon that has the key of was: it becomes what is says of the
// columns named, and gets the pull and the date of is. A key stays what it is, so that for another one the row is
// withdrawn and another is enrolled in its place.
func (tx *Tx) AmendCouponEvent(was, is study.CouponEvent, columns ...string) ([]Correction, error) {
	columns = slices.Clone(columns)
	if i := slices.Index(columns, "by"); i >= 0 {
		columns[i] = "done_by"
	}
	return tx.amendWithKey(couponEventTable.table, couponEventTable.row(&was), couponEventTable.row(&is), columns)
}

// AmendDoseReading amends what the exposure of was received by the day of was, as [Tx.AmendCouponEvent] does: the row
// gets the day of is.
func (tx *Tx) AmendDoseReading(was, is study.DoseReading, columns ...string) ([]Correction, error) {
	return tx.amendWithKey(doseTable.table, doseTable.row(&was), doseTable.row(&is), columns)
}

// amendWithKey amends the row with the key of was. If is has another key, a row with that one takes its place.
func (tx *Tx) amendWithKey(t *table, was, is row, columns []string) (made []Correction, err error) {
	if !slices.ContainsFunc(t.keyed.keys, func(i int) bool { return !same(was[i], is[i]) }) {
		return tx.amend(t, is, columns)
	}
	what, err := t.keyed.describe(was)
	if err != nil {
		return nil, tx.fail(err)
	}
	err = tx.atomically(func() error {
		made = nil
		old, err := tx.find(t, was)
		if err == nil {
			err = old.refuseMissing(t, what)
		}
		if err != nil {
			return err
		}
		made = keyChanges(t, what, old.now, is)
		others, err := changes(t, what, old.now, is, columns)
		if err != nil {
			return err
		}
		made = append(made, others...)
		return tx.succeed(t, old.now, overlaid(t, old.now, made))
	})
	if err != nil {
		return nil, err
	}
	return made, nil
}

// keyChanges returns the cells of the key in which to differs from now.
func keyChanges(t *table, what string, now, to row) (made []Correction) {
	for i := range t.columns {
		if t.keyed.isKey(i) && !same(now[i], to[i]) {
			made = append(made, Correction{Of: t.name, Row: now.whole(0), What: what, Field: t.columns[i], Was: now[i], Is: to[i]})
		}
	}
	return made
}

// succeed withdraws a row and enrols another in its place.
func (tx *Tx) succeed(t *table, old, next row) error {
	if _, err := tx.takeOut(t, old.whole(0)); err != nil {
		return err
	}
	next[0], next[1] = nil, nil
	what, err := t.keyed.describe(next)
	if err != nil {
		return err
	}
	taken, err := tx.find(t, next)
	switch {
	case err != nil:
		return err
	case taken.withdrawn:
		return withdrawn(t, what)
	case taken.now != nil:
		return &study.Refusal{Fault: what + " is enrolled already", Try: "withdraw the one that never was: wane amend --withdraw"}
	}
	if err = tx.insert(t, next); isConstraint(err) {
		return doesNotFit(what, err)
	}
	return err
}
