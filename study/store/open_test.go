package store_test

import (
	"context"
	"database/sql"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/store"
)

func TestOpenRefusesWhatIsNoStudy(t *testing.T) {
	folder := t.TempDir()
	write := func(name string, data []byte) string {
		path := filepath.Join(folder, name)
		require.NoError(t, os.WriteFile(path, data, 0o644))
		return path
	}
	foreign := filepath.Join(folder, "foreign.db")
	db, err := sql.Open("sqlite", "file:"+foreign)
	require.NoError(t, err)
	run(t, db, "CREATE TABLE study (id INTEGER PRIMARY KEY); INSERT INTO study VALUES (1)")
	require.NoError(t, db.Close())
	foreignBytes, err := os.ReadFile(foreign)
	require.NoError(t, err)

	for _, c := range []struct {
		name, path string
		words      []string
	}{
		{"not there", filepath.Join(folder, "none.wane"), []string{"no such file"}},
		{"a folder", folder, []string{"folder"}},
		{"empty", write("empty.wane", nil), []string{"empty"}},
		{"text", write("text.wane", []byte("Wavelength,R\n350,4.21\n")), []string{"not an SQLite database"}},
		{"long text", write("long.wane", make([]byte, 100_000)), []string{"not an SQLite database"}},
		{"another database", foreign, []string{"not a study"}},
		{"below a file", filepath.Join(foreign, "s.wane"), []string{"s.wane"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := store.Open(t.Context(), c.path)
			refused(t, err, append(c.words, c.path)...)
		})
	}
	kept, err := os.ReadFile(foreign)
	require.NoError(t, err)
	assert.Equal(t, foreignBytes, kept, "a foreign file stays as it is")
	assert.ElementsMatch(t, []string{"empty.wane", "foreign.db", "long.wane", "text.wane"}, filesBeside(t, foreign))
}

func TestOpenRefusesANewerStudy(t *testing.T) {
	path := filled(t)
	before := dumpFile(t, path)
	db := raw(t, path)
	run(t, db, "PRAGMA user_version = 2")
	_, err := store.Open(t.Context(), path)
	refused(t, err, path, "version 2", "newer")
	run(t, db, "PRAGMA user_version = 1")
	require.NoError(t, db.Close())
	assert.Equal(t, before, dumpFile(t, path))
}

// A file cut off anywhere is refused or found damaged, never read as if whole,
// and stays as it is.
func TestTruncatedStudy(t *testing.T) {
	path := filled(t)
	whole, err := os.ReadFile(path)
	require.NoError(t, err)
	require.Zero(t, len(whole)%4096)
	for _, length := range []int{1, 15, 16, 99, 100, 512, 4095, 4096, 4097, 8192, 5 * 4096, len(whole) / 2, len(whole) - 4096, len(whole) - 1000, len(whole) - 1} {
		require.NoError(t, os.WriteFile(path, whole[:length], 0o644))
		_, err := store.Open(t.Context(), path)
		refused(t, err, path)
		kept, err := os.ReadFile(path)
		require.NoError(t, err)
		assert.Equal(t, whole[:length], kept, "cut off after %d bytes", length)
		assert.Equal(t, []string{"s.wane"}, filesBeside(t, path), "cut off after %d bytes", length)
	}
	require.NoError(t, os.WriteFile(path, whole, 0o644))
	verifiedFile(t, path)
}

func TestLockedStudy(t *testing.T) {
	t.Parallel() // it waits for five seconds
	path := filled(t)
	before := dumpFile(t, path)
	s, err := store.Open(t.Context(), path)
	require.NoError(t, err)
	defer s.Close()
	other, err := raw(t, path).Conn(t.Context())
	require.NoError(t, err)
	defer other.Close()
	_, err = other.ExecContext(t.Context(), "BEGIN IMMEDIATE")
	require.NoError(t, err)

	err = s.Write(t.Context(), entry("enrol"), func(tx *store.Tx) error {
		_, err := tx.AddCoupon(coupon("C900", study.Exposed, "rack"))
		return err
	})
	refused(t, err, path, "in use by another process")
	assert.Equal(t, before, dump(t, s), "a study being written can be read")

	t.Run("waiting ends with the context", func(t *testing.T) {
		ctx, cancel := context.WithTimeout(t.Context(), 50*time.Millisecond)
		defer cancel()
		err := s.Write(ctx, entry("enrol"), enrol)
		require.ErrorIs(t, err, context.DeadlineExceeded)
	})

	_, err = other.ExecContext(t.Context(), "ROLLBACK")
	require.NoError(t, err)
	require.NoError(t, s.Write(t.Context(), entry("enrol"), func(tx *store.Tx) error {
		_, err := tx.AddCoupon(coupon("C900", study.Exposed, "rack"))
		return err
	}))
	verified(t, s)
}

// A study that another program holds for itself alone cannot even be opened.
func TestExclusivelyLockedStudy(t *testing.T) {
	t.Parallel() // it waits for five seconds
	path := filled(t)
	before := dumpFile(t, path)
	db := raw(t, path)
	other, err := db.Conn(t.Context())
	require.NoError(t, err)
	_, err = other.ExecContext(t.Context(), "PRAGMA locking_mode = exclusive; BEGIN EXCLUSIVE")
	require.NoError(t, err)
	_, err = store.Open(t.Context(), path)
	refused(t, err, path, "in use by another process")
	require.NoError(t, other.Close())
	require.NoError(t, db.Close())
	assert.Equal(t, before, dumpFile(t, path))
}

func TestMigration(t *testing.T) {
	s, path := enrolled(t)
	takeIn(t, s, unitA)
	before := dump(t, s)

	t.Run("a step that fails changes nothing", func(t *testing.T) {
		err := s.MigrateWith(t.Context(), "ALTER TABLE coupon ADD COLUMN colour TEXT", "this is no SQL")
		require.ErrorContains(t, err, "version 3")
		assert.Equal(t, before, dump(t, s))
		assert.Equal(t, []string{"1"}, store.Pragmas(t, s, "user_version"))
	})
	t.Run("steps run once, in order", func(t *testing.T) {
		steps := []string{"ALTER TABLE coupon ADD COLUMN colour TEXT", "ALTER TABLE coupon RENAME COLUMN colour TO tint"}
		require.NoError(t, s.MigrateWith(t.Context(), steps...))
		require.NoError(t, s.MigrateWith(t.Context(), steps...))
		assert.Equal(t, []string{"3"}, store.Pragmas(t, s, "user_version"))
	})
	// Rows that were there keep their checksums, and the log its digests; that these
	// steps are not among those known is noticed.
	report, err := s.Verify(t.Context())
	require.NoError(t, err)
	assert.Equal(t, "table coupon was altered\n", findings(report))
	require.NoError(t, s.Close())
	_, err = store.Open(t.Context(), path)
	refused(t, err, "newer")
}
