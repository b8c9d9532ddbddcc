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

// cut is a study whose process was cut off: its files as they were then.
type cut struct {
	base      []byte // the main file before it was opened
	main, wal []byte
	ends      []int    // of the log after each of the transactions in it
	states    []string // of the study, before and after each of them
}

const (
	frameSize = 24 + 4096
	inLog     = 4 // transactions in the log of a cut
)

// cutOff makes a study that was not closed, with transactions in its log.
func cutOff(t testing.TB) *cut {
	t.Helper()
	s, path := enrolled(t)
	require.NoError(t, s.Close())
	base, err := os.ReadFile(path)
	require.NoError(t, err)
	s, err = store.Open(t.Context(), path)
	require.NoError(t, err)
	defer func() { require.NoError(t, s.Close()) }()
	c := &cut{base: base, states: []string{dump(t, s)}}
	for i := range inLog {
		u := study.Unit{Coupon: "C001", Pull: 1, Spot: fmt.Sprint(i)}
		e, readings := export(u.Spot, u, 8, 45)
		_, err := add(t, s, e, readings)
		require.NoError(t, err)
		c.states = append(c.states, dump(t, s))
		info, err := os.Stat(path + "-wal")
		require.NoError(t, err)
		c.ends = append(c.ends, int(info.Size()))
	}
	c.main, err = os.ReadFile(path)
	require.NoError(t, err)
	c.wal, err = os.ReadFile(path + "-wal")
	require.NoError(t, err)
	require.Len(t, c.wal, c.ends[inLog-1])
	return c
}

// write puts a study and its log into a folder of their own.
func (c *cut) write(t testing.TB, main, wal []byte) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "s.wane")
	require.NoError(t, os.WriteFile(path, main, 0o644))
	if wal != nil {
		require.NoError(t, os.WriteFile(path+"-wal", wal, 0o644))
	}
	return path
}

// transaction returns the number, from 0, of the transaction that the byte is of; that of
// the header counts as the first.
func (c *cut) transaction(at int) int {
	for i, end := range c.ends {
		if at < end {
			return i
		}
	}
	return len(c.ends)
}

// flipped is data with one byte altered.
func flipped(data []byte, at int, by byte) []byte {
	other := append([]byte(nil), data...)
	other[at] ^= by
	return other
}

// linesRead returns how many lines of the log SQLite finds in the study at path.
func linesRead(t testing.TB, path string) (n int) {
	t.Helper()
	db := raw(t, path)
	require.NoError(t, db.QueryRow("SELECT count(*) FROM log").Scan(&n))
	require.NoError(t, db.Close())
	return n
}

func TestACutOffCommandIsRecoveredAndReported(t *testing.T) {
	c := cutOff(t)
	path := c.write(t, c.main, c.wal)
	assert.Equal(t, store.WAL{Commits: inLog}, store.InspectWAL(t, path))
	s, err := store.Open(t.Context(), path)
	require.NoError(t, err)
	assert.Equal(t, []string{"recovered 4 commits of a command that was cut off"}, s.Notes())
	assert.Equal(t, c.states[inLog], dump(t, s))
	verified(t, s)
	require.NoError(t, s.Close())
	assert.Equal(t, []string{"s.wane"}, filesBeside(t, path))

	s, err = store.Open(t.Context(), path)
	require.NoError(t, err)
	assert.Empty(t, s.Notes(), "a study that was closed")
	require.NoError(t, s.Close())

	t.Run("by one that only reads", func(t *testing.T) {
		path := c.write(t, c.main, c.wal)
		s, err := store.OpenToRead(t.Context(), path)
		require.NoError(t, err)
		assert.Equal(t, []string{"recovered 4 commits of a command that was cut off"}, s.Notes())
		assert.Equal(t, c.states[inLog], dump(t, s))
		require.NoError(t, s.Close())
		assert.Equal(t, []string{"s.wane"}, filesBeside(t, path))
		assert.Equal(t, c.states[inLog], dumpFile(t, path))
	})
	t.Run("not while another has it open", func(t *testing.T) {
		path := c.write(t, c.main, c.wal)
		one, err := store.Open(t.Context(), path)
		require.NoError(t, err)
		takeIn(t, one, study.Unit{Coupon: "C002", Pull: 1, Spot: "a"})
		two, err := store.Open(t.Context(), path)
		require.NoError(t, err)
		assert.Empty(t, two.Notes())
		require.NoError(t, two.Close())
		require.NoError(t, one.Close())
	})
}

