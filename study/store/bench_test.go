package store_test

import (
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/store"
)

// spots makes exports of spots of C001, each at four angles with 401 points.
func spots(n int) (exports []study.Export, readings [][]study.Reading) {
	for i := range n {
		e, r := export(fmt.Sprintf("e%06d.csv", i),
			study.Unit{Coupon: "C001", Pull: i % 4, Spot: fmt.Sprintf("s%06d", i/4)}, 8, 30, 45, 60)
		for k := range r {
			r[k].NM = r[0].NM // as intake has it
			r[k].FirstLine, r[k].LastLine = 1, len(r[k].NM)
			r[k].Traits = study.Traits{Noise: 1e-4 / float64(i+1), FirstBandNM: 400}
			for band := range 7 {
				r[k].Traits.Bands = append(r[k].Traits.Bands, r[k].Values[50*band]/3)
			}
		}
		exports, readings = append(exports, e), append(readings, r)
	}
	return exports, readings
}

// Cost of taking in an export of four spectra, by exports in a transaction, and
// the bytes of the study file that each spectrum takes, original included.
func BenchmarkAddExport(b *testing.B) {
	const most = 4000
	exports, readings := spots(most)
	for _, batch := range []int{1, 10, 100, 1000} {
		b.Run(fmt.Sprintf("batch-%d", batch), func(b *testing.B) {
			s, path := enrolled(b)
			added := 0
			for b.Loop() {
				if added+batch > most {
					b.StopTimer()
					require.NoError(b, s.Close())
					s, path = enrolled(b)
					added = 0
					b.StartTimer()
				}
				addAll(b, s, exports[added:added+batch], readings[added:added+batch])
				added += batch
			}
			require.NoError(b, s.Close())
			b.ReportMetric(float64(b.Elapsed().Microseconds())/float64(b.N*batch), "µs/export")
			if info, err := os.Stat(path); err == nil && added >= 1000 {
				b.ReportMetric(float64(info.Size())/float64(4*added), "B/spectrum")
			}
		})
	}
}

// Cost of finding out which exports are known, in a study of 4000.
func BenchmarkKnownExports(b *testing.B) {
	exports, readings := spots(4000)
	s, _ := enrolled(b)
	addAll(b, s, exports, readings)
	b.ReportAllocs()
	for b.Loop() {
		taken, err := s.KnownExports(context.Background())
		if err != nil || len(taken) != len(exports) {
			b.Fatal(len(taken), err)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N*len(exports)), "ns/export")
}

// Cost of handing the readings of a session to guards, in a study of 4000 exports of
// four, all of one session.
func BenchmarkHeadersIn(b *testing.B) {
	exports, readings := spots(4000)
	s, _ := enrolled(b)
	addAll(b, s, exports, readings)
	for b.Loop() {
		n := 0
		require.NoError(b, s.View(b.Context(), func(v *store.View) error {
			return v.HeadersIn(store.ReadingSet{Session: "m1"}, func(store.ReadingHeader) error { n++; return nil })
		}))
		require.Equal(b, 16000, n)
	}
	b.ReportMetric(float64(b.Elapsed().Microseconds())/float64(b.N)/16000, "µs/reading")
}

// Cost of looking for twins of all readings of 4000 exports of four, of which none are.
func BenchmarkTwinsSince(b *testing.B) {
	exports, readings := spots(4000)
	s, _ := enrolled(b)
	addAll(b, s, exports, readings)
	for b.Loop() {
		require.NoError(b, s.View(b.Context(), func(v *store.View) error {
			return v.TwinsSince(0, func(group []store.Twin) error { return fmt.Errorf("%v are no twins", group) })
		}))
	}
	b.ReportMetric(float64(b.Elapsed().Microseconds())/float64(b.N)/16000, "µs/reading")
}

func addAll(b *testing.B, s *store.Store, exports []study.Export, readings [][]study.Reading) {
	require.NoError(b, s.Write(b.Context(), entry("intake"), func(tx *store.Tx) error {
		for i := range exports {
			if _, err := tx.AddExport(exports[i], how, readings[i]); err != nil {
				return err
			}
		}
		return nil
	}))
}

func BenchmarkReadings(b *testing.B) {
	s, _ := enrolled(b)
	exports, readings := spots(1000)
	addAll(b, s, exports, readings)
	for i := 0; b.Loop(); i++ {
		p := readings[i%1000][0].Place
		got, err := s.Readings(b.Context(), study.Unit{Coupon: p.Coupon, Pull: p.Pull, Spot: p.Spot})
		require.NoError(b, err)
		require.Len(b, got, 4)
	}
}

