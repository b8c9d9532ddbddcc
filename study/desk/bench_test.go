package desk

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"runtime/debug"
	"runtime/pprof"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/scenario"
	"wane/study/store"
)

// BenchmarkStudy takes in, fits and lists a study of 10,000 spots of four angles
// and 401 points each, once: run it with -benchtime 1x. WANE_BENCH_SPOTS sets
// another number of spots, WANE_BENCH_INTAKE=1 ends after the intake, and WANE_BENCH_PROFILE
// names a folder for a CPU profile of each step. What one writer does bounds what more cores
// gain; its share of an intake is that of the last line over the total:
//
//	go test -c -o desk.test ./study/desk; cd study/desk
//	WANE_BENCH_INTAKE=1 WANE_BENCH_PROFILE=. ../../desk.test -test.run '^$' -test.bench 'Study$' \
//		-test.benchtime 1x -test.cpu 1
//	go tool pprof -top -cum ../../desk.test intake.prof | grep -E 'Total|intakeCommitter..commit$'
//
// and of fits likewise, without WANE_BENCH_INTAKE, fit.prof and 'fitCommitter..commit$'.
func BenchmarkStudy(b *testing.B) {
	spots := 10000
	if text := os.Getenv("WANE_BENCH_SPOTS"); text != "" {
		_, err := fmt.Sscan(text, &spots)
		require.NoError(b, err)
	}
	for b.Loop() {
		ctx := context.Background()
		f := newFolder(b)
		m := f.benchmarkExports(spots)
		path := filepath.Join(f.path, "bench.wane")
		d, err := New(ctx, path, study.Settings{Correction: study.RouteControls, Mixing: "bruggeman"}, tester())
		require.NoError(b, err)
		_, err = d.Enrol(ctx, []string{f.path + "/coupons.csv", f.path + "/exposures.csv", f.path + "/pulls.csv"})
		require.NoError(b, err)
		step := func(name string, do func()) {
			debug.FreeOSMemory()
			require.NoError(b, os.WriteFile("/proc/self/clear_refs", []byte("5"), 0o200)) // the peak begins anew
			start := time.Now()
			stop := profiled(b, name)
			do()
			stop()
			b.ReportMetric(time.Since(start).Seconds()*1e6/float64(spots), name+"-µs/spot")
			b.ReportMetric(peakMemory(b), name+"-peak-MB")
		}
		step("intake", func() {
			in, err := d.Intake(ctx, m, nil, IntakeOptions{Workers: runtime.NumCPU()})
			require.NoError(b, err)
			require.Empty(b, in.Refused)
		})
		if os.Getenv("WANE_BENCH_INTAKE") != "" {
			continue
		}
		step("again", func() {
			in, err := d.Intake(ctx, m, nil, IntakeOptions{Workers: runtime.NumCPU()})
			require.NoError(b, err)
			require.Equal(b, spots, in.Known)
		})
		step("fit", func() {
			n, err := d.Fit(ctx, FitOptions{Workers: runtime.NumCPU()})
			require.NoError(b, err)
			require.Equal(b, spots, n.Fits)
		})
		step("list", func() {
			n := 0
			require.NoError(b, d.Results(ctx, ResultsOptions{}, func(*study.Result) error { n++; return nil }))
			require.Equal(b, spots, n)
		})
		require.NoError(b, d.Close())
		info, err := os.Stat(path)
		require.NoError(b, err)
		b.ReportMetric(float64(info.Size())/float64(spots), "file-bytes/spot")
	}
}

// profiled begins a CPU profile of a step and returns what ends it. Without WANE_BENCH_PROFILE
// it does nothing.
func profiled(b *testing.B, step string) (stop func()) {
	folder := os.Getenv("WANE_BENCH_PROFILE")
	if folder == "" {
		return func() {}
	}
	f, err := os.Create(filepath.Join(folder, step+".prof"))
	require.NoError(b, err)
	require.NoError(b, pprof.StartCPUProfile(f))
	return func() {
		pprof.StopCPUProfile()
		require.NoError(b, f.Close())
	}
}

// benchmarkCoupons is the number of coupons that the spots are on: the roster is in memory as a whole.
const benchmarkCoupons = 1000

