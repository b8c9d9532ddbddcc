package desk

import (
	"context"
	"database/sql"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	_ "modernc.org/sqlite" // the driver

	"wane/study"
)

// closedStudy makes a study with readings of three coupons, and their fits if they are
// wanted, and returns its file, its map and the folder.
func closedStudy(t *testing.T, fits bool) (f folder, path, mapFile string) {
	ctx := context.Background()
	f = newFolder(t)
	path = filepath.Join(f.path, "closed.wane")
	d, err := New(ctx, path, study.Settings{Correction: study.RouteControls, Mixing: "bruggeman"}, tester())
	require.NoError(t, err)
	_, err = d.Enrol(ctx, f.rosters())
	require.NoError(t, err)
	f.export("a.csv", 120, 0, 1)
	f.export("b.csv", 110, 0, 2)
	f.export("c.csv", 0, 1, 3)
	mapFile = f.write("map.csv", mapHeader+rows("a.csv", "E1", 0)+rows("b.csv", "C1", 0)+rows("c.csv", "B1", 0))
	in, err := d.Intake(ctx, mapFile, nil, IntakeOptions{Workers: 1})
	require.NoError(t, err)
	require.Empty(t, in.Refused)
	if fits {
		_, err = d.Fit(ctx, FitOptions{Workers: 1})
		require.NoError(t, err)
	}
	require.NoError(t, d.Close())
	return f, path, mapFile
}

// verbsOn are the operations on a study, each by itself.
func verbsOn(mapFile string) map[string]func(ctx context.Context, d *Desk) error {
	return map[string]func(ctx context.Context, d *Desk) error{
		"fit": func(ctx context.Context, d *Desk) error { _, err := d.Fit(ctx, FitOptions{Workers: 1}); return err },
		"results": func(ctx context.Context, d *Desk) error {
			return d.Results(ctx, ResultsOptions{}, func(*study.Result) error { return nil })
		},
		"results --joint": func(ctx context.Context, d *Desk) error {
			return d.Results(ctx, ResultsOptions{Joint: true}, func(*study.Result) error { return nil })
		},
		"trace": func(ctx context.Context, d *Desk) error {
			_, err := d.Trace(ctx, "E1", AllPulls, "")
			return err
		},
		"check": func(ctx context.Context, d *Desk) error { _, err := d.Check(ctx, CheckOptions{}); return err },
		"intake": func(ctx context.Context, d *Desk) error {
			in, err := d.Intake(ctx, mapFile, nil, IntakeOptions{Workers: 1})
			if err != nil {
				return err
			}
			return errors.Join(in.Refused...)
		},
	}
}

// caught runs a verb on the study at a path; a panic is a *study.Fault.
func caught(ctx context.Context, path string, verb func(ctx context.Context, d *Desk) error) (err error) {
	defer study.Catch(path, &err)
	d, err := Open(ctx, path, tester())
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, d.Close()) }()
	return verb(ctx, d)
}

// Each operation refuses a study without the row of a coupon that was read, and says what to do. None
// panics.
func TestAStudyWithoutACouponsRowIsRefused(t *testing.T) {
	ctx := context.Background()
	f, path, mapFile := closedStudy(t, true)
	for _, coupon := range []string{"E1", "C1", "B1"} {
		for name, verb := range verbsOn(mapFile) {
			broken := filepath.Join(f.path, "broken.wane")
			copyFile(t, path, broken)
			plainSQL(t, broken, "DELETE FROM coupon WHERE coupon = '"+coupon+"'")
			err := caught(ctx, broken, verb)
			var failure *study.Failure
			if assert.ErrorAs(t, err, &failure, "%s without %s", name, coupon) {
				assert.Contains(t, failure.Try, "verify")
			}
		}
	}
}

// Without the row the fit fails by itself, also if the counts are right.
func TestBenchNeedsTheRowOfEachCoupon(t *testing.T) {
	ctx := context.Background()
	_, path, _ := closedStudy(t, false)
	d := open(t, path)
	roster, err := d.store.Roster(ctx)
	require.NoError(t, err)
	units, err := d.store.Units(ctx)
	require.NoError(t, err)
	roster.Coupons = slices.DeleteFunc(roster.Coupons, func(c study.Coupon) bool { return c.Coupon == "C1" })
	_, err = d.newWorkspace(roster, units, 1)
	failed(t, err, "table coupon: no row of C1 is there, and readings of it are")
	require.NoError(t, d.Close())
}

// After a byte of an index was flipped, no operation panics, and no row is stored that says that readings
// could not be evaluated.
func TestAFlippedByteOfAnIndexMakesNoVerbPanic(t *testing.T) {
	const step = 2 // every other byte of what the index holds
	ctx := context.Background()
	for _, c := range []struct {
		index string
		fits  bool
		verbs []string
	}{
		{"reading_place", false, []string{"fit"}},
		{"reading_session", false, []string{"fit"}},
		{"sqlite_autoindex_coupon_1", false, []string{"fit"}},
		{"reading_place", true, []string{"trace", "results --joint"}},
		{"fit_current", true, []string{"fit", "trace"}},
	} {
		f, path, mapFile := closedStudy(t, c.fits)
		good, err := os.ReadFile(path)
		require.NoError(t, err)
		page := rootPage(t, path, c.index)
		flips, failures := 0, 0
		for at := page.to - 1; at >= page.from; at -= step { // its entries stand at the end
			if good[at] == 0 {
				continue
			}
			flips++
			data := append([]byte{}, good...)
			data[at] ^= 1 << (at / step % 8)
			broken := filepath.Join(f.path, "broken.wane")
			require.NoError(t, os.WriteFile(broken, data, 0o644))
			for _, name := range c.verbs {
				err := caught(ctx, broken, verbsOn(mapFile)[name])
				var fault *study.Fault
				var failure *study.Failure
				require.False(t, errors.As(err, &fault), "%s, %s, byte %d: %v", name, c.index, at-page.from, err)
				if errors.As(err, &failure) {
					failures++
				}
			}
		}
		require.Greater(t, flips, 10, c.index)
		t.Logf("%s: %d flips, %d failures said", c.index, flips, failures)
	}
}

type span struct{ from, to int }

// rootPage returns where the first page of an index stands in the file.
func rootPage(t *testing.T, path, index string) span {
	db, err := sql.Open("sqlite", path)
	require.NoError(t, err)
	defer func() { require.NoError(t, db.Close()) }()
	var page, size int
	require.NoError(t, db.QueryRow("SELECT rootpage FROM sqlite_master WHERE name = ?", index).Scan(&page))
	require.NoError(t, db.QueryRow("PRAGMA page_size").Scan(&size))
	return span{(page - 1) * size, page * size}
}

func copyFile(t *testing.T, from, to string) {
	data, err := os.ReadFile(from)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(to, data, 0o644))
}
