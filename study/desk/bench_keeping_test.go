package desk

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime/debug"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/store"
)

// keptPulls, keptSpots and keptAngles are what each coupon of a large study was read at.
const (
	keptPulls  = 10
	keptSpots  = 3
	keptPoints = 401
	keptRoofs  = 10 // exposures
	keptEach   = 20 // one coupon of so many is a control
)

var keptAngles = []float64{8, 45, 60}

// BenchmarkKeeping looks at a large study that was kept for ten pulls: 10,000 coupons, or
// WANE_BENCH_COUPONS, three spots, three angles, 401 points, put by the store directly, with fits that are
// not stale: that takes 7 ms of processor time a coupon. WANE_BENCH_FILE names a file to keep it in, which is used as
// it is if it is there. Each step opens the study anew:
//
//	WANE_BENCH_FILE=/tmp/kept.wane go test ./study/desk -run '^$' -bench Keeping -benchtime 1x -timeout 2h
func BenchmarkKeeping(b *testing.B) {
	ctx, coupons := context.Background(), 10000
	if text := os.Getenv("WANE_BENCH_COUPONS"); text != "" {
		_, err := fmt.Sscan(text, &coupons)
		require.NoError(b, err)
	}
	path := os.Getenv("WANE_BENCH_FILE")
	if path == "" {
		path = filepath.Join(b.TempDir(), "kept.wane")
	}
	if _, err := os.Stat(path); err != nil {
		start := time.Now()
		makeKept(b, path, coupons)
		b.Logf("made in %.0f s", time.Since(start).Seconds())
	}
	info, err := os.Stat(path)
	require.NoError(b, err)
	for b.Loop() {
		b.ReportMetric(float64(info.Size())/1e6, "file-MB")
		step := func(name string, do func(d *Desk)) {
			debug.FreeOSMemory()
			require.NoError(b, os.WriteFile("/proc/self/clear_refs", []byte("5"), 0o200)) // the peak begins anew
			start, before := time.Now(), processorTime(b)
			stop := profiled(b, name)
			d, err := OpenToRead(ctx, path, tester())
			require.NoError(b, err)
			do(d)
			stop()
			b.ReportMetric(time.Since(start).Seconds(), name+"-s")
			b.ReportMetric((processorTime(b) - before).Seconds(), name+"-cpu-s")
			b.ReportMetric(peakMemory(b), name+"-peak-MB")
			require.NoError(b, d.Close())
		}
		step("open", func(d *Desk) { require.NoError(b, d.Complete(ctx)) })
		step("status", func(d *Desk) {
			s, err := d.Status(ctx, StatusOptions{})
			require.NoError(b, err)
			require.Len(b, s.Rows, coupons*keptPulls)
			require.Zero(b, s.Overview.Fits.Spots())
		})
		step("without-survey", func(d *Desk) { // what status reads of a study that has none
			require.NoError(b, d.view(ctx, 0, func(v *store.View) error {
				roster, err := v.Roster()
				require.NoError(b, err)
				s := d.newStanding(roster, "")
				require.NoError(b, s.loadAll(d, v))
				return nil
			}))
		})
		step("history", func(d *Desk) {
			h, err := d.History(ctx, keptCode(coupons/2+1), Moment{})
			require.NoError(b, err)
			require.Len(b, h.Rows, keptPulls*keptSpots)
		})
		step("results", func(d *Desk) {
			n := 0
			require.NoError(b, d.Results(ctx, ResultsOptions{}, func(*study.Result) error { n++; return nil }))
			require.Equal(b, coupons*keptPulls*keptSpots, n)
		})
		step("stale", func(d *Desk) {
			due, err := d.FitsDue(ctx, 0)
			require.NoError(b, err)
			require.Zero(b, due.Spots())
		})
	}
}

// processorTime is what this process has used of the processors.
func processorTime(b *testing.B) time.Duration {
	var used syscall.Rusage
	require.NoError(b, syscall.Getrusage(syscall.RUSAGE_SELF, &used))
	return time.Duration(used.Utime.Nano() + used.Stime.Nano())
}

