package store_test

import (
	"context"
	"database/sql"
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

// filled makes a study that has rows of every kind, and closes it: a copy of the first one that was made.
func filled(t testing.TB) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "s.wane")
	if filledStudy == nil {
		made, err := os.ReadFile(fillAll(t))
		require.NoError(t, err)
		filledStudy = made
	}
	require.NoError(t, os.WriteFile(path, filledStudy, 0o644))
	return path
}

var filledStudy []byte // its file

func fillAll(t testing.TB) string {
	t.Helper()
	s, path := enrolled(t)
	require.NoError(t, s.Write(t.Context(), entry("enrol"), func(tx *store.Tx) error {
		_, err := tx.AddGlass(study.Glass{Name: "g.csv", NM: []float64{300, 400}, N: []float64{1.5, 1.5}, K: []float64{0, 0}})
		require.NoError(t, err)
		_, err = tx.AddReturnSpectrum(study.ReturnSpectrum{Name: "r.csv", NM: []float64{300, 400}, Return: []float64{0.04, 0.05}})
		require.NoError(t, err)
		_, err = tx.AddGlassBatch(study.GlassBatch{Glass: "g.csv", Batch: "melt 1"})
		require.NoError(t, err)
		_, _, err = tx.AddProtocol("heat", "made up\n")
		return err
	}))
	for _, code := range []string{"C001", "C002", "K001"} {
		u := study.Unit{Coupon: code, Pull: 1, Spot: "a"}
		takeIn(t, s, u)
		put(t, s, fitOf(u, 1))
	}
	put(t, s, fitOf(study.Unit{Coupon: "C001", Pull: 1, Spot: "a"}, 2))
	gauges, picture := file("gauges.csv", "a made-up table"), file("edge.png", "made up")
	_, err := measure(t, s, gauges, gauged(), &picture)
	require.NoError(t, err)
	require.NoError(t, s.Write(t.Context(), entry("enrol"), register))
	judge(t, s)
	require.NoError(t, s.Write(t.Context(), entry("enrol"), addLives))
	require.NoError(t, s.Write(t.Context(), entry("sheet"), func(tx *store.Tx) error { return tx.AddSheet(drawn()) }))
	require.NoError(t, s.Write(t.Context(), entry("enrol"), func(tx *store.Tx) error {
		return tx.Give("roster", file("coupons.csv", "made up, too"))
	}))
	require.NoError(t, s.Write(t.Context(), entry("fit"), func(tx *store.Tx) error { return tx.PutSurvey(surveyed()) }))
	require.NoError(t, s.Write(t.Context(), entry("rule"), addRule))
	require.NoError(t, s.Write(t.Context(), entry("rule"), func(tx *store.Tx) error { return tx.AddVerdict(1, verdictOn(2)) }))
	mergeBox(t, s)
	require.NoError(t, s.Close())
	return path
}

// mergeBox merges a study that has one exposure, under one line of the log.
func mergeBox(t testing.TB, s *store.Store) {
	t.Helper()
	other, _ := create(t)
	require.NoError(t, other.Write(t.Context(), entry("enrol"), func(tx *store.Tx) error {
		_, err := tx.AddExposure(study.Exposure{Exposure: "merged box", DoseUnit: "hours"})
		return err
	}))
	require.NoError(t, other.View(t.Context(), func(v *store.View) error {
		return s.Write(t.Context(), entry("enrol"), func(tx *store.Tx) error {
			in, err := tx.Merge(v, "other.wane")
			require.NoError(t, err)
			require.Empty(t, in.Conflicts)
			return err
		})
	}))
	require.NoError(t, other.Close())
}

