package store_test

import (
	"context"
	"encoding/binary"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/store"
)

var openers = map[string]func(context.Context, string) (*store.Store, error){"write": store.Open,
	"read": store.OpenToRead, "try": store.OpenToTry}

// A study that was renamed without its log is reported, and whole again with the log under
// the new name.
func TestALostLogIsReported(t *testing.T) {
	c := cutOff(t)
	for name, open := range openers {
		t.Run(name, func(t *testing.T) {
			old := c.write(t, c.main, c.wal)
			path := filepath.Join(filepath.Dir(old), "renamed.wane")
			require.NoError(t, os.Rename(old, path))
			_, err := open(t.Context(), path)
			r := refused(t, err, path, "was not closed", "renamed.wane-wal")
			assert.Contains(t, r.Try, "s.wane-wal")
			is, err := os.ReadFile(path)
			require.NoError(t, err)
			assert.Equal(t, c.main, is)
			assert.Len(t, filesBeside(t, path), 2)

			require.NoError(t, os.Rename(old+"-wal", path+"-wal"))
			s, err := open(t.Context(), path)
			require.NoError(t, err)
			assert.Equal(t, c.states[inLog], dump(t, s))
			require.NoError(t, s.Close())
		})
	}
	another := []byte("Wavelength,R\n350,4.21\n360,4.19\n370,4.15\n")
	for name, wal := range map[string][]byte{"none": nil, "an empty one": {}, "a beginning": c.wal[:20],
		"another file": another} {
		t.Run(name, func(t *testing.T) {
			path := c.write(t, c.main, wal)
			_, err := store.Open(t.Context(), path)
			says, try := "s.wane-wal is missing", "put that file beside the study"
			if len(wal) > 0 {
				says, try = "s.wane-wal does not begin as such a file does", "put a whole copy of that file beside the study"
			}
			assert.Contains(t, refused(t, err, path, "was not closed", says).Try, try)
			require.NoError(t, os.WriteFile(path+"-wal", c.wal, 0o644))
			assert.Equal(t, c.states[inLog], dumpFile(t, path))
		})
	}
}

// Another program that opens a study that was not closed moves the log into it and removes
// the log. That it was not lost nobody can tell but the person, in the way that is told.
func TestAnotherProgramOpensAnUnclosedStudy(t *testing.T) {
	c := cutOff(t)
	path := c.write(t, c.main, c.wal)
	linesRead(t, path)
	assert.Equal(t, []string{"s.wane"}, filesBeside(t, path))
	_, err := store.Open(t.Context(), path)
	r := refused(t, err, path, "was not closed")
	say := fmt.Sprintf("PRAGMA user_version = %d", store.NewestVersion)
	assert.Contains(t, r.Try, "`sqlite3 "+path+" '"+say+"'`")
	ask(t, path, say)
	assert.Equal(t, c.states[inLog], dumpFile(t, path))
}

// From its opening for writing on, whatever is written or not, the main file alone says
// that it is not closed; and not any more when it is closed.
func TestOnlyAnOpenStudySaysThatItIsNotClosed(t *testing.T) {
	s, path := enrolled(t)
	says := func(what string, want bool) {
		t.Helper()
		data, err := os.ReadFile(path)
		require.NoError(t, err)
		// The user version is at byte 60. Source: sqlite.org/fileformat2.html, section 1.3.
		version := int(binary.BigEndian.Uint32(data[60:]))
		if want {
			assert.Equal(t, store.NewestVersion, openVersion(t, fmt.Sprint(version)), what)
		} else {
			assert.Equal(t, store.NewestVersion, version, what)
		}
	}
	says("while it is open", true)
	require.NoError(t, s.Close())
	says("closed", false)
	s, err := store.Open(t.Context(), path)
	require.NoError(t, err)
	says("opened, and nothing is written", true)
	require.NoError(t, s.Close())
	says("closed again", false)
	closed, err := os.Stat(path)
	require.NoError(t, err)
	r, err := store.OpenToRead(t.Context(), path)
	require.NoError(t, err)
	_ = dump(t, r)
	says("open to read", false)
	require.NoError(t, r.Close())
	after, err := os.Stat(path)
	require.NoError(t, err)
	assert.Equal(t, closed.ModTime(), after.ModTime(), "reading does not touch the file")

	t.Run("of two that write, the one that stays says it again", func(t *testing.T) {
		one, err := store.Open(t.Context(), path)
		require.NoError(t, err)
		two, err := store.Open(t.Context(), path)
		require.NoError(t, err)
		takeIn(t, one, study.Unit{Coupon: "C001", Pull: 1, Spot: "a"})
		require.NoError(t, one.Close())
		takeIn(t, two, study.Unit{Coupon: "C001", Pull: 1, Spot: "b"})
		says("the other is open", true)
		require.NoError(t, two.Close())
		says("both are closed", false)
		verifiedFile(t, path)
	})
	t.Run("one that reads or tries, and is closed, leaves what a writer says", func(t *testing.T) {
		one, err := store.Open(t.Context(), path)
		require.NoError(t, err)
		for _, name := range []string{"read", "try"} {
			other, err := openers[name](t.Context(), path)
			require.NoError(t, err)
			require.NoError(t, other.Close())
			says(name, true)
		}
		require.NoError(t, one.Close())
		says("closed", false)
	})
	t.Run("a backup is closed", func(t *testing.T) {
		s, err := store.Open(t.Context(), path)
		require.NoError(t, err)
		defer s.Close()
		copied := filepath.Join(t.TempDir(), "copy.wane")
		_, err = s.Backup(t.Context(), copied)
		require.NoError(t, err)
		verifiedFile(t, copied)
	})
}