// makeKept makes the study.
func makeKept(b testing.TB, path string, coupons int) {
	ctx := context.Background()
	d, err := New(ctx, path, study.Settings{Correction: study.RouteControls, Mixing: "bruggeman"}, tester())
	require.NoError(b, err)
	write := func(do func(tx *store.Tx) error) {
		require.NoError(b, d.store.Write(ctx, d.entry("made", "made up"), do))
	}
	write(func(tx *store.Tx) error { return keptRoster(tx, coupons) })
	rng := rand.New(rand.NewPCG(1, 2))
	for c := 0; c < coupons; {
		write(func(tx *store.Tx) error {
			for range 20 {
				if c < coupons {
					if err := keptReadings(tx, rng, c); err != nil {
						return err
					}
				}
				c++
			}
			return nil
		})
	}
	w, err := d.currentWorkspace(ctx, 1)
	require.NoError(b, err)
	jobs := w.jobs()
	for len(jobs) > 0 {
		n := min(600, len(jobs))
		write(func(tx *store.Tx) error {
			for _, job := range jobs[:n] {
				if err := tx.PutFit(keptFit(rng, &job.units[0])); err != nil {
					return err
				}
			}
			return nil
		})
		jobs = jobs[n:]
	}
	require.NoError(b, d.survey(ctx))
	require.NoError(b, d.Close())
}

func keptCode(c int) string { return fmt.Sprintf("P%06d", c) }

func keptSession(c, pull int) string { return fmt.Sprintf("s%d-%d", c%keptRoofs, pull) }

func keptRoster(tx *store.Tx, coupons int) error {
	if _, err := tx.AddInstrument(study.Instrument{Instrument: "bench", ConeDeg: study.Null(), SlitNM: study.Null(),
		UJoin: study.Null()}); err != nil {
		return err
	}
	for e := range keptRoofs {
		roof := fmt.Sprintf("roof-%d", e)
		if _, err := tx.AddExposure(study.Exposure{Exposure: roof, DoseUnit: "days", Start: "2016-01-01"}); err != nil {
			return err
		}
		for p := range keptPulls {
			date := fmt.Sprintf("%d-01-01", 2016+p)
			if _, err := tx.AddPull(study.Pull{Exposure: roof, Pull: p, Dose: float64(365 * p), Date: date}); err != nil {
				return err
			}
			if _, err := tx.AddSession(study.Session{Session: keptSession(e, p), Instrument: "bench", Date: date,
				HumidityPercent: 40, TemperatureC: 22}); err != nil {
				return err
			}
		}
	}
	for c := range coupons {
		role := study.Exposed
		if c/keptRoofs%keptEach == 0 {
			role = study.Control
		}
		if _, err := tx.AddCoupon(study.Coupon{Coupon: keptCode(c), Role: role, Supplier: "m",
			Coating: fmt.Sprintf("K%d", c/keptRoofs%3), Glass: "soda-lime", GlassMM: 3.2, Back: "matched",
			Exposure: fmt.Sprintf("roof-%d", c%keptRoofs)}); err != nil {
			return err
		}
	}
	return nil
}

// keptReadings puts one export a pull and spot, of a curve for each angle.
func keptReadings(tx *store.Tx, rng *rand.Rand, c int) error {
	nm := make([]float64, keptPoints)
	for i := range nm {
		nm[i] = 380 + 2*float64(i)
	}
	for pull := range keptPulls {
		for spot := range keptSpots {
			e := study.Export{Name: fmt.Sprintf("%s-%d-%d.csv", keptCode(c), pull, spot)}
			e.Data = []byte("made up: " + e.Name)
			e.SHA256 = sha256.Sum256(e.Data)
			var readings []study.Reading
			for k, angle := range keptAngles {
				values := make([]float64, keptPoints)
				for i := range values {
					values[i] = float64(200+int(150*rng.Float64())) / 10000
				}
				readings = append(readings, study.Reading{
					Place: study.Place{Coupon: keptCode(c), Pull: pull, Spot: fmt.Sprint(spot + 1), AngleDeg: angle,
						Polarisation: "u", Quantity: study.Reflectance, Replicate: 1},
					Session: keptSession(c, pull), OrientationDeg: study.Null(), Export: hex.EncodeToString(e.SHA256[:]),
					Column: k + 2, NM: nm, Values: values})
			}
			if _, err := tx.AddExport(e, study.Taking{}, readings); err != nil {
				return err
			}
		}
	}
	return nil
}

