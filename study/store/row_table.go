package store

import (
	"context"
	"database/sql"
	"fmt"
	"slices"
	"strings"
)

// table is a table of the study file, as far as it does not matter what its rows mean. Its
// first column is the number of the row, its second the line of the log under which the row was
// added; crc, which comes last in the file, is not among the columns.
type table struct {
	name    string
	index   int // in tables
	columns []string

	prefix   []byte   // of an encoded row
	prefixes [][]byte // of each value in it
	selected string   // the columns and crc, for SELECT
	places   string   // of the values of a row in an INSERT, with crc
	insert   string   // of one row
	verbatim []bool   // of each column: its texts are not looked at
	keyed    *keyed   // nil: its rows are not amended
}

// tableOf is a table with its columns: the one list from which its statements, what is written
// and what is read follow. A column that a later version brings goes to the end of the list.
type tableOf[T any] struct {
	*table
	fields fields[T] // behind those that all tables have
}

// keyedTables returns the tables whose rows can be amended.
func keyedTables() (some []*table) {
	for _, t := range tables {
		if t.keyed != nil {
			some = append(some, t)
		}
	}
	return some
}

// tableCalled returns the table of that name whose rows can be amended, nil if there is none.
func tableCalled(name string) *table {
	for _, t := range keyedTables() {
		if t.name == name {
			return t
		}
	}
	return nil
}

// The tables, in an order in which their rows can be added to an empty file, but that
// readings refer to intakes. A table that a later version brings goes to the end.
var tables = [...]*table{
	studyTable.table, exposureTable.table, pullTable.table, glassTable.table, couponTable.table,
	exportTable.table, originalTable.table, gridTable.table, readingTable.table, fitTable.table,

	// Version 3.
	instrumentTable.table, eventTable.table, referenceTable.table, referenceCurveTable.table, standardTable.table,
	sessionTable.table, standardReadingTable.table,

	// Version 4.
	measurementTable.table,

	// Version 5.
	profileTable.table, intakeTable.table, holdTable.table, reviewTable.table, guardingTable.table,

	// Version 6.
	releaseTable.table,

	// Version 7.
	glassBatchTable.table,

	// Version 8.
	returnTable.table, protocolTable.table,

	// Version 9.
	sheetTable.table, sheetLineTable.table,
	couponEventTable.table, doseTable.table,
	amendmentTable.table, withdrawalTable.table,
	givenTable.table,
	surveyTable.table,
	mergedTable.table, mergedLineTable.table, mergedRowsTable.table,

	// Version 10.
	ruleTable.table, verdictTable.table,
}

// headColumns are the first columns of every table but the log.
var headColumns = []string{"id", "log"}

// newTable returns the table of this place in tables.
func newTable[T any](index int, name string, columns ...fields[T]) *tableOf[T] {
	all := slices.Concat(columns...)
	return &tableOf[T]{makeTable(index, name, headColumns, all), all}
}

func makeTable[T any](index int, name string, head []string, columns fields[T]) *table {
	t := &table{name: name, index: index, columns: slices.Concat(head, columns.names())}
	t.prefix, t.verbatim = appendCounted(nil, name), make([]bool, len(head), len(t.columns))
	for i := range columns {
		t.verbatim = append(t.verbatim, columns[i].verbatim)
	}
	qualified := make([]string, len(t.columns))
	for i, c := range t.columns {
		t.prefixes = append(t.prefixes, appendCounted(nil, c))
		qualified[i] = name + "." + c
	}
	t.selected = strings.Join(qualified, ", ") + ", " + name + ".crc"
	t.places = "(?" + strings.Repeat(", ?", len(t.columns)) + ")"
	t.insert = fmt.Sprintf("INSERT INTO %s (%s, crc) VALUES %s", name, strings.Join(t.columns, ", "), t.places)
	return t
}

// head is how many columns stand before the fields.
func (t *tableOf[T]) head() int { return len(t.columns) - len(t.fields) }

// row returns v as a row, whose number and line of the log are null.
func (t *tableOf[T]) row(v *T) row {
	r, head := make(row, len(t.columns)), t.head()
	for i := range t.fields {
		r[head+i] = t.fields[i].get(v)
	}
	return r
}

// read puts a row into v.
func (t *tableOf[T]) read(r row, v *T) error {
	if err := t.fields.read(r[t.head():], v); err != nil {
		return damaged(t.name, r.whole(0), err)
	}
	return nil
}

// each hands the rows that tail selects to yield, as [table.eachRow] does. What yield is handed
// holds the next row afterwards.
func (t *tableOf[T]) each(ctx context.Context, q querier, tail string, args []any, yield func(*Kept[T]) error) error {
	k := new(Kept[T])
	return t.eachRow(ctx, q, tail, args, func(r row) error {
		if err := t.keep(r, k); err != nil {
			return err
		}
		return yield(k)
	})
}

