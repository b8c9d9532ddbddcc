package placing_test

import (
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"wane/study/intake/placing"
)

const mapHead = "file,column,coupon,pull,spot,angle_deg,polarisation,quantity,unit\n"

// madeUpMap writes a map of so many exports, four columns each; scattered, its rows stand
// in no order.
func madeUpMap(files int, scattered bool) []byte {
	rows := make([]string, 0, 4*files)
	for f := range files {
		for i, angle := range []string{"8", "30", "45", "60"} {
			rows = append(rows, fmt.Sprintf("exports/A%05d-pull%d.csv,#%d,A%05d,%d,1,%s,u,R,percent\n", f/4, f%4, i+2, f/4, f%4,
				angle))
		}
	}
	if scattered {
		rand.New(rand.NewPCG(1, 2)).Shuffle(len(rows), func(i, j int) { rows[i], rows[j] = rows[j], rows[i] })
	}
	return []byte(mapHead + strings.Join(rows, ""))
}

// onDisk writes a file into a folder of its own.
func onDisk(t testing.TB, name string, data []byte) string {
	path := filepath.Join(t.TempDir(), filepath.FromSlash(name))
	require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o755))
	require.NoError(t, os.WriteFile(path, data, 0o644))
	return path
}

// A map of 400,000 rows: what opening it and going through its files take a row, what the
// four rows of an export take, and what is kept.
func BenchmarkMap(b *testing.B) {
	const files = 100_000
	for _, scattered := range []bool{false, true} {
		path := onDisk(b, "map.csv", madeUpMap(files, scattered))
		order := "in order"
		if scattered {
			order = "scattered"
		}
		b.Run("open/"+order, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				r, err := openRules(path)
				require.NoError(b, err)
				require.NoError(b, r.Close())
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(4*files*b.N), "ns/row")
		})
		before := heldBytes()
		rules, err := openRules(path)
		require.NoError(b, err)
		kept := float64(heldBytes()) - float64(before)
		b.Run("files/"+order, func(b *testing.B) {
			for b.Loop() {
				n := 0
				for _, err := range rules.Files() {
					if n++; err != nil {
						require.NoError(b, err)
					}
				}
				require.Equal(b, files, n)
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(4*files*b.N), "ns/row")
		})
		b.Run("for/"+order, func(b *testing.B) {
			b.ReportAllocs()
			n := 0
			for b.Loop() {
				f := n * 7919 % files
				lines, err := rules.For(filepath.Join(filepath.Dir(path), "exports", fmt.Sprintf("A%05d-pull%d.csv", f/4, f%4)))
				if err != nil || len(lines) != 4 {
					b.Fatal(err, len(lines))
				}
				n++
			}
			b.ReportMetric(kept/files, "kept-B/file")
		})
		require.NoError(b, rules.Close())
	}
}

func heldBytes() uint64 {
	runtime.GC()
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return m.HeapAlloc
}

// A profile of four columns.
func BenchmarkProfile(b *testing.B) {
	rules := profileFile(b, "bench-1.yaml").Rules()
	x := exportOf(b, "lab/A1-pull0-1.csv", "8 deg", "30 deg", "45 deg", "60 deg")
	b.ReportAllocs()
	for b.Loop() {
		lines, err := rules.For(x.Name)
		if err != nil {
			b.Fatal(err)
		}
		placed, _, err := placing.Place(lines, x.Spectra, x.Skipped)
		if err != nil || len(placed) != 4 {
			b.Fatal(err, len(placed))
		}
	}
}
