package store

import (
	"encoding/hex"
	"fmt"
	"strings"

	"wane/study"
)

// Listing is a table of the study as programs of other people read it: numbers instead of packed bytes,
// digests in hexadecimal digits.
type Listing struct {
	Name, About string
	Fields      []study.Field

	table   *table
	history bool
	cells   []func(r row) (any, error)
}

// unlisted are the tables that are no listings: the files are written as they came, and curves with
// their wavelengths.
var unlisted = map[*table]bool{originalTable.table: true, gridTable.table: true, readingTable.table: true}

// Listings returns the tables of the study in their order, the log as the last, but for the bytes of the
// files and for readings.
//
// With history they have also rows that others superseded. A row that was amended has then a row for each
// state: it said so from the line of the log from_log on until the line until_log, which amended or withdrew it.
func (v *View) Listings(history bool) (all []*Listing, err error) {
	for _, t := range allTables() {
		if unlisted[t] {
			continue
		}
		l, err := v.listing(t, history)
		if err != nil {
			return nil, v.refuse(err)
		}
		all = append(all, l)
	}
	return all, nil
}

func (v *View) listing(t *table, history bool) (*Listing, error) {
	types := map[string]string{}
	err := ask(v.ctx, v.q, "SELECT name, type FROM pragma_table_info(?)", []any{t.name}, func(r row) error {
		types[r.text(0)] = r.text(1)
		return nil
	})
	l := &Listing{Name: t.name, About: tableNotes[t.name], table: t, history: history}
	for i, c := range t.columns {
		if notListed[c] {
			continue
		}
		f := fieldOf(t, c)
		cell := func(r row) (any, error) { return r[i], nil }
		switch types[c] {
		case "TEXT":
		case "INTEGER":
			f.Kind = study.KindWhole
		case "REAL":
			f.Kind = study.KindReal
		case "BLOB":
			cell = func(r row) (any, error) { return digits(r[i]), nil }
			if name, packed := strings.CutSuffix(c, "_packed"); packed {
				f.Name, f.Kind = name, study.KindPoints
				points := t.column("points")
				cell = func(r row) (any, error) { return unpackCell(t, r, i, points) }
			}
		default: // values of several columns
			cell = func(r row) (any, error) { return inText(r[i]), nil }
		}
		l.Fields, l.cells = append(l.Fields, f), append(l.cells, cell)
	}
	if l.hasStates() {
		l.Fields = append(l.Fields, stateFields...)
	}
	return l, err
}

// hasStates reports whether a row of the listing is a state of a row of the table.
func (l *Listing) hasStates() bool { return l.history && l.table.keyed != nil }

// stateFields are behind the columns of a table whose rows can be amended, with history.
var stateFields = []study.Field{
	{Name: "from_log", Kind: study.KindWhole, About: "line of the log from which on the row says this"},
	{Name: "until_log", Kind: study.KindWhole,
		About: "line of the log that amended or withdrew it; null: the row is current"},
}

// notListed are columns of bytes that only this program reads. The dump has them.
var notListed = map[string]bool{"errors": true}

func digits(value any) any {
	if b, ok := value.([]byte); ok {
		return hex.EncodeToString(b)
	}
	return nil
}

func unpackCell(t *table, r row, i, points int) (any, error) {
	values, err := unpack(r.bytes(i), int(r.whole(points)))
	if err != nil {
		return nil, damaged(t.name, r.whole(0), fmt.Errorf("%s: %w", t.columns[i], err))
	}
	return values, nil
}

// inText is a value of any kind as a text.
func inText(value any) any {
	switch v := value.(type) {
	case nil, string:
		return v
	case []byte:
		return digits(v)
	}
	return fmt.Sprint(value)
}

// EachListed hands the rows of a listing to yield, in the order of their numbers and then of their states;
// yield may keep neither the slice nor the lists in it.
func (v *View) EachListed(l *Listing, yield func(cells []any) error) error {
	cells := make([]any, len(l.Fields))
	hand := func(r row) (err error) {
		if err := v.ctx.Err(); err != nil {
			return err
		}
		for i := range l.cells {
			if cells[i], err = l.cells[i](r); err != nil {
				return err
			}
		}
		return yield(cells)
	}
	tail := ""
	if l.table == fitTable.table && !l.history {
		tail = "FROM " + currentFits + " ORDER BY id"
	}
	if !l.hasStates() {
		return v.refuse(l.table.eachRow(v.ctx, v.q, tail, nil, hand))
	}
	states, err := v.statesOf(l.table)
	if err != nil {
		return v.refuse(err)
	}
	from, until := len(l.cells), len(l.cells)+1
	return v.refuse(l.table.eachEnrolled(v.ctx, v.q, "", nil, func(r row) error {
		cells[from] = r.whole(1)
		for _, change := range states[r.whole(0)] {
			if change.line != cells[from] {
				cells[until] = change.line
				if err := hand(r); err != nil {
					return err
				}
				cells[from] = change.line
			}
			if change.withdrawn {
				return nil
			}
			r[change.column] = change.value
		}
		cells[until] = nil
		return hand(r)
	}))
}

// change is what a line of the log did to a row.
type change struct {
	line int64
	cell
	withdrawn bool
}

// statesOf returns what was done to the rows of a table, by their numbers, in the order of the log.
func (v *View) statesOf(t *table) (map[int64][]change, error) {
	changes := map[int64][]change{}
	err := amendmentTable.each(v.ctx, v.q, "FROM amendment WHERE of = ? ORDER BY log, id", []any{t.name},
		func(k *Kept[amendmentRow]) error {
			column := t.at(k.Row.field)
			if column < len(headColumns) {
				return &damage{table: amendmentTable.name, row: k.Number, fault: "it is of a column that is not amended"}
			}
			changes[k.Row.row] = append(changes[k.Row.row], change{k.Line, cell{column, k.Row.value}, false})
			return nil
		})
	if err != nil {
		return nil, err
	}
	return changes, withdrawalTable.each(v.ctx, v.q, "FROM withdrawal WHERE of = ? ORDER BY log, id", []any{t.name},
		func(k *Kept[withdrawalRow]) error {
			changes[k.Row.row] = append(changes[k.Row.row], change{line: k.Line, withdrawn: true})
			return nil
		})
}