// benchmarkExports writes one export a spot, from 100 different made-up films with
// noise, and returns the map.
func (f folder) benchmarkExports(spots int) string {
	f.write("exposures.csv", exposureHeader+"roof,rack,nowhere,days,2026-01-01\n")
	f.write("pulls.csv", pullHeader+"roof,0,0,2026-01-01\n")
	rng, angles := rand.New(rand.NewPCG(20260101, 1)), []float64{8, 30, 45, 60}
	var wavelengths []float64
	for nm := 380.0; nm <= 1180; nm += 2 {
		wavelengths = append(wavelengths, nm)
	}
	var coupons, placing strings.Builder
	coupons.WriteString(couponHeader)
	placing.WriteString(mapHeader)
	var films [][][]float64
	for i := range 100 {
		var curves [][]float64
		for _, angle := range angles {
			film := scenario.Surface{ThicknessNM: 90 + 0.6*float64(i), Porosity: 0.2 + 0.003*float64(i),
				Bare: 0.003 * float64(i)}
			r, err := film.Reflectance(wavelengths, angle)
			require.NoError(f.tb, err)
			curves = append(curves, r)
		}
		films = append(films, curves)
	}
	for i := range spots {
		coupon, spot := fmt.Sprintf("P%05d", i%benchmarkCoupons), i/benchmarkCoupons+1
		if spot == 1 {
			fmt.Fprintf(&coupons, "%s,exposed,m,K,1,soda-lime,,matched,roof\n", coupon)
		}
		var b strings.Builder
		b.WriteString("nm,8 deg %R,30 deg %R,45 deg %R,60 deg %R\n")
		for j, nm := range wavelengths {
			fmt.Fprintf(&b, "%g", nm)
			for k := range angles {
				fmt.Fprintf(&b, ",%.4f", 100*(films[i%100][k][j]+0.0005*rng.NormFloat64()))
			}
			b.WriteString("\n")
		}
		name := fmt.Sprintf("x/%05d.csv", i)
		f.write(name, b.String())
		for k, angle := range angles {
			fmt.Fprintf(&placing, "%s,#%d,%s,0,%d,%g,u,R,percent\n", name, k+2, coupon, spot, angle)
		}
	}
	f.write("coupons.csv", coupons.String())
	return f.write("map.csv", placing.String())
}

// BenchmarkResultsJoint lists, with the pulls of each spot fitted together, a study by the route session of 85 spots of 17
// coupons at three pulls, with a dark blank in each session. Run it with -benchtime 1x.
func BenchmarkResultsJoint(b *testing.B) {
	const coupons, spots, pulls = 17, 5, 3
	ctx, f := context.Background(), newFolder(b)
	m := f.benchmarkLives(coupons, spots, pulls)
	d, err := New(ctx, filepath.Join(f.path, "lives.wane"), study.Settings{Correction: study.RouteSession, Mixing: "bruggeman"},
		tester())
	require.NoError(b, err)
	_, err = d.Enrol(ctx, []string{f.path + "/coupons.csv", f.path + "/exposures.csv", f.path + "/pulls.csv"})
	require.NoError(b, err)
	in, err := d.Intake(ctx, m, nil, IntakeOptions{Workers: runtime.NumCPU()})
	require.NoError(b, err)
	require.Empty(b, in.Refused)
	_, err = d.Fit(ctx, FitOptions{Workers: runtime.NumCPU()})
	require.NoError(b, err)
	for b.Loop() {
		joint := 0
		require.NoError(b, d.Results(ctx, ResultsOptions{Joint: true}, func(r *study.Result) error {
			if r.Role == string(study.Exposed) && !slices.Contains(r.Flags, study.FlagNotJoint) {
				joint++
			}
			return nil
		}))
		require.Equal(b, coupons*spots*pulls, joint)
	}
	require.NoError(b, d.Close())
}

