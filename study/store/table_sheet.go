package store

import (
	"context"
	"encoding/json"
	"fmt"

	"wane/study"
)

var sheetTable = newTable(27, "sheet", fields[study.Sheet]{
	textField("exposure", func(s *study.Sheet) *string { return &s.Exposure }),
	wholeField("pull", func(s *study.Sheet) *int { return &s.Pull }),
	wholeField("number", func(s *study.Sheet) *int { return &s.Number }),
	textOrNull("session", func(s *study.Sheet) *string { return &s.Session }),
	textOrNull("condition", func(s *study.Sheet) *string { return &s.Condition }),
	textField("reading_protocol", func(s *study.Sheet) *string { return &s.Protocol }),
	numbersOrNull("angles_deg", func(s *study.Sheet) *[]float64 { return &s.AnglesDeg }),
	wholeField("replicates", func(s *study.Sheet) *int { return &s.Replicates }),
	wholeField("seed", func(s *study.Sheet) *int64 { return &s.Seed }),
	flagOrNull("blind", "yes", func(s *study.Sheet) *bool { return &s.Blind }),
})

var sheetLineTable = newTable(28, "sheet_line", fields[sheetLine]{
	wholeField("sheet", func(l *sheetLine) *int64 { return &l.sheet }),
	wholeField("position", func(l *sheetLine) *int { return &l.position }),
	textField("kind", func(l *sheetLine) *study.SheetKind { return &l.Kind }),
	textOrNull("code", func(l *sheetLine) *string { return &l.Code }),
	textOrNull("blind_code", func(l *sheetLine) *string { return &l.Blind }),
	textListOrNull("spots", func(l *sheetLine) *[]string { return &l.Spots }),
})

// sheetLine is a line of a bench sheet with the number of that and its place on it, from 1.
type sheetLine struct {
	study.SheetLine
	sheet    int64
	position int
}

// textListOrNull is a column of texts, as a list in JSON.
func textListOrNull[T any](name string, at func(*T) *[]string) field[T] {
	return field[T]{name: name,
		get: func(v *T) any {
			if len(*at(v)) == 0 {
				return nil
			}
			list, err := json.Marshal(*at(v))
			if err != nil {
				panic(err) // texts can be written
			}
			return string(list)
		},
		set: func(v *T, x any) error {
			*at(v) = nil
			if x == nil {
				return nil
			}
			return json.Unmarshal([]byte(textOf(x)), at(v))
		}}
}

// AddSheet adds a bench sheet, as the next one of its pull, and sets its number. A pull that is not planned is refused.
func (tx *Tx) AddSheet(s *study.Sheet) error {
	return tx.atomically(func() error {
		last, err := findSheet(tx.ctx, prepared{tx}, s.Exposure, s.Pull)
		if err != nil {
			return err
		}
		s.Number = 1
		if last != nil {
			s.Number = last.Row.Number + 1
		}
		id, err := sheetTable.add(tx, s)
		for i := 0; i < len(s.Lines) && err == nil; i++ {
			_, err = sheetLineTable.add(tx, &sheetLine{s.Lines[i], id, i + 1})
		}
		if isConstraint(err) {
			return &study.Refusal{
				Fault: fmt.Sprintf("the bench sheet of pull %d of exposure %q does not fit into the study: the pull is not planned, "+
					"or a word or number cannot be", s.Pull, s.Exposure),
				Try:   "enrol the pull first; `wane help rosters` has the words",
				Cause: err,
			}
		}
		return err
	})
}

// Sheet returns the last bench sheet of a pull, nil if there is none.
func (v *View) Sheet(exposure string, pull int) (*Kept[study.Sheet], error) {
	s, err := findSheet(v.ctx, v.q, exposure, pull)
	return s, v.refuse(err)
}

// Sheet is [View.Sheet], with what this transaction added.
func (tx *Tx) Sheet(exposure string, pull int) (*Kept[study.Sheet], error) {
	s, err := findSheet(tx.ctx, prepared{tx}, exposure, pull)
	return s, tx.fail(err)
}

func findSheet(ctx context.Context, q querier, exposure string, pull int) (*Kept[study.Sheet], error) {
	found, err := sheetTable.one(ctx, q, "FROM sheet WHERE (exposure, pull) = (?, ?) ORDER BY number DESC LIMIT 1",
		exposure, int64(pull))
	if err != nil || found == nil {
		return nil, err
	}
	err = sheetLineTable.each(ctx, q, "FROM sheet_line WHERE sheet = ? ORDER BY position", []any{found.Number},
		func(k *Kept[sheetLine]) error {
			found.Row.Lines = append(found.Row.Lines, k.Row.SheetLine)
			return nil
		})
	return found, err
}
