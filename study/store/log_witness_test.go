package store_test

import (
	"database/sql"
	"encoding/hex"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/store"
)

func lastEntry(t testing.TB, s *store.Store) study.Entry {
	t.Helper()
	var last study.Entry
	require.NoError(t, s.Log(t.Context(), func(e study.Entry) error { last = e; return nil }))
	return last
}

// A commit whose clock is behind gets the time of the line before, and says what the clock
// said; one whose clock is not keeps its own.
func TestTimesDoNotFall(t *testing.T) {
	s, _ := create(t)
	late, early, later := entry("enrol"), entry("enrol"), entry("enrol")
	late.At, early.At, later.At = "2031-03-02T08:00:00Z", "2031-03-02T07:59:59Z", "2031-03-02T09:00:00+01:00"
	require.NoError(t, s.Write(t.Context(), late, addBlank("N1")))
	require.NoError(t, s.Write(t.Context(), early, addBlank("N2")))
	kept := lastEntry(t, s)
	assert.Equal(t, *early, kept)
	assert.Equal(t, "2031-03-02T08:00:00Z", kept.At)
	assert.Equal(t, "a test; the clock was behind: it said 2031-03-02T07:59:59Z", kept.Summary)
	require.NoError(t, s.Write(t.Context(), later, addBlank("N3")))
	assert.Equal(t, "a test", lastEntry(t, s).Summary, "the same moment, written otherwise")
	verified(t, s)
}

// Times that fall are found, also where all hashes were made anew; in lines of an older
// version, whose clock may have been set back, they are told.
func TestFallingTimesAreFound(t *testing.T) {
	const fall = "UPDATE log SET at = '2030-01-01T00:00:00Z' WHERE number = 4"
	path := filled(t)
	tamper(t, path, func(db *sql.DB) {
		run(t, db, fall)
		store.Forge(t, db)
	})
	assert.Equal(t, "table log, row 4: its time 2030-01-01T00:00:00Z lies before 2031-03-01T08:00:00Z, that of the "+
		"line before\n", verifiedAs(t, path))
	tamper(t, path, func(db *sql.DB) {
		run(t, db, "UPDATE log SET totals = NULL")
		store.Forge(t, db)
	})
	s, err := store.Open(t.Context(), path)
	require.NoError(t, err)
	defer s.Close()
	report := verified(t, s)
	require.Len(t, report.Notes, 1)
	assert.Contains(t, report.Notes[0], "the times of 1 lines of the log, the first of them line 4, lie before")
}

// Counts that do not fit what was added are found, also with hashes made anew.
func TestForgedCountsAreFound(t *testing.T) {
	path := filled(t)
	tamper(t, path, func(db *sql.DB) {
		run(t, db, "UPDATE log SET totals = replace(totals, 'coupon=6', 'coupon=7') WHERE number = 4")
		store.Forge(t, db)
	})
	assert.Contains(t, verifiedAs(t, path), "table log, row 4: it counts ")
}

// Each commit appends its head: time, study, line, hash, with a tab between.
func TestWitnessSeesEachCommit(t *testing.T) {
	s, path := create(t)
	witness := filepath.Join(t.TempDir(), "witness.txt")
	s.SetWitness(witness)
	require.NoError(t, s.WitnessHead(t.Context()))
	require.NoError(t, s.Write(t.Context(), entry("enrol"), addBlank("N1")))
	require.NoError(t, s.Write(t.Context(), entry("enrol"), addBlank("N1")), "which adds nothing")
	require.NoError(t, os.WriteFile(witness, append(read(t, witness), "torn"...), 0o644))
	require.NoError(t, s.Write(t.Context(), entry("enrol"), addBlank("N2")))

	whole, err := filepath.EvalSymlinks(path)
	require.NoError(t, err)
	heads, err := s.Heads(t.Context())
	require.NoError(t, err)
	want := ""
	for i, h := range heads {
		if i == 2 {
			want += "torn\n"
		}
		want += fmt.Sprintf("%s\t%s\t%d\t%s\n", h.At, whole, i+1, hex.EncodeToString(h.Hash[:]))
	}
	assert.Equal(t, want, string(read(t, witness)))
	got, err := s.CompareWitness(t.Context())
	require.NoError(t, err)
	assert.Equal(t,
		&store.WitnessReport{Lines: 3, Last: 3, Findings: []string{witness + ":3: this is not a line of a witness"}}, got)
}