// eachSound is each over the whole table, without the rows that have a wrong checksum.
func (t *tableOf[T]) eachSound(ctx context.Context, q querier, yield func(*Kept[T]) error) error {
	k := new(Kept[T])
	return t.allRows(ctx, q, "", nil, func(r row, sound bool) error {
		if !sound {
			return nil
		}
		if err := t.keep(r, k); err != nil {
			return err
		}
		return yield(k)
	})
}

// keep puts a row into k.
func (t *tableOf[T]) keep(r row, k *Kept[T]) error {
	*k = Kept[T]{Number: r.whole(0), Line: r.whole(1)}
	return t.read(r, &k.Row)
}

// one returns the row that tail selects, or nil if there is none.
func (t *tableOf[T]) one(ctx context.Context, q querier, tail string, args ...any) (found *Kept[T], err error) {
	err = t.each(ctx, q, tail, args, func(k *Kept[T]) error {
		own := *k
		found = &own
		return nil
	})
	return found, err
}

// add adds v to the table and returns its number.
func (t *tableOf[T]) add(tx *Tx, v *T) (number int64, err error) {
	r := t.row(v)
	err = tx.insert(t.table, r)
	return r.whole(0), err
}

// insertOf returns the statement that adds n rows.
func (t *table) insertOf(n int) string {
	return t.insert + strings.Repeat(", "+t.places, n-1)
}

// at returns the position of the column called name, -1 if there is none.
func (t *table) at(name string) int { return slices.Index(t.columns, name) }

// column returns the position of the column called name. It panics if there is none.
func (t *table) column(name string) int {
	i := t.at(name)
	if i < 0 {
		panic("store: no column " + name + " in " + t.name)
	}
	return i
}

// querier is what can be asked: a database, a connection or a transaction.
type querier interface {
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
}

// eachRow hands the rows that tail selects, as they are now, to yield, one after the other, and
// stops at the first error. tail is the query from FROM on; empty, it is the whole
// table in the order of its rows. It selects by what was enrolled: of a table whose rows can be
// amended, by keys. A row with a wrong checksum is an error. yield may keep the values, not the
// slice.
func (t *table) eachRow(ctx context.Context, q querier, tail string, args []any, yield func(row) error) error {
	now, err := correctionsOf(ctx, q, t)
	if err != nil {
		return err
	}
	return t.eachEnrolled(ctx, q, tail, args, func(r row) error {
		if !now.apply(r) {
			return nil
		}
		return yield(r)
	})
}

// eachEnrolled is eachRow for rows as they were enrolled.
func (t *table) eachEnrolled(ctx context.Context, q querier, tail string, args []any, yield func(row) error) error {
	return t.allRows(ctx, q, tail, args, func(r row, sound bool) error {
		if !sound {
			return &damage{table: t.name, row: r.whole(0), fault: "its checksum is wrong"}
		}
		return yield(r)
	})
}

// allRows is eachEnrolled, but hands over rows with a wrong checksum too, and says so.
func (t *table) allRows(ctx context.Context, q querier, tail string, args []any,
	yield func(r row, sound bool) error) error {
	if tail == "" {
		tail = fmt.Sprintf("FROM %s ORDER BY %s", t.name, t.columns[0])
	}
	rows, err := q.QueryContext(ctx, "SELECT "+t.selected+" "+tail, args...)
	if err != nil {
		return err
	}
	defer rows.Close()
	values := make([]any, len(t.columns)+1)
	places := make([]any, len(values))
	for i := range values {
		places[i] = &values[i]
	}
	earlier, past := q.(asOf)
	var pieces [][]byte
	var room []byte
	for rows.Next() {
		if err := rows.Scan(places...); err != nil {
			return err
		}
		r := row(values[:len(t.columns)])
		stored := r
		if past {
			stored = earlier.whole(t, r)
		}
		pieces, room = encode(room, t, stored)
		if err := yield(r, values[len(r)] == int64(checksum(pieces...))); err != nil {
			return err
		}
	}
	return rows.Err()
}

// ask hands the rows of any query to yield, one after the other, and stops at the first
// error. It checks nothing. yield may keep the values, not the slice.
func ask(ctx context.Context, q querier, query string, args []any, yield func(row) error) error {
	rows, err := q.QueryContext(ctx, query, args...)
	if err != nil {
		return err
	}
	defer rows.Close()
	columns, err := rows.Columns()
	if err != nil {
		return err
	}
	values := make(row, len(columns))
	places := make([]any, len(columns))
	for i := range values {
		places[i] = &values[i]
	}
	for rows.Next() {
		if err := rows.Scan(places...); err != nil {
			return err
		}
		if err := yield(values); err != nil {
			return err
		}
	}
	return rows.Err()
}

// oneRow returns the row that tail selects, or nil if there is none.
func (t *table) oneRow(ctx context.Context, q querier, tail string, args ...any) (row, error) {
	var found row
	err := t.eachRow(ctx, q, tail, args, func(r row) error {
		found = append(row(nil), r...)
		return nil
	})
	return found, err
}