// judge adds, under four lines of the log, version 1 of a profile by which the export
// of C001 is taken in again, holds of readings 3 and 4,
// a release of reading 4, and a review of reading 3.
func judge(t testing.TB, s *store.Store) {
	t.Helper()
	e, readings := export("C001-1-a.csv", study.Unit{Coupon: "C001", Pull: 1, Spot: "a"}, 8, 45)
	require.NoError(t, s.Write(t.Context(), entry("intake"), func(tx *store.Tx) error {
		_, _, err := tx.AddProfile("bench", "unit percent\n")
		require.NoError(t, err)
		added, err := tx.AddExport(e, study.Taking{Digest: [32]byte{1}, Profile: "bench", Version: 1}, readings)
		require.Zero(t, added)
		return err
	}))
	require.NoError(t, s.Write(t.Context(), entry("fit"), func(tx *store.Tx) error {
		_, err := tx.Guard(store.Guarding{LastReading: 6, LastLine: 3, Guards: 1,
			Holds: []study.Hold{hold(3, "noise", "it is noisy"), hold(4, "noise", "it is noisier")}})
		return err
	}))
	require.NoError(t, s.Write(t.Context(), entry("fit"), func(tx *store.Tx) error {
		_, err := tx.Guard(store.Guarding{After: 1, LastReading: 6, LastLine: 12, Guards: 1,
			Releases: []study.Release{{Hold: 2, Reason: "the others are as noisy"}}})
		return err
	}))
	require.NoError(t, s.Write(t.Context(), entry("review"), func(tx *store.Tx) error {
		return tx.Review(study.Review{Reading: 3, Standing: study.Aside, Why: "a fingerprint"})
	}))
}

func hold(reading int64, guard, reason string) study.Hold {
	return study.Hold{Reading: reading, Concern: study.Concern{Guard: guard, Reason: reason}}
}

// tamper lets do alter the file without the triggers and with references not held,
// as somebody determined would, and puts the triggers back.
func tamper(t testing.TB, path string, do func(*sql.DB)) {
	t.Helper()
	db := raw(t, path)
	rows, err := db.Query("SELECT name, sql FROM sqlite_schema WHERE type = 'trigger'")
	require.NoError(t, err)
	var drop, restore []string
	for rows.Next() {
		var name, text string
		require.NoError(t, rows.Scan(&name, &text))
		drop, restore = append(drop, "DROP TRIGGER "+name), append(restore, text)
	}
	require.NoError(t, rows.Close())
	require.GreaterOrEqual(t, len(drop), 2*len(store.Columns()), "each table has one that keeps its rows and one that fixes them")
	run(t, db, strings.Join(drop, ";"))
	do(db)
	run(t, db, strings.Join(restore, ";"))
	require.NoError(t, db.Close())
}

// verifiedAs opens and verifies the file and returns the findings, one a line.
func verifiedAs(t testing.TB, path string) string {
	t.Helper()
	s, err := store.Open(t.Context(), path)
	require.NoError(t, err)
	defer s.Close()
	report, err := s.Verify(t.Context())
	require.NoError(t, err)
	return findings(report)
}

// copyFit adds a copy of the fit of row %d under the number %d.
const copyFit = "CREATE TEMP TABLE copied AS SELECT * FROM fit WHERE id = %d; UPDATE copied SET id = %d; INSERT " +
	"INTO fit SELECT * FROM copied; "

// readers are the functions that return rows of a table.
var readers = map[string]func(context.Context, *store.Store) error{
	"roster": func(ctx context.Context, s *store.Store) error { _, err := s.Roster(ctx); return err },
	"readings": func(ctx context.Context, s *store.Store) error {
		_, err := s.Readings(ctx, study.Unit{Coupon: "C001", Pull: 1, Spot: "a"})
		return err
	},
	"fits": func(ctx context.Context, s *store.Store) error {
		return s.Fits(ctx, func(*study.Fit) error { return nil })
	},
	"log": func(ctx context.Context, s *store.Store) error {
		return s.Log(ctx, func(study.Entry) error { return nil })
	},
	"measurements": func(ctx context.Context, s *store.Store) error {
		return s.View(ctx, func(v *store.View) error { return v.Measurements(func(study.Measurement) error { return nil }) })
	},
	"picture": func(ctx context.Context, s *store.Store) error {
		_, err := s.Original(ctx, file("", "made up").SHA256)
		return err
	},
	"profiles":  func(ctx context.Context, s *store.Store) error { _, err := s.Profiles(ctx); return err },
	"protocols": func(ctx context.Context, s *store.Store) error { _, err := protocolsOf(ctx, s); return err },
	"taking": func(ctx context.Context, s *store.Store) error {
		return s.View(ctx, func(v *store.View) error { _, err := v.TakingOf(1); return err })
	},
	"standings": func(ctx context.Context, s *store.Store) error {
		return s.View(ctx, func(v *store.View) error { _, err := v.Standings(); return err })
	},
	"guarded": func(ctx context.Context, s *store.Store) error {
		return s.View(ctx, func(v *store.View) error { _, _, _, err := v.Guarded(); return err })
	},
	"original": func(ctx context.Context, s *store.Store) error {
		e, _ := export("C001-1-a.csv", study.Unit{Coupon: "C001", Pull: 1, Spot: "a"}, 8, 45)
		_, err := s.Original(ctx, e.SHA256)
		return err
	},
}

