package store_test

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/store"
)

// smallDisk mounts a disk of 1.2 MB, or skips where that is not allowed.
func smallDisk(t *testing.T) string {
	t.Helper()
	folder := t.TempDir()
	if err := syscall.Mount("tmpfs", folder, "tmpfs", 0, "size=1200k"); err != nil {
		t.Skipf("a small disk cannot be mounted (only root may): %v", err)
	}
	t.Cleanup(func() { assert.NoError(t, syscall.Unmount(folder, 0)) })
	return folder
}

// fill leaves the given number of bytes on the disk, or none.
func fill(t *testing.T, disk string, leave int) {
	t.Helper()
	ballast := filepath.Join(disk, "ballast")
	f, err := os.Create(ballast)
	require.NoError(t, err)
	block := make([]byte, 4096)
	size := 0
	for err == nil {
		var n int
		n, err = f.Write(block)
		size += n
	}
	require.ErrorIs(t, err, syscall.ENOSPC)
	require.NoError(t, f.Truncate(int64(max(0, size-leave))))
	require.NoError(t, f.Close())
}

func TestFullDisk(t *testing.T) {
	disk := smallDisk(t)
	path := onDisk(t, filled(t), disk)
	before := dumpFile(t, path)
	unit := study.Unit{Coupon: "C003", Pull: 1, Spot: "a"}
	e, readings := export("x.csv", unit, 8, 30, 45, 60)
	s, err := store.Open(t.Context(), path)
	require.NoError(t, err)
	_ = dump(t, s) // so that the files beside it are there
	for _, leave := range []int{0, 4096, 12288, 24576} {
		fill(t, disk, leave)
		_, err := add(t, s, e, readings)
		failed(t, err, path, "disk is full")
		assert.Equal(t, before, dump(t, s), "with %d bytes left", leave)
	}
	require.NoError(t, os.Remove(filepath.Join(disk, "ballast")))
	added, err := add(t, s, e, readings)
	require.NoError(t, err)
	assert.Equal(t, 4, added)
	verified(t, s)
	require.NoError(t, s.Close())
	assert.Equal(t, []string{"s.wane"}, filesBeside(t, path))
}

// What was committed before the disk became full is not lost when the file
// itself cannot grow.
func TestDiskFullAtTheEnd(t *testing.T) {
	disk := smallDisk(t)
	path := onDisk(t, filled(t), disk)
	s, err := store.Open(t.Context(), path)
	require.NoError(t, err)
	for i := range 8 {
		takeIn(t, s, study.Unit{Coupon: "C003", Pull: i % 4, Spot: strings.Repeat("a", i+1)})
	}
	after := dump(t, s)
	fill(t, disk, 0)
	refused(t, s.Close(), path, "disk is full", "s.wane-wal")
	assert.Contains(t, filesBeside(t, path), "s.wane-wal")
	require.NoError(t, os.Remove(filepath.Join(disk, "ballast")))
	assert.Equal(t, after, dumpFile(t, path))
	assert.Equal(t, []string{"s.wane"}, filesBeside(t, path))
}

func TestCreateAndBackupOnAFullDisk(t *testing.T) {
	disk := smallDisk(t)
	path := filled(t)
	s, err := store.Open(t.Context(), path)
	require.NoError(t, err)
	defer s.Close()
	for _, leave := range []int{0, 8192, 65536} {
		fill(t, disk, leave)
		_, err := store.Create(t.Context(), filepath.Join(disk, "n.wane"), settings, entry("new"))
		refused(t, err, "n.wane", "disk is full")
		_, err = s.Backup(t.Context(), filepath.Join(disk, "b.wane"))
		refused(t, err, "b.wane", "disk is full")
		assert.Equal(t, []string{"ballast"}, filesBeside(t, filepath.Join(disk, "ballast")))
	}
}

// Rights do not bind root, a disk that is mounted for reading does.
func TestReadOnlyFolder(t *testing.T) {
	disk := smallDisk(t)
	path := onDisk(t, filled(t), disk)
	before := dumpFile(t, path)
	s, err := store.Open(t.Context(), filled(t))
	require.NoError(t, err)
	defer s.Close()
	require.NoError(t, syscall.Mount("", disk, "", syscall.MS_REMOUNT|syscall.MS_RDONLY, ""))

	_, err = store.Open(t.Context(), path)
	refused(t, err, path, "cannot be written", "read-only file system")
	_, err = store.Create(t.Context(), filepath.Join(disk, "n.wane"), settings, entry("new"))
	refused(t, err, "n.wane", "no file can be made in this folder")
	_, err = s.Backup(t.Context(), filepath.Join(disk, "b.wane"))
	refused(t, err, "b.wane", "no file can be made in this folder")

	require.NoError(t, syscall.Mount("", disk, "", syscall.MS_REMOUNT, ""))
	assert.Equal(t, before, dumpFile(t, path))
	assert.Equal(t, []string{"s.wane"}, filesBeside(t, path))
}

// The same for a folder and a file without the rights, for people who are not
// root.
func TestFolderWithoutRights(t *testing.T) {
	if os.Geteuid() == 0 {
		t.Skip("rights do not bind root; TestReadOnlyFolder shows the same on a disk mounted for reading")
	}
	path := filled(t)
	before := dumpFile(t, path)
	folder := filepath.Dir(path)
	require.NoError(t, os.Chmod(folder, 0o555))
	_, err := store.Open(t.Context(), path)
	refused(t, err, path, "the folder of this study cannot be written")
	assert.Empty(t, readBack(t, path, before))
	_, err = store.Create(t.Context(), filepath.Join(folder, "n.wane"), settings, entry("new"))
	refused(t, err, "no file can be made in this folder")
	require.NoError(t, os.Chmod(folder, 0o755))
	require.NoError(t, os.Chmod(path, 0o444))
	_, err = store.Open(t.Context(), path)
	refused(t, err, path, "this study cannot be written")
	assert.Empty(t, readBack(t, path, before))
	require.NoError(t, os.Chmod(path, 0o644))
	assert.Equal(t, before, dumpFile(t, path))
	assert.Equal(t, []string{"s.wane"}, filesBeside(t, path))
}

// A witness whose disk is full when the work is done: the work stays, and the command says
// which line is missing there.
func TestWitnessOnAFullDisk(t *testing.T) {
	disk := smallDisk(t)
	s, _ := create(t)
	witness := filepath.Join(disk, "witness.txt")
	require.NoError(t, os.WriteFile(witness, nil, 0o644))
	fill(t, disk, 0)
	s.SetWitness(witness)
	e := entry("enrol")
	err := s.Write(t.Context(), e, addBlank("N1"))
	line := fmt.Sprintf("\t2\t%x", e.Hash)
	failed(t, err, witness, "the work is in the study", line)
	assert.Contains(t, dump(t, s), "N1")
	verified(t, s)

	require.NoError(t, os.Remove(filepath.Join(disk, "ballast")))
	require.NoError(t, s.Write(t.Context(), entry("enrol"), addBlank("N2")))
	held, err := s.CompareWitness(t.Context())
	require.NoError(t, err)
	assert.Equal(t, &store.WitnessReport{Lines: 1, Last: 3}, held)
	assert.NotContains(t, string(read(t, witness)), line)
}