// One flipped byte in the log never makes a commit vanish in silence: a study in whose log
// commits follow is refused and stays as it is, and in the last transaction it is reported.
// That SQLite itself stops at the transaction before is what its own count of lines says.
func TestFlippedByteInTheLog(t *testing.T) {
	c := cutOff(t)
	before := linesRead(t, c.write(t, c.main, nil))
	var places []int
	for i := range 32 {
		places = append(places, i)
	}
	for frame := 32; frame < len(c.wal); frame += frameSize {
		places = append(places, frame, frame+3, frame+4, frame+7, frame+8, frame+15, frame+16, frame+23, frame+24,
			frame+24+(frame*7)%4096)
	}
	scanned := c.write(t, c.main, nil)
	for _, at := range places {
		for _, by := range []byte{0xff, 0x01, c.wal[at]} { // the last makes it zero
			if by == 0 {
				continue
			}
			require.NoError(t, os.WriteFile(scanned+"-wal", flipped(c.wal, at, by), 0o644))
			got, in := store.InspectWAL(t, scanned), c.transaction(at)
			want := store.WAL{Commits: in, Lost: inLog - in, Torn: true, Damaged: in < inLog-1}
			if at < 32 {
				want.Lost = inLog
			}
			if !assert.Equal(t, want, got, "byte %d ^ %#x, in frame %d at %d", at, by, (at-32)/frameSize, (at-32)%frameSize) {
				return
			}
		}
	}
	for _, at := range []int{3, 20, 32 + 5, c.ends[0] + 100, c.ends[1] - 1, c.ends[2] - frameSize + 6} {
		path := c.write(t, c.main, flipped(c.wal, at, 0xff))
		for _, open := range openers {
			_, err := open(t.Context(), path)
			in := c.transaction(at)
			r := refused(t, err, path, "s.wane-wal, a part of the study, is damaged", fmt.Sprintf("%d commits before", in),
				fmt.Sprintf("%d commits from there on", inLog-in))
			assert.Contains(t, r.Try, "s.wane-wal.damaged-1")
		}
		for name, want := range map[string][]byte{"": c.main, "-wal": flipped(c.wal, at, 0xff),
			"-wal.damaged-1": flipped(c.wal, at, 0xff)} {
			is, err := os.ReadFile(path + name)
			require.NoError(t, err)
			assert.Equal(t, want, is, name)
		}
		assert.Len(t, filesBeside(t, path), 3, "one copy is enough")
		// What the refusal says to try: the log as it was.
		require.NoError(t, os.WriteFile(path+"-wal", c.wal, 0o644))
		assert.Equal(t, c.states[inLog], dumpFile(t, path))
	}
	for _, at := range []int{c.ends[2] + 5, c.ends[2] + 24, len(c.wal) - 1, len(c.wal) - 4096 - 20} {
		data := flipped(c.wal, at, 0xff)
		assert.Equal(t, before+inLog-1, linesRead(t, c.write(t, c.main, data)))
		for _, open := range openers {
			path := c.write(t, c.main, data)
			s, err := open(t.Context(), path)
			require.NoError(t, err)
			assert.Equal(t, []string{"recovered 3 commits of a command that was cut off",
				"the last transaction was incomplete and is not in the study: run the command that was cut off again"}, s.Notes())
			assert.Equal(t, c.states[inLog-1], dump(t, s))
			require.NoError(t, s.Close())
			assert.Equal(t, []string{"s.wane"}, filesBeside(t, path))
		}
	}
}

// A damaged log does not take the place of another one that was kept.
func TestDamagedLogsAreKept(t *testing.T) {
	c := cutOff(t)
	path := c.write(t, c.main, nil)
	for i, at := range []int{100, 200, 100} {
		require.NoError(t, os.WriteFile(path+"-wal", flipped(c.wal, at, 0xff), 0o600))
		_, err := store.Open(t.Context(), path)
		r := refused(t, err, "damaged")
		assert.Contains(t, r.Try, fmt.Sprintf("s.wane-wal.damaged-%d", []int{1, 2, 1}[i]))
	}
	for i, at := range []int{100, 200} {
		is, err := os.ReadFile(fmt.Sprintf("%s-wal.damaged-%d", path, i+1))
		require.NoError(t, err)
		assert.Equal(t, flipped(c.wal, at, 0xff), is)
	}
	assert.Len(t, filesBeside(t, path), 4)
}

// A log that ends anywhere holds the transactions that are whole, as SQLite counts them.
func TestTornLog(t *testing.T) {
	c := cutOff(t)
	before := linesRead(t, c.write(t, c.main, nil))
	for _, end := range []int{c.ends[0] - 1, c.ends[0], c.ends[0] + 10, c.ends[0] + frameSize, c.ends[1] - frameSize,
		c.ends[2], c.ends[2] + 4000} {
		whole := c.transaction(end)
		got := store.InspectWAL(t, c.write(t, c.main, c.wal[:end]))
		assert.Equal(t, whole, got.Commits, end)
		assert.False(t, got.Damaged, end)
		path := c.write(t, c.main, c.wal[:end])
		assert.Equal(t, before+whole, linesRead(t, c.write(t, c.main, c.wal[:end])), end)
		assert.Equal(t, c.states[whole], dumpFile(t, path), end)
	}
	torn := store.InspectWAL(t, c.write(t, c.main, c.wal[:c.ends[1]-frameSize]))
	assert.True(t, torn.Torn, "the beginning of a transaction is there")
	assert.False(t, store.InspectWAL(t, c.write(t, c.main, c.wal[:c.ends[1]])).Torn)
}