func BenchmarkPack(b *testing.B) {
	_, readings := spots(1)
	packed, err := store.Pack(readings[0][0].Values)
	require.NoError(b, err)
	b.Run("pack", func(b *testing.B) {
		for b.Loop() {
			_, _ = store.Pack(readings[0][0].Values)
		}
		b.ReportMetric(float64(len(packed)), "B/spectrum")
	})
	b.Run("unpack", func(b *testing.B) {
		for b.Loop() {
			_, _ = store.Unpack(packed, 401)
		}
	})
}

// large returns a study with a fit of each of 300,000 units (2000 coupons, one in
// ten a control, 5 pulls, 30 spots), each of one reading of five points. It is
// made once.
var large = sync.OnceValues(func() (string, error) {
	var err error
	if largeFolder, err = os.MkdirTemp("", "wane-bench"); err != nil {
		return "", err
	}
	path, ctx := filepath.Join(largeFolder, "s.wane"), context.Background()
	s, err := store.Create(ctx, path, settings, entry("new"))
	if err != nil {
		return "", err
	}
	err = s.Write(ctx, entry("enrol"), func(tx *store.Tx) error {
		if err := enrol(tx); err != nil {
			return err
		}
		_, err := tx.AddPull(study.Pull{Exposure: "rack", Pull: 4, Dose: 400, Date: "2032-03-01"})
		for i := 0; i < 2000 && err == nil; i++ {
			role := study.Exposed
			if i%10 == 0 {
				role = study.Control
			}
			_, err = tx.AddCoupon(coupon(fmt.Sprintf("N%04d", i), role, "rack"))
		}
		return err
	})
	for i := 0; i < 2000 && err == nil; i++ {
		err = s.Write(ctx, entry("intake"), func(tx *store.Tx) error { return addCoupon(tx, i) })
	}
	if err == nil {
		err = s.Close()
	}
	return path, err
})

var largeFolder string // which TestMain removes

func addCoupon(tx *store.Tx, i int) error {
	var units []study.Unit
	for pull := range 5 {
		for spot := range 30 {
			units = append(units, study.Unit{Coupon: fmt.Sprintf("N%04d", i), Pull: pull, Spot: fmt.Sprintf("s%02d", spot)})
		}
	}
	var readings []study.Reading
	e, all := export(fmt.Sprintf("n%04d.csv", i), units[0], make([]float64, len(units))...)
	for k, u := range units {
		r := all[k]
		r.Pull, r.Spot, r.NM, r.Values = u.Pull, u.Spot, r.NM[:5], r.Values[:5]
		readings = append(readings, r)
	}
	if _, err := tx.AddExport(e, how, readings); err != nil {
		return err
	}
	for k, u := range units {
		if err := tx.PutFit(fitOf(u, float64(i)+float64(k)/7)); err != nil {
			return err
		}
	}
	return nil
}

func openLarge(b *testing.B) *store.Store {
	path, err := large()
	require.NoError(b, err)
	s, err := store.Open(b.Context(), path)
	require.NoError(b, err)
	b.Cleanup(func() { s.Close() })
	return s
}

func BenchmarkFits300000(b *testing.B) {
	s := openLarge(b)
	for b.Loop() {
		n := 0
		require.NoError(b, s.Fits(b.Context(), func(*study.Fit) error { n++; return nil }))
		require.Equal(b, 300_000, n)
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/300_000, "ns/fit")
}

func BenchmarkFitsOfControls30000(b *testing.B) {
	s := openLarge(b)
	for b.Loop() {
		n := 0
		require.NoError(b, s.Fits(b.Context(), func(*study.Fit) error { n++; return nil }, study.Control))
		require.Equal(b, 30_000, n)
	}
}

func BenchmarkUnits300000(b *testing.B) {
	s := openLarge(b)
	for b.Loop() {
		units, err := s.Units(b.Context())
		require.NoError(b, err)
		require.Len(b, units, 300_000)
	}
}

func BenchmarkPutFitAgain(b *testing.B) {
	s := openLarge(b)
	n, first := 0, rand.Float64() // so that a second run of the benchmark puts other fits
	for b.Loop() {
		require.NoError(b, s.Write(b.Context(), entry("fit"), func(tx *store.Tx) error {
			for range 100 {
				n++
				u := study.Unit{Coupon: fmt.Sprintf("N%04d", n*7%2000), Pull: n % 5, Spot: fmt.Sprintf("s%02d", n%30)}
				if err := tx.PutFit(fitOf(u, first+float64(n))); err != nil {
					return err
				}
			}
			return nil
		}))
	}
	b.ReportMetric(float64(b.Elapsed().Microseconds())/float64(100*b.N), "µs/fit")
}

func BenchmarkVerify300000(b *testing.B) {
	s := openLarge(b)
	for b.Loop() {
		report, err := s.Verify(b.Context())
		require.NoError(b, err)
		require.Empty(b, report.Findings)
	}
}