// Another program that reads the study, and is the last to close it, moves the log into
// the file and removes it: that loses nothing.
func TestAnotherProgramClosesLast(t *testing.T) {
	s, path := enrolled(t)
	db := raw(t, path)
	var n int
	tx, err := db.Begin()
	require.NoError(t, err)
	require.NoError(t, tx.QueryRow("SELECT count(*) FROM log").Scan(&n))
	takeIn(t, s, study.Unit{Coupon: "C001", Pull: 1, Spot: "a"})
	after := dump(t, s)
	require.NoError(t, s.Close())
	require.NoError(t, tx.Rollback())
	require.NoError(t, db.Close())
	assert.Equal(t, []string{"s.wane"}, filesBeside(t, path))
	assert.Equal(t, after, dumpFile(t, path))
}

// A writer is killed while another reads: the reader closes last, and leaves a study that
// is closed and whole.
func TestAWriterIsKilledWhileAnotherReads(t *testing.T) {
	s, path := enrolled(t)
	require.NoError(t, s.Close())
	reader, err := store.OpenToRead(t.Context(), path)
	require.NoError(t, err)
	cmd := writer(t, path, "k")
	out, err := cmd.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, cmd.Start())
	_, err = out.Read(make([]byte, 1)) // the first commit is acknowledged
	require.NoError(t, err)
	require.NoError(t, cmd.Process.Kill())
	_ = cmd.Wait() // killed
	now := dump(t, reader)
	assert.Contains(t, now, `"k-0"`)
	require.NoError(t, reader.Close())
	assert.Equal(t, []string{"s.wane"}, filesBeside(t, path))
	// What was just being acknowledged may be there too.
	after := strings.Split(dumpFile(t, path), "\n")
	for _, line := range strings.Split(now, "\n") {
		assert.True(t, slices.Contains(after, line), "it is lost: %.80s", line)
	}
	verifiedFile(t, path)
}

// Cut off while the log is moved into the main file, which then ends within a page, or is
// shorter than it says.
func TestCutOffWhileTheLogIsMoved(t *testing.T) {
	c := cutOff(t)
	last := map[uint32][]byte{}
	for f := 32; f < len(c.wal); f += frameSize {
		last[binary.BigEndian.Uint32(c.wal[f:])] = c.wal[f+24 : f+frameSize]
	}
	whole := append([]byte(nil), c.main...)
	for page := uint32(1); page <= 1000; page++ { // in order, as SQLite does
		if data, there := last[page]; there {
			if end := int(page) * 4096; end > len(whole) {
				whole = append(whole, make([]byte, end-len(whole))...)
			}
			copy(whole[4096*(page-1):], data)
		}
	}
	require.Greater(t, len(whole), len(c.main)+4096)
	for _, length := range []int{len(c.main) + 1, len(c.main) + 4095, len(c.main) + 4096, len(whole) - 1} {
		for name, open := range openers {
			path := c.write(t, whole[:length], c.wal)
			s, err := open(t.Context(), path)
			require.NoError(t, err, "%s, %d bytes", name, length)
			assert.Equal(t, []string{"recovered 4 commits of a command that was cut off"}, s.Notes())
			assert.Equal(t, c.states[inLog], dump(t, s))
			require.NoError(t, s.Close())
			verifiedFile(t, path)
		}
	}
}