// benchmarkLives writes one export a coupon and pull, of spots that thin, and returns the map.
func (f folder) benchmarkLives(coupons, spots, pulls int) string {
	rng, angles := rand.New(rand.NewPCG(20260102, 1)), []float64{8, 30, 45, 60}
	var codes, dates, placing strings.Builder
	codes.WriteString(couponHeader + "B,blank,,,,soda-lime,,matched,\n")
	dates.WriteString(pullHeader)
	placing.WriteString(strings.TrimSuffix(mapHeader, "\n") + ",session\n")
	for pull := range pulls {
		fmt.Fprintf(&dates, "roof,%d,%d,\n", pull, 90*pull)
		for c := range coupons + 1 {
			coupon, count := fmt.Sprintf("P%02d", c), spots
			if c == coupons {
				coupon, count = "B", 1
			} else if pull == 0 {
				fmt.Fprintf(&codes, "%s,exposed,m,K,1,soda-lime,,matched,roof\n", coupon)
			}
			name, heading, columns := fmt.Sprintf("x/%s-%d.csv", coupon, pull), "nm", [][]float64(nil)
			var wavelengths []float64
			for nm := 380.0; nm <= 1180; nm += 2 {
				wavelengths = append(wavelengths, nm)
			}
			for spot := range count {
				film := scenario.Surface{ThicknessNM: 118 - float64(c%5) - 6*float64(pull) + float64(spot), Porosity: 0.36}
				if coupon == "B" {
					film = scenario.Surface{Bare: 1}
				}
				for _, angle := range angles {
					r, err := film.Reflectance(wavelengths, angle)
					require.NoError(f.tb, err)
					columns = append(columns, r)
					heading += fmt.Sprintf(",spot %d %g deg %%R", spot+1, angle)
					fmt.Fprintf(&placing, "%s,#%d,%s,%d,%d,%g,u,R,percent,s%d\n", name, len(columns)+1, coupon, pull, spot+1,
						angle, pull)
				}
			}
			var b strings.Builder
			b.WriteString(heading + "\n")
			for i, nm := range wavelengths {
				fmt.Fprintf(&b, "%g", nm)
				for _, r := range columns {
					fmt.Fprintf(&b, ",%.4f", 100*(r[i]+0.0003*rng.NormFloat64()))
				}
				b.WriteString("\n")
			}
			f.write(name, b.String())
		}
	}
	f.write("exposures.csv", exposureHeader+"roof,rack,nowhere,days,2026-01-01\n")
	f.write("coupons.csv", codes.String())
	f.write("pulls.csv", dates.String())
	return f.write("map.csv", placing.String())
}

// peakMemory is the largest resident size of this process, in MB, since its peak was
// cleared.
func peakMemory(b *testing.B) float64 {
	text, err := os.ReadFile("/proc/self/status")
	require.NoError(b, err)
	for line := range strings.Lines(string(text)) {
		if rest, ok := strings.CutPrefix(line, "VmHWM:"); ok {
			var kb float64
			_, err := fmt.Sscan(rest, &kb)
			require.NoError(b, err)
			return kb / 1024
		}
	}
	b.Fatal("no VmHWM in /proc/self/status")
	return 0
}

// BenchmarkSessions takes in exports that each are a session of their own, of as many coupons
// or of as many pulls of one coupon: the time for each must not grow with their number. Run it
// with -benchtime 1x.
func BenchmarkSessions(b *testing.B) {
	for _, sessions := range []int{400, 1600, 6400} {
		for _, of := range []string{"coupons", "pulls"} {
			b.Run(fmt.Sprintf("%d %s", sessions, of), func(b *testing.B) {
				for b.Loop() {
					b.StopTimer()
					f := newFolder(b)
					m := f.benchmarkSessions(sessions, of == "coupons")
					d := f.startFrom("coupons.csv", "exposures.csv", "pulls.csv")
					b.StartTimer()
					in, err := d.Intake(context.Background(), m, nil, IntakeOptions{Workers: runtime.NumCPU()})
					require.NoError(b, err)
					require.Equal(b, sessions, in.Files)
					b.ReportMetric(b.Elapsed().Seconds()*1e6/float64(sessions), "µs/session")
				}
			})
		}
	}
}

// benchmarkSessions writes an export of two short curves a session, and returns the map.
func (f folder) benchmarkSessions(sessions int, coupons bool) string {
	var pulls, codes, placing strings.Builder
	pulls.WriteString(pullHeader + "roof,0,0,\n")
	codes.WriteString(couponHeader)
	placing.WriteString(strings.TrimSuffix(mapHeader, "\n") + ",session\n")
	for i := range sessions {
		coupon, pull := 0, i
		if coupons {
			coupon, pull = i, 0
		}
		if coupons || i == 0 {
			fmt.Fprintf(&codes, "P%05d,exposed,m,K,1,soda-lime,,matched,roof\n", coupon)
		}
		if pull > 0 {
			fmt.Fprintf(&pulls, "roof,%d,%d,\n", pull, pull)
		}
		name := fmt.Sprintf("x/%05d.csv", i)
		f.write(name, fmt.Sprintf("nm,8 deg %%R,60 deg %%R\n400,4.%04d,9.%04d\n450,3.9,9\n500,3.8,8\n", i, i))
		for k, angle := range []int{8, 60} {
			fmt.Fprintf(&placing, "%s,#%d,P%05d,%d,1,%d,u,R,percent,s%d\n", name, k+2, coupon, pull, angle, i)
		}
	}
	f.write("exposures.csv", exposureHeader+"roof,rack,nowhere,days,2026-01-01\n")
	f.write("coupons.csv", codes.String())
	f.write("pulls.csv", pulls.String())
	return f.write("map.csv", placing.String())
}