// Frames of an earlier round of the log, which was begun again from its start, are no
// damage, although commits are among them.
func TestEarlierRoundOfTheLog(t *testing.T) {
	s, path := enrolled(t)
	for i := range 5 {
		takeIn(t, s, study.Unit{Coupon: "C001", Pull: 1, Spot: fmt.Sprint(i)})
	}
	long, err := os.Stat(path + "-wal")
	require.NoError(t, err)
	run(t, raw(t, path), "PRAGMA wal_checkpoint(PASSIVE)")
	takeIn(t, s, study.Unit{Coupon: "C002", Pull: 1, Spot: "a"})
	now, err := os.Stat(path + "-wal")
	require.NoError(t, err)
	require.Equal(t, long.Size(), now.Size(), "the log was begun again in the same file")
	assert.Equal(t, store.WAL{Commits: 1}, store.InspectWAL(t, path))
}

// The checksums are those of SQLite: a log is counted rightly in either order of words.
// A log of the other order is made by writing its checksums anew, as
// sqlite.org/fileformat2.html, section 4.1, has it, and SQLite reads it.
func TestLogOfTheOtherByteOrder(t *testing.T) {
	c := cutOff(t)
	other := append([]byte(nil), c.wal...)
	magic := binary.BigEndian.Uint32(other) ^ 1
	binary.BigEndian.PutUint32(other, magic)
	order := []binary.ByteOrder{binary.LittleEndian, binary.BigEndian}[magic&1]
	var s0, s1 uint32
	sum := func(data []byte) {
		for i := 0; i < len(data); i += 8 {
			s0 += order.Uint32(data[i:]) + s1
			s1 += order.Uint32(data[i+4:]) + s0
		}
	}
	put := func(to []byte) {
		binary.BigEndian.PutUint32(to, s0)
		binary.BigEndian.PutUint32(to[4:], s1)
	}
	sum(other[:24])
	put(other[24:])
	for f := 32; f < len(other); f += frameSize {
		sum(other[f : f+8])
		sum(other[f+24 : f+frameSize])
		put(other[f+16:])
	}
	path := c.write(t, c.main, other)
	assert.Equal(t, store.WAL{Commits: inLog}, store.InspectWAL(t, path))
	assert.Equal(t, c.states[inLog], dumpFile(t, path))
}

// A commit that only marks the study is no loss, whichever byte of it is damaged: nothing is
// told where it is last, and it does not count where commits follow.
func TestFlippedByteInTheMark(t *testing.T) {
	s, path := enrolled(t)
	require.NoError(t, s.Close())
	db := raw(t, path)
	older, err := db.Begin() // keeps the mark in the log
	require.NoError(t, err)
	var n int
	require.NoError(t, older.QueryRow("SELECT count(*) FROM log").Scan(&n))
	s, err = store.Open(t.Context(), path)
	require.NoError(t, err)
	files := func() (main, wal []byte) {
		main, err := os.ReadFile(path)
		require.NoError(t, err)
		wal, err = os.ReadFile(path + "-wal")
		require.NoError(t, err)
		return main, wal
	}
	main, marked := files()
	require.Len(t, marked, 32+frameSize, "the mark is one frame")
	state := dump(t, s)
	for i := range 2 {
		takeIn(t, s, study.Unit{Coupon: "C001", Pull: 1, Spot: fmt.Sprint(i)})
	}
	_, before := files()
	require.NoError(t, s.Close())
	require.NoError(t, older.Rollback())
	require.NoError(t, db.Close())
	require.Equal(t, marked, before[:len(marked)])

	c := &cut{}
	scanned := c.write(t, main, nil)
	for at := 32; at < 32+24+70; at++ {
		require.NoError(t, os.WriteFile(scanned+"-wal", flipped(marked, at, 0xff), 0o644))
		assert.Equal(t, store.WAL{}, store.InspectWAL(t, scanned), "byte %d, last", at)
		require.NoError(t, os.WriteFile(scanned+"-wal", flipped(before, at, 0xff), 0o644))
		assert.Equal(t, store.WAL{Lost: 2, Torn: true, Damaged: true}, store.InspectWAL(t, scanned), "byte %d, first", at)
	}
	path = c.write(t, main, flipped(marked, 32+24+60, 0xff))
	s, err = store.Open(t.Context(), path)
	require.NoError(t, err)
	assert.Empty(t, s.Notes())
	assert.Equal(t, state, dump(t, s))
	require.NoError(t, s.Close())
}