func read(t testing.TB, path string) []byte {
	t.Helper()
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	return data
}

// A witness that cannot be written stops the work before it is done.
func TestWitnessThatCannotBeWritten(t *testing.T) {
	s, path := create(t)
	before := dump(t, s)
	for name, witness := range map[string]string{
		"no folder":        filepath.Join(t.TempDir(), "none", "w.txt"),
		"a folder":         t.TempDir(),
		"the study itself": path,
		"a part of it":     path + "-wal",
	} {
		s.SetWitness(witness)
		err := s.Write(t.Context(), entry("enrol"), addBlank("N1"))
		refused(t, err, witness, "the witness (WANE_WITNESS)", "nothing was done")
		assert.Equal(t, before, dump(t, s), name)
		require.Error(t, store.WitnessReady(path, filepath.Join(t.TempDir(), "none", "w.txt")))
	}
	verified(t, s)
}

// A file that holds something else, as another study does, is no witness: nothing is done,
// and the file stays as it is.
func TestAnotherFileIsNoWitness(t *testing.T) {
	s, path := create(t)
	other, otherPath := enrolled(t)
	require.NoError(t, other.Close())
	line := "2031-03-01T08:00:00Z\t/s.wane\t2\t" + strings.Repeat("0a", 32)
	for name, text := range map[string]string{
		"a study":      string(read(t, otherPath)),
		"a line":       "notes\n",
		"an empty one": "\n" + line + "\n",
		"five cells":   line + "\tx\n",
		"line 0":       strings.Replace(line, "\t2\t", "\t0\t", 1) + "\n",
		"a short hash": line[:len(line)-2] + "\n",
		"no hash":      line[:len(line)-2] + "zz\n",
	} {
		witness := filepath.Join(t.TempDir(), "other.wane")
		require.NoError(t, os.WriteFile(witness, []byte(text), 0o644))
		before := dump(t, s)
		s.SetWitness(witness)
		failed(t, s.Write(t.Context(), entry("enrol"), addBlank("N1")), witness, "is not a witness", "nothing was done")
		_, err := s.CompareWitness(t.Context())
		failed(t, err, witness, "is not a witness")
		failed(t, store.CheckWitness(path, witness), "is not a witness")
		failed(t, store.WitnessReady(path, witness), "is not a witness")
		assert.Equal(t, before, dump(t, s), name)
		assert.Equal(t, text, string(read(t, witness)), name)
	}
	for name, text := range map[string]string{"empty": "", "of another study": line + "\n",
		"with another end": line + "\r\n"} {
		witness := filepath.Join(t.TempDir(), "w.txt")
		require.NoError(t, os.WriteFile(witness, []byte(text), 0o644))
		require.NoError(t, store.CheckWitness(path, witness), name)
	}
	require.NoError(t, store.CheckWitness(path, filepath.Join(t.TempDir(), "w.txt")), "it is made later")
	require.NoError(t, store.CheckWitness(path, ""), "none")
}

