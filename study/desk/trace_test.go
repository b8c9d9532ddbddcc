package desk

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
)

// sumOf is the SHA-256 of a file, in hexadecimal.
func sumOf(t *testing.T, path string) string {
	t.Helper()
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}

// takeAll takes in exports, one for each coupon and pull, and fits them. Their names are of coupon and
// pull, such as E1-0.csv.
func (f folder) takeAll(d *Desk, names ...string) {
	var text strings.Builder
	for _, name := range names {
		coupon, pull, _ := strings.Cut(strings.TrimSuffix(name, ".csv"), "-")
		text.WriteString(rows(name, coupon, int(pull[0]-'0')))
	}
	in, err := d.Intake(context.Background(), f.write("map.csv", mapHeader+text.String()), nil, IntakeOptions{Workers: 2})
	require.NoError(f.tb, err)
	require.Empty(f.tb, in.Refused)
	_, err = d.Fit(context.Background(), FitOptions{Workers: 2})
	require.NoError(f.tb, err)
}

// exportsOf writes made-up exports of an exposed coupon that thins, a control and a
// blank, at two pulls.
func (f folder) exportsOf() []string {
	names := []string{"E1-0.csv", "E1-1.csv", "C1-0.csv", "C1-1.csv", "B1-0.csv"}
	for i, name := range names {
		f.export(name, []float64{120, 105, 119, 118, 0}[i], []float64{0, 0, 0, 0, 1}[i], i+1)
	}
	return names
}

// A trace leads from a number to the lines of its export, and to who did what, when and with which
// program.
func TestTrace(t *testing.T) {
	ctx, f := context.Background(), newFolder(t)
	d := f.start() // lines 1 and 2 of the log
	names := f.exportsOf()
	f.takeAll(d, names...) // lines 3 to 5
	f.export("more.csv", 120, 0, 9)
	replicate := strings.ReplaceAll(mapHeader, "unit\n", "unit,replicate\n") +
		strings.ReplaceAll(rows("more.csv", "E1", 0), "percent\n", "percent,2\n")
	_, err := d.Intake(ctx, f.write("more-map.csv", replicate), nil, IntakeOptions{Workers: 1}) // lines 6 and 7
	require.NoError(t, err)

	got, err := d.Trace(ctx, "E1", 0, "1")
	require.NoError(t, err)
	require.Len(t, got.Units, 1)
	u := got.Units[0]
	require.Len(t, u.Fits, 1)
	assert.True(t, u.Fits[0].Stale, "more was read since")
	require.Len(t, u.Readings, 4)
	for i, r := range u.Readings { // by angle and replicate
		name, line := names[0], int64(3)
		if i%2 == 1 {
			name, line = "more.csv", 6
		}
		assert.Equal(t, i%2 == 0, r.InFit)
		assert.Equal(t, name, r.File.Name)
		assert.Equal(t, sumOf(t, filepath.Join(f.path, name)), r.File.SHA256)
		assert.Equal(t, 2+i/2, r.Column)
		assert.Equal(t, []int{3, 33}, []int{r.FirstLine, r.LastLine},
			"two lines of header, then 400 to 1000 nm in steps of 20")
		assert.Equal(t, line, r.Line.Number)
		assert.Equal(t, []string{"intake", "tester", "2026-01-02T03:04:05Z"}, []string{r.Line.Verb, r.Line.Who, r.Line.At})
		assert.Contains(t, r.Line.Software, "model")
	}

	_, err = d.Fit(ctx, FitOptions{Workers: 1}) // line 8
	require.NoError(t, err)
	got, err = d.Trace(ctx, "E1", AllPulls, "")
	require.NoError(t, err)
	require.Len(t, got.Units, 2)
	fits := got.Units[0].Fits
	require.Len(t, fits, 2, "the newest first")
	assert.Equal(t, fits[0].Number, fits[1].SupersededBy)
	assert.Zero(t, fits[0].SupersededBy)
	assert.False(t, fits[0].Stale || fits[1].Stale)
	assert.Equal(t, []int64{8, 5}, []int64{fits[0].Line.Number, fits[1].Line.Number})
	assert.Equal(t, "fit", fits[0].Line.Verb)
	for _, r := range got.Units[0].Readings {
		assert.True(t, r.InFit)
	}
	assert.Equal(t, 1, got.Units[1].Pull)
	for _, r := range results(t, d) { // the number traced is the number listed
		if r.Coupon == "E1" && r.Pull == 0 {
			assert.Equal(t, r.SolarT, fits[0].Result.SolarT)
		}
	}

	in, err := d.Measure(ctx, []string{f.write("gauges.csv",
		measuredHeader+"E1,0,1,thickness,118,1,nm,ellipsometer,2026-01-02,,,\nE1,0,,mass,41,,g,balance,2026-01-02,,,\n"+
			"E1,1,2,haze,1,,percent,haze meter,2026-04-02,,,\n")})
	require.NoError(t, err)
	require.Empty(t, in.Refused)
	for _, c := range []struct {
		pull  int
		spot  string
		lines []int
	}{{0, "1", []int{3, 2}}, {AllPulls, "", []int{3, 2, 4}}, {1, "2", []int{4}}, {1, "1", nil}} {
		got, err := d.Trace(ctx, "E1", c.pull, c.spot)
		require.NoError(t, err)
		var lines []int
		for _, m := range got.Measurements {
			lines = append(lines, m.Line)
			assert.Equal(t, "gauges.csv", m.File.Name)
			assert.Equal(t, "measure", m.Entry.Verb)
			assert.Empty(t, m.Picture)
		}
		assert.Equal(t, c.lines, lines, "pull %d, spot %q", c.pull, c.spot)
	}
}

