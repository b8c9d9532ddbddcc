package store_test

import (
	"encoding/binary"
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/store"
)

// unchanged asserts that the study at path and its log are these bytes, and nothing is beside.
func unchanged(t testing.TB, path string, main, wal []byte) {
	t.Helper()
	for name, want := range map[string][]byte{path: main, path + "-wal": wal} {
		is, err := os.ReadFile(name)
		require.NoError(t, err)
		assert.Equal(t, want, is, name)
	}
	assert.Len(t, filesBeside(t, path), 2)
}

// A log is never written into a file that it does not belong to: put back from a backup, or
// by a program that synchronises folders. Both stay as they are, and what `try:` says works.
func TestALogOfAnotherFile(t *testing.T) {
	c, other := cutOff(t), cutOff(t)
	further := func() []byte { // closed, with more in it than the log goes on from
		path := c.write(t, c.main, c.wal)
		s, err := store.Open(t.Context(), path)
		require.NoError(t, err)
		for i := range 3 {
			takeIn(t, s, study.Unit{Coupon: "C003", Pull: 2, Spot: fmt.Sprint(i)})
		}
		require.NoError(t, s.Close())
		data, err := os.ReadFile(path)
		require.NoError(t, err)
		return data
	}()
	s, empty := create(t)
	require.NoError(t, s.Close())
	before, err := os.ReadFile(empty)
	require.NoError(t, err)
	copied := filepath.Join(t.TempDir(), "copy.wane") // the same history in other pages
	s, err = store.Open(t.Context(), c.write(t, c.base, nil))
	require.NoError(t, err)
	_, err = s.Backup(t.Context(), copied)
	require.NoError(t, err)
	require.NoError(t, s.Close())
	backup, err := os.ReadFile(copied)
	require.NoError(t, err)
	for name, main := range map[string][]byte{
		"a later backup": further, "an earlier backup": before, "another opening": other.main, "other pages": backup,
		"no study": []byte("Wavelength,R\n350,4.21\n360,4.19\n370,4.15\n"),
	} {
		t.Run(name, func(t *testing.T) {
			path := c.write(t, main, c.wal)
			for _, open := range openers {
				_, err := open(t.Context(), path)
				refused(t, err, path, "s.wane-wal")
				unchanged(t, path, main, c.wal)
			}
		})
	}
	t.Run("what it says to try", func(t *testing.T) {
		path := c.write(t, further, c.wal)
		_, err := store.Open(t.Context(), path)
		r := refused(t, err, path, "the write-ahead log s.wane-wal beside this file belongs to another file")
		assert.Contains(t, r.Try, "move s.wane-wal to another folder")
		require.NoError(t, os.Rename(path+"-wal", filepath.Join(t.TempDir(), "kept")))
		assert.Contains(t, dumpFile(t, path), `spot="2"`)

		assert.Contains(t, r.Try, "put the study back")
		path = c.write(t, c.main, c.wal)
		assert.Equal(t, c.states[inLog], dumpFile(t, path))
	})
}

// Where somebody who reads keeps the mark out of the main file, the history tells that the log
// goes on from it.
func TestALogThatContinuesAClosedFile(t *testing.T) {
	s, path := enrolled(t)
	require.NoError(t, s.Close())
	db := raw(t, path)
	tx, err := db.Begin()
	require.NoError(t, err)
	var n int
	require.NoError(t, tx.QueryRow("SELECT count(*) FROM log").Scan(&n))
	s, err = store.Open(t.Context(), path)
	require.NoError(t, err)
	takeIn(t, s, study.Unit{Coupon: "C001", Pull: 1, Spot: "a"})
	takeIn(t, s, study.Unit{Coupon: "C001", Pull: 1, Spot: "b"})
	want := dump(t, s)
	main, err := os.ReadFile(path)
	require.NoError(t, err)
	require.Zero(t, binary.BigEndian.Uint32(main[60:])>>16, "the main file does not say that it is not closed")
	wal, err := os.ReadFile(path + "-wal")
	require.NoError(t, err)
	for name, open := range openers {
		t.Run(name, func(t *testing.T) {
			copied := (&cut{}).write(t, main, wal)
			o, err := open(t.Context(), copied)
			require.NoError(t, err)
			assert.Equal(t, []string{"recovered 2 commits of a command that was cut off"}, o.Notes())
			assert.Equal(t, want, dump(t, o))
			require.NoError(t, o.Close())
		})
	}
	t.Run("while they are open", func(t *testing.T) {
		o, err := store.OpenToRead(t.Context(), path)
		require.NoError(t, err)
		assert.Equal(t, want, dump(t, o))
		require.NoError(t, o.Close())
	})
	require.NoError(t, s.Close())
	t.Run("that it is closed is in the log only, too", func(t *testing.T) {
		wal, err := os.ReadFile(path + "-wal")
		require.NoError(t, err)
		assert.Equal(t, want, dumpFile(t, (&cut{}).write(t, main, wal)))
		other, err := os.ReadFile(filled(t))
		require.NoError(t, err)
		mixed := (&cut{}).write(t, other, wal)
		_, err = store.Open(t.Context(), mixed)
		refused(t, err, mixed, "s.wane-wal", "belongs to another file")
		unchanged(t, mixed, other, wal)
	})
	require.NoError(t, tx.Rollback())
	require.NoError(t, db.Close())
	assert.Equal(t, want, dumpFile(t, path))
}

