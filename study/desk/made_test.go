package desk

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/scenario"
)

// tester is the person of the tests, with a clock that does not move.
func tester() Person {
	return Person{Name: "tester", Now: func() time.Time { return time.Date(2026, 1, 2, 3, 4, 5, 0, time.UTC) }}
}

// folder is a made-up lab folder: rosters, a map and exports of a few small
// coupons.
type folder struct {
	tb   testing.TB
	path string
}

func newFolder(tb testing.TB) folder { return folder{tb, tb.TempDir()} }

// write writes a file and returns its path.
func (f folder) write(name, text string) string {
	path := filepath.Join(f.path, name)
	require.NoError(f.tb, os.MkdirAll(filepath.Dir(path), 0o755))
	require.NoError(f.tb, os.WriteFile(path, []byte(text), 0o644))
	return path
}

const (
	couponHeader   = "coupon,role,supplier,coating,lot,glass,glass_mm,back,exposure\n"
	exposureHeader = "exposure,protocol,site,dose_unit,start\n"
	pullHeader     = "exposure,pull,dose,date\n"
	mapHeader      = "file,column,coupon,pull,spot,angle_deg,polarisation,quantity,unit\n"
)

// rosters writes the rosters of a small study: one exposed coupon, one control and
// a blank of the exposure roof, with two pulls.
func (f folder) rosters() []string {
	return []string{
		f.write("coupons.csv", couponHeader+"E1,exposed,m,K,1,soda-lime,3.2,matched,roof\n"+
			"C1,control,m,K,1,soda-lime,,matched,\nB1,blank,,,,soda-lime,,matched,\n"),
		f.write("exposures.csv", exposureHeader+"roof,rack,nowhere,days,2026-01-01\n"),
		f.write("pulls.csv", pullHeader+"roof,0,0,2026-01-01\nroof,1,90,2026-04-01\n"),
	}
}

// export writes a made-up export of one spot at two angles.
func (f folder) export(name string, thickness, bare float64, seed int) string {
	var nm []float64
	for x := 400.0; x <= 1000; x += 20 {
		nm = append(nm, x)
	}
	var columns [][]float64
	for _, angle := range []float64{8, 60} {
		r, err := scenario.Surface{ThicknessNM: thickness, Porosity: 0.35, Bare: bare}.Reflectance(nm, angle)
		require.NoError(f.tb, err)
		columns = append(columns, r)
	}
	var b strings.Builder
	b.WriteString("made up\nnm,8 deg %R,60 deg %R\n")
	for i := range nm {
		wiggle := 0.02 * float64((i*7919+seed*104729)%17-8) / 8 // stands for noise
		fmt.Fprintf(&b, "%g,%.4f,%.4f\n", nm[i], 100*columns[0][i]+wiggle, 100*columns[1][i]-wiggle)
	}
	return f.write(name, b.String())
}

// rows are the map rows of such an export.
func rows(file, coupon string, pull int) string {
	return fmt.Sprintf("%s,#2,%s,%d,1,8,u,R,percent\n%s,#3,%s,%d,1,60,u,R,percent\n", file, coupon, pull, file, coupon,
		pull)
}

// start makes a study with the rosters enrolled.
func (f folder) start() *Desk { return f.startFrom(f.rosters()...) }

// startFrom makes a study with these rosters of the folder enrolled.
func (f folder) startFrom(rosters ...string) *Desk {
	ctx := context.Background()
	d, err := New(ctx, filepath.Join(f.path, "made.wane"),
		study.Settings{Correction: study.RouteControls, Mixing: "bruggeman"}, tester())
	require.NoError(f.tb, err)
	f.tb.Cleanup(func() { require.NoError(f.tb, d.Close()) })
	for i, r := range rosters {
		if !filepath.IsAbs(r) {
			rosters[i] = filepath.Join(f.path, r)
		}
	}
	_, err = d.Enrol(ctx, rosters)
	require.NoError(f.tb, err)
	return d
}

// dump is the logical content of the study.
func dump(tb testing.TB, d *Desk) string {
	var b bytes.Buffer
	require.NoError(tb, d.store.Dump(context.Background(), &b))
	return b.String()
}

// results returns all rows.
func results(tb testing.TB, d *Desk) []study.Result {
	var out []study.Result
	require.NoError(tb, d.Results(context.Background(), ResultsOptions{}, func(r *study.Result) error {
		out = append(out, *r)
		return nil
	}))
	return out
}
