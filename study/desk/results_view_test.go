package desk

import (
	"context"
	"database/sql"
	"path/filepath"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	_ "modernc.org/sqlite"

	"wane/study"
)

// The view v_results has the planned dose since the baseline and the exposure of the roster, also where events and rows
// of doses say otherwise: the guide says when these are those of results. By the plan below; the actual doses are worked
// by hand in the tests of package life.
func TestTheViewOfResultsHasPlannedDoses(t *testing.T) {
	f, ctx := newFolder(t), context.Background()
	settings := study.Settings{Correction: study.RouteNone, Mixing: "bruggeman"}
	d, err := New(ctx, filepath.Join(f.path, "made.wane"), settings, tester())
	require.NoError(t, err)
	f.enrol(d, "exposures.csv", exposureHeader+"roof,rack,nowhere,days,2026-01-01\nbox,heat,nowhere,hours,\n")
	f.enrol(d, "pulls.csv", pullHeader+"roof,0,0,2026-01-01\nroof,1,90,2026-04-01\nroof,2,180,2026-06-30\n"+
		"box,1,500,2026-03-01\nbox,2,900,2026-05-01\n")
	f.enrol(d, "coupons.csv", "coupon,role,supplier,coating,lot,glass,glass_mm,back,exposure,baseline_pull,position\n"+
		"P1,exposed,m,K,1,soda-lime,,matched,roof,,row 1\nL1,exposed,m,K,1,soda-lime,,matched,roof,1,\n"+
		"S1,exposed,m,K,1,soda-lime,,matched,roof,,\nT1,exposed,m,K,1,soda-lime,,matched,roof,,\n"+
		"C1,control,m,K,1,soda-lime,,matched,,,\n")
	f.enrol(d, "events.csv", "coupon,event,pull,exposure,dose,date\nS1,stop,,,,2026-02-01\nS1,start,,,,2026-02-11\n"+
		"T1,transfer,1,box,,\n")
	rows := "file,column,coupon,pull,spot,angle_deg,polarisation,quantity,unit,position\n"
	thickness := 118.0
	for _, at := range []struct {
		coupon string
		pulls  []int
	}{{"P1", []int{0, 1, 2}}, {"L1", []int{1, 2}}, {"S1", []int{0, 1}}, {"T1", []int{1, 2}}, {"C1", []int{0, 1}}} {
		for _, pull := range at.pulls {
			thickness--
			f.sessionExport(at.coupon, pull, thickness, "", 1, 0, uint64(thickness))
			rows += "s/" + at.coupon + "-" + string(rune('0'+pull)) + ".csv,#2," + at.coupon + "," + string(rune('0'+pull)) +
				",1,8,u,R,percent,edge\n"
		}
	}
	f.takeIn(d, "map.csv", rows)
	f.fit(d)
	type row struct {
		coupon, exposure, unit string
		pull                   int
		dose                   float64 // -1: none
	}
	actual, planned := map[row]bool{}, []row{}
	require.NoError(t, d.Results(ctx, ResultsOptions{}, func(r *study.Result) error {
		at := row{r.Coupon, r.Exposure, r.DoseUnit, int(r.Pull), -1}
		if r.Dose.Valid() {
			at.dose = float64(r.Dose)
		}
		actual[at] = slices.Contains(r.Flags, study.FlagDosePlanned) && !slices.Contains(r.Flags, study.FlagTransferred)
		assert.Equal(t, "edge", r.SpotPosition)
		return nil
	}))
	require.NoError(t, d.Close())

	db, err := sql.Open("sqlite", "file:"+filepath.Join(f.path, "made.wane")+"?mode=ro")
	require.NoError(t, err)
	defer db.Close()
	found, err := db.QueryContext(ctx,
		"SELECT coupon, ifnull(exposure, ''), ifnull(dose_unit, ''), pull, ifnull(dose, -1) FROM v_results")
	require.NoError(t, err)
	defer found.Close()
	for found.Next() {
		var r row
		require.NoError(t, found.Scan(&r.coupon, &r.exposure, &r.unit, &r.pull, &r.dose))
		planned = append(planned, r)
	}
	require.NoError(t, found.Err())
	assert.Equal(t, []row{{"C1", "", "", 0, -1}, {"C1", "", "", 1, -1},
		{"L1", "roof", "days", 1, 0}, {"L1", "roof", "days", 2, 90},
		{"P1", "roof", "days", 0, 0}, {"P1", "roof", "days", 1, 90}, {"P1", "roof", "days", 2, 180},
		{"S1", "roof", "days", 0, 0}, {"S1", "roof", "days", 1, 90},
		{"T1", "roof", "days", 1, 90}, {"T1", "roof", "days", 2, 180}}, planned)
	for r, agrees := range actual {
		if agrees {
			assert.Contains(t, planned, r)
		}
	}
	assert.Contains(t, actual, row{"S1", "roof", "days", 1, 80}, "ten days inside")
	assert.Contains(t, actual, row{"T1", "box", "hours", 2, 400})
	assert.True(t, actual[row{"L1", "roof", "days", 2, 90}])
}
