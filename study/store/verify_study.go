package store

import (
	"bytes"
	"context"
	"crypto/sha256"
	"database/sql"
	"errors"
	"fmt"
	"slices"

	sqlite3 "modernc.org/sqlite/lib"

	"wane/study"
)

// Report says what Verify looked at and found.
type Report struct {
	Rows  int64 // looked at, in all tables
	Lines int64 // of the log
	// hash of the last line of the log; noted elsewhere, it shows later whether this history is still the same
	Head     [sha256.Size]byte
	Findings []Finding
	More     int      // findings beyond the first mostFindings
	Notes    []string // what is odd and may be right
}

// Finding is something wrong in the study file.
type Finding struct {
	Table string // empty: the file as a whole
	Row   int64  // 0: the table as a whole
	Fault string
}

// String returns place and fault in one line.
func (f Finding) String() string {
	switch {
	case f.Table == "":
		return f.Fault
	case f.Row == 0:
		return fmt.Sprintf("table %s: %s", f.Table, f.Fault)
	}
	return fmt.Sprintf("table %s, row %d: %s", f.Table, f.Row, f.Fault)
}

// mostFindings is how many findings are listed: more than the schema has parts, all of which may be gone.
const mostFindings = 300

func (r *Report) add(table string, row int64, fault string) {
	f := Finding{table, row, fault}
	if slices.Contains(r.Findings, f) {
		return
	}
	if len(r.Findings) == mostFindings {
		r.More++
		return
	}
	r.Findings = append(r.Findings, f)
}

// Verify reads the whole study as it is at one moment, and reports what is wrong:
// tables, indexes, triggers and views that are missing, altered or not ours, the
// structure of the file, references, checksums of rows, missing rows, the
// chain of the log and its digests of what was added, exports that are not those
// of their SHA-256, spectra that do not unpack, fits that are superseded by
// the wrong one, reviews of which nobody can say whether they came last, corrections of
// what is not there, and times that fall. That something is wrong is no error; not being able to look is.
func (s *Store) Verify(ctx context.Context) (*Report, error) {
	report := &Report{}
	err := s.snapshot(ctx, func(q *sql.Tx) error {
		v := &verifier{ctx: ctx, store: s, q: q, report: report, tallies: map[int64]*tally{}}
		return v.verify()
	})
	if err != nil {
		return nil, err
	}
	return report, nil
}

type verifier struct {
	ctx     context.Context
	store   *Store
	q       querier
	report  *Report
	tallies map[int64]*tally // by line of the log
	foreign bool             // the schema is not ours
	fallen  []int64          // lines of the log, of older versions, whose time lies before that of the line before
	room    []byte
}

func (v *verifier) verify() error {
	steps := []func() error{v.schema, v.structure, v.references, v.tables, v.log, v.packed, v.originals, v.plans,
		v.successors, v.takings, v.reviews, v.corrections}
	for _, step := range steps {
		if err := v.note("", step()); err != nil {
			return err
		}
	}
	return nil
}

// note makes a finding of an error that says that the file is damaged, or that
// comes of a table that is missing or altered, and returns any other.
func (v *verifier) note(table string, err error) error {
	var d *damage
	switch {
	case errors.As(err, &d):
		v.report.add(d.table, d.row, d.fault)
	case isCorrupt(err):
		v.report.add(table, 0, "the rest cannot be read; SQLite says: "+err.Error())
	case v.foreign && resultCode(err) == sqlite3.SQLITE_ERROR:
		v.report.add(table, 0, "the rest cannot be read, since tables are missing or altered; SQLite says: "+err.Error())
	default:
		return err
	}
	return nil
}

// structure asks SQLite to check its pages, indexes and constraints.
func (v *verifier) structure() error {
	return v.ask("PRAGMA integrity_check", func(r row) {
		if fault := r.text(0); fault != "ok" {
			v.report.add("", 0, "the structure of the file is damaged; SQLite finds: "+fault)
		}
	})
}

func (v *verifier) references() error {
	return v.ask("PRAGMA foreign_key_check", func(r row) {
		v.report.add(r.text(0), r.whole(1), fmt.Sprintf("it refers to a row of table %s that is not there", r.text(2)))
	})
}