func TestTraceRefuses(t *testing.T) {
	ctx, f := context.Background(), newFolder(t)
	d := f.start()
	f.takeAll(d, f.exportsOf()...)
	for _, c := range []struct {
		coupon string
		pull   int
		spot   string
		fault  string
	}{
		{"E7", 0, "", `coupon "E7" is not enrolled`},
		{"B1", 1, "", "nothing was read of coupon B1 at pull 1"},
		{"E1", 0, "9", "nothing was read of coupon E1 at pull 0, spot 9"},
		{"E1", AllPulls, "9", "nothing was read of coupon E1, spot 9"},
	} {
		_, err := d.Trace(ctx, c.coupon, c.pull, c.spot)
		var r *study.Refusal
		require.ErrorAs(t, err, &r)
		assert.Equal(t, c.fault, err.Error())
		assert.NotEmpty(t, r.Try)
	}
	_, err := d.TraceFile(ctx, "nowhere.csv")
	var r *study.Refusal
	require.ErrorAs(t, err, &r)
	assert.Contains(t, err.Error(), `called "nowhere.csv" is in the study`)
}

// listed are the printed results of each unit; printed, since a null is NaN and equals nothing.
func listed(t *testing.T, d *Desk) map[string]string {
	t.Helper()
	rows := map[string]string{}
	for _, r := range results(t, d) {
		rows[fmt.Sprintf("%s %v", r.Coupon, r.Pull)] = printed(r)
	}
	return rows
}

// What came from an export is what differs in a study without it.
func TestTraceFileAgainstAStudyWithoutIt(t *testing.T) {
	ctx, f := context.Background(), newFolder(t)
	d := f.start()
	names := f.exportsOf()
	f.takeAll(d, names...)
	whole := listed(t, d)
	for _, c := range []struct {
		name string
		want []string // in words: own row, rows compared with it, rows corrected by it
	}{
		{"E1-0.csv", []string{"E1 0", "E1 1"}},
		{"E1-1.csv", []string{"E1 1"}},
		{"C1-0.csv", []string{"C1 0", "C1 1", "E1 0", "E1 1"}},
		{"C1-1.csv", []string{"C1 1", "E1 1"}},
		{"B1-0.csv", []string{"B1 0"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			all, err := d.TraceFile(ctx, c.name)
			require.NoError(t, err)
			require.Len(t, all, 1)
			o := all[0]
			var got []string
			for _, r := range o.Results {
				key := fmt.Sprintf("%s %v", r.Coupon, r.Pull)
				got = append(got, key)
				assert.Equal(t, whole[key], printed(*r), "the row as listed")
			}
			assert.Equal(t, c.want, got)

			g := newFolder(t)
			without := g.start()
			g.exportsOf()
			var rest []string
			for _, n := range names {
				if n != c.name {
					rest = append(rest, n)
				}
			}
			g.takeAll(without, rest...)
			var differ []string
			others := listed(t, without)
			for _, key := range []string{"B1 0", "C1 0", "C1 1", "E1 0", "E1 1"} {
				if others[key] != whole[key] {
					differ = append(differ, key)
				}
			}
			assert.Equal(t, differ, got)

			require.Len(t, o.Readings, 2)
			require.Len(t, o.Fits, 1)
			require.Len(t, o.Coupons, 1)
			assert.Equal(t, c.name[:2], o.Coupons[0].Coupon.Coupon)
			assert.EqualValues(t, 2, o.Coupons[0].Line.Number)
			assert.Equal(t, c.name[:2], o.Fits[0].Coupon)
			assert.EqualValues(t, 5, o.Fits[0].Line.Number)
			assert.True(t, o.Readings[0].InFit)
			assert.EqualValues(t, 3, o.Line.Number)
			bySum, err := d.TraceFile(ctx, o.File.SHA256[:8])
			require.NoError(t, err)
			require.Len(t, bySum, 1)
			assert.Equal(t, o.File, bySum[0].File)
		})
	}
}

