package desk

import (
	"errors"
	"os"
	"path/filepath"
	"slices"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
)

// smallDisk mounts a disk of 4 MB, or skips where that is not allowed.
func smallDisk(t *testing.T) string {
	t.Helper()
	disk := t.TempDir()
	if err := syscall.Mount("tmpfs", disk, "tmpfs", 0, "size=4m"); err != nil {
		t.Skipf("a small disk cannot be mounted (only root may): %v", err)
	}
	t.Cleanup(func() { assert.NoError(t, syscall.Unmount(disk, 0)) })
	return disk
}

// fillDisk leaves so many bytes on the disk, at least, and returns what gives the room back.
func fillDisk(t *testing.T, disk string, leave int64) (empty func()) {
	t.Helper()
	ballast := filepath.Join(disk, "ballast")
	f, err := os.Create(ballast)
	require.NoError(t, err)
	block, size := make([]byte, 4096), int64(0)
	for err == nil {
		var n int
		n, err = f.Write(block)
		size += int64(n)
	}
	require.ErrorIs(t, err, syscall.ENOSPC)
	require.NoError(t, f.Truncate(max(0, size-leave)))
	require.NoError(t, f.Close())
	return func() { require.NoError(t, os.Remove(ballast)) }
}

// lotOn makes a study on a disk with one lot that was taken in and fitted. What people write is elsewhere.
func lotOn(t *testing.T, disk string, who Person) (folder, *Desk) {
	t.Helper()
	ctx, f := t.Context(), newFolder(t)
	d, err := New(ctx, filepath.Join(disk, "full.wane"),
		study.Settings{Correction: study.RouteControls, Mixing: "bruggeman"}, who)
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, d.Close()) })
	m := f.lot("0-0")
	_, err = d.Enrol(ctx, []string{f.path + "/0-0-coupons.csv", f.path + "/0-0-exposures.csv", f.path + "/0-0-pulls.csv"})
	require.NoError(t, err)
	in, err := d.Intake(ctx, m, nil, IntakeOptions{Workers: 1})
	require.NoError(t, err)
	require.Empty(t, in.Refused)
	_, err = d.Fit(ctx, FitOptions{Workers: 1})
	require.NoError(t, err)
	return f, d
}

// isFull asserts that a verb failed because the disk is full, and says what to try.
func isFull(t *testing.T, err error, verb string) {
	t.Helper()
	var f *study.Failure
	var r *study.Refusal
	switch {
	case errors.As(err, &f):
		assert.NotEmpty(t, f.Try, verb)
	case errors.As(err, &r):
		assert.NotEmpty(t, r.Try, verb)
	default:
		assert.Failf(t, "no failure", "%s: %v", verb, err)
	}
	assert.ErrorContains(t, err, "disk is full", verb)
}

// Whatever verb finds the disk full, nothing of it is in the study, and when there is room again it does its work.
func TestEveryVerbOnAFullDisk(t *testing.T) {
	disk := smallDisk(t)
	f, d := lotOn(t, disk, tester())
	for _, step := range killedVerbs {
		before := dump(t, d)
		for _, leave := range []int64{0, 8192} {
			empty := fillDisk(t, disk, leave)
			isFull(t, step.do(t.Context(), d, f, "0-0"), step.verb)
			assert.Equal(t, before, dump(t, d), "%s with %d bytes", step.verb, leave)
			empty()
			require.NoError(t, os.RemoveAll(filepath.Join(f.path, "0-0-other.wane")))
		}
		require.NoError(t, step.do(t.Context(), d, f, "0-0"), step.verb)
		assert.True(t, verbsThere(t, d).done[step.verb+" 0-0"], step.verb)
	}
	assert.True(t, verifiedWith(t, d, VerifyOptions{Deep: true}).Sound())
}

// Whatever is written beside the study is whole or not there, also where the disk becomes full meanwhile.
func TestEveryFileOnAFullDisk(t *testing.T) {
	disk := smallDisk(t)
	_, d := lotOn(t, t.TempDir(), tester())
	f := folder{t, disk}
	for _, step := range killedFiles {
		there := namesIn(t, disk)
		for _, leave := range []int64{0, 16384, 65536} {
			empty := fillDisk(t, disk, leave)
			err := step.do(t.Context(), d, f, "0-0")
			if err == nil { // it needed no more
				empty()
				break
			}
			isFull(t, err, step.verb)
			empty()
			assert.Equal(t, there, namesIn(t, disk), "%s with %d bytes", step.verb, leave)
		}
		if slices.Equal(there, namesIn(t, disk)) {
			require.NoError(t, step.do(t.Context(), d, f, "0-0"), step.verb)
		}
	}
	wholeExport(t, exportedFolder(disk, "0-0"))
	wholeWorkbook(t, filepath.Join(disk, "0-0-workbook.xlsx"))
	wholeStudy(t, filepath.Join(disk, "0-0-rebuild.wane"))
	wholeStudy(t, filepath.Join(disk, "0-0-backup.wane"))
}

func namesIn(t *testing.T, folder string) (names []string) {
	t.Helper()
	entries, err := os.ReadDir(folder)
	require.NoError(t, err)
	for _, e := range entries {
		names = append(names, e.Name())
	}
	return names
}

// With a clock that was set back each verb does its work. Its line has the time of the line before and says what the
// clock said; the study verifies, and an export makes an equal study.
func TestEveryVerbWithAClockSetBack(t *testing.T) {
	now := time.Date(2026, 6, 1, 12, 0, 0, 0, time.UTC)
	who := Person{Name: "tester", Now: func() time.Time { return now }}
	f, d := lotOn(t, t.TempDir(), who)
	lines := len(allLines(t, d))
	now = time.Date(2021, 6, 1, 12, 0, 0, 0, time.UTC)
	for _, step := range killedVerbs {
		require.NoError(t, step.do(t.Context(), d, f, "0-0"), step.verb)
		assert.True(t, verbsThere(t, d).done[step.verb+" 0-0"], step.verb)
	}
	all := allLines(t, d)
	require.GreaterOrEqual(t, len(all), lines+len(killedVerbs))
	for _, e := range all[lines:] {
		assert.Equal(t, "2026-06-01T12:00:00Z", e.At, e.Verb)
		assert.Contains(t, e.Summary, "the clock was behind: it said 2021-06-01T12:00:00Z", e.Verb)
	}
	assert.True(t, verifiedWith(t, d, VerifyOptions{Deep: true}).Sound())
	rebuilt(t, d)
}

func allLines(t *testing.T, d *Desk) (all []study.Entry) {
	t.Helper()
	require.NoError(t, d.Log(t.Context(), func(e study.Entry) error { all = append(all, e); return nil }))
	return all
}