func TestTamperingIsNoticed(t *testing.T) {
	for _, c := range []struct {
		name, do string
		finding  string // among those of Verify
		reader   string // that refuses; empty: none can know
	}{
		{"a site altered", "UPDATE exposure SET site = 'Elsewhere'", "table exposure, row 1: its checksum is wrong",
			"roster"},
		{"a dose altered", "UPDATE pull SET dose = dose + 1e-9 WHERE pull = 2", "table pull, row 3: its checksum is wrong",
			"roster"},
		{"a glass altered", "UPDATE glass SET n_packed = k_packed", "table glass, row 1: its checksum is wrong", "roster"},
		{"a lot blanked", "UPDATE coupon SET lot = NULL WHERE coupon = 'C002'",
			"table coupon, row 2: its checksum is wrong", "roster"},
		{"an export renamed", "UPDATE export SET name = 'y.csv' WHERE id = 1", "table export, row 1: its checksum is wrong",
			"readings"},
		{"an export altered", "UPDATE original SET data_zstd = (SELECT data_zstd FROM original WHERE id = 2) WHERE id = 1",
			"table original, row 1: its checksum is wrong", "original"},
		{"a grid altered", "UPDATE grid SET points = 400", "table grid, row 1: its checksum is wrong", "readings"},
		{"a reading moved", "UPDATE reading SET spot = 'a', angle_deg = 9 WHERE id = 1",
			"table reading, row 1: its checksum is wrong", "readings"},
		{"a spectrum altered", "UPDATE reading SET values_packed = (SELECT values_packed FROM reading WHERE id = 2) WHERE " +
			"id = 1", "table reading, row 1: its checksum is wrong", "readings"},
		{"a fit altered", "UPDATE fit SET thickness_nm = 120.5 WHERE id = 4", "table fit, row 4: its checksum is wrong",
			"fits"},
		{"a fit made current again", "UPDATE fit SET superseded_by = 1 WHERE id = 4; UPDATE fit SET superseded_by = NULL " +
			"WHERE id = 1", "table fit, row 1: it is not superseded by the next fit of its unit", "fits"},
		{"a measurement altered", "UPDATE measurement SET value = value + 1e-9",
			"table measurement, row 1: its checksum is wrong", "measurements"},
		{"a picture altered", "UPDATE original SET data_zstd = (SELECT data_zstd FROM original WHERE id = 1) WHERE id = 5",
			"table original, row 5: its checksum is wrong", "picture"},
		{"a picture gone", "DELETE FROM export WHERE id = 5", "it refers to a row of table export that is not there",
			"measurements"},
		{"a profile altered", "UPDATE profile SET text = 'unit fraction'", "table profile, row 1: its checksum is wrong",
			"profiles"},
		{"an intake altered", "UPDATE intake SET stated = NULL WHERE id = 1", "table intake, row 1: its checksum is wrong",
			"taking"},
		{"a profile gone", "DELETE FROM profile",
			"table intake, row 4: it refers to a row of table profile that is not there", ""},
		{"a reading of another intake", "UPDATE reading SET intake = 2 WHERE id = 1",
			"table reading, row 1: its export is not the one that its intake is of", "readings"},
		{"an intake gone", "DELETE FROM intake WHERE id = 1",
			"table reading, row 1: it refers to a row of table intake that is not there", ""},
		{"a certificate made up", "UPDATE reading SET reference = 'M9', reference_issued = '2031-01-01' WHERE id = 1",
			"table reading, row 1: there is no such certificate of its reference", "readings"},
		{"bands that are none", "UPDATE reading SET bands_packed = x'0100ff' WHERE id = 1",
			"table reading, row 1: its checksum is wrong", "readings"},
		{"a hold altered", "UPDATE hold SET reason = 'it is fine' WHERE id = 2", "table hold, row 2: its checksum is wrong",
			"standings"},
		{"a hold gone", "DELETE FROM hold WHERE id = 2",
			"table log, row 14: 3 rows were added under this line, 2 are there", ""},
		{"a review altered", "UPDATE review SET standing = 'counted'", "table review, row 1: its checksum is wrong",
			"standings"},
		{"a review moved to the line of the hold", "UPDATE review SET log = 14",
			"table review, row 1: its reading is held under the same line of the log", "standings"},
		{"a marker altered", "UPDATE guarding SET last_reading = 5", "table guarding, row 1: its checksum is wrong",
			"guarded"},
		{"a checksum altered", "UPDATE coupon SET crc = crc + 1 WHERE id = 1", "table coupon, row 1: its checksum is wrong",
			"roster"},
		{"a line of the log altered", "UPDATE log SET who = 'eve' WHERE number = 2",
			"table log, row 2: its checksum is wrong", "log"},
		{"a line of the log removed", "DELETE FROM log WHERE number = 2", "table log, row 3: the line before it is missing",
			"log"},
		{"the first line removed", "DELETE FROM log WHERE number = 1", "table log, row 2: the line before it is missing",
			"log"},
		{"the last line removed", "DELETE FROM log WHERE number = (SELECT max(number) FROM log)",
			"table log, row 23: this line is missing, and 4 rows were added under it", ""},
		{"two lines swapped", "UPDATE log SET number = 99 WHERE number = 4; UPDATE log SET number = 4 WHERE number = 5; " +
			"UPDATE log SET number = 5 WHERE number = 99", "table log, row 4: its checksum is wrong", "log"},
		{"a row removed", "DELETE FROM fit WHERE id = 2", "table fit, row 3: rows 2 to 2 before it are missing", ""},
		{"the last row removed", "DELETE FROM coupon WHERE id = 6",
			"table log, row 2: 11 rows were added under this line, 10 are there", ""},
		{"a coupon gone that is referred to", "DELETE FROM coupon WHERE coupon = 'C001'",
			"it refers to a row of table coupon that is not there", ""},
		{"an original gone", "DELETE FROM original WHERE id = 1", "table original, row 1: it is missing", "original"},
		{"a pull gone that was read", "DELETE FROM pull WHERE pull = 1", "table reading, row 1: nobody planned its pull", ""},
		{"a second current fit", fmt.Sprintf(copyFit, 2, 5),
			"table fit, row 2: it is not superseded by the next fit of its unit", "fits"},
		{"a fit brought back", "UPDATE fit SET superseded_by = 2 WHERE id = 1",
			"table fit, row 1: it is not superseded by the next fit of its unit", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			path := filled(t)
			tamper(t, path, func(db *sql.DB) { run(t, db, c.do) })
			s, err := store.Open(t.Context(), path)
			require.NoError(t, err)
			defer s.Close()
			report, err := s.Verify(t.Context())
			require.NoError(t, err)
			assert.Contains(t, findings(report), c.finding)
			if c.reader != "" {
				failed(t, readers[c.reader](t.Context(), s), path, "damaged here")
			}
		})
	}
}

