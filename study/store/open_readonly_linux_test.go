package store_test

import (
	"compress/gzip"
	"io"
	"os"
	"path/filepath"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/store"
)

// archive puts files onto a disk that is then mounted for reading, which binds root too,
// and returns the path of the study there. Temporary copies go to a folder of their own.
func archive(t *testing.T, files map[string][]byte) string {
	t.Helper()
	disk := smallDisk(t)
	for name, data := range files {
		require.NoError(t, os.WriteFile(filepath.Join(disk, name), data, 0o644))
	}
	remount(t, disk, syscall.MS_RDONLY)
	t.Setenv("TMPDIR", t.TempDir())
	return filepath.Join(disk, "s.wane")
}

func remount(t *testing.T, disk string, flags uintptr) {
	t.Helper()
	require.NoError(t, syscall.Mount("", disk, "", syscall.MS_REMOUNT|flags, ""))
}

// readBack opens the study to read, compares it, closes it and returns its notes.
func readBack(t *testing.T, path, want string) []string {
	t.Helper()
	s, err := store.OpenToRead(t.Context(), path)
	require.NoError(t, err)
	assert.Equal(t, want, dump(t, s))
	verified(t, s)
	copied := filepath.Join(t.TempDir(), "copy.wane")
	_, err = s.Backup(t.Context(), copied)
	require.NoError(t, err)
	c, err := store.OpenToRead(t.Context(), copied) // it has the permissions of the study
	require.NoError(t, err)
	assert.Equal(t, want, dump(t, c))
	require.NoError(t, c.Close())
	require.NoError(t, s.Close())
	left, err := filepath.Glob(filepath.Join(os.TempDir(), "wane-study-*"))
	require.NoError(t, err)
	assert.Empty(t, left, "the temporary copy is gone")
	return s.Notes()
}

func TestReadingWhereNothingCanBeWritten(t *testing.T) {
	source := filled(t)
	before := dumpFile(t, source)
	data, err := os.ReadFile(source)
	require.NoError(t, err)
	path := archive(t, map[string][]byte{"s.wane": data})
	assert.Empty(t, readBack(t, path, before))
	assert.Equal(t, []string{"s.wane"}, filesBeside(t, path))
	_, err = store.Open(t.Context(), path)
	r := refused(t, err, path, "cannot be written")
	assert.Contains(t, r.Try, "wane backup", "which takes what is in the log")

	t.Run("to try", func(t *testing.T) {
		s, err := store.OpenToTry(t.Context(), path)
		require.NoError(t, err)
		e, readings := export("x.csv", study.Unit{Coupon: "C003", Pull: 1, Spot: "a"}, 8)
		_, err = add(t, s, e, readings)
		require.NoError(t, err)
		require.NoError(t, s.Close())
		assert.Empty(t, readBack(t, path, before), "the study stays as it is")
	})
	t.Run("a reader does not write", func(t *testing.T) {
		s, err := store.OpenToRead(t.Context(), path)
		require.NoError(t, err)
		defer s.Close()
		e, readings := export("x.csv", study.Unit{Coupon: "C003", Pull: 1, Spot: "a"}, 8)
		_, err = add(t, s, e, readings)
		require.ErrorContains(t, err, "opened to read")
	})
	t.Run("a file that was written meanwhile is refused", func(t *testing.T) {
		s, err := store.OpenToRead(t.Context(), path)
		require.NoError(t, err)
		remount(t, filepath.Dir(path), 0)
		require.NoError(t, os.Chtimes(path, time.Time{}, time.Unix(2_000_000_000, 0)))
		remount(t, filepath.Dir(path), syscall.MS_RDONLY)
		_, err = s.Roster(t.Context())
		refused(t, err, path, "changed while it was read")
		refused(t, s.Close(), path, "changed while it was read")
	})
}