// keptEffects are what the errors of a fit of these angles come from, in the order in which such a fit has them.
var keptEffects = []study.Effect{
	{Owner: study.OwnerCoating, Name: "skeleton_index"}, {Owner: study.OwnerBatch, Name: "glass_index"},
	{Owner: study.OwnerCoupon, Name: "coupon_index"}, {Owner: study.OwnerSession, Name: "scale"},
	{Owner: study.OwnerSession, Name: "s_share"}, {Owner: study.OwnerSpot, Name: "gradient"},
	{Owner: study.OwnerSpot, Name: "skin"}, {Owner: study.OwnerSpot, Name: "variance"},
	{Owner: study.OwnerSession, Name: "wavelength_error"}, {Owner: study.OwnerSession, Name: "zero"},
	{Owner: study.OwnerCoupon, Name: "leak"}, {Owner: study.OwnerSession, Name: "factor@8"},
	{Owner: study.OwnerSession, Name: "factor@45"}, {Owner: study.OwnerSession, Name: "factor@60"},
	{Owner: study.OwnerSession, Name: "angle@8"}, {Owner: study.OwnerSession, Name: "angle@45"},
	{Owner: study.OwnerSession, Name: "angle@60"},
}

// keptFit is a made-up fit of a unit, as wide as a fit of three angles is.
func keptFit(rng *rand.Rand, u *jobUnit) *study.Fit {
	f := &study.Fit{Unit: u.Unit, Session: u.session, Digest: u.digest, AnglesDeg: keptAngles, Result: study.NewResult()}
	x, off := study.Num(u.Pull)/30, study.Num(rng.NormFloat64())
	r := &f.Result
	r.SolarT, r.CellT, r.Gain = study.Measure{Value: 0.98 - x/100 + off/1e4, U: 3e-5},
		study.Measure{Value: 0.985 - x/100 + off/1e4, U: 3e-5}, study.Measure{Value: 2.8 - x + off/100, U: 0.003}
	r.Thickness, r.Porosity = study.Measure{Value: 120 - x + off, U: 0.1}, study.Measure{Value: 0.35 + x/50, U: 0.01}
	r.BareFraction, r.Solid = study.Measure{Value: x / 100, U: 0.002}, study.Measure{Value: 75 - x - off, U: 0.4}
	r.State, r.Model = study.Patchy, "film"
	f.SeenT, f.SeenLoNM, f.SeenHiNM = 0.76+x/100, 380, 1180
	for _, effect := range keptEffects {
		s := study.Sensitivity{Effect: effect}
		for q, size := range []float64{1e-5, 1e-5, 1e-3, 0.1, 0.01} {
			s.By[q] = size * rng.NormFloat64()
		}
		f.Errors.Shared = append(f.Errors.Shared, s)
	}
	f.Errors.SetOwn(study.OutSolarT, study.OutSolarT, 1e-10)
	return f
}

// The rows of results do not depend on how many of them are made at once, and the first error ends the listing.
func TestResultsDoNotDependOnWorkers(t *testing.T) {
	ctx, path := context.Background(), filepath.Join(t.TempDir(), "kept.wane")
	makeKept(t, path, 45)
	d, err := OpenToRead(ctx, path, tester())
	require.NoError(t, err)
	defer d.Close()
	var first string
	for _, workers := range []int{1, 2, 7} {
		var rows []study.Result
		require.NoError(t, d.Results(ctx, ResultsOptions{Workers: workers}, func(r *study.Result) error {
			rows = append(rows, *r)
			return nil
		}))
		require.Len(t, rows, 45*keptPulls*keptSpots)
		if first == "" {
			first = printed(rows...)
		}
		assert.Equal(t, first, printed(rows...), "%d workers", workers)
	}
	assert.Contains(t, first, "NControls:1")

	n, full := 0, errors.New("the disk is full")
	require.ErrorIs(t, d.Results(ctx, ResultsOptions{Workers: 2}, func(*study.Result) error {
		if n++; n == 100 {
			return full
		}
		return nil
	}), full)
	assert.Equal(t, 100, n)
	var usage *UsageError
	require.ErrorAs(t, d.Results(ctx, ResultsOptions{Workers: -1}, func(*study.Result) error { return nil }), &usage)
}
