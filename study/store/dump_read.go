package store

import (
	"bufio"
	"context"
	"database/sql"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"strings"

	"wane/study"
)

// Dump is the files that [View.WriteDump] wrote.
type Dump struct {
	Open func(name string) (io.ReadCloser, error) // opens one of them
	Path func(name string) string                 // what a person calls it
}

// Rebuild makes a study at path of a dump, and opens it. Its rows, their numbers, its log with all
// times and hashes are those of the study that the dump was made of; no line is added. A dump of an
// older version of the study file gives a study of that version, which is then brought up to date.
//
// A row that is not what it was, one that is missing or one too many, and a log whose chain does not
// hold are a [*study.Refusal] with file and line. The study appears at path when it is whole and
// verified; after an error nothing is left behind.
func Rebuild(ctx context.Context, path string, from Dump) (*Store, error) {
	err := createWhole(path, 0, func(temporary string) error {
		s, err := connect(temporary, modeCreate)
		if err != nil {
			return err
		}
		err = s.refill(ctx, from)
		if closed := s.Close(); err == nil {
			err = closed
		}
		if err != nil {
			return err
		}
		return verifyRebuilt(ctx, temporary, from)
	})
	if err != nil {
		return nil, err
	}
	return Open(ctx, path)
}

// refill fills an empty file with the rows of a dump, and brings it to the newest version.
func (s *Store) refill(ctx context.Context, from Dump) error {
	head, err := from.head()
	if err != nil {
		return err
	}
	// References and triggers are of the order in which rows came: what they hold is verified afterwards.
	setup := fmt.Sprintf("PRAGMA page_size = %d; PRAGMA application_id = %d; PRAGMA foreign_keys = 0", pageSize,
		applicationID)
	if _, err := s.writer.ExecContext(ctx, setup); err != nil {
		return err
	}
	if err := migrate(ctx, s.writer, migrations[:head.Version]); err != nil {
		return err
	}
	tx, err := s.writer.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback() // after Commit: nothing
	if err := withoutTriggers(ctx, tx, func() error { return insertDump(ctx, tx, from, head) }); err != nil {
		return err
	}
	if err := tx.Commit(); err != nil {
		return err
	}
	if err := migrate(ctx, s.writer, migrations); err != nil {
		return err
	}
	_, err = s.writer.ExecContext(ctx, "PRAGMA journal_mode = wal")
	return err
}

// head reads format.json.
func (d Dump) head() (dumpHead, error) {
	f, err := d.Open(dumpFormat)
	if err != nil {
		return dumpHead{}, err
	}
	text, err := io.ReadAll(io.LimitReader(f, 1<<16))
	if err = firstError(err, f.Close()); err != nil {
		return dumpHead{}, err
	}
	return parseDumpHead(d.Path(dumpFormat), text)
}

// withoutTriggers runs do while no trigger is in the way.
func withoutTriggers(ctx context.Context, tx *sql.Tx, do func() error) error {
	type trigger struct{ name, text string }
	var triggers []trigger
	const all = "SELECT name, sql FROM sqlite_schema WHERE type = 'trigger' ORDER BY rowid"
	err := ask(ctx, tx, all, nil, func(r row) error {
		triggers = append(triggers, trigger{r.text(0), r.text(1)})
		return nil
	})
	for _, t := range triggers {
		if err == nil {
			_, err = tx.ExecContext(ctx, "DROP TRIGGER "+t.name)
		}
	}
	if err == nil {
		err = do()
	}
	for _, t := range triggers {
		if err == nil {
			_, err = tx.ExecContext(ctx, t.text)
		}
	}
	return err
}

// insertDump adds the rows of all tables that the version of the dump has.
func insertDump(ctx context.Context, tx *sql.Tx, from Dump, head dumpHead) error {
	var last line
	var found totals
	for _, t := range allTables() {
		there := map[string]bool{}
		err := ask(ctx, tx, "SELECT name FROM pragma_table_info(?)", []any{t.name}, func(r row) error {
			there[r.text(0)] = true
			return nil
		})
		if err != nil {
			return err
		}
		if len(there) == 0 {
			continue // a later version brought the table
		}
		r := &dumpReader{ctx: ctx, tx: tx, table: t, there: there, path: from.Path(t.name + dumpEnding)}
		if t == logTable.table {
			r.follow = last.follow
		}
		rows, err := r.readAll(from)
		if err != nil {
			return err
		}
		if t != logTable.table {
			found[t.index] = rows
		}
	}
	if last.number != head.Lines || hex.EncodeToString(last.hash[:]) != head.Head {
		return &study.Refusal{
			File: from.Path(logTable.name + dumpEnding), Line: int(last.number),
			Fault: fmt.Sprintf("the last line of the log is not the one that %s names: line %d, hash %s", dumpFormat, head.Lines,
				head.Head),
			Try: tryExportAgain,
		}
	}
	return countDump(from, &last, &found)
}

