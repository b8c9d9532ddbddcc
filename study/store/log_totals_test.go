package store_test

import (
	"fmt"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/store"
)

// Each line says how many rows each table has after it, counted here by SQL.
func TestEveryLineCountsTheRows(t *testing.T) {
	path := filled(t)
	db := raw(t, path)
	var totals string
	require.NoError(t, db.QueryRow("SELECT totals FROM log ORDER BY number DESC LIMIT 1").Scan(&totals))
	want := map[string]int{}
	for _, table := range ask(t, path,
		"SELECT name FROM sqlite_schema WHERE type = 'table' AND name <> 'log' AND name NOT LIKE 'sqlite%'") {
		n := 0
		require.NoError(t, db.QueryRow("SELECT count(*) FROM "+table).Scan(&n))
		if n > 0 {
			want[table] = n
		}
	}
	got := map[string]int{}
	for _, word := range strings.Fields(totals) {
		name, n, _ := strings.Cut(word, "=")
		var err error
		got[name], err = strconv.Atoi(n)
		require.NoError(t, err)
	}
	assert.Equal(t, want, got)
	require.NoError(t, db.Close())
}

// What counts rows counts them by indexes: it stays cheap in a large study.
func TestRowsAreCountedByIndexes(t *testing.T) {
	path := filled(t)
	for _, table := range []string{"reading", "fit", "original", "export", "grid", "hold", "intake"} {
		plan := ask(t, path, "EXPLAIN QUERY PLAN SELECT count(*) FROM "+table)
		assert.Contains(t, fmt.Sprint(plan), "USING COVERING INDEX", table)
	}
}

func addBlank(code string) func(*store.Tx) error {
	return func(tx *store.Tx) error {
		_, err := tx.AddCoupon(coupon(code, study.Blank, ""))
		return err
	}
}

// Files of older versions have no counts in their log: until a line is written that has
// them, all lines together say it, and then that line does.
func TestRowMissingFromAnOldStudy(t *testing.T) {
	for _, version := range []int{1, 5} {
		old := fmt.Sprintf("testdata/study-v%d.wane.gz", version)
		t.Run(old, func(t *testing.T) {
			path := unpacked(t, old)
			tamperPlain(t, path, "DELETE FROM reading WHERE id = 2")
			s, err := store.Open(t.Context(), path)
			require.NoError(t, err)
			_, err = s.Roster(t.Context())
			refused(t, err, "table reading")
			refused(t, s.Write(t.Context(), entry("enrol"), addBlank("N1")), "table reading")
			require.NoError(t, s.Close())

			path = unpacked(t, old)
			s, err = store.Open(t.Context(), path)
			require.NoError(t, err)
			require.NoError(t, s.Write(t.Context(), entry("enrol"), addBlank("N1")))
			verified(t, s)
			require.NoError(t, s.Close())
			tamperPlain(t, path, "DELETE FROM reading WHERE id = (SELECT max(id) FROM reading)")
			s, err = store.Open(t.Context(), path)
			require.NoError(t, err)
			_, err = s.Roster(t.Context())
			refused(t, err, "table reading: the log counts")
			require.NoError(t, s.Close())
		})
	}
}

// A row that goes while the study is open does not give its number to another.
func TestLastRowGoesMeanwhile(t *testing.T) {
	s, path := enrolled(t)
	before := dump(t, s)
	tamperPlain(t, path, "DELETE FROM coupon WHERE id = (SELECT max(id) FROM coupon)")
	refused(t, s.Write(t.Context(), entry("enrol"), addBlank("N1")),
		"table coupon: the log counts 6 rows, the last one is row 5")
	assert.NotContains(t, dump(t, s), "N1")
	assert.NotEqual(t, before, dump(t, s))
	refused(t, s.Write(t.Context(), entry("enrol"), enrol), "table coupon")
}

// A line whose counts were altered is found, also with hashes and checksum made to fit.
func TestAlteredCountsAreFound(t *testing.T) {
	path := filled(t)
	tamperPlain(t, path, "UPDATE log SET totals = replace(totals, 'coupon=6', 'coupon=7') WHERE number = 4")
	assert.Contains(t, verifiedAs(t, path), "table log, row 4: its checksum is wrong")
	tamperPlain(t, path, "UPDATE log SET totals = 'spoons=7' WHERE number = (SELECT max(number) FROM log)")
	s, err := store.Open(t.Context(), path)
	require.NoError(t, err)
	defer s.Close()
	_, err = s.Roster(t.Context())
	refused(t, err, "table log")
}

// tamperPlain alters a file by one statement, without the triggers.
func tamperPlain(t *testing.T, path, query string) {
	t.Helper()
	db := raw(t, path)
	rows, err := db.Query("SELECT name, sql FROM sqlite_schema WHERE type = 'trigger'")
	require.NoError(t, err)
	drop, restore := "", ""
	for rows.Next() {
		var name, text string
		require.NoError(t, rows.Scan(&name, &text))
		drop, restore = drop+"DROP TRIGGER "+name+";", restore+text+";"
	}
	require.NoError(t, rows.Close())
	run(t, db, drop)
	run(t, db, query)
	run(t, db, restore)
	require.NoError(t, db.Close())
}
