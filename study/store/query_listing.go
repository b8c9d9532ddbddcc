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

	table *table
	cells []func(r row) (any, error)
}

// unlisted are the tables that are no listings: the files are written as they came, and curves with
// their wavelengths.
var unlisted = map[*table]bool{originalTable.table: true, gridTable.table: true, readingTable.table: true}

// Listings returns the tables of the study in their order, the log as the last, but for the bytes of the
// files and for readings.
func (v *View) Listings() (all []*Listing, err error) {
	for _, t := range allTables() {
		if unlisted[t] {
			continue
		}
		l, err := v.listing(t)
		if err != nil {
			return nil, v.refuse(err)
		}
		all = append(all, l)
	}
	return all, nil
}

func (v *View) listing(t *table) (*Listing, error) {
	types := map[string]string{}
	err := ask(v.ctx, v.q, "SELECT name, type FROM pragma_table_info(?)", []any{t.name}, func(r row) error {
		types[r.text(0)] = r.text(1)
		return nil
	})
	l := &Listing{Name: t.name, About: tableNotes[t.name], table: t}
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
	return l, err
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

// EachListed hands the rows of a listing to yield, in the order of their numbers; yield may keep neither
// the slice nor the lists in it. Fits that another one supersedes are among them only with history.
func (v *View) EachListed(l *Listing, history bool, yield func(cells []any) error) error {
	tail := ""
	if l.table == fitTable.table && !history {
		tail = "FROM " + currentFits + " ORDER BY id"
	}
	cells := make([]any, len(l.cells))
	return v.refuse(l.table.eachRow(v.ctx, v.q, tail, nil, func(r row) (err error) {
		if err := v.ctx.Err(); err != nil {
			return err
		}
		for i := range cells {
			if cells[i], err = l.cells[i](r); err != nil {
				return err
			}
		}
		return yield(cells)
	}))
}