// Who alters the study and makes all its hashes anew, or puts an earlier copy in its place,
// leaves a file that is sound by itself; the witness tells.
func TestWitnessContradictsAForgedStudy(t *testing.T) {
	s, path := create(t)
	witness := filepath.Join(t.TempDir(), "witness.txt")
	s.SetWitness(witness)
	require.NoError(t, s.Write(t.Context(), entry("enrol"), addBlank("N1")))
	require.NoError(t, s.Close())
	early := read(t, path)
	reopen := func() *store.Store {
		s, err := store.Open(t.Context(), path)
		require.NoError(t, err)
		s.SetWitness(witness)
		verified(t, s) // by itself
		return s
	}
	s = reopen()
	require.NoError(t, s.Write(t.Context(), entry("enrol"), addBlank("N2")))
	held, err := s.CompareWitness(t.Context())
	require.NoError(t, err)
	assert.Equal(t, &store.WitnessReport{Lines: 2, Last: 3}, held)
	require.NoError(t, s.Close())
	late := read(t, path)

	tamper(t, path, func(db *sql.DB) {
		run(t, db, "UPDATE coupon SET glass = 'soda-lime' WHERE coupon = 'N1'")
		store.Forge(t, db)
	})
	s = reopen()
	held, err = s.CompareWitness(t.Context())
	require.NoError(t, err)
	require.Len(t, held.Findings, 2)
	assert.Contains(t, held.Findings[0], witness+":1: line 2 of the history had the hash ")
	require.NoError(t, s.Close())

	require.NoError(t, os.WriteFile(path, early, 0o644))
	s = reopen()
	held, err = s.CompareWitness(t.Context())
	require.NoError(t, err)
	require.Len(t, held.Findings, 1)
	assert.Contains(t, held.Findings[0],
		"line 3 of the history was committed at 2031-03-01T08:00:00Z, and is not there now")
	require.NoError(t, s.Close())

	moved := filepath.Join(t.TempDir(), "moved.wane")
	require.NoError(t, os.WriteFile(moved, late, 0o644))
	s, err = store.Open(t.Context(), moved)
	require.NoError(t, err)
	defer s.Close()
	s.SetWitness(witness)
	held, err = s.CompareWitness(t.Context())
	require.NoError(t, err)
	assert.Equal(t, &store.WitnessReport{Others: 2, Behind: 3}, held)
	s.SetWitness(filepath.Join(t.TempDir(), "none.txt"))
	_, err = s.CompareWitness(t.Context())
	refused(t, err, "there is no such witness")
}

// The log of a backup is read as it is written, of whatever version, and nothing is written.
func TestHeadsOfABackup(t *testing.T) {
	s, path := enrolled(t)
	heads, err := s.Heads(t.Context())
	require.NoError(t, err)
	backup := filepath.Join(t.TempDir(), "backup.wane")
	_, err = s.Backup(t.Context(), backup)
	require.NoError(t, err)
	require.NoError(t, os.Chmod(backup, 0o444))
	require.NoError(t, s.Write(t.Context(), entry("enrol"), addBlank("N1")))
	theirs, err := s.HeadsOf(t.Context(), backup)
	require.NoError(t, err)
	assert.Equal(t, heads, theirs)
	now, err := s.Heads(t.Context())
	require.NoError(t, err)
	assert.Equal(t, heads, now[:len(heads)])

	for _, version := range []int{1, 5} {
		old := unpacked(t, fmt.Sprintf("testdata/study-v%d.wane.gz", version))
		before := read(t, old)
		theirs, err := s.HeadsOf(t.Context(), old)
		require.NoError(t, err)
		assert.NotEmpty(t, theirs)
		assert.Equal(t, before, read(t, old))
		assert.Equal(t, []string{"old.wane"}, filesBeside(t, old))
		o, err := store.Open(t.Context(), old)
		require.NoError(t, err)
		assert.Equal(t, verified(t, o).Head, theirs[len(theirs)-1].Hash)
		require.NoError(t, o.Close())
	}

	_, err = s.HeadsOf(t.Context(), path)
	refused(t, err, "this is the study itself")
	_, err = s.HeadsOf(t.Context(), filepath.Join(t.TempDir(), "none.wane"))
	refused(t, err, "there is no such file")
	_, err = s.HeadsOf(t.Context(), t.TempDir())
	refused(t, err, "this is not a file")
	text := filepath.Join(t.TempDir(), "text.wane")
	require.NoError(t, os.WriteFile(text, []byte(strings.Repeat("text", 2000)), 0o644))
	_, err = s.HeadsOf(t.Context(), text)
	refused(t, err, text, "not an SQLite database")
	open := filepath.Join(t.TempDir(), "open.wane")
	require.NoError(t, os.WriteFile(open, read(t, path), 0o644)) // of a study that is open, alone
	_, err = s.HeadsOf(t.Context(), open)
	refused(t, err, open, "this study was not closed")
	require.NoError(t, os.WriteFile(backup+"-wal", []byte("left"), 0o644))
	_, err = s.HeadsOf(t.Context(), backup)
	refused(t, err, "was not closed")
	require.NoError(t, os.Remove(backup+"-wal"))

	require.NoError(t, os.Chmod(backup, 0o644))
	tamper(t, backup, func(db *sql.DB) { run(t, db, "UPDATE log SET who = 'bea' WHERE number = 2") })
	_, err = s.HeadsOf(t.Context(), backup)
	refused(t, err, backup, "the chain of hashes is broken")
}