func findings(r *store.Report) string {
	var b strings.Builder
	for _, f := range r.Findings {
		fmt.Fprintln(&b, f)
	}
	return b.String()
}

// Whoever alters a row and its checksum too is caught by the digest that the log
// keeps of what was added.
func TestTamperingWithTheChecksumIsNoticed(t *testing.T) {
	path := filled(t)
	tamper(t, path, func(db *sql.DB) { forge(t, db, "coupon", "C002", "lot", "L9") })
	s, err := store.Open(t.Context(), path)
	require.NoError(t, err)
	defer s.Close()
	roster, err := s.Roster(t.Context())
	require.NoError(t, err)
	assert.Equal(t, "L9", roster.Coupons[2].Lot, "the forgery is good")
	report, err := s.Verify(t.Context())
	require.NoError(t, err)
	assert.Equal(t, "table log, row 2: rows that were added under this line are not what they were\n", findings(report))
}

// forge alters a text of a coupon and makes the checksum fit.
func forge(t testing.TB, db *sql.DB, table, code, column, to string) {
	t.Helper()
	run(t, db, fmt.Sprintf("UPDATE %s SET %s = ? WHERE coupon = ?", table, column), to, code)
	columns := store.Columns()[table]
	values, places := make([]any, len(columns)), make([]any, len(columns))
	for i := range values {
		places[i] = &values[i]
	}
	require.NoError(t, db.QueryRow(fmt.Sprintf("SELECT %s FROM %s WHERE coupon = ?", strings.Join(columns, ", "), table),
		code).Scan(places...))
	crc := store.Checksum(store.Encode(table, strings.Join(columns, " "), values...))
	run(t, db, fmt.Sprintf("UPDATE %s SET crc = ? WHERE coupon = ?", table), crc, code)
}

