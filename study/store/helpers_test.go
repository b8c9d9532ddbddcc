package store_test

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/store"
)

// All names and figures in these tests are made up.

var settings = study.Settings{Correction: study.RouteControls, Mixing: "bruggeman", Created: "2031-03-01T08:00:00Z"}

// how is how the exports of most tests are taken in.
var how = study.Taking{Digest: sha256.Sum256([]byte("as made up")), Stated: "unit percent"}

func entry(verb string) *study.Entry {
	return &study.Entry{At: "2031-03-01T08:00:00Z", Who: "ada", Verb: verb, Summary: "a test"}
}

// create makes an empty study in a folder of its own.
func create(t testing.TB) (*store.Store, string) {
	t.Helper()
	path := filepath.Join(t.TempDir(), "s.wane")
	s, err := store.Create(t.Context(), path, settings, entry("new"))
	require.NoError(t, err)
	t.Cleanup(func() { s.Close() })
	return s, path
}

// enrolled makes a study with coupons C001 to C004, a control K001 of all
// exposures, a blank B001, and pulls 0 to 3 of the exposure rack.
func enrolled(t testing.TB) (*store.Store, string) {
	t.Helper()
	s, path := create(t)
	require.NoError(t, s.Write(t.Context(), entry("enrol"), enrol))
	return s, path
}

func coupon(code string, role study.Role, exposure string) study.Coupon {
	c := study.Coupon{Coupon: code, Role: role, Glass: "low-iron", GlassMM: study.Null(), Back: "matched",
		Exposure: exposure}
	if role.Coated() {
		c.Supplier, c.Coating, c.Lot = "maker-A", "U7", "L2"
	}
	return c
}

func enrol(tx *store.Tx) error {
	_, err := tx.AddExposure(study.Exposure{Exposure: "rack", Protocol: "outdoor", Site: "Dunmere", DoseUnit: "days",
		Start: "2031-03-01"})
	for p := 0; p < 4 && err == nil; p++ {
		_, err = tx.AddPull(study.Pull{Exposure: "rack", Pull: p, Dose: 90.5 * float64(p),
			Date: fmt.Sprintf("2031-0%d-01", 3+3*(p%3))})
	}
	for i := 1; i < 5 && err == nil; i++ {
		_, err = tx.AddCoupon(coupon(fmt.Sprintf("C%03d", i), study.Exposed, "rack"))
	}
	if err == nil {
		_, err = tx.AddCoupon(coupon("K001", study.Control, ""))
	}
	if err == nil {
		_, err = tx.AddCoupon(coupon("B001", study.Blank, "rack"))
	}
	return err
}

// export makes the bytes of an export and its readings, one for each angle, of
// 401 points with four decimals of a percent.
func export(name string, unit study.Unit, angles ...float64) (study.Export, []study.Reading) {
	const points = 401
	var text strings.Builder
	var readings []study.Reading
	for i, angle := range angles {
		readings = append(readings, study.Reading{
			Place: study.Place{Coupon: unit.Coupon, Pull: unit.Pull, Spot: unit.Spot, Condition: unit.Condition,
				AngleDeg: angle, Polarisation: "u", Quantity: study.Reflectance, Replicate: 1},
			Session: "m1", Operator: "ada", Geometry: "relative", OrientationDeg: study.Null(),
			Column: i + 2, Heading: fmt.Sprintf("%g deg", angle),
			NM: make([]float64, points), Values: make([]float64, points),
		})
	}
	seed := uint64(len(name)) + uint64(unit.Pull)
	for _, b := range []byte(name + unit.Coupon + unit.Spot + unit.Condition) {
		seed = seed*31 + uint64(b)
	}
	for k := range points {
		nm := 380 + float64(k)
		fmt.Fprintf(&text, "%g", nm)
		for i := range readings {
			seed = seed*6364136223846793005 + 1442695040888963407
			noise := float64(seed>>33)/(1<<31) - 0.5
			percent := 2.5 + 1.5*math.Cos(nm/60+float64(i)) + 0.02*noise
			ten4 := math.Round(percent * 1e4)
			readings[i].NM[k], readings[i].Values[k] = nm, ten4/1e6
			fmt.Fprintf(&text, ",%.4f", ten4/1e4)
		}
		text.WriteByte('\n')
	}
	data := []byte(text.String())
	return study.Export{Name: name, Data: data, SHA256: sha256.Sum256(data)}, readings
}

// takeIn adds an export of a unit at 8 and 45 degrees.
func takeIn(t testing.TB, s *store.Store, unit study.Unit) (study.Export, []study.Reading) {
	t.Helper()
	e, readings := export(fmt.Sprintf("%s-%d-%s.csv", unit.Coupon, unit.Pull, unit.Spot), unit, 8, 45)
	require.NoError(t, s.Write(t.Context(), entry("intake"), func(tx *store.Tx) error {
		_, err := tx.AddExport(e, how, readings)
		return err
	}))
	return e, readings
}

