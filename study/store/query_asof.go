package store

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"fmt"
	"slices"
	"strings"

	"wane/study"
)

// ViewAsOf is [Store.View] of the study as it was after a line of the log: rows that were added
// later are not there, and what was superseded later is current. A line that the log does not have
// is refused.
//
// Views of the connection that reads stand before the tables of the file, so that all that a View
// reads is of that line. Row by row it is slower than View, which is what the last line takes.
func (s *Store) ViewAsOf(ctx context.Context, line int64, do func(*View) error) error {
	now := false
	err := s.View(ctx, func(v *View) error {
		last, err := lastLine(ctx, v.q)
		if now = err == nil && line == last.number; !now {
			return err
		}
		return do(v)
	})
	if now || err != nil {
		return err
	}
	return s.viewBefore(ctx, line, do)
}

// viewBefore is ViewAsOf of a line that is not the last one.
func (s *Store) viewBefore(ctx context.Context, line int64, do func(*View) error) error {
	conn, err := s.db.Conn(ctx)
	if err != nil {
		return s.refuse(ctx, err)
	}
	defer func() { // with its views, it is no use to others
		_ = conn.Raw(func(any) error { return driver.ErrBadConn })
		_ = conn.Close() // which it is already
	}()
	tx, err := conn.BeginTx(ctx, &sql.TxOptions{ReadOnly: true})
	if err != nil {
		return s.refuse(ctx, err)
	}
	defer tx.Rollback() // nothing to keep
	if err := s.count(ctx, tx); err != nil {
		return s.refuse(ctx, err)
	}
	last, err := lastLine(ctx, tx)
	if err == nil && (line < 1 || line > last.number) {
		err = &study.Refusal{Fault: fmt.Sprintf("the history has no line %d", line),
			Try: fmt.Sprintf("its lines are 1 to %d: see wane log", last.number)}
	}
	if err != nil {
		return s.refuse(ctx, err)
	}
	q := asOf{tx: tx, later: map[*table]map[int64]int64{}}
	if err := q.begin(ctx, line); err != nil {
		return s.refuse(ctx, err)
	}
	err = do(&View{ctx: ctx, store: s, q: q, ready: q})
	if err == nil && s.frozen {
		err = s.about(s.asItWas())
	}
	return s.refuse(ctx, err)
}

// LineOn returns the last line of the log that was written on a day, ISO 8601, in UTC, or before;
// 0 if there is none. The times of lines never fall.
func (s *Store) LineOn(ctx context.Context, day string) (line int64, err error) {
	err = s.Log(ctx, func(e study.Entry) error {
		if len(e.At) >= len(day) && e.At[:len(day)] <= day {
			line = e.Number
		}
		return nil
	})
	return line, err
}

// asOf asks on a connection whose temporary views hide what came after a line.
type asOf struct {
	tx *sql.Tx

	// later holds, by table and row, what superseded a row after that line: the row shows none,
	// and its checksum is of it.
	later map[*table]map[int64]int64
}

func (a asOf) QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error) {
	return a.tx.QueryContext(ctx, query, args...)
}

// whole returns the row as the file has it, which its checksum is of.
func (a asOf) whole(t *table, r row) row {
	by, hidden := a.later[t][r.whole(0)]
	if !hidden {
		return r
	}
	whole := slices.Clone(r)
	whole[t.column(supersededBy)] = by
	return whole
}

// checksums returns the checksums that readings had when nothing stood instead of them, by their numbers: of those that
// were superseded after the line. Digests are made of them.
func (a asOf) checksums(ctx context.Context) (map[int64]int64, error) {
	if len(a.later[readingTable.table]) == 0 {
		return nil, nil
	}
	then, room := map[int64]int64{}, []byte(nil)
	const tail = `FROM reading WHERE superseded_by IS NULL
		AND id IN (SELECT id FROM main.reading WHERE superseded_by IS NOT NULL)`
	err := readingTable.eachRow(ctx, a, tail, nil, func(r row) error {
		var pieces [][]byte
		pieces, room = encode(room, readingTable.table, r)
		then[r.whole(0)] = int64(checksum(pieces...))
		return nil
	})
	return then, err
}

// supersededBy is the column of the row that takes the place of this one. It is the one column that
// is set later.
const supersededBy = "superseded_by"

// begin makes the views.
func (a asOf) begin(ctx context.Context, line int64) error {
	views := map[string]string{}
	err := ask(ctx, a.tx, "SELECT name, sql FROM main.sqlite_schema WHERE type = 'view'", nil, func(r row) error {
		views[r.text(0)] = strings.Replace(r.text(1), "CREATE VIEW", "CREATE TEMP VIEW", 1)
		return nil
	})
	if err != nil {
		return err
	}
	for _, t := range append(tables[:], logTable.table) {
		views[t.name] = t.viewAsOf(line)
		if !slices.Contains(t.columns, supersededBy) {
			continue
		}
		a.later[t] = map[int64]int64{}
		err := ask(ctx, a.tx, fmt.Sprintf(`SELECT old.id, old.superseded_by FROM main.%[1]s old
			JOIN main.%[1]s new ON new.id = old.superseded_by WHERE old.log <= ?1 AND new.log > ?1`, t.name),
			[]any{line}, func(r row) error {
				a.later[t][r.whole(0)] = r.whole(1)
				return nil
			})
		if err != nil {
			return err
		}
	}
	for _, statement := range views {
		if _, err := a.tx.ExecContext(ctx, statement); err != nil {
			return err
		}
	}
	return nil
}

// viewAsOf returns the statement that makes a view of t with the rows of a line and before.
func (t *table) viewAsOf(line int64) string {
	view := fmt.Sprintf("CREATE TEMP VIEW %s AS ", t.name)
	if !slices.Contains(t.columns, supersededBy) {
		of := "log"
		if t == logTable.table {
			of = t.columns[0]
		}
		return view + fmt.Sprintf("SELECT * FROM main.%s WHERE %s <= %d", t.name, of, line)
	}
	columns := append(slices.Clone(t.columns), "crc")
	plain := strings.Join(columns, ", ")
	columns[t.column(supersededBy)] = fmt.Sprintf(
		"iif((SELECT new.log FROM main.%[1]s new WHERE new.id = old.superseded_by) > %[2]d, NULL, superseded_by) AS superseded_by",
		t.name, line)
	// In two parts, of which the first has the order of the index of current rows.
	return view + fmt.Sprintf(`SELECT %[2]s FROM main.%[1]s WHERE superseded_by IS NULL AND log <= %[4]d
		UNION ALL SELECT %[3]s FROM main.%[1]s old WHERE superseded_by IS NOT NULL AND log <= %[4]d`,
		t.name, plain, strings.Join(columns, ", "), line)
}