func TestTriggersRefuseChanges(t *testing.T) {
	s, path := everyKind(t)
	correct(t, s)
	require.NoError(t, s.Close())
	db := raw(t, path)
	tables := []string{"study", "exposure", "pull", "glass", "coupon", "export", "original", "grid", "reading", "fit",
		"log",
		"instrument", "event", "reference", "reference_curve", "standard", "session", "standard_reading", "measurement",
		"profile", "intake", "hold", "review", "guarding", "hold_release", "glass_batch",
		"return_spectrum", "protocol", "sheet", "sheet_line", "coupon_event", "dose_reading", "amendment", "withdrawal", "given", "survey",
		"merged", "merged_line", "merged_rows", "rule", "verdict"}
	require.Len(t, store.Columns(), len(tables))
	before := dumpFile(t, path)
	for _, table := range tables {
		t.Run(table, func(t *testing.T) {
			for _, column := range append(store.Columns()[table], "crc") {
				_, err := db.Exec(fmt.Sprintf("UPDATE %s SET %s = %s", table, column, column))
				assert.ErrorContains(t, err, "changes nothing", column)
			}
			_, err := db.Exec("DELETE FROM " + table)
			assert.ErrorContains(t, err, "keeps everything")
		})
	}
	t.Run("superseded_by is set once, to a later fit of the unit", func(t *testing.T) {
		// Fits 1 and 4 are of one unit, 2 and 3 of others; 1 is superseded by 4.
		for _, c := range []struct{ name, set string }{
			{"set already", "superseded_by = 4 WHERE id = 1"},
			{"set otherwise", "superseded_by = 2 WHERE id = 1"},
			{"brought back", "superseded_by = NULL WHERE id = 1"},
			{"with a number", "superseded_by = 3, thickness_nm = 1 WHERE id = 2"},
			{"an older fit of the unit", "superseded_by = 1 WHERE id = 4"},
			{"itself", "superseded_by = 4 WHERE id = 4"},
			{"a later fit of another unit", "superseded_by = 3 WHERE id = 2"},
			{"an older fit of another unit", "superseded_by = 2 WHERE id = 4"},
			{"a fit that is not there", "superseded_by = 99 WHERE id = 4"},
			{"no number", "superseded_by = 0 WHERE id = 4"},
		} {
			_, err := db.Exec("UPDATE fit SET " + c.set)
			assert.ErrorContains(t, err, "changes nothing", c.name)
		}
		run(t, db, "BEGIN; "+fmt.Sprintf(copyFit, 4, 5)+"UPDATE fit SET superseded_by = 5 WHERE id = 4; ROLLBACK")
	})
	t.Run("superseded_by of a reading is set once, before the later one of its column", func(t *testing.T) {
		for _, c := range []struct{ name, set string }{
			{"a reading that is there", "superseded_by = 3 WHERE id = 1"},
			{"itself", "superseded_by = 1 WHERE id = 1"},
			{"with a place", "superseded_by = 99, spot = 'z' WHERE id = 1"},
			{"no number", "superseded_by = 0 WHERE id = 1"},
		} {
			_, err := db.Exec("UPDATE reading SET " + c.set)
			assert.ErrorContains(t, err, "changes nothing", c.name)
		}
		run(t, db, "PRAGMA foreign_keys = on; BEGIN; UPDATE reading SET superseded_by = 99 WHERE id = 1")
		_, err := db.Exec("UPDATE reading SET superseded_by = 100 WHERE id = 1")
		assert.ErrorContains(t, err, "changes nothing", "set already")
		const copied = "CREATE TEMP TABLE moved AS SELECT * FROM reading WHERE id = %d; UPDATE moved SET id = 99, spot = 'z', " +
			"superseded_by = NULL; INSERT INTO reading SELECT * FROM moved"
		_, err = db.Exec(fmt.Sprintf(copied, 2))
		assert.ErrorContains(t, err, "of the same column")
		_, err = db.Exec("COMMIT")
		assert.ErrorContains(t, err, "FOREIGN KEY", "nothing stands instead of it")
		run(t, db, "DROP TABLE moved; "+fmt.Sprintf(copied, 1)+"; ROLLBACK; PRAGMA foreign_keys = off")
	})
	t.Run("a reading belongs to a coupon and a planned pull", func(t *testing.T) {
		run(t, db, "PRAGMA foreign_keys = on")
		const copied = `INSERT INTO reading SELECT 99, log, %s, %s, 'z', condition, angle_deg, polarisation, quantity,
			replicate, session, operator, geometry, orientation_deg, export, 99, heading, grid, mean, values_packed, crc,
			first_line, last_line, intake, reference, reference_issued, noise, band_first_nm, bands_packed, twin, mounting, half_angle_deg,
			position, superseded_by FROM reading WHERE id = 1`
		_, err := db.Exec(fmt.Sprintf(copied, "'C777'", "pull"))
		assert.ErrorContains(t, err, "nobody planned")
		_, err = db.Exec(fmt.Sprintf(copied, "coupon", "17"))
		assert.ErrorContains(t, err, "nobody planned")
		run(t, db, "DROP TRIGGER reading_planned")
		_, err = db.Exec(fmt.Sprintf(copied, "'C777'", "pull"))
		assert.ErrorContains(t, err, "FOREIGN KEY")
	})
	assert.Equal(t, before, dumpFile(t, path))
}