// plans looks for readings of pulls that nobody planned, which no reference holds. The pull of a reading that was moved
// or set aside may have been withdrawn since.
func (v *verifier) plans() error {
	return v.ask(`SELECT r.id FROM reading r JOIN v_coupons c ON c.coupon = r.coupon
		WHERE NOT EXISTS (SELECT 1 FROM v_pulls p WHERE p.pull = r.pull AND `+plans("p")+`)
		AND (NOT EXISTS (SELECT 1 FROM pull p WHERE p.pull = r.pull)
			OR EXISTS (SELECT 1 FROM v_standings s WHERE s.reading = r.id AND s.standing <> 'aside')) ORDER BY r.id`, func(r row) {
		v.report.add("reading", r.whole(0), "nobody planned its pull")
	})
}

// successors checks that each fit is superseded by the next one of its unit, and each reading by the next one of its
// column.
func (v *verifier) successors() error {
	err := v.ask(`SELECT id FROM (
		SELECT id, superseded_by, lead(id) OVER (PARTITION BY export, column_number ORDER BY id) AS next FROM reading)
		WHERE superseded_by IS NOT next`, func(r row) {
		v.report.add("reading", r.whole(0), "it is not superseded by the next reading of its column")
	})
	if err != nil {
		return err
	}
	return v.ask(`SELECT id FROM (
		SELECT id, superseded_by, lead(id) OVER (PARTITION BY coupon, pull, spot, condition ORDER BY id) AS next FROM fit)
		WHERE superseded_by IS NOT next`, func(r row) {
		v.report.add("fit", r.whole(0), "it is not superseded by the next fit of its unit")
	})
}

// takings looks for readings that are not of the export whose taking in they name, or
// that name a certificate that is not there, which no reference holds.
func (v *verifier) takings() error {
	err := v.ask("SELECT r.id FROM reading r JOIN intake i ON i.id = r.intake WHERE i.export <> r.export", func(r row) {
		v.report.add("reading", r.whole(0), "its export is not the one that its intake is of")
	})
	if err != nil {
		return err
	}
	return v.ask(`SELECT r.id FROM reading r WHERE r.reference IS NOT NULL AND NOT EXISTS (
		SELECT 1 FROM reference c WHERE (c.reference, c.issued) = (r.reference, r.reference_issued))`, func(r row) {
		v.report.add("reading", r.whole(0), "there is no such certificate of its reference")
	})
}

// reviews looks for readings that one line of the log both holds and reviews, so that
// none came last.
func (v *verifier) reviews() error {
	return v.ask("SELECT v.id FROM review v JOIN hold h ON h.reading = v.reading AND h.log = v.log", func(r row) {
		v.report.add("review", r.whole(0), "its reading is held under the same line of the log")
	})
}

// corrections looks for amendments and withdrawals of what is not there or stays, and for readings that count of
// coupons that were withdrawn.
func (v *verifier) corrections() error {
	err := amendmentTable.eachSound(v.ctx, v.q, func(k *Kept[amendmentRow]) error {
		return v.correction(amendmentTable.name, k.Number, k.Row.of, k.Row.row, func(t *table) string {
			switch i := t.at(k.Row.field); {
			case i < len(headColumns):
				return "it is of a column that is not there"
			case t.keyed.isKey(i):
				return "it is of a column of the key, which is not amended"
			}
			return ""
		})
	})
	if err != nil {
		return err
	}
	err = withdrawalTable.eachSound(v.ctx, v.q, func(k *Kept[withdrawalRow]) error {
		return v.correction(withdrawalTable.name, k.Number, k.Row.of, k.Row.row, func(*table) string { return "" })
	})
	if err != nil {
		return err
	}
	return v.ask(reads+`JOIN coupon c ON c.coupon = r.coupon
		JOIN withdrawal w ON (w.of, w.row) = ('coupon', c.id)`, func(r row) {
		v.report.add("reading", r.whole(0), "it counts or is held, and its coupon was withdrawn")
	})
}

// correction checks what one row of a table of corrections is about.
func (v *verifier) correction(in string, number int64, of string, numberThere int64, fault func(*table) string) error {
	t := tableCalled(of)
	if t == nil {
		v.report.add(in, number, fmt.Sprintf("it is of a table %q, whose rows are not corrected", of))
		return nil
	}
	there := false
	err := ask(v.ctx, v.q, "SELECT 1 FROM "+of+" WHERE id = ?", []any{numberThere}, func(row) error {
		there = true
		return nil
	})
	if err != nil {
		return err
	}
	if !there {
		v.report.add(in, number, fmt.Sprintf("it is of row %d of table %s, which is not there", numberThere, of))
	} else if fault := fault(t); fault != "" {
		v.report.add(in, number, fault)
	}
	return nil
}

