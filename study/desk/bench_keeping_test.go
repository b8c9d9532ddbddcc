package desk

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"hash/fnv"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime/debug"
	"slices"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/optics"
	"wane/study"
	"wane/study/series"
	"wane/study/store"
)

// keptPulls, keptSpots and keptAngles are what each coupon of a large study was read at.
const (
	keptPulls  = 10
	keptSpots  = 3
	keptPoints = 401
	keptRoofs  = 10 // exposures
	keptEach   = 20 // one coupon of so many is a control
	keptReal   = 50 // so many coupons of a benchmark are fitted, the others have made-up fits
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
		makeKept(b, path, keptStudy{coupons: coupons, coatings: 30, real: keptReal})
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

// keptStudy says how large a study is made. The fits of the first coupons are real, those of the others made up.
type keptStudy struct{ coupons, coatings, real int }

// makeKept makes the study.
func makeKept(b testing.TB, path string, of keptStudy) {
	ctx := context.Background()
	d, err := New(ctx, path, study.Settings{Correction: study.RouteControls, Mixing: "bruggeman"}, tester())
	require.NoError(b, err)
	write := func(do func(tx *store.Tx) error) {
		require.NoError(b, d.store.Write(ctx, d.entry("made", "made up"), do))
	}
	write(func(tx *store.Tx) error { return keptRoster(tx, of) })
	rng, curves := rand.New(rand.NewPCG(1, 2)), newKeptCurves(b)
	for c := 0; c < of.coupons; {
		write(func(tx *store.Tx) error {
			for range 20 {
				if c < of.coupons {
					if err := of.putReadings(tx, rng, curves, c); err != nil {
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
	jobs := slices.DeleteFunc(w.jobs(), func(j fitJob) bool { return keptNumber(j.units[0].Coupon) < of.real })
	for batch := range slices.Chunk(jobs, 600) {
		write(func(tx *store.Tx) error {
			for _, job := range batch {
				if err := tx.PutFit(of.fit(rng, &job.units[0])); err != nil {
					return err
				}
			}
			return nil
		})
	}
	if of.real > 0 {
		_, err = d.Fit(ctx, FitOptions{})
		require.NoError(b, err)
	}
	require.NoError(b, d.survey(ctx))
	require.NoError(b, d.Close())
}

func keptCode(c int) string { return fmt.Sprintf("P%06d", c) }

func keptNumber(code string) int {
	n := 0
	fmt.Sscanf(code, "P%d", &n)
	return n
}

// coating is the number of the coating of a coupon.
func (k keptStudy) coating(c int) int { return c / keptRoofs % k.coatings }

// isControl reports whether a coupon is one: of each coating some, as many on each exposure.
func (k keptStudy) isControl(c int) bool {
	n := c / keptRoofs
	return (n+n/k.coatings)%keptEach == 0
}

// thickness of the film of a spot at a pull, in nm. Each coating thins at its rate, by 0.6 to 3.5 nm a pull; coupons
// scatter about it by a quarter, spots by a tenth. Controls do not thin.
func (k keptStudy) thickness(c, pull, spot int) float64 {
	rng := rand.New(rand.NewPCG(uint64(c), 3))
	start, rate := 120+1.5*rng.NormFloat64(), 0.6+0.1*float64(k.coating(c))
	rate *= math.Exp(0.25 * rng.NormFloat64())
	for range spot {
		rng.NormFloat64()
	}
	rate *= 1 + 0.1*rng.NormFloat64()
	if k.isControl(c) {
		rate = 0
	}
	return max(start-rate*float64(pull), keptThinnest)
}

func keptSession(c, pull int) string { return fmt.Sprintf("s%d-%d", c%keptRoofs, pull) }

func keptRoster(tx *store.Tx, of keptStudy) error {
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
	for c := range of.coupons {
		role := study.Exposed
		if of.isControl(c) {
			role = study.Control
		}
		if _, err := tx.AddCoupon(study.Coupon{Coupon: keptCode(c), Role: role, Supplier: "m",
			Coating: fmt.Sprintf("K%d", of.coating(c)), Glass: "soda-lime", GlassMM: 3.2, Back: "matched",
			Exposure: fmt.Sprintf("roof-%d", c%keptRoofs)}); err != nil {
			return err
		}
	}
	return nil
}

// The films of a large study: porous silica between these thicknesses, in nm, on soda-lime glass.
const (
	keptThinnest = 60
	keptThickest = 135
	keptPorosity = 0.35
)

// keptCurves are the reflectances of such films: for each angle and each thickness in whole nm a curve.
type keptCurves struct {
	nm []float64
	of map[float64][][]float64
}

func newKeptCurves(b testing.TB) *keptCurves {
	k := &keptCurves{nm: make([]float64, keptPoints), of: map[float64][][]float64{}}
	for i := range k.nm {
		k.nm[i] = 380 + 2*float64(i)
	}
	index, err := optics.Porous(optics.FusedSilica(), k.nm, optics.Bruggeman, keptPorosity)
	require.NoError(b, err)
	for _, angle := range keptAngles {
		for t := keptThinnest; t <= keptThickest; t++ {
			surface := optics.Stack{Films: []optics.Film{{Index: index, ThicknessNM: float64(t)}}, Substrate: optics.SodaLime()}
			r, _, err := surface.RT(nil, nil, k.nm, angle, optics.U)
			require.NoError(b, err)
			k.of[angle] = append(k.of[angle], r)
		}
	}
	return k
}

// reading is the curve of a film with the noise of a reading, as an instrument writes it: in percent with two decimals.
func (k *keptCurves) reading(rng *rand.Rand, angle, thickness float64) []float64 {
	whole, part := math.Modf(thickness - keptThinnest)
	below := k.of[angle][min(int(whole), keptThickest-keptThinnest-1)]
	above := k.of[angle][min(int(whole)+1, keptThickest-keptThinnest)]
	values := make([]float64, keptPoints)
	for i := range values {
		values[i] = math.Round(1e4*(below[i]+part*(above[i]-below[i])+1e-4*rng.NormFloat64())) / 1e4
	}
	return values
}

// putReadings puts one export a pull and spot, of a curve for each angle.
func (k keptStudy) putReadings(tx *store.Tx, rng *rand.Rand, curves *keptCurves, c int) error {
	for pull := range keptPulls {
		for spot := range keptSpots {
			e := study.Export{Name: fmt.Sprintf("%s-%d-%d.csv", keptCode(c), pull, spot)}
			e.Data = []byte("made up: " + e.Name)
			e.SHA256 = sha256.Sum256(e.Data)
			var readings []study.Reading
			for i, angle := range keptAngles {
				readings = append(readings, study.Reading{
					Place: study.Place{Coupon: keptCode(c), Pull: pull, Spot: fmt.Sprint(spot + 1), AngleDeg: angle,
						Polarisation: "u", Quantity: study.Reflectance, Replicate: 1},
					Session: keptSession(c, pull), OrientationDeg: study.Null(), Export: hex.EncodeToString(e.SHA256[:]),
					Column: i + 2, NM: curves.nm, Values: curves.reading(rng, angle, k.thickness(c, pull, spot))})
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

// fit is a made-up fit of a unit, as wide as a fit of three angles is. Its values are off by what the effects of its
// errors were that day.
func (k keptStudy) fit(rng *rand.Rand, u *jobUnit) *study.Fit {
	f := &study.Fit{Unit: u.Unit, Session: u.session, Digest: u.digest, AnglesDeg: keptAngles, Result: study.NewResult()}
	spot := 0
	fmt.Sscan(u.Spot, &spot)
	t := k.thickness(keptNumber(u.Coupon), u.Pull, spot-1)
	lost := study.Num(120-t) / 60
	values := [study.NumberOfOutputs]float64{}
	for _, effect := range keptEffects {
		s := study.Sensitivity{Effect: effect}
		for q, size := range []float64{1e-5, 1e-5, 1e-3, 0.1, 0.01} {
			s.By[q] = size * (0.5 + rng.Float64())
			values[q] += s.By[q] * keptError(u, effect)
		}
		f.Errors.Shared = append(f.Errors.Shared, s)
	}
	for q, size := range []float64{1e-5, 1e-5, 1e-3, 0.05, 0.05} {
		f.Errors.SetOwn(study.Output(q), study.Output(q), size*size)
		values[q] += size * rng.NormFloat64()
	}
	r := &f.Result
	r.SolarT = study.Measure{Value: 0.9868 - 0.02*lost + study.Num(values[study.OutSolarT]), U: 5e-5}
	r.CellT = study.Measure{Value: 0.9905 - 0.02*lost + study.Num(values[study.OutCellT]), U: 5e-5}
	r.Gain = study.Measure{Value: 3 - 2*lost + study.Num(values[study.OutGain]), U: 0.005}
	r.Thickness = study.Measure{Value: study.Num(t + values[study.OutThickness]), U: 0.06}
	r.Solid = study.Measure{Value: study.Num((1-keptPorosity)*t + values[study.OutSolid]), U: 0.4}
	r.Porosity, r.BareFraction = study.Measure{Value: keptPorosity, U: 0.01}, study.Measure{Value: 0.004, U: 0.002}
	r.State, r.Model = study.Full, "film"
	if lost > 0.1 {
		r.State = study.Thinned
	}
	f.SeenT, f.SeenLoNM, f.SeenHiNM = 0.76-0.02*lost, 380, 1180
	return f
}

// keptError is how large an effect is in the units of its owner: a standard normal draw for each.
func keptError(u *jobUnit, effect study.Effect) float64 {
	of := map[study.Owner]string{study.OwnerSession: u.session, study.OwnerCoupon: u.Coupon,
		study.OwnerSpot: u.Coupon + "/" + u.Spot}[effect.Owner]
	h := fnv.New64a()
	fmt.Fprint(h, effect.Name, "/", of)
	return rand.New(rand.NewPCG(h.Sum64(), 4)).NormFloat64()
}

// The rows of results do not depend on how many of them are made at once, and the first error ends the listing.
func TestResultsDoNotDependOnWorkers(t *testing.T) {
	ctx, path := context.Background(), filepath.Join(t.TempDir(), "kept.wane")
	makeKept(t, path, keptStudy{coupons: 45, coatings: 3})
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

// What is gathered of one coupon is what is gathered of all, for exposed coupons and controls.
func TestSeriesOfOneCoupon(t *testing.T) {
	ctx, path := context.Background(), filepath.Join(t.TempDir(), "kept.wane")
	makeKept(t, path, keptStudy{coupons: 45, coatings: 3})
	d, err := OpenToRead(ctx, path, tester())
	require.NoError(t, err)
	defer d.Close()
	all, err := d.Series(ctx, "solar_T", SeriesOptions{})
	require.NoError(t, err)
	for _, code := range []string{keptCode(4), keptCode(14), keptCode(34)} { // a control, one without a control, one with
		one, err := d.Series(ctx, "solar_T", SeriesOptions{Coupon: code})
		require.NoError(t, err)
		of := func(data *series.Data) *series.Coupon {
			k := slices.IndexFunc(data.Coupons, func(c series.Coupon) bool { return c.Coupon == code })
			require.GreaterOrEqual(t, k, 0)
			return &data.Coupons[k]
		}
		got, want := of(one), of(all)
		require.Len(t, got.Points, len(want.Points))
		for i := range want.Points {
			g, w := &got.Points[i], &want.Points[i]
			assert.Equal(t, [3]any{w.Pull, w.Level.Value, w.Dose}, [3]any{g.Pull, g.Level.Value, g.Dose}, code)
			assert.Equal(t, fmt.Sprint(w.Change.Value), fmt.Sprint(g.Change.Value), code) // NaN without a control
			parts := one.Budget([]*series.Errors{&g.Change.Errors})
			for k, p := range all.Budget([]*series.Errors{&w.Change.Errors}) {
				assert.Equal(t, p.Owner, parts[k].Owner)
				assert.InEpsilon(t, p.Variance, parts[k].Variance, 1e-12, "the order of the sum")
			}
		}
		assert.LessOrEqual(t, len(one.Coupons), 2, "%s and its control", code)
	}
}