// fitOf makes a fit with a different number in each column.
func fitOf(unit study.Unit, first float64) *study.Fit {
	f := &study.Fit{Unit: unit, Session: "m1", Digest: sha256.Sum256(fmt.Appendf(nil, "%v %g", unit, first)),
		Result: study.NewResult()}
	r := &f.Result
	for i, m := range []*study.Measure{&r.SolarT, &r.CellT, &r.Gain, &r.Thickness, &r.Porosity, &r.BareFraction,
		&r.Solid, &r.OpticalThickness, &r.FilmIndex, &r.Scale, &r.FilmK, &r.Absorbed} {
		*m = study.Measure{Value: study.Num(first + float64(i)), U: study.Num(first + float64(i) + 1.0/3)}
	}
	for i, n := range []*study.Num{&r.SolarTData, &r.SolarShareCovered, &r.Noise, &r.RMSResidual, &r.ReducedChi2,
		&r.Points, &f.SeenT, &f.SeenLoNM, &f.SeenHiNM} {
		*n = study.Num(first + 100 + float64(i))
	}
	f.AnglesDeg = []float64{8, 22.5, 60}
	f.Errors = errorsOf(first)
	r.State, r.Model, r.Flags = study.Thinned, "patchy", []string{"no-baseline", "one-angle"}
	return f
}

// errorsOf makes errors with a different number in each place, of few binary digits.
func errorsOf(first float64) study.Errors {
	e := study.Errors{Shared: []study.Sensitivity{
		{Effect: study.Effect{Owner: study.OwnerSession, Name: "scale"}},
		{Effect: study.Effect{Owner: study.OwnerSession, Name: "factor@8"}},
		{Effect: study.Effect{Owner: study.OwnerBatch, Name: "glass_index"}},
		{Effect: study.Effect{Owner: study.OwnerSession, Name: "zero"}},
		{Effect: study.Effect{Owner: study.OwnerJoint, Of: "m1 0f1e2d3c", Name: "uniform 12"}},
	}}
	for i := range e.Shared {
		for q := range e.Shared[i].By {
			e.Shared[i].By[q] = first - float64(i) - float64(q)/8
		}
	}
	for i := range e.Own {
		e.Own[i] = first + 0.5 + float64(i)/64
	}
	return e
}

func put(t testing.TB, s *store.Store, list ...*study.Fit) {
	t.Helper()
	require.NoError(t, s.Write(t.Context(), entry("fit"), func(tx *store.Tx) error {
		for _, f := range list {
			if err := tx.PutFit(f); err != nil {
				return err
			}
		}
		return nil
	}))
}

func dump(t testing.TB, s *store.Store) string {
	t.Helper()
	var b strings.Builder
	require.NoError(t, s.Dump(context.Background(), &b))
	return b.String()
}

// dumpFile opens the study at path, dumps it and closes it.
func dumpFile(t testing.TB, path string) string {
	t.Helper()
	s, err := store.Open(t.Context(), path)
	require.NoError(t, err)
	defer func() { require.NoError(t, s.Close()) }()
	return dump(t, s)
}

// refused asserts that err is a refusal, or a failure of the study file, whose fault holds
// the words, and returns it.
func refused(t testing.TB, err error, words ...string) *study.Refusal {
	t.Helper()
	var r *study.Refusal
	var f *study.Failure
	require.Error(t, err)
	if errors.As(err, &f) {
		r = (*study.Refusal)(f)
	} else {
		require.True(t, errors.As(err, &r), "neither a refusal nor a failure: %v", err)
	}
	for _, w := range words {
		assert.Contains(t, r.Error(), w)
	}
	assert.NotEmpty(t, r.Try)
	return r
}

// failed asserts that err is a failure of the study file whose fault holds the words, and no
// refusal, which somebody may take for an answer.
func failed(t testing.TB, err error, words ...string) {
	t.Helper()
	var r *study.Refusal
	assert.False(t, errors.As(err, &r), "a refusal: %v", err)
	refused(t, err, words...)
}

// raw opens the file with nothing of ours in between.
func raw(t testing.TB, path string) *sql.DB {
	t.Helper()
	db, err := sql.Open("sqlite", "file:"+path+"?mode=rw&_pragma=busy_timeout(5000)")
	require.NoError(t, err)
	t.Cleanup(func() { db.Close() })
	return db
}

func run(t testing.TB, db *sql.DB, query string, args ...any) {
	t.Helper()
	_, err := db.Exec(query, args...)
	require.NoError(t, err)
}

// filesBeside lists the folder of path.
func filesBeside(t testing.TB, path string) []string {
	t.Helper()
	entries, err := os.ReadDir(filepath.Dir(path))
	require.NoError(t, err)
	var names []string
	for _, e := range entries {
		names = append(names, e.Name())
	}
	return names
}

// onDisk puts the study at path onto the disk.
func onDisk(t *testing.T, path, disk string) string {
	t.Helper()
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	moved := filepath.Join(disk, "s.wane")
	require.NoError(t, os.WriteFile(moved, data, 0o644))
	return moved
}

func verified(t testing.TB, s *store.Store) *store.Report {
	t.Helper()
	report, err := s.Verify(context.Background())
	require.NoError(t, err)
	assert.Empty(t, report.Findings)
	return report
}

// openVersion returns the version in a user_version, which also says that the study is not
// closed, by 65536, and by which opening.
func openVersion(t testing.TB, userVersion string) int {
	t.Helper()
	n, err := strconv.Atoi(userVersion)
	require.NoError(t, err)
	assert.Equal(t, 1, n>>16&1, "it says that it is not closed")
	assert.Positive(t, n>>17, "it says by which opening")
	return n & 0xffff
}