// Each commit, however small, writes into the log by which opening it is, as the main file says.
func TestEachCommitSaysByWhichOpening(t *testing.T) {
	s, path := enrolled(t)
	for i := range 5 {
		require.NoError(t, s.Write(t.Context(), entry("enrol"), func(tx *store.Tx) error {
			_, err := tx.AddExposure(study.Exposure{Exposure: fmt.Sprintf("rack-%d", i), Protocol: "outdoor", DoseUnit: "days",
				Start: "2031-03-01"})
			return err
		}))
	}
	main, err := os.ReadFile(path)
	require.NoError(t, err)
	wal, err := os.ReadFile(path + "-wal")
	require.NoError(t, err)
	var says []byte
	commits := 0
	for f := 32; f+frameSize <= len(wal); f += frameSize {
		if binary.BigEndian.Uint32(wal[f:]) == 1 {
			says = wal[f+24+60 : f+24+64]
		}
		if binary.BigEndian.Uint32(wal[f+4:]) > 0 { // the last frame of a commit
			commits++
			assert.Equal(t, main[60:64], says, "commit %d", commits)
			says = nil
		}
	}
	assert.GreaterOrEqual(t, commits, 5)
}

// A program that synchronises folders puts another file in the place of a study that is
// written, whose log stays there: no later command writes it into that file.
func TestTheLogStaysBesideAFileThatWasReplaced(t *testing.T) {
	other := filled(t)
	data, err := os.ReadFile(other)
	require.NoError(t, err)
	s, path := enrolled(t)
	takeIn(t, s, study.Unit{Coupon: "C001", Pull: 1, Spot: "a"})
	require.NoError(t, os.Rename(other, path))
	for _, open := range openers {
		_, err := open(t.Context(), path)
		refused(t, err, path, "belongs to another file")
	}
	is, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, data, is)
	refused(t, s.Close(), path, "another file has taken the place")
	is, err = os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, data, is)
}

// What is cut off the main file and is not in the log is not made up by what is there.
func TestTheMainFileIsCutBelowItsLog(t *testing.T) {
	c := cutOff(t)
	held := map[int]bool{}
	for f := 32; f < len(c.wal); f += frameSize {
		held[int(binary.BigEndian.Uint32(c.wal[f:]))] = true
	}
	refusals := 0
	for _, length := range []int{100, 4096, 8192, 12295, len(c.main) / 2, len(c.main) - 8192, len(c.main) - 4096,
		len(c.main) - 100} {
		missing := false
		for page := length/4096 + 1; page <= len(c.main)/4096; page++ {
			missing = missing || !held[page]
		}
		path := c.write(t, c.main[:length], c.wal)
		if !missing {
			assert.Equal(t, c.states[inLog], dumpFile(t, path), length)
			continue
		}
		refusals++
		for _, open := range openers {
			_, err := open(t.Context(), path)
			refused(t, err, path, fmt.Sprintf("ends at byte %d", length), "s.wane-wal")
			unchanged(t, path, c.main[:length], c.wal)
		}
	}
	assert.Greater(t, refusals, 4)
}

// No study is made, and no backup, beside what another file of its name left: SQLite would
// take that for a part of it.
func TestNoStudyIsMadeBesideWhatAnotherLeft(t *testing.T) {
	c := cutOff(t)
	s, err := store.Open(t.Context(), c.write(t, c.base, nil))
	require.NoError(t, err)
	defer s.Close()
	makers := map[string]func(path string) error{
		"new": func(path string) error {
			n, err := store.Create(t.Context(), path, settings, entry("new"))
			if err == nil {
				err = n.Close()
			}
			return err
		},
		"backup": func(path string) error {
			_, err := s.Backup(t.Context(), path)
			return err
		},
	}
	for name, do := range makers {
		for _, tail := range []string{"-wal", "-journal", "-shm"} {
			t.Run(name+tail, func(t *testing.T) {
				path := filepath.Join(t.TempDir(), "s.wane")
				left := path + tail
				require.NoError(t, os.WriteFile(left, c.wal, 0o644))
				r := refused(t, do(path), path, filepath.Base(left))
				assert.Equal(t, []string{filepath.Base(left)}, filesBeside(t, path), "nothing is left behind")
				is, err := os.ReadFile(left)
				require.NoError(t, err)
				assert.Equal(t, c.wal, is)

				assert.Contains(t, r.Try, "move it to another folder")
				require.NoError(t, os.Rename(left, filepath.Join(t.TempDir(), "kept")))
				require.NoError(t, do(path))
				verifiedFile(t, path)
			})
		}
	}
}