// countDump refuses a dump in which the log counts other rows than are there. Before version 6 of the study
// file it does not say; verification finds what is missing then.
func countDump(from Dump, last *line, found *totals) error {
	for _, t := range tables {
		want := last.totals[t.index]
		if t == studyTable.table {
			want = 1
		} else if !last.counted {
			continue
		}
		if found[t.index] != want {
			return &study.Refusal{File: from.Path(t.name + dumpEnding), Line: int(min(found[t.index], want)) + 1,
				Fault: fmt.Sprintf("the log counts %d rows, %d are there", want, found[t.index]), Try: tryExportAgain}
		}
	}
	return nil
}

// dumpReader adds the rows of one table.
type dumpReader struct {
	ctx    context.Context
	tx     *sql.Tx
	table  *table
	there  map[string]bool  // its columns in this version
	path   string           // of the file, for refusals
	follow func(row) string // of the log: what is wrong with the next line
	insert *sql.Stmt
	args   []any
	room   []byte
}

// longestLine bounds a line: the bytes of a file in base64, and what stands beside them.
const longestLine = mostBytes/3*4 + 1<<20

// readAll returns how many rows there are.
func (d *dumpReader) readAll(from Dump) (rows int64, err error) {
	f, err := from.Open(d.table.name + dumpEnding)
	if err != nil {
		return 0, err
	}
	defer func() { err = firstError(err, f.Close()) }()
	var columns []string
	for _, c := range append(d.table.columns[:len(d.table.columns):len(d.table.columns)], "crc") {
		if d.there[c] {
			columns = append(columns, c)
		}
	}
	d.insert, err = d.tx.PrepareContext(d.ctx, fmt.Sprintf("INSERT INTO %s (%s) VALUES (?%s)", d.table.name,
		strings.Join(columns, ", "), strings.Repeat(", ?", len(columns)-1)))
	if err != nil {
		return 0, err
	}
	defer d.insert.Close()
	in := bufio.NewReaderSize(f, 1<<16)
	for number := int64(1); ; number++ {
		line, err := readLine(in)
		if err == io.EOF && len(line) == 0 {
			return number - 1, nil
		}
		if err == io.EOF {
			err = errors.New("the line has no end")
		}
		if err == nil {
			err = d.add(number, line)
		}
		if err == nil {
			continue
		}
		if d.ctx.Err() != nil || resultCode(err) != 0 && !isConstraint(err) {
			return 0, err // of the study that is made
		}
		return 0, &study.Refusal{File: d.path, Line: int(number), Fault: "this row is not as it was exported",
			Try: tryExportAgain, Cause: err}
	}
}

// readLine returns a line without its end, or what stands there with [io.EOF].
func readLine(in *bufio.Reader) ([]byte, error) {
	var line []byte
	for {
		part, err := in.ReadSlice('\n')
		line = append(line, part...)
		switch {
		case err == nil:
			return line[:len(line)-1], nil
		case !errors.Is(err, bufio.ErrBufferFull):
			return line, err
		case len(line) > longestLine:
			return line, fmt.Errorf("the line has more than %d bytes", longestLine)
		}
	}
}

// add adds the row in a line.
func (d *dumpReader) add(number int64, line []byte) error {
	if err := d.ctx.Err(); err != nil {
		return err
	}
	r, crc, err := d.table.parseLine(line)
	if err != nil {
		return err
	}
	if r.whole(0) != number {
		return fmt.Errorf("row %d stands in the line of row %d", r.whole(0), number)
	}
	var pieces [][]byte
	if pieces, d.room = encode(d.room, d.table, r); int64(checksum(pieces...)) != crc {
		return errors.New("its checksum is wrong")
	}
	if d.follow != nil {
		if fault := d.follow(r); fault != "" {
			return errors.New(fault)
		}
	}
	d.args = d.args[:0]
	for i, c := range d.table.columns {
		switch {
		case d.there[c]:
			d.args = append(d.args, r[i])
		case r[i] != nil:
			return fmt.Errorf("the version of the export has no column %q", c)
		}
	}
	_, err = d.insert.ExecContext(d.ctx, append(d.args, crc)...)
	return err
}

// verifyRebuilt verifies the study at path, and refuses the dump that it was made of if something is
// wrong: the number of a row is that of its line.
func verifyRebuilt(ctx context.Context, path string, from Dump) error {
	s, err := OpenToRead(ctx, path)
	if err != nil {
		return err
	}
	report, err := s.Verify(ctx)
	if err = firstError(err, s.Close()); err != nil || len(report.Findings) == 0 {
		return err
	}
	f := report.Findings[0]
	refusal := &study.Refusal{File: from.Path(dumpFormat), Fault: "the export does not make a sound study: " + f.String(),
		Try: tryExportAgain}
	if f.Table != "" {
		refusal.File, refusal.Line = from.Path(f.Table+dumpEnding), int(f.Row)
	}
	return refusal
}