// The log of a study that was not closed is never ignored.
func TestReadingAnUnclosedStudyWhereNothingCanBeWritten(t *testing.T) {
	c := cutOff(t)
	t.Run("it is recovered in a copy", func(t *testing.T) {
		path := archive(t, map[string][]byte{"s.wane": c.main, "s.wane-wal": c.wal})
		assert.Equal(t, []string{path + " cannot be written: a temporary copy is read",
			"recovered 4 commits of a command that was cut off"},
			readBack(t, path, c.states[inLog]))
		assert.Equal(t, []string{"s.wane", "s.wane-wal"}, filesBeside(t, path))
	})
	t.Run("a torn end is told", func(t *testing.T) {
		path := archive(t, map[string][]byte{"s.wane": c.main, "s.wane-wal": c.wal[:len(c.wal)-1]})
		notes := readBack(t, path, c.states[inLog-1])
		assert.Contains(t, notes[len(notes)-1], "the last transaction was incomplete")
	})
	t.Run("cut off while the log was moved", func(t *testing.T) {
		path := archive(t, map[string][]byte{"s.wane": append(append([]byte(nil), c.main...), 1, 2, 3), "s.wane-wal": c.wal})
		readBack(t, path, c.states[inLog])
	})
	t.Run("damaged", func(t *testing.T) {
		path := archive(t, map[string][]byte{"s.wane": c.main, "s.wane-wal": flipped(c.wal, c.ends[0]+100, 0xff)})
		_, err := store.OpenToRead(t.Context(), path)
		r := refused(t, err, path, "damaged", "1 commits before", "3 commits from there on", "no copy could be made")
		assert.Contains(t, r.Try, "copy the study and its -wal file to a safe place")
	})
	t.Run("missing", func(t *testing.T) {
		path := archive(t, map[string][]byte{"s.wane": c.main})
		_, err := store.OpenToRead(t.Context(), path)
		refused(t, err, path, "was not closed")
	})
	t.Run("emptied", func(t *testing.T) {
		path := archive(t,
			map[string][]byte{"s.wane": c.main, "s.wane-wal": []byte("no log, but some bytes of another kind")})
		_, err := store.OpenToRead(t.Context(), path)
		refused(t, err, path, "was not closed")
	})
	t.Run("a copy that a killed process left is removed, one in use is not", func(t *testing.T) {
		path := archive(t, map[string][]byte{"s.wane": c.main, "s.wane-wal": c.wal})
		left := filepath.Join(os.TempDir(), "wane-study-1")
		require.NoError(t, os.Mkdir(left, 0o700))
		for _, name := range []string{".held", "s.wane"} {
			require.NoError(t, os.WriteFile(filepath.Join(left, name), c.main, 0o600))
		}
		one, err := store.OpenToRead(t.Context(), path)
		require.NoError(t, err)
		assert.NoDirExists(t, left)
		two, err := store.OpenToRead(t.Context(), path)
		require.NoError(t, err)
		assert.Equal(t, c.states[inLog], dump(t, one))
		require.NoError(t, one.Close())
		assert.Equal(t, c.states[inLog], dump(t, two))
		require.NoError(t, two.Close())
	})
	t.Run("no room for a copy", func(t *testing.T) {
		path := archive(t, map[string][]byte{"s.wane": c.main, "s.wane-wal": c.wal})
		t.Setenv("TMPDIR", filepath.Join(t.TempDir(), "none"))
		_, err := store.OpenToRead(t.Context(), path)
		refused(t, err, "no temporary copy of the study can be made")
	})
}

// A study of an older version is brought up to date in a copy.
func TestReadingAnOldStudyWhereNothingCanBeWritten(t *testing.T) {
	packed, err := os.Open("testdata/study-v1.wane.gz")
	require.NoError(t, err)
	defer packed.Close()
	unpacked, err := gzip.NewReader(packed)
	require.NoError(t, err)
	data, err := io.ReadAll(unpacked)
	require.NoError(t, err)
	path := archive(t, map[string][]byte{"s.wane": data})
	s, err := store.OpenToRead(t.Context(), path)
	require.NoError(t, err)
	verified(t, s)
	assert.Len(t, allUnits(t, s), 2)
	require.NoError(t, s.Close())
	is, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, data, is)
}

// Another program may have left the study in the middle of a transaction by a rollback
// journal: that is undone in the copy, not read as if it were done.
func TestReadingAHotJournalWhereNothingCanBeWritten(t *testing.T) {
	source := filled(t)
	before := dumpFile(t, source)
	db := raw(t, source)
	db.SetMaxOpenConns(1)
	run(t, db, "PRAGMA journal_mode = delete")
	run(t, db, "PRAGMA cache_size = 1")
	tx, err := db.Begin()
	require.NoError(t, err)
	_, err = tx.Exec("CREATE TABLE more (x); INSERT INTO more WITH RECURSIVE n(i) AS (VALUES(1) UNION ALL SELECT i + 1 " +
		"FROM n WHERE i < 5000) SELECT randomblob(50) FROM n")
	require.NoError(t, err)
	files := map[string][]byte{}
	for _, name := range []string{"s.wane", "s.wane-journal"} {
		files[name], err = os.ReadFile(filepath.Join(filepath.Dir(source), name))
		require.NoError(t, err)
	}
	require.NoError(t, tx.Rollback())
	path := archive(t, files)
	readBack(t, path, before)
}

// Someone else, who may write, has the study open: what is committed is read.
func TestReadingWhileAnotherWritesWhatIsNotToBeWrittenHere(t *testing.T) {
	disk := smallDisk(t)
	path := onDisk(t, filled(t), disk)
	s, err := store.Open(t.Context(), path)
	require.NoError(t, err)
	takeIn(t, s, study.Unit{Coupon: "C003", Pull: 1, Spot: "a"})
	now := dump(t, s)
	here := t.TempDir()
	require.NoError(t, syscall.Mount(disk, here, "", syscall.MS_BIND, ""))
	t.Cleanup(func() { assert.NoError(t, syscall.Unmount(here, 0)) })
	require.NoError(t, syscall.Mount("", here, "", syscall.MS_BIND|syscall.MS_REMOUNT|syscall.MS_RDONLY, ""))
	t.Setenv("TMPDIR", t.TempDir())
	readBack(t, filepath.Join(here, "s.wane"), now)
	require.NoError(t, s.Close())
	readBack(t, filepath.Join(here, "s.wane"), now)
}
