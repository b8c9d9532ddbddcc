package desk

import (
	"context"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/parquet-go/parquet-go"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
)

// rebuilt exports a study, makes a study of the export and exports that: both have the same rows and hashes, and
// the exports the same bytes, results among them. It returns the first export.
func rebuilt(t *testing.T, d *Desk) (exported string) {
	t.Helper()
	ctx, folder := t.Context(), t.TempDir()
	one, other := filepath.Join(folder, "one"), filepath.Join(folder, "other")
	_, err := d.Export(ctx, one, ExportOptions{History: true})
	require.NoError(t, err)
	again, notes, err := Rebuild(ctx, filepath.Join(folder, "again.wane"), one, tester())
	require.NoError(t, err)
	defer again.Close()
	assert.Empty(t, notes)
	assert.Equal(t, dump(t, d), dump(t, again))
	_, err = again.Export(ctx, other, ExportOptions{History: true})
	require.NoError(t, err)
	sameBytes(t, filepath.Join(one, sumsName), filepath.Join(other, sumsName))
	return one
}

// measured is a study with readings, fits of which one is superseded, a reading that was set aside, and a measurement
// whose note a spreadsheet would take for a formula.
func measured(t *testing.T) (folder, *Desk) {
	ctx, f := context.Background(), newFolder(t)
	d := f.start()
	f.takeAll(d, f.exportsOf()...)
	aside := Selection{Filter: study.Filter{Coupons: []string{"E1"}}, AngleDeg: 60}
	_, err := d.Review(ctx, aside, study.Aside, "a finger mark")
	require.NoError(t, err)
	_, err = d.Fit(ctx, FitOptions{Workers: 1})
	require.NoError(t, err)
	_, err = d.Measure(ctx, []string{f.write("gauges.csv", measuredHeader+
		"E1,0,1,haze,1.25,0.05,percent,haze meter,2026-01-02,ada,,=1+1\n"+
		"E1,1,1,haze,2.5,,percent,haze meter,2026-04-02,,,-\n")})
	require.NoError(t, err)
	return f, d
}

func TestAnExportMakesAnEqualStudy(t *testing.T) {
	_, d := measured(t)
	folder := rebuilt(t, d)
	files := 0
	require.NoError(t, filepath.WalkDir(folder, func(_ string, e os.DirEntry, err error) error {
		if !e.IsDir() {
			files++
		}
		return err
	}))
	assert.Equal(t, files-1, checkSums(t, folder))
	gauges, err := os.ReadFile(filepath.Join(folder, "csv", "measurement.csv"))
	require.NoError(t, err)
	assert.Contains(t, string(gauges), ",ada,'=1+1,")
}

// The Parquet files have the numbers that the sqlite3 program, which is not ours, finds in the study: as many values in
// each numeric column of each table, and the same sums, but for the order of the terms.
func TestParquetHasTheNumbersOfTheStudy(t *testing.T) {
	f, d := measured(t)
	folder := filepath.Join(f.path, "out")
	_, err := d.Export(t.Context(), folder, ExportOptions{Formats: []string{"parquet"}, History: true})
	require.NoError(t, err)
	compared := 0
	for _, name := range []string{"fit", "measurement", "coupon", "exposure", "pull", "export", "review", "log"} {
		for column, got := range parquetSums(t, filepath.Join(folder, "parquet", name+".parquet")) {
			if column == "from_log" || column == "until_log" {
				continue // the study has amendments in their place
			}
			want := sqliteSums(t, filepath.Join(f.path, "made.wane"),
				fmt.Sprintf("SELECT count(%[1]s), printf('%%!.17g', total(%[1]s)), total(abs(%[1]s)) FROM %[2]s", column, name))
			assert.Equal(t, want[0], got.n, "%s.%s", name, column)
			// n additions of float64 in either order
			assert.InDelta(t, want[1], got.sum, want[2]*got.n*0x1p-52, "%s.%s", name, column)
			compared++
		}
	}
	assert.Greater(t, compared, 60)
	spectra := parquetSums(t, filepath.Join(folder, "parquet", "spectra.parquet"))
	want := sqliteSums(t, filepath.Join(f.path, "made.wane"),
		"SELECT sum(points), printf('%!.17g', total(mean * points)), 0 FROM v_spectra")
	assert.Equal(t, want[0], spectra["value"].n)
	assert.InEpsilon(t, want[1], spectra["value"].sum, spectra["value"].n*0x1p-51)
}

type summed struct{ n, sum float64 }