// ask hands each row of a query to yield.
func (v *verifier) ask(query string, yield func(row)) error {
	return ask(v.ctx, v.q, query, nil, func(r row) error {
		yield(r)
		return nil
	})
}

// tables checks the rows of all tables but the log, and tallies them by line.
func (v *verifier) tables() error {
	for _, t := range tables {
		last := int64(0)
		err := t.allRows(v.ctx, v.q, "", nil, func(r row, sound bool) error {
			v.row(t, r, sound, last)
			last = r.whole(0)
			return nil
		})
		if err := v.note(t.name, err); err != nil {
			return err
		}
	}
	return nil
}

func (v *verifier) row(t *table, r row, sound bool, last int64) {
	v.report.Rows++
	id, line := r.whole(0), r.whole(1)
	if id != last+1 {
		v.report.add(t.name, id, fmt.Sprintf("rows %d to %d before it are missing", last+1, id-1))
	}
	if !sound {
		v.report.add(t.name, id, "its checksum is wrong")
	}
	switch t { // as it was when it was added
	case fitTable.table:
		r[fitSuperseded] = nil
	case readingTable.table:
		r[readingSuperseded] = nil
	}
	c := v.tallies[line]
	if c == nil {
		c = &tally{}
		v.tallies[line] = c
	}
	var pieces [][]byte
	pieces, v.room = encode(v.room, t, r)
	c.add(t, pieces)
}

// log checks the chain of the log, and the rows that were added under each line.
func (v *verifier) log() error {
	var last line
	rows := int64(0) // added until then
	err := logTable.allRows(v.ctx, v.q, "", nil, func(r row, sound bool) error {
		v.report.Rows++
		v.report.Lines++
		number := r.whole(0)
		if !sound {
			v.report.add("log", number, "its checksum is wrong")
		}
		before := last
		rows += r.whole(logRows)
		if fault := last.follow(r); fault != "" {
			v.report.add("log", number, fault)
		}
		v.time(before, last)
		if last.counted && last.totals.sum() != rows {
			v.report.add("log", number,
				fmt.Sprintf("it counts %d rows in all, and %d were added until then", last.totals.sum(), rows))
		}
		v.content(r)
		return nil
	})
	v.report.Head = last.hash
	if n := len(v.fallen); n > 0 {
		v.report.Notes = append(v.report.Notes, fmt.Sprintf("the times of %d lines of the log, the first of them line %d, "+
			"lie before that of the line before: an older wane took them from a clock that was behind", n, v.fallen[0]))
	}
	for number, c := range v.tallies { // those no line accounted for
		v.report.add("log", number, fmt.Sprintf("this line is missing, and %d rows were added under it", c.rows))
	}
	return err
}

// time checks that the time of a line does not lie before that of the line before. Before
// version 6 each line had the time of the clock, which may have been set back.
func (v *verifier) time(before, l line) {
	switch {
	case !isBefore(l.at, before.at):
	case l.counted:
		v.report.add("log", l.number, fmt.Sprintf("its time %s lies before %s, that of the line before", l.at, before.at))
	default:
		v.fallen = append(v.fallen, l.number)
	}
}

func (v *verifier) content(r row) {
	number := r.whole(0)
	c := v.tallies[number]
	delete(v.tallies, number)
	if c == nil {
		c = &tally{}
	}
	if c.rows != r.whole(logRows) {
		v.report.add("log", number, fmt.Sprintf("%d rows were added under this line, %d are there", r.whole(logRows), c.rows))
	} else if !bytes.Equal(c.content(), r.bytes(logContent)) {
		v.report.add("log", number, "rows that were added under this line are not what they were")
	}
}

// packed checks that spectra and tables of glasses unpack.
func (v *verifier) packed() error {
	if _, err := readRoster(v.ctx, v.q); err != nil {
		if err := v.note("glass", err); err != nil {
			return err
		}
	}
	rd := newReader(v.ctx, v.q)
	return readingTable.eachSound(v.ctx, v.q, func(k *Kept[readingRow]) error { // the others are noted
		_, err := rd.reading(k)
		return v.note("reading", err)
	})
}

// originals checks that the bytes of each export are those of its SHA-256.
func (v *verifier) originals() error {
	return exportTable.eachSound(v.ctx, v.q, func(e *Kept[study.Export]) error { // the others are noted
		_, err := v.store.original(v.ctx, v.q, e)
		return v.note("original", err)
	})
}
