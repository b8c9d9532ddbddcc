//go:build unix

package store_test

import (
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/store"
)

// What happens to a study while it is open, as programs do that synchronise folders.
func TestTheStudyIsTakenAwayWhileItIsOpen(t *testing.T) {
	for _, c := range []struct {
		name string
		do   func(path, other string) error
		word string
	}{
		{"removed", func(path, _ string) error { return os.Remove(path) }, "removed"},
		{"renamed", func(path, _ string) error { return os.Rename(path, path+".old") }, "renamed"},
		{"its folder renamed",
			func(path, _ string) error { return os.Rename(filepath.Dir(path), filepath.Dir(path)+"-old") }, "renamed"},
		{"replaced", func(path, other string) error { return os.Rename(other, path) }, "another file has taken the place"},
		{"replaced by an equal copy", func(path, other string) error {
			data, err := os.ReadFile(path)
			if err == nil {
				err = os.WriteFile(other, data, 0o644)
			}
			if err == nil {
				err = os.Rename(other, path)
			}
			return err
		}, "another file has taken the place"},
	} {
		t.Run(c.name, func(t *testing.T) {
			folder := filepath.Join(t.TempDir(), "f")
			require.NoError(t, os.Mkdir(folder, 0o755))
			path := onDisk(t, filled(t), folder)
			other := filled(t)
			s, err := store.Open(t.Context(), path)
			require.NoError(t, err)
			reader, err := store.OpenToRead(t.Context(), path)
			require.NoError(t, err)
			before := dump(t, s)
			require.NoError(t, c.do(path, other))

			u := study.Unit{Coupon: "C003", Pull: 1, Spot: "a"}
			e, readings := export("x.csv", u, 8)
			_, err = add(t, s, e, readings)
			refused(t, err, path, c.word)
			assert.Equal(t, before, dump(t, s), "nothing is committed")
			refused(t, reader.Close(), path, c.word)
			refused(t, s.Close(), path, c.word)
		})
	}
}

// The same for its log: what is committed into one without a name is lost with the process.
func TestTheLogIsTakenAwayWhileItIsOpen(t *testing.T) {
	path := filled(t)
	s, err := store.Open(t.Context(), path)
	require.NoError(t, err)
	takeIn(t, s, study.Unit{Coupon: "C003", Pull: 1, Spot: "a"})
	before := dump(t, s)
	require.NoError(t, os.Remove(path+"-wal"))
	e, readings := export("x.csv", study.Unit{Coupon: "C003", Pull: 1, Spot: "b"}, 8)
	_, err = add(t, s, e, readings)
	failed(t, err, path, "its -wal file was moved, removed or replaced", "may be lost")
	require.NoError(t, s.Close())
	assert.Equal(t, before, dumpFile(t, path), "what was committed before is kept")
}

// Another program cuts the log off, in place: SQLite would write the next commit behind the gap and say
// that all is well. The next commit is refused, and so is the closing.
func TestTheLogIsCutOffWhileItIsOpen(t *testing.T) {
	for name, keep := range map[string]func(size int64) int64{
		"to nothing":          func(int64) int64 { return 0 },
		"to its header":       func(int64) int64 { return 32 },
		"in a commit":         func(size int64) int64 { return size / 2 },
		"in the last page":    func(size int64) int64 { return size - 100 },
		"by a whole last one": func(size int64) int64 { return size - 4096 - 24 },
	} {
		t.Run(name, func(t *testing.T) {
			path := filled(t)
			s, err := store.Open(t.Context(), path)
			require.NoError(t, err)
			for i := range 5 {
				takeIn(t, s, study.Unit{Coupon: "C003", Pull: 1, Spot: fmt.Sprint("a", i)})
			}
			info, err := os.Stat(path + "-wal")
			require.NoError(t, err)
			require.NoError(t, os.Truncate(path+"-wal", keep(info.Size())))
			e, readings := export("x.csv", study.Unit{Coupon: "C003", Pull: 1, Spot: "b"}, 8)
			_, err = add(t, s, e, readings)
			failed(t, err, path, "another program has cut off its -wal file", "may be lost")
			now, err := os.Stat(path + "-wal")
			require.NoError(t, err)
			assert.Equal(t, keep(info.Size()), now.Size(), "nothing is written behind the gap")
			failed(t, s.Close(), path, "another program has cut off its -wal file")
		})
	}
}

// A log that grows by commits of others, or that SQLite starts anew, was not cut off.
func TestALogThatStartsAnewIsNotCutOff(t *testing.T) {
	path := filled(t)
	s, err := store.Open(t.Context(), path)
	require.NoError(t, err)
	other, err := store.Open(t.Context(), path)
	require.NoError(t, err)
	for i := range 3 {
		takeIn(t, s, study.Unit{Coupon: "C003", Pull: 1, Spot: fmt.Sprint("a", i)})
		takeIn(t, other, study.Unit{Coupon: "C003", Pull: 1, Spot: fmt.Sprint("b", i)})
		_, err := raw(t, path).Exec("PRAGMA wal_checkpoint(RESTART)")
		require.NoError(t, err)
	}
	require.NoError(t, other.Close())
	takeIn(t, s, study.Unit{Coupon: "C003", Pull: 1, Spot: "c"})
	require.NoError(t, s.Close())
}

// The same while it commits, after the study was found in its place: the command is told that
// what it wrote is in a file without a name.
func TestTheStudyIsTakenAwayWhileItCommits(t *testing.T) {
	for name, file := range map[string]string{"the study": "", "its log": "-wal"} {
		t.Run(name, func(t *testing.T) {
			s, path := enrolled(t)
			away := func() {
				if err := os.Rename(path+file, path+file+".old"); !os.IsNotExist(err) {
					assert.NoError(t, err)
				}
			}
			store.BeforeCommit(t, s, away)
			e, readings := export("x.csv", study.Unit{Coupon: "C003", Pull: 1, Spot: "a"}, 8)
			_, err := add(t, s, e, readings)
			refused(t, err, path, "moved")
			assert.Contains(t, dump(t, s), "x.csv", "it was committed, into a file that is not there")
		})
	}
}
