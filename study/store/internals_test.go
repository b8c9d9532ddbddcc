package store

import (
	"bytes"
	"context"
	"database/sql"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"modernc.org/sqlite"

	"wane/study"
)

// What the tests see of the inside.

var (
	Checksum  = checksum
	Pack      = pack
	Unpack    = unpack
	Normalise = normalise
)

// AddPacked adds one export as AddAll does where it cannot add many at a time.
func (tx *Tx) AddPacked(p *Packed, how study.Taking) (added int, err error) {
	return tx.addPacked(p, how)
}

const NewestVersion = 10

// MigrateWith brings s on with steps added to the known ones.
func (s *Store) MigrateWith(ctx context.Context, steps ...string) error {
	return migrate(ctx, s.db, append(append([]string(nil), migrations...), steps...))
}

// Encode returns the canonical encoding of a row of a table with these columns.
func Encode(name, columns string, values ...any) []byte {
	var list fields[struct{}]
	for _, c := range strings.Fields(columns) {
		list = append(list, field[struct{}]{name: c})
	}
	pieces, _ := encode(nil, makeTable(0, name, nil, list), values)
	return bytes.Join(pieces, nil)
}

// Columns returns, by table, the columns that rows are encoded from.
func Columns() map[string][]string {
	all := map[string][]string{logTable.name: logTable.columns}
	for _, t := range tables {
		all[t.name] = t.columns
	}
	return all
}

// FitNumber returns what is written of f in the column called name, and reports whether there
// is one that holds a number.
func FitNumber(f *study.Fit, name string) (number float64, is bool) {
	for _, c := range fitTable.fields {
		if c.name == name {
			number, is = c.get(f).(float64)
		}
	}
	return number, is
}

// Pragmas returns what a connection of s answers to pragmas.
func Pragmas(t testing.TB, s *Store, names ...string) []string {
	var answers []string
	for _, name := range names {
		var answer string
		require.NoError(t, s.db.QueryRow("PRAGMA "+name).Scan(&answer))
		answers = append(answers, answer)
	}
	return answers
}

// Forge makes all checksums, digests, counts and hashes of a study anew, as somebody
// determined would who has altered it, in a database without its triggers.
func Forge(t testing.TB, db *sql.DB) {
	ctx := context.Background()
	tallies := map[int64]*tally{}
	set := func(table *table, id int64, column string, value any) {
		_, err := db.Exec("UPDATE "+table.name+" SET "+column+" = ? WHERE "+table.columns[0]+" = ?", value, id)
		require.NoError(t, err)
	}
	rowsOf := func(table *table) (all []row) {
		require.NoError(t, table.allRows(ctx, db, "", nil, func(r row, _ bool) error {
			all = append(all, append(row(nil), r...))
			return nil
		}))
		return all
	}
	for _, table := range tables {
		for _, r := range rowsOf(table) {
			pieces, _ := encode(nil, table, r)
			set(table, r.whole(0), "crc", int64(checksum(pieces...)))
			if table == fitTable.table {
				r[fitSuperseded] = nil
				pieces, _ = encode(nil, table, r)
			}
			line := r.whole(1)
			if tallies[line] == nil {
				tallies[line] = &tally{}
			}
			tallies[line].add(table, pieces)
		}
	}
	var last line
	for _, r := range rowsOf(logTable.table) {
		if c := tallies[r.whole(0)]; c != nil {
			r[logRows], r[logContent] = c.rows, c.content()
			set(logTable.table, r.whole(0), "rows", c.rows)
			set(logTable.table, r.whole(0), "content", c.content())
		}
		r[logHash] = last.next(r)
		set(logTable.table, r.whole(0), "hash", r[logHash])
		pieces, _ := encode(nil, logTable.table, r)
		set(logTable.table, r.whole(0), "crc", int64(checksum(pieces...)))
		last = line{number: r.whole(0), hash: r.sum(logHash)}
	}
}

// WAL is what is found in a write-ahead log.
type WAL struct {
	Commits, Lost int
	Torn, Damaged bool
}

// InspectWAL says what is found in the write-ahead log of the study at path.
func InspectWAL(t testing.TB, path string) WAL {
	found, err := readWAL(walName(path))
	require.NoError(t, err)
	return WAL{found.commits, found.lost, found.torn, found.damaged}
}

// BeforeCommit runs do whenever s is about to commit, when the last look before it is done.
func BeforeCommit(t testing.TB, s *Store, do func()) {
	conn, err := s.writer.Conn(t.Context())
	require.NoError(t, err)
	require.NoError(t, conn.Raw(func(c any) error {
		c.(sqlite.HookRegisterer).RegisterCommitHook(func() int32 {
			do()
			return 0
		})
		return nil
	}))
	require.NoError(t, conn.Close())
}

// ReadUntil begins to read on a connection of s, until the returned function is called.
func ReadUntil(t testing.TB, s *Store) (end func()) {
	tx, err := s.db.BeginTx(t.Context(), &sql.TxOptions{ReadOnly: true})
	require.NoError(t, err)
	_, err = userVersionOf(t.Context(), tx)
	require.NoError(t, err)
	return func() { assert.NoError(t, tx.Rollback()) }
}

// CurrentRows returns the rows of a table that people write, as they are now, without number and line of the log, and the
// names of the columns: those of which the numbers are not packed.
func (s *Store) CurrentRows(ctx context.Context, name string) (columns []string, rows []string, err error) {
	t := tableCalled(name)
	var shown []int
	for i := len(headColumns); i < len(t.columns); i++ {
		if c := t.columns[i]; !strings.HasSuffix(c, "_packed") && c != "sha256" && c != "curves" {
			shown, columns = append(shown, i), append(columns, c)
		}
	}
	err = s.View(ctx, func(v *View) error {
		return t.eachRow(ctx, v.q, "", nil, func(r row) error {
			var words []string
			for _, i := range shown {
				words = append(words, show(r[i]))
			}
			rows = append(rows, strings.Join(words, "|"))
			return nil
		})
	})
	return columns, rows, err
}

// Show writes a value of a row.
var Show = show