// BenchmarkResults streams the rows of a study of 300,000 fits; run it with
// -benchtime 1x. WANE_BENCH_FILE names a file to keep the study in.
func BenchmarkResults(b *testing.B) {
	ctx := context.Background()
	path := os.Getenv("WANE_BENCH_FILE")
	if path == "" {
		path = filepath.Join(b.TempDir(), "many.wane")
	}
	d, err := New(ctx, path, study.Settings{Correction: study.RouteControls, Mixing: "bruggeman"}, tester())
	require.NoError(b, err)
	fillFits(b, d)
	for b.Loop() {
		start, n := time.Now(), 0
		require.NoError(b, d.Results(ctx, ResultsOptions{}, func(*study.Result) error { n++; return nil }))
		require.Equal(b, 300000, n)
		b.ReportMetric(time.Since(start).Seconds(), "s/300000-rows")
	}
	require.NoError(b, d.Close())
}

// fillFits puts 300,000 made-up fits: 3,000 coupons, 50 pulls, 2 spots.
func fillFits(b *testing.B, d *Desk) {
	ctx := context.Background()
	write := func(do func(tx *store.Tx) error) {
		require.NoError(b, d.store.Write(ctx, d.entry("made", "made up"), do))
	}
	write(func(tx *store.Tx) error {
		if _, err := tx.AddExposure(study.Exposure{Exposure: "roof", DoseUnit: "days"}); err != nil {
			return err
		}
		for p := range 50 {
			if _, err := tx.AddPull(study.Pull{Exposure: "roof", Pull: p, Dose: float64(30 * p)}); err != nil {
				return err
			}
		}
		for c := range 3000 {
			role := study.Exposed
			if c%10 == 0 {
				role = study.Control
			}
			_, err := tx.AddCoupon(study.Coupon{Coupon: fmt.Sprintf("P%04d", c), Role: role, Supplier: "m",
				Coating: fmt.Sprintf("K%d", c%3), Glass: "soda-lime",
				GlassMM: study.Null(), Back: "matched", Exposure: "roof"})
			if err != nil {
				return err
			}
		}
		return nil
	})
	for c := range 3000 {
		write(func(tx *store.Tx) error {
			if err := fillReadings(tx, fmt.Sprintf("P%04d", c)); err != nil {
				return err
			}
			for i := range 100 {
				f := &study.Fit{Unit: study.Unit{Coupon: fmt.Sprintf("P%04d", c), Pull: i / 2, Spot: fmt.Sprint(i % 2)},
					Result: study.NewResult()}
				x := study.Num(c*100+i) / 3e5
				f.Result.SolarT, f.Result.CellT, f.Result.Gain = study.Measure{Value: 0.98 + x/100, U: 3e-5},
					study.Measure{Value: 0.985 + x/100, U: 3e-5}, study.Measure{Value: 2.8 - x, U: 0.003}
				f.Result.Thickness, f.Result.Porosity, f.Result.BareFraction = study.Measure{Value: 120 - x, U: 0.1},
					study.Measure{Value: 0.35 + x/50, U: 0.01}, study.Measure{Value: x / 100, U: 0.002}
				f.Result.Solid, f.Result.State, f.Result.Model = study.Measure{Value: 75 - x, U: 0.4}, study.Patchy, "film"
				f.SeenT, f.SeenLoNM, f.SeenHiNM = 0.76+x/100, 380, 1180
				for k := range 21 { // as many as the fit of four angles has
					f.Errors.Shared = append(f.Errors.Shared, study.Sensitivity{
						Effect: study.Effect{Owner: study.OwnerSession, Name: fmt.Sprintf("effect@%d", k)},
						By:     [study.NumberOfOutputs]float64{1e-5, 1e-5, 1e-3, 0.1, 0.01}})
				}
				f.Errors.SetOwn(study.OutSolarT, study.OutSolarT, 1e-10)
				if err := tx.PutFit(f); err != nil {
					return err
				}
			}
			return nil
		})
	}
}

// fillReadings puts a small made-up export with a reading for each unit of a coupon.
func fillReadings(tx *store.Tx, coupon string) error {
	e := study.Export{Name: coupon, Data: []byte("made up: " + coupon)}
	e.SHA256 = sha256.Sum256(e.Data)
	var readings []study.Reading
	for i := range 100 {
		readings = append(readings, study.Reading{
			Place: study.Place{Coupon: coupon, Pull: i / 2, Spot: fmt.Sprint(i % 2), AngleDeg: 8, Polarisation: "u",
				Quantity: study.Reflectance, Replicate: 1},
			OrientationDeg: study.Null(), Export: hex.EncodeToString(e.SHA256[:]), Column: i + 2,
			NM: []float64{400, 700, 1000}, Values: []float64{0.02, 0.01, 0.03}})
	}
	_, err := tx.AddExport(e, study.Taking{}, readings)
	return err
}
