package store

import (
	"bytes"
	"context"
	"testing"

	"github.com/stretchr/testify/require"
)

// What the tests see of the inside.

var (
	Checksum  = checksum
	Pack      = pack
	Unpack    = unpack
	Normalise = normalise
)

const NewestVersion = 6

// MigrateWith brings s on with steps added to the known ones.
func (s *Store) MigrateWith(ctx context.Context, steps ...string) error {
	return migrate(ctx, s.db, append(append([]string(nil), migrations...), steps...))
}

// Encode returns the canonical encoding of a row of a table with these columns.
func Encode(name, columns string, values ...any) []byte {
	pieces, _ := encode(nil, newTable(0, name, columns), values)
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

// FitNumber returns the column called name of a fit, nil if there is none.
func FitNumber(name string) any {
	for _, c := range fitColumns {
		if c.name == name {
			return c.of
		}
	}
	return nil
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