// A fit that was made before an intake does not come from its exports. A table and a picture have
// measurements and no fits.
func TestTraceFileOfLateReadingsAndOfTables(t *testing.T) {
	ctx, f := context.Background(), newFolder(t)
	d := f.start()
	f.takeAll(d, f.exportsOf()...)
	f.export("more.csv", 120, 0, 9)
	replicate := strings.ReplaceAll(mapHeader, "unit\n", "unit,replicate\n") +
		strings.ReplaceAll(rows("more.csv", "E1", 0), "percent\n", "percent,2\n")
	_, err := d.Intake(ctx, f.write("more-map.csv", replicate), nil, IntakeOptions{Workers: 1})
	require.NoError(t, err)
	all, err := d.TraceFile(ctx, "more.csv")
	require.NoError(t, err)
	assert.Len(t, all[0].Readings, 2)
	assert.False(t, all[0].Readings[0].InFit)
	assert.Empty(t, all[0].Fits)
	assert.Empty(t, all[0].Results)
	_, err = d.Fit(ctx, FitOptions{Workers: 1})
	require.NoError(t, err)
	all, err = d.TraceFile(ctx, "more.csv")
	require.NoError(t, err)
	require.Len(t, all[0].Fits, 1)
	assert.Zero(t, all[0].Fits[0].SupersededBy)
	assert.Len(t, all[0].Results, 2)

	f.write("edge.png", "made up")
	_, err = d.Measure(ctx, []string{f.write("gauges.csv",
		measuredHeader+"E1,0,1,haze,1,,percent,haze meter,2026-01-02,,edge.png,\n"+
			"C1,0,1,haze,1,,percent,haze meter,2026-01-02,,,\n")})
	require.NoError(t, err)
	for name, n := range map[string]int{"gauges.csv": 2, "edge.png": 1} {
		all, err := d.TraceFile(ctx, name)
		require.NoError(t, err)
		require.Len(t, all, 1)
		o := all[0]
		assert.Len(t, o.Measurements, n, name)
		assert.Len(t, o.Coupons, n, name)
		assert.Empty(t, o.Readings)
		assert.Empty(t, o.Fits)
		assert.Empty(t, o.Results)
		assert.Equal(t, "measure", o.Line.Verb)
	}
}

// If all units of a session are fitted together, all these fits come from each of its exports.
func TestTraceFileOfASession(t *testing.T) {
	ctx, f := context.Background(), newFolder(t)
	d, err := New(ctx, filepath.Join(f.path, "made.wane"),
		study.Settings{Correction: study.RouteSession, Mixing: "bruggeman"}, tester())
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, d.Close()) })
	_, err = d.Enrol(ctx, f.rosters())
	require.NoError(t, err)
	text := sessionMapHeader
	for i, coupon := range []string{"E1", "C1", "B1"} {
		thickness := []float64{118, 117, 0}[i]
		text += f.sessionExport(coupon, 0, thickness, "spring", 1, 0, uint64(i+1))
	}
	text += f.sessionExport("E1", 1, 110, "autumn", 1, 0, 9)
	in, err := d.Intake(ctx, f.write("map.csv", text), nil, IntakeOptions{Workers: 1})
	require.NoError(t, err)
	require.Empty(t, in.Refused)
	_, err = d.Fit(ctx, FitOptions{Workers: 2})
	require.NoError(t, err)

	all, err := d.TraceFile(ctx, "B1-0.csv")
	require.NoError(t, err)
	require.Len(t, all[0].Readings, 4)
	var fits, listed []string
	for _, x := range all[0].Fits {
		fits = append(fits, fmt.Sprintf("%s %d", x.Coupon, x.Pull))
	}
	for _, r := range all[0].Results {
		listed = append(listed, fmt.Sprintf("%s %v", r.Coupon, r.Pull))
	}
	assert.Equal(t, []string{"B1 0", "C1 0", "E1 0"}, fits)
	assert.Equal(t, []string{"B1 0", "C1 0", "E1 0", "E1 1"}, listed, "the last is compared with pull 0")
	all, err = d.TraceFile(ctx, "E1-1.csv")
	require.NoError(t, err)
	require.Len(t, all[0].Fits, 1)
	require.Len(t, all[0].Results, 1)
}
