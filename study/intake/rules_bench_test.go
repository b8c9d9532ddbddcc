package intake_test

import (
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"wane/study/intake"
)

const mapHead = "file,column,coupon,pull,spot,angle_deg,polarisation,quantity,unit\n"

// madeUpMap writes a map of so many exports, four columns each; scattered, its rows stand
// in no order.
func madeUpMap(files int, scattered bool) []byte {
	rows := make([]string, 0, 4*files)
	for f := range files {
		for i, angle := range []string{"8", "30", "45", "60"} {
			rows = append(rows, fmt.Sprintf("exports/A%05d-pull%d.csv,#%d,A%05d,%d,1,%s,u,R,percent\n", f/4, f%4, i+2, f/4, f%4, angle))
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

// A map of 400,000 rows. open, files and for are per row, row, and export of four rows.
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
				r, err := intake.OpenMap(path)
				require.NoError(b, err)
				require.NoError(b, r.Close())
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(4*files*b.N), "ns/row")
		})
		rules, err := intake.OpenMap(path)
		require.NoError(b, err)
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
		})
		require.NoError(b, rules.Close())
	}
}