// parquetSums returns how many numbers each numeric column has, and their sum.
func parquetSums(t *testing.T, path string) map[string]summed {
	t.Helper()
	data, err := os.Open(path)
	require.NoError(t, err)
	defer data.Close()
	info, err := data.Stat()
	require.NoError(t, err)
	f, err := parquet.OpenFile(data, info.Size())
	require.NoError(t, err)
	sums := map[string]summed{}
	for _, path := range f.Schema().Columns() {
		leaf, _ := f.Schema().Lookup(path...)
		if kind := leaf.Node.Type().Kind(); kind == parquet.Int64 || kind == parquet.Double {
			sums[path[0]] = summed{}
		}
	}
	reader := parquet.NewReader(f)
	defer reader.Close()
	rows := make([]parquet.Row, 1)
	for {
		n, err := reader.ReadRows(rows)
		for _, row := range rows[:n] {
			for _, v := range row {
				name := f.Schema().Columns()[v.Column()][0]
				s := sums[name]
				switch {
				case v.IsNull():
					continue
				case v.Kind() == parquet.Int64:
					s = summed{s.n + 1, s.sum + float64(v.Int64())}
				case v.Kind() == parquet.Double:
					s = summed{s.n + 1, s.sum + v.Double()}
				default:
					continue
				}
				sums[name] = s
			}
		}
		if err != nil {
			return sums
		}
	}
}

func sqliteSums(t *testing.T, study, query string) (values [3]float64) {
	t.Helper()
	program, err := exec.LookPath("sqlite3")
	if err != nil {
		const missing = "there is no sqlite3 program to read the study with; install it (Debian: apt-get install sqlite3)"
		if os.Getenv("CI") != "" {
			t.Fatal(missing)
		}
		t.Skip(missing)
	}
	out, err := exec.Command(program, study, query).CombinedOutput()
	require.NoError(t, err, string(out))
	for i, word := range strings.Split(strings.TrimSpace(string(out)), "|") {
		values[i], err = strconv.ParseFloat(word, 64)
		require.NoError(t, err)
	}
	return values
}

// An export that is stopped, or that finds the study damaged, leaves nothing behind, and an earlier one as it was.
func TestAnExportIsWholeOrNotThere(t *testing.T) {
	f, d := measured(t)
	before := filepath.Join(f.path, "before")
	_, err := d.Export(t.Context(), before, ExportOptions{})
	require.NoError(t, err)
	listed := func() (names []string) {
		entries, err := os.ReadDir(f.path)
		require.NoError(t, err)
		for _, e := range entries {
			names = append(names, e.Name())
		}
		return names
	}
	there := listed()
	sums, err := os.ReadFile(filepath.Join(before, sumsName))
	require.NoError(t, err)

	stopped, stop := context.WithCancel(t.Context())
	stop()
	for _, name := range []string{"new", "before"} {
		_, err = d.Export(stopped, filepath.Join(f.path, name), ExportOptions{})
		assert.ErrorIs(t, err, context.Canceled)
	}
	path := filepath.Join(t.TempDir(), "again.wane")
	copied, _, err := Rebuild(t.Context(), path, before, tester())
	require.NoError(t, err)
	require.NoError(t, copied.Close())
	plainSQL(t, path, "UPDATE measurement SET value = 3")
	damaged, err := OpenToRead(t.Context(), path, tester())
	require.NoError(t, err)
	defer damaged.Close()
	for _, name := range []string{"new", "before"} {
		_, err = damaged.Export(t.Context(), filepath.Join(f.path, name), ExportOptions{})
		failed(t, err, "table measurement, row 1: its checksum is wrong")
	}
	assert.Equal(t, there, listed())
	now, err := os.ReadFile(filepath.Join(before, sumsName))
	require.NoError(t, err)
	assert.Equal(t, string(sums), string(now))
	assert.Len(t, strings.Split(string(sums), "\n"), checkSums(t, before)+1)
}

// The progress of an export rises, and gets to everything that is written.
func TestAnExportShowsItsProgress(t *testing.T) {
	_, d := measured(t)
	var last, of, calls int
	_, err := d.Export(t.Context(), filepath.Join(t.TempDir(), "out"), ExportOptions{History: true, Progress: func(done, total int) {
		assert.Greater(t, done, last)
		last, of = done, total
		calls++
	}})
	require.NoError(t, err)
	assert.Greater(t, calls, 10)
	assert.Equal(t, of, last)
}

// Nothing in an export is a number that is none.
func TestAnExportHasNoNaN(t *testing.T) {
	_, d := measured(t)
	folder := filepath.Join(t.TempDir(), "out")
	_, err := d.Export(t.Context(), folder, ExportOptions{Formats: []string{"csv", "parquet"}})
	require.NoError(t, err)
	for _, name := range []string{"results", "fit"} {
		text, err := os.ReadFile(filepath.Join(folder, "csv", name+".csv"))
		require.NoError(t, err)
		assert.NotContains(t, string(text), "NaN")
		assert.NotContains(t, string(text), "Inf")
		for column, s := range parquetSums(t, filepath.Join(folder, "parquet", name+".parquet")) {
			assert.False(t, math.IsNaN(s.sum) || math.IsInf(s.sum, 0), column)
		}
	}
}