// A byte altered anywhere in the file is noticed, by SQLite or by a checksum, or
// else lies where nothing is kept: then all that is read is as before.
func TestFlippedBytes(t *testing.T) {
	path := filled(t)
	before := dumpFile(t, path)
	whole, err := os.ReadFile(path)
	require.NoError(t, err)
	noticed, step := 0, 3989
	if os.Getenv("WANE_LONG") != "" {
		step = 997
	}
	for at := 37; at < len(whole); at += step {
		damaged := append([]byte(nil), whole...)
		damaged[at] ^= 0x55
		require.NoError(t, os.WriteFile(path, damaged, 0o644))
		if notices(t, path) {
			noticed++
			continue
		}
		assert.Equal(t, before, dumpFile(t, path), "byte %d was altered", at)
		verifiedFile(t, path)
	}
	assert.Greater(t, noticed, 10, "the test must get to see damage; most of so small a file is free space")
	for _, name := range filesBeside(t, path) {
		assert.Equal(t, "s.wane", name)
	}
}

func verifiedFile(t testing.TB, path string) {
	t.Helper()
	s, err := store.Open(t.Context(), path)
	require.NoError(t, err)
	defer s.Close()
	verified(t, s)
}

// notices opens and verifies the file and reports whether anything was said to
// be wrong. Whatever is said is said as a refusal or a finding.
func notices(t testing.TB, path string) bool {
	t.Helper()
	s, err := store.Open(t.Context(), path)
	if err != nil {
		refused(t, err, path)
		return true
	}
	defer s.Close()
	report, err := s.Verify(t.Context())
	if err != nil {
		refused(t, err, path)
		return true
	}
	return len(report.Findings) > 0
}

func TestReportIsBounded(t *testing.T) {
	s, path := enrolled(t)
	require.NoError(t, s.Write(t.Context(), entry("enrol"), func(tx *store.Tx) error {
		for i := range 300 {
			if _, err := tx.AddCoupon(coupon(fmt.Sprintf("X%03d", i), study.Exposed, "rack")); err != nil {
				return err
			}
		}
		return nil
	}))
	require.NoError(t, s.Close())
	tamper(t, path, func(db *sql.DB) { run(t, db, "UPDATE coupon SET lot = 'L9'") })
	s, err := store.Open(t.Context(), path)
	require.NoError(t, err)
	defer s.Close()
	report, err := s.Verify(t.Context())
	require.NoError(t, err)
	assert.Len(t, report.Findings, 300)
	// 306 coupons, and the two lines under which they were added.
	assert.Equal(t, 306+2, 300+report.More)
}
