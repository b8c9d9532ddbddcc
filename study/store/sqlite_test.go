package store_test

import (
	"fmt"
	"maps"
	"os"
	"os/exec"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/ageing"
	"wane/study/store"
)

// ask lets the sqlite3 program, which is not ours, answer a query.
func ask(t *testing.T, path, query string) []string {
	t.Helper()
	program, err := exec.LookPath("sqlite3")
	if err != nil {
		const missing = "there is no sqlite3 program to read the study with; install it (Debian: apt-get install sqlite3)"
		if os.Getenv("CI") != "" {
			t.Fatal(missing)
		}
		t.Skip(missing)
	}
	out, err := exec.Command(program, path, query).CombinedOutput()
	require.NoError(t, err, string(out))
	return strings.Split(strings.TrimSpace(string(out)), "\n")
}

func TestAnySQLiteReadsTheStudy(t *testing.T) {
	s, path := enrolled(t)
	for _, u := range []study.Unit{{Coupon: "C001", Pull: 1, Spot: "a"},
		{Coupon: "K001", Pull: 1, Spot: "a", Condition: "rinsed"}} {
		takeIn(t, s, u)
		put(t, s, fitOf(u, 1))
	}
	put(t, s, fitOf(study.Unit{Coupon: "C001", Pull: 1, Spot: "a"}, 2))
	require.NoError(t, s.Close())

	assert.Equal(t, []string{"ok"}, ask(t, path, "PRAGMA integrity_check"))
	assert.Equal(t, []string{""}, ask(t, path, "PRAGMA foreign_key_check"))
	t.Run("every view can be read", func(t *testing.T) {
		views := ask(t, path, "SELECT name FROM sqlite_schema WHERE type = 'view'")
		require.Greater(t, len(views), 8)
		for _, v := range views {
			assert.Regexp(t, "^[0-9]+$", ask(t, path, "SELECT count(*) FROM (SELECT * FROM "+v+")")[0], v)
		}
	})
	t.Run("v_results", func(t *testing.T) {
		assert.Equal(t, []string{
			"C001|exposed|maker-A|U7|L2|rack|1|90.5|days|2031-06-01|a|m1||thinned|2.0|5.0|107|patchy|no-baseline one-angle",
			"K001|control|maker-A|U7|L2||1||||a|m1|rinsed|thinned|1.0|4.0|106|patchy|no-baseline one-angle",
		}, ask(t, path, `SELECT coupon, role, supplier, coating, lot, exposure, pull, dose, dose_unit, date, spot, session,
			condition, state, solar_T, thickness_nm, points, model, flags FROM v_results`))
	})
	t.Run("v_results has the columns of results that are stored, in their order, and two more", func(t *testing.T) {
		var want []string
		for _, c := range study.Columns() {
			_, stored := store.FitNumber(fitOf(unitA, 7), c.Name)
			if c.Num == nil || stored || c.Name == "pull" || c.Name == "dose" {
				want = append(want, c.Name)
			}
		}
		// these are made when results are listed: of the settings, the readings and the coupon
		for _, listed := range []string{"correction", "spot_position", "rack_position"} {
			want = without(want, listed)
		}
		want = append(want, "state_without_history", "change_pp")
		assert.Equal(t, want, ask(t, path, "SELECT name FROM pragma_table_info('v_results')"))
	})
	t.Run("v_spectra", func(t *testing.T) {
		e, readings := export("C001-1-a.csv", study.Unit{Coupon: "C001", Pull: 1, Spot: "a"}, 8, 45)
		got := ask(t, path, `SELECT coupon, pull, spot, condition, angle_deg, polarisation, quantity, replicate, session,
			operator, geometry, export, export_sha256, column_number, heading, points, first_nm, last_nm FROM v_spectra`)
		require.Len(t, got, 4)
		assert.Equal(t, "C001|1|a||8.0|u|R|1|m1|ada|relative|C001-1-a.csv|"+hexOf(e.SHA256)+"|2|8 deg|401|380.0|780.0",
			got[0])
		sum := 0.0
		for _, v := range readings[1].Values {
			sum += v
		}
		var mean float64
		require.NoError(t,
			raw(t, path).QueryRow("SELECT mean FROM v_spectra WHERE coupon = 'C001' AND angle_deg = 45").Scan(&mean))
		// Values near 0.025: their sum is good to 401 rounding errors of 1e-15.
		assert.InDelta(t, sum/401, mean, 1e-15)
	})
	t.Run("the log", func(t *testing.T) {
		assert.Equal(t,
			[]string{"1|ada|new", "2|ada|enrol", "3|ada|intake", "4|ada|fit", "5|ada|intake", "6|ada|fit", "7|ada|fit"},
			ask(t, path, "SELECT number, who, verb FROM log"))
	})
	t.Run("who took a reading in", func(t *testing.T) {
		assert.Equal(t, []string{"intake|C001|8.0", "intake|C001|45.0", "intake|K001|8.0", "intake|K001|45.0"},
			ask(t, path, "SELECT verb, coupon, angle_deg FROM reading JOIN log ON log.number = reading.log"))
	})
	assert.Equal(t, []string{"s.wane"}, filesBeside(t, path), "reading leaves one file")
}

