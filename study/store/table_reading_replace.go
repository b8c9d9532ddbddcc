package store

import (
	"crypto/sha256"
	"fmt"
	"reflect"
	"slices"

	"wane/study"
)

// Replaced is a reading that [Tx.Replace] added.
type Replaced struct {
	Pending int   // the index of its export among those that were given
	Column  int   // of it
	Number  int64 // of it in the study
	Old     int64 // the number of the reading that it stands instead of; 0: its column was not read before
}

// PackAgain is [Store.PackReadings] for an export that is in the study, without its bytes.
func (s *Store) PackAgain(name string, sum [sha256.Size]byte, readings []study.Reading) (*Packed, error) {
	return packReadings(study.Export{Name: name, SHA256: sum}, readings)
}

// Replace puts readings instead of those that were made from the same columns of the same exports, and adds
// readings of columns that were not read before. The readings before them are kept, and marked as superseded by
// these. A reading that says the same as the current one of its column changes nothing. A way of taking in whose
// Digest is zero stays as it was. All of them are replaced, or none: refused are a place that another reading has,
// two readings of one place or of one column, an export that is not in the study, a coupon that is not enrolled, a
// pull that is not planned, and a certificate or a profile that is not there. The error has every occupied place.
// What was replaced is in the order of pending.
func (tx *Tx) Replace(pending []PendingExport) (all []Replaced, err error) {
	err = tx.atomically(func() error {
		all = nil
		var steps []replacement
		for i := range pending {
			some, err := tx.replacements(&pending[i])
			if err != nil {
				return err
			}
			for k := range some {
				some[k].pending = i
			}
			steps = append(steps, some...)
		}
		if all, err = tx.supersedeReadings(steps); err != nil {
			return err
		}
		if err := tx.refuseOccupied(steps); err != nil {
			return err
		}
		for i := range steps {
			if err := tx.addReplacement(&steps[i], all[i].Number); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	return all, nil
}

// replacement is a reading on its way, and the row of the reading before it; nil: there is none.
type replacement struct {
	*packedReading
	of      *exportAddition
	old     row
	pending int
}

// replacements returns what is new or different in an export.
func (tx *Tx) replacements(p *PendingExport) (steps []replacement, err error) {
	e, err := exportTable.one(tx.ctx, prepared{tx}, "FROM export WHERE sha256 = ?", p.export.SHA256[:])
	if err != nil {
		return nil, err
	}
	if e == nil {
		return nil, &study.Refusal{File: p.export.Name, Fault: "it is not in the study, so nothing of it can be replaced",
			Try: "take it in first, without --replace"}
	}
	if !differentColumns(p.readings) {
		return nil, &study.Refusal{File: p.export.Name, Fault: "one of its columns has two places",
			Try: "give each column one place"}
	}
	a := &exportAddition{name: p.export.Name, number: e.Number, old: true}
	for i := range p.readings {
		r := &p.readings[i]
		old, err := readingTable.oneRow(tx.ctx, prepared{tx},
			"FROM reading WHERE superseded_by IS NULL AND export = ? AND column_number = ?", e.Number, int64(r.column))
		if err != nil {
			return nil, err
		}
		if same, err := tx.saysTheSame(old, r); same || err != nil {
			if err != nil {
				return nil, err
			}
			continue
		}
		steps = append(steps, replacement{packedReading: r, of: a, old: old})
	}
	if len(steps) > 0 {
		a.intake, err = tx.intake(e, p.How)
	}
	return steps, err
}

// intake returns the number of a way of taking in, which it adds if it is new; nil without a digest.
func (tx *Tx) intake(e *Kept[study.Export], how study.Taking) (any, error) {
	if how.Digest == [sha256.Size]byte{} {
		return nil, nil
	}
	old, err := intakeTable.one(tx.ctx, prepared{tx}, "FROM intake WHERE export = ? AND digest = ?", e.Number, how.Digest[:])
	if err != nil {
		return nil, err
	}
	if old != nil {
		return old.Number, nil
	}
	profile, err := tx.profile(e.Row.Name, how)
	if err != nil {
		return nil, err
	}
	return intakeTable.add(tx, &intakeRow{how, e.Number, profile})
}

// notCompared are the columns in which two readings that say the same may differ: what a row is called, and what
// follows from the numbers and may have been found by an earlier version.
var notCompared = []string{"id", "log", "export", "heading", "grid", "mean", "first_line", "last_line", "intake", "noise",
	"band_first_nm", "bands_packed", "twin", "superseded_by"}

// saysTheSame reports whether a reading has the place and the numbers of a row, and what else a map states. A
// missing row says nothing.
func (tx *Tx) saysTheSame(old row, r *packedReading) (bool, error) {
	if old == nil {
		return false, nil
	}
	for i, column := range readingTable.columns {
		if !slices.Contains(notCompared, column) && !reflect.DeepEqual(old[i], r.row[i]) {
			return false, nil
		}
	}
	grid, err := tx.findGrid(&r.curve)
	return grid == old.whole(readingGrid), err
}

// supersedeReadings marks the readings before others as superseded by the numbers that those will get, and returns
// both.
func (tx *Tx) supersedeReadings(steps []replacement) (all []Replaced, err error) {
	next, err := tx.next(readingTable.table)
	if err != nil {
		return nil, err
	}
	for i := range steps {
		done := Replaced{Pending: steps[i].pending, Column: steps[i].column, Number: next + int64(i)}
		if old := steps[i].old; old != nil {
			if done.Old = old.whole(0); steps[i].of.intake == nil {
				steps[i].row[readingIntake] = old[readingIntake]
			}
			old[readingSuperseded] = done.Number
			pieces, _ := encode(nil, readingTable.table, old)
			err := tx.exec("UPDATE reading SET superseded_by = ?, crc = ? WHERE id = ?", done.Number,
				int64(checksum(pieces...)), done.Old)
			if err != nil {
				return nil, err
			}
		}
		all = append(all, done)
	}
	return all, nil
}

// refuseOccupied refuses readings whose places others have, all of them at once.
func (tx *Tx) refuseOccupied(steps []replacement) error {
	var all study.Refusals
	columns := map[study.Place]*replacement{}
	for i := range steps {
		s := &steps[i]
		if other := columns[s.place]; other != nil {
			all = append(all, &study.Refusal{File: s.of.name,
				Fault: fmt.Sprintf("column %d would be %s, and so would column %d of %s", s.column, describe(s.place), other.column,
					other.of.name),
				Try: "give each of them a place of its own, such as another replicate"})
			continue
		}
		columns[s.place] = s
		taken, err := tx.takenBy(s.of, s.packedReading)
		if err != nil {
			return err
		}
		if taken != nil {
			taken.Try = "move that reading too in the same step, exchange the two, or choose another place, " +
				"such as another replicate"
			all = append(all, taken)
		}
	}
	if len(all) > 0 {
		return all
	}
	return nil
}

// addReplacement adds a reading, which must get this number.
func (tx *Tx) addReplacement(s *replacement, number int64) error {
	intake := s.row[readingIntake]
	if err := tx.fillNumbers(s.of, s.packedReading); err != nil {
		return err
	}
	if s.of.intake == nil {
		s.row[readingIntake] = intake
	}
	err := tx.insert(readingTable.table, s.row)
	if isConstraint(err) {
		return tx.refuseUnfit(s.of, s.packedReading, err)
	}
	if err == nil && s.row.whole(0) != number {
		return fmt.Errorf("store: reading %d got the number %d", number, s.row.whole(0))
	}
	return firstError(err, tx.holdForConcerns(s.packedReading))
}
