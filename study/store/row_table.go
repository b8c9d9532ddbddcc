package store

import (
	"context"
	"database/sql"
	"fmt"
	"strings"
)

// table is one table of the study file. Its first column is the number of the
// row; crc, which comes last in the file, is not among the columns.
type table struct {
	name    string
	index   int // in tables
	columns []string

	prefix   []byte   // of an encoded row
	prefixes [][]byte // of each value in it
	fields   string   // the columns and crc, for SELECT
	places   string   // of the values of a row in an INSERT, with crc
	insert   string   // of one row
	foreign  []bool   // of each column: its texts are not looked at
}

// The tables, in an order in which their rows can be added to an empty file, but that
// readings refer to intakes. A table or column that a later version brings goes to the end of its list.
var (
	studyTable    = newTable(0, "study", "id log correction mixing created over_blank")
	exposureTable = newTable(1, "exposure", "id log exposure protocol site dose_unit start")
	pullTable     = newTable(2, "pull", "id log exposure pull dose date")
	glassTable    = newTable(3, "glass", "id log glass points first_nm last_nm nm_packed n_packed k_packed")
	couponTable   = newTable(4, "coupon",
		"id log coupon role supplier coating lot glass glass_mm back exposure water_repellent")
	exportTable   = newTable(5, "export", "id log sha256 name size_bytes")
	originalTable = newTable(6, "original", "id log data_zstd")
	gridTable     = newTable(7, "grid", "id log sha256 points first_nm last_nm nm_packed")
	readingTable  = newTable(8, "reading", "id log coupon pull spot condition angle_deg polarisation quantity replicate "+
		"session operator geometry orientation_deg export column_number heading grid mean values_packed "+
		"first_line last_line intake reference reference_issued noise band_first_nm bands_packed twin")
	fitTable = newTable(9, "fit", "id log coupon pull spot condition session digest state "+
		strings.Join(names(fitColumns), " ")+" model flags superseded_by "+strings.Join(names(fitLaterColumns),
		" ")+" angles_deg")

	// The register, which came with version 3.
	instrumentTable = newTable(10, "instrument", "id log instrument serial kind cone_deg slit_nm join_nm u_join note")
	eventTable      = newTable(11, "event", "id log instrument date event note")
	referenceTable  = newTable(12, "reference",
		"id log reference issued serial certificate expires u_scale curves sha256 note")
	referenceCurveTable = newTable(13, "reference_curve",
		"id log reference issued angle_deg polarisation points first_nm last_nm nm_packed values_packed u_packed")
	standardTable = newTable(14, "standard",
		"id log standard issued angle_deg polarisation serial certificate expires quantity wavelength_nm value u note")
	sessionTable = newTable(15, "session",
		"id log session instrument date operator reference humidity_percent temperature_c condition note")

	standardReadingTable = newTable(16, "standard_reading",
		"id log session standard angle_deg polarisation replicate value")

	// Version 4.
	measurementTable = newTable(17, "measurement",
		"id log coupon pull spot condition quantity value u unit method date replicate operator note export line picture")

	// Version 5.
	profileTable  = newTable(18, "profile", "id log profile version text")
	intakeTable   = newTable(19, "intake", "id log export digest stated profile")
	holdTable     = newTable(20, "hold", "id log reading guard reason")
	reviewTable   = newTable(21, "review", "id log reading standing why")
	guardingTable = newTable(22, "guarding", "id log last_reading last_line guards")

	// Version 6.
	releaseTable = newTable(23, "hold_release", "id log hold reason")

	tables = [...]*table{studyTable, exposureTable, pullTable, glassTable, couponTable, exportTable, originalTable,
		gridTable, readingTable, fitTable,
		instrumentTable, eventTable, referenceTable, referenceCurveTable, standardTable, sessionTable, standardReadingTable,
		measurementTable, profileTable, intakeTable, holdTable, reviewTable, guardingTable, releaseTable}

	// logTable stands apart: its rows are numbered by number and belong to no line.
	logTable = newTable(-1, "log", "number at who verb why summary rows content hash software totals")
)

func newTable(index int, name, columns string) *table {
	t := &table{name: name, index: index, columns: strings.Fields(columns)}
	t.prefix, t.foreign = appendCounted(nil, name), isForeign(name, t.columns)
	qualified := make([]string, len(t.columns))
	for i, c := range t.columns {
		t.prefixes = append(t.prefixes, appendCounted(nil, c))
		qualified[i] = name + "." + c
	}
	t.fields = strings.Join(qualified, ", ") + ", " + name + ".crc"
	t.places = "(?" + strings.Repeat(", ?", len(t.columns)) + ")"
	t.insert = fmt.Sprintf("INSERT INTO %s (%s, crc) VALUES %s", name, strings.Join(t.columns, ", "), t.places)
	return t
}

// insertOf returns the statement that adds n rows.
func (t *table) insertOf(n int) string {
	return t.insert + strings.Repeat(", "+t.places, n-1)
}

// column returns the position of the column called name.
func (t *table) column(name string) int {
	for i, c := range t.columns {
		if c == name {
			return i
		}
	}
	panic("store: no column " + name + " in " + t.name)
}

// querier is what can be asked: a database, a connection or a transaction.
type querier interface {
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
}

// each hands the rows that tail selects to yield, one after the other, and stops
// at the first error. tail is the query from FROM on; empty, it is the whole
// table in the order of its rows. A row with a wrong checksum is an error. yield
// may keep the values, not the slice.
func (t *table) each(ctx context.Context, q querier, tail string, args []any, yield func(row) error) error {
	return t.all(ctx, q, tail, args, func(r row, sound bool) error {
		if !sound {
			return &damage{t.name, r.whole(0), "its checksum is wrong"}
		}
		return yield(r)
	})
}

// all is each, but hands over rows with a wrong checksum too, and says so.
func (t *table) all(ctx context.Context, q querier, tail string, args []any,
	yield func(r row, sound bool) error) error {
	if tail == "" {
		tail = fmt.Sprintf("FROM %s ORDER BY %s", t.name, t.columns[0])
	}
	rows, err := q.QueryContext(ctx, "SELECT "+t.fields+" "+tail, args...)
	if err != nil {
		return err
	}
	defer rows.Close()
	values := make([]any, len(t.columns)+1)
	places := make([]any, len(values))
	for i := range values {
		places[i] = &values[i]
	}
	var pieces [][]byte
	var room []byte
	for rows.Next() {
		if err := rows.Scan(places...); err != nil {
			return err
		}
		r := row(values[:len(t.columns)])
		pieces, room = encode(room, t, r)
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

// one returns the row that tail selects, or nil if there is none.
func (t *table) one(ctx context.Context, q querier, tail string, args ...any) (row, error) {
	var found row
	err := t.each(ctx, q, tail, args, func(r row) error {
		found = append(row(nil), r...)
		return nil
	})
	return found, err
}