func without(list []string, word string) []string {
	var kept []string
	for _, w := range list {
		if w != word {
			kept = append(kept, w)
		}
	}
	return kept
}

// The state in v_results takes pull 0 into account, by the rule of the guide: thinned below
// 0.9 of its thickness by more than twice the u of that difference. Worked by hand for
// a baseline of 120 ± 1 nm: 0.9·120 = 108 and u = √(1² + 0.9²) = 1.345, so that 105 nm is
// 3 below with 2u = 2.69 and 106 nm is 2 below. It is the state that the rows of results have,
// beside that of the fit alone; and the change is theirs, null where they have none.
func TestResultsViewTakesPull0IntoAccount(t *testing.T) {
	type of struct {
		pull            int
		spot, condition string
		thickness       study.Num
		state           study.State // as stored
		want            string
	}
	coupons := map[string][]of{
		"C001": {
			{0, "a", "", 120, "", "full"}, {1, "a", "", 106, "", "full"}, {2, "a", "", 105, "", "thinned"},
			{3, "a", "", 60, study.Patchy, "patchy"},
			{1, "b", "", 60, "", ""}, // no pull 0
		},
		"C002": {{0, "a", "", 120, study.Unclear, "unclear"}, {1, "a", "", 119, "", "unclear"}},
		"C003": { // the nearest condition: the same, else a clean one, else any
			{0, "a", "as_found", 120, "", "full"}, {0, "a", "cleaned", 100, "", "full"},
			{1, "a", "as_found", 105, "", "thinned"}, {1, "a", "cleaned", 95, "", "full"}, {1, "a", "rinsed", 95, "", "full"},
			{0, "b", "as_found", 120, "", "full"}, {1, "b", "cleaned", 105, "", "thinned"},
		},
		"C004": {
			{0, "a", "", 0, study.Stripped, "stripped"}, {1, "a", "", 100, "", "unclear"},
			{0, "b", "", study.Null(), study.Unclear, "unclear"}, {1, "b", "", 100, "", ""}, // pull 0 was not evaluated
		},
		"B001": {{0, "a", "", 0, "", ""}, {1, "a", "", 0, "", ""}},
	}
	s, path := enrolled(t)
	var want []string
	for _, code := range slices.Sorted(maps.Keys(coupons)) {
		var fits []*study.Fit
		for i, c := range coupons[code] {
			f := fitOf(study.Unit{Coupon: code, Pull: c.pull, Spot: c.spot, Condition: c.condition}, float64(i))
			f.Result.Thickness, f.Result.State = study.Measure{Value: c.thickness, U: 1}, c.state
			f.Result.SolarT.Value = 0.9861 - study.Num(i)/700
			f.Errors = study.Errors{} // not known, so that thicknesses count as independent, as in the view
			if !c.thickness.Valid() {
				f.Result.SolarT = study.NoMeasure()
			}
			takeIn(t, s, f.Unit)
			put(t, s, f)
			fits = append(fits, f)
		}
		roster, err := s.Roster(t.Context())
		require.NoError(t, err)
		for i, r := range ageing.NewChanges(roster, study.RouteControls).Rows(fits) {
			c, change := coupons[code][i], ""
			assert.EqualValues(t, c.want, r.State, "%s %+v", code, c)
			if r.Change.Value.Valid() {
				change = fmt.Sprintf("%.12f", float64(r.Change.Value))
			}
			want = append(want, fmt.Sprintf("%s|%d|%s|%s|%s|%s|%s", code, c.pull, c.spot, c.condition, c.want, c.state, change))
		}
	}
	require.NoError(t, s.Close())
	slices.Sort(want)
	got := ask(t, path, "SELECT coupon, pull, spot, condition, state, state_without_history, iif(change_pp IS NULL, "+
		"'', printf('%.12f', change_pp)) FROM v_results")
	slices.Sort(got)
	assert.Equal(t, want, got)
}
