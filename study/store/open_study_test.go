package store_test

import (
	"compress/gzip"
	"context"
	"database/sql"
	"fmt"
	"io"
	"math"
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
	run(t, db, fmt.Sprintf("PRAGMA user_version = %d", store.NewestVersion+1))
	_, err := store.Open(t.Context(), path)
	refused(t, err, path, fmt.Sprintf("version %d", store.NewestVersion+1), "newer")
	run(t, db, fmt.Sprintf("PRAGMA user_version = %d", store.NewestVersion))
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
	for _, length := range []int{1, 15, 16, 99, 100, 512, 4095, 4096, 4097, 8192, 5 * 4096, len(whole) / 2,
		len(whole) - 4096, len(whole) - 1000, len(whole) - 1} {
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
	failed(t, err, path, "in use by another process")
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
		require.ErrorContains(t, err, fmt.Sprintf("version %d", store.NewestVersion+2))
		assert.Equal(t, before, dump(t, s))
		assert.Equal(t, store.NewestVersion, openVersion(t, store.Pragmas(t, s, "user_version")[0]))
	})
	t.Run("steps run once, in order", func(t *testing.T) {
		steps := []string{"ALTER TABLE coupon ADD COLUMN colour TEXT", "ALTER TABLE coupon RENAME COLUMN colour TO tint"}
		require.NoError(t, s.MigrateWith(t.Context(), steps...))
		require.NoError(t, s.MigrateWith(t.Context(), steps...))
		assert.Equal(t, store.NewestVersion+2, openVersion(t, store.Pragmas(t, s, "user_version")[0]))
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

// unpacked unpacks a study file into a folder of its own.
func unpacked(t *testing.T, name string) (path string) {
	packed, err := os.Open(name)
	require.NoError(t, err)
	defer packed.Close()
	reader, err := gzip.NewReader(packed)
	require.NoError(t, err)
	data, err := io.ReadAll(reader)
	require.NoError(t, err)
	path = filepath.Join(t.TempDir(), "old.wane")
	require.NoError(t, os.WriteFile(path, data, 0o644))
	return path
}

// A study that version 1 of the file was made for (testdata/study-v1.wane.gz: two
// made-up exports taken in and fitted) opens: every row keeps its checksum and the log
// its digests, and a new fit supersedes the old.
func TestOldStudy(t *testing.T) {
	path := unpacked(t, "testdata/study-v1.wane.gz")
	s, err := store.Open(t.Context(), path)
	require.NoError(t, err)
	defer s.Close()
	assert.Equal(t, store.NewestVersion, openVersion(t, store.Pragmas(t, s, "user_version")[0]))
	assert.Equal(t, study.RouteControls, s.Settings().Correction)
	verified(t, s)
	t.Run("what version 4 made of it", func(t *testing.T) {
		// Printed by the program that made files of version 4. A fit is stale when the digest
		// of its readings differs.
		want := map[study.Unit]string{
			{Coupon: "A1", Pull: 0, Spot: "1"}: "a293ba3d18f1d6be976753fbd7c20baf12aa2d4f1df87477e5532c5f5130f203",
			{Coupon: "A1", Pull: 1, Spot: "1"}: "df1ad027d9fd25956b52b8da5f636c30a03b57c845476535451490e2397db5bc",
		}
		units := allUnits(t, s)
		require.Len(t, units, len(want))
		for _, u := range units {
			assert.Equal(t, want[u.Unit], hexOf(u.Readings))
			assert.Equal(t, []int{4, 0, 0}, []int{u.Counted, u.Held, u.Aside})
			readings, err := s.Readings(t.Context(), u.Unit)
			require.NoError(t, err)
			assert.Len(t, readings, 4)
			assert.True(t, math.IsNaN(readings[0].Traits.Noise))
			assert.Empty(t, readings[0].Traits.Bands)
		}
		assert.Equal(t, []string{"counted|8"}, ask(t, path, "SELECT standing, count(*) FROM v_spectra GROUP BY standing"))
		require.NoError(t, s.View(t.Context(), func(v *store.View) error {
			guarding, last, _, err := v.Guarded()
			require.NoError(t, err)
			assert.Equal(t, store.Guarding{}, guarding)
			assert.EqualValues(t, 8, last)
			judged, err := v.Standings()
			require.NoError(t, err)
			assert.Empty(t, judged)
			how, err := v.TakingOf(1)
			require.NoError(t, err)
			assert.Nil(t, how)
			return v.HeadersOf("A1", func(m store.ReadingHeader) error {
				assert.False(t, m.Guardable)
				assert.Equal(t, study.Counted, m.Standing)
				assert.True(t, math.IsNaN(m.Traits.Noise))
				return nil
			})
		}))
	})
	var fits []study.Fit
	require.NoError(t, s.Fits(t.Context(), func(f *study.Fit) error { fits = append(fits, *f); return nil }))
	require.Len(t, fits, 2)
	assert.Empty(t, fits[0].AnglesDeg, "what version 1 did not know is null")
	assert.Equal(t, study.Errors{}, fits[0].Errors)
	assert.InDelta(t, 0.98621595588482910, float64(fits[0].Result.SolarT.Value), 0)
	again := fits[0]
	again.Digest[0]++
	again.Errors = errorsOf(7)
	require.NoError(t, s.Write(t.Context(), entry("fit"), func(tx *store.Tx) error { return tx.PutFit(&again) }))
	verified(t, s)
	var now []study.Fit
	require.NoError(t, s.Fits(t.Context(), func(f *study.Fit) error { now = append(now, *f); return nil }))
	require.Len(t, now, 2)
	assert.Equal(t, errorsOf(7), now[0].Errors)
}

// A study of version 5 (testdata/study-v5.wane.gz: every 8th row of made-up exports of
// testdata/exports, of a coupon at two pulls and of a blank, taken in by the program that
// made files of version 5; one reading was set aside, released, and its spot fitted again)
// opens: rows keep their checksums, what version 5 did not know is null, and the columns of
// versions 6 and 7 are stored and as fixed as the others.
func TestStudyOfVersion5(t *testing.T) {
	path := unpacked(t, "testdata/study-v5.wane.gz")
	s, err := store.Open(t.Context(), path)
	require.NoError(t, err)
	defer s.Close()
	assert.Equal(t, store.NewestVersion, openVersion(t, store.Pragmas(t, s, "user_version")[0]))
	verified(t, s)
	current := func() (fits []study.Fit) {
		require.NoError(t, s.Fits(t.Context(), func(f *study.Fit) error { fits = append(fits, *f); return nil }))
		return fits
	}
	fits := current()
	require.Len(t, fits, 3)
	// printed by wane results of version 5
	for i, want := range []float64{0.9862332798433174, 0.9834763268450345, 0.9573566546370438} {
		assert.InDelta(t, want, float64(fits[i].Result.SolarT.Value), 0)
		assert.False(t, fits[i].Errors.Known())
		assert.Empty(t, fits[i].AnglesDeg)
	}
	again := fits[0]
	again.Digest[0]++
	again.Errors = errorsOf(3)
	again.AnglesDeg = []float64{8, 45.5}
	require.NoError(t, s.Write(t.Context(), entry("fit"), func(tx *store.Tx) error { return tx.PutFit(&again) }))
	verified(t, s)
	now := current()[0]
	assert.Equal(t, errorsOf(3), now.Errors)
	assert.Equal(t, []float64{8, 45.5}, now.AnglesDeg)
	for _, column := range []string{"gain_shared_pp", "angles_deg", "effects", "joint_fit", "errors"} {
		_, err = raw(t, path).Exec("UPDATE fit SET " + column + " = NULL")
		assert.ErrorContains(t, err, "a study changes nothing")
	}
}

// A study that version 5 of the file was made for (testdata/study-v5-held.wane.gz: four made-up
// exports, of which guards hold two, and a reading that was set aside) opens: all rows, their
// numbers and checksums are as they were, the holds stand, and a hold can be released.
func TestHoldsOfVersion5(t *testing.T) {
	path := unpacked(t, "testdata/study-v5-held.wane.gz")
	rows := func() []string { return ask(t, path, "SELECT id, log, reading, guard, crc FROM hold") }
	before, standings := rows(), ask(t, path, "SELECT reading, standing, reason, decided FROM v_standings")
	require.Len(t, before, 6)
	s, err := store.Open(t.Context(), path)
	require.NoError(t, err)
	defer s.Close()
	assert.Equal(t, store.NewestVersion, openVersion(t, store.Pragmas(t, s, "user_version")[0]))
	assert.Equal(t, before, rows())
	assert.Equal(t, standings, ask(t, path, "SELECT reading, standing, reason, decided FROM v_standings"))
	verified(t, s)
	guarding := guarded(t, s)
	assert.Equal(t, store.Guarding{After: 3, LastReading: 8}, guarding,
		"by guards of no version, who do not know which lines they knew")
	_, err = found(t, s, store.Guarding{LastReading: 8, LastLine: 12, Guards: 1,
		Releases: []study.Release{{Hold: 1, Reason: "the guard is gone"}}})
	require.NoError(t, err)
	assert.Equal(t, []string{"counted|the guard is gone"},
		ask(t, path, "SELECT standing, reason FROM v_standings WHERE reading = 5"))
	roster, err := s.Roster(t.Context())
	require.NoError(t, err)
	assert.False(t, roster.Coupons[0].WaterRepellent)
	verified(t, s)
}