func TestAFileOfTwoNames(t *testing.T) {
	path := filled(t)
	before := dumpFile(t, path)
	other := filepath.Join(filepath.Dir(path), "other.wane")
	require.NoError(t, os.Link(path, other))
	_, err := store.Open(t.Context(), path)
	r := refused(t, err, path, "2 names", "hard links")
	s, err := store.OpenToRead(t.Context(), path)
	require.NoError(t, err)
	assert.Equal(t, []string{path + " has 2 names (hard links); it can be read, but is not written as long as it has"},
		s.Notes())
	assert.Equal(t, before, dump(t, s))

	assert.Contains(t, r.Try, "wane backup")
	assert.Contains(t, r.Try, "where a file that ends in -wal stands beside one of them, that is the name to keep")
	copied := filepath.Join(t.TempDir(), "copy.wane")
	_, err = s.Backup(t.Context(), copied)
	require.NoError(t, err)
	require.NoError(t, s.Close())
	assert.Equal(t, before, dumpFile(t, copied))
	assert.Contains(t, r.Try, "remove the other names")
	require.NoError(t, os.Remove(other))
	assert.Equal(t, before, dumpFile(t, path))

	t.Run("one that was left when it was made is removed", func(t *testing.T) {
		left := filepath.Join(filepath.Dir(path), ".s.wane.ABCDEFGHIJKLMNOPQRSTUVWXYZ.partial")
		require.NoError(t, os.Link(path, left))
		assert.Equal(t, before, dumpFile(t, path))
		assert.Equal(t, []string{"s.wane"}, filesBeside(t, path))
	})
}

// The log is beside the file that a link leads to.
func TestAStudyByALink(t *testing.T) {
	c := cutOff(t)
	for name, open := range openers {
		t.Run(name, func(t *testing.T) {
			path := c.write(t, c.main, c.wal)
			link := filepath.Join(t.TempDir(), "link.wane")
			require.NoError(t, os.Symlink(path, link))
			s, err := open(t.Context(), link)
			require.NoError(t, err)
			assert.Equal(t, []string{"recovered 4 commits of a command that was cut off"}, s.Notes())
			assert.Equal(t, c.states[inLog], dump(t, s))
			require.NoError(t, s.Close())

			require.NoError(t, os.WriteFile(path, c.main, 0o644))
			_, err = open(t.Context(), link)
			refused(t, err, link, "was not closed", "s.wane-wal")
			require.NoError(t, os.WriteFile(path+"-wal", flipped(c.wal, 40, 0xff), 0o644))
			_, err = open(t.Context(), link)
			refused(t, err, link, "damaged")
			assert.Equal(t, []string{"s.wane", "s.wane-wal", "s.wane-wal.damaged-1"}, filesBeside(t, path))
			assert.Equal(t, []string{"link.wane"}, filesBeside(t, link))
		})
	}
	path := c.write(t, c.main, c.wal)
	link := filepath.Join(t.TempDir(), "link.wane")
	require.NoError(t, os.Symlink(path, link))
	one, err := store.Open(t.Context(), link)
	require.NoError(t, err)
	two, err := store.Open(t.Context(), path)
	require.NoError(t, err)
	takeIn(t, one, study.Unit{Coupon: "C002", Pull: 1, Spot: "a"})
	takeIn(t, two, study.Unit{Coupon: "C002", Pull: 1, Spot: "b"})
	require.NoError(t, one.Close())
	require.NoError(t, two.Close())
	verifiedFile(t, link)
}

// A command that is stopped while it opens the study leaves one that is closed.
func TestStoppedWhileOpening(t *testing.T) {
	path := filled(t)
	before := dumpFile(t, path)
	stopped := 0
	for i := range 60 {
		ctx, cancel := context.WithTimeout(t.Context(), time.Duration(i)*250*time.Microsecond)
		s, err := store.Open(ctx, path)
		cancel()
		if err == nil {
			require.NoError(t, s.Close())
		} else {
			stopped++
		}
		require.Equal(t, []string{"s.wane"}, filesBeside(t, path))
		require.Equal(t, before, dumpFile(t, path))
	}
	assert.Positive(t, stopped)
}

// What reads when the study is closed may end a moment later, as where a context is done: the
// file is left alone and closed nevertheless.
func TestClosedWhileSomethingStillReads(t *testing.T) {
	s, path := enrolled(t)
	takeIn(t, s, study.Unit{Coupon: "C001", Pull: 1, Spot: "a"})
	before := dump(t, s)
	time.AfterFunc(50*time.Millisecond, store.ReadUntil(t, s))
	require.NoError(t, s.Close())
	assert.Equal(t, []string{"s.wane"}, filesBeside(t, path))
	assert.Equal(t, before, dumpFile(t, path))
}
