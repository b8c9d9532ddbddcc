package desk

import (
	"context"
	"encoding/json"
	"fmt"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/store"
)

// said is what a study says at one moment: its results and its status on a fixed day.
func said(t *testing.T, d *Desk, asOf Moment) string {
	t.Helper()
	ctx, text := context.Background(), ""
	require.NoError(t, d.Results(ctx, ResultsOptions{AsOf: asOf.Line}, func(r *study.Result) error {
		text += printed(*r) + "\n"
		return nil
	}))
	s, err := d.Status(ctx, StatusOptions{AsOf: asOf})
	require.NoError(t, err)
	for i := range s.Rows {
		s.Rows[i].Dose = 0 // a null, which JSON does not have
	}
	rows, err := json.Marshal(s.Rows)
	require.NoError(t, err)
	return fmt.Sprintf("%s%s\n%+v\n%+v\n", text, rows, s.Tasks, s.Overview)
}

// As of each line, a study says what it said when that line was the last one. It is asked whenever the
// work at it looks at its clock, which is before each line, by a second one who reads.
func TestAsOfEachLine(t *testing.T) {
	for _, route := range []study.Route{study.RouteControls, study.RouteSession} {
		t.Run(string(route), func(t *testing.T) {
			f, ctx := newFolder(t), context.Background()
			path := filepath.Join(f.path, "made.wane")
			const day = "2026-04-20"
			before := map[int64]string{}
			var reader *Desk
			last := func() (line int64) {
				require.NoError(t, reader.Log(ctx, func(e study.Entry) error { line = e.Number; return nil }))
				return line
			}
			listen := func() {
				if reader == nil {
					return
				}
				if line := last(); before[line] == "" {
					before[line] = said(t, reader, Moment{Day: day})
				}
			}
			minutes := 0
			clock := func() time.Time {
				listen()
				minutes++
				return time.Date(2026, 4, 1, 8, minutes, 0, 0, time.UTC)
			}
			d, err := New(ctx, path, study.Settings{Correction: route, Mixing: "bruggeman"}, Person{Name: "ada", Now: clock})
			require.NoError(t, err)
			defer d.Close()
			reader, err = OpenToRead(ctx, path, tester())
			require.NoError(t, err)
			defer reader.Close()
			f.aYear(t, d, route == study.RouteControls)
			listen()

			lines := last()
			require.Greater(t, lines, int64(10))
			require.Len(t, before, int(lines), "each line was the last one once")
			differ := map[string]bool{}
			for line := int64(1); line <= lines; line++ {
				assert.Equal(t, before[line], said(t, d, Moment{Line: line, Day: day}), "line %d", line)
				differ[before[line]] = true
			}
			assert.Greater(t, len(differ), 6, "most lines change what the study says")
			assert.Equal(t, before[lines], said(t, d, Moment{Day: day}))
		})
	}
}

// aYear is work at a study that changes what it says again and again. A survey is made whenever all is evaluated, as
// in a large study; whatever then comes, status and what is stale are the same with it and without. Half a year ends
// before the corrections.
func (f folder) aYear(t *testing.T, d *Desk, whole bool) {
	ctx, surveys := context.Background(), 0
	alike := func() {
		require.NoError(t, d.store.View(ctx, func(v *store.View) error {
			roster, err := v.Roster()
			require.NoError(t, err)
			survey, _, err := d.surveyOf(v)
			require.NoError(t, err)
			if survey != nil {
				surveys++
			}
			with, without := d.newStanding(roster, "2026-04-20"), d.newStanding(roster, "2026-04-20")
			require.NoError(t, with.load(d, v))
			require.NoError(t, without.loadAll(d, v))
			with.addAllRows(roster.Coupons)
			without.addAllRows(roster.Coupons)
			assert.Equal(t, fmt.Sprint(without.rows, without.overview), fmt.Sprint(with.rows, with.overview))
			return nil
		}))
	}
	write := func(verb string, do func(tx *store.Tx) error) {
		require.NoError(t, d.store.Write(ctx, d.entry(verb, "made up"), do))
		alike()
	}
	enrol := func(name, text string) {
		f.enrol(d, name, text)
		alike()
	}
	fit := func() {
		alike()
		f.fit(d)
		alike()
		require.NoError(t, d.surveyFrom(ctx, 1))
		alike()
	}
	enrol("exposures.csv", exposureHeader+"roof,rack,nowhere,days,2026-01-01\n")
	enrol("pulls.csv", pullHeader+"roof,0,0,2026-01-01\nroof,1,90,2026-04-01\n")
	enrol("coupons.csv", couponHeader+"E1,exposed,m,K,1,soda-lime,3.2,matched,roof\n"+
		"C1,control,m,K,1,soda-lime,3.2,matched,\nB1,blank,,,,soda-lime,3.2,matched,\n")
	f.registered(d)
	f.takeIn(d, "first-map.csv", sessionMapHeader+f.sessionExport("E1", 0, 120, "s0", 1, 0, 1)+
		f.sessionExport("C1", 0, 118, "s0", 1, 0, 2)+f.sessionExport("B1", 0, 0, "s0", 1, 0, 3))
	fit()
	f.takeIn(d, "second-map.csv", sessionMapHeader+f.sessionExport("E1", 1, 114, "s1", 1.01, 0, 4)+
		f.sessionExport("C1", 1, 118, "s1", 1.01, 0, 5))
	fit()
	enrol("trap.csv", standardHeader+"LT,3,own,2026-01-15,,zero,,8,u,0,0.0002\n")
	fit()
	enrol("trapped.csv", standardReadingHeader+"s1,LT,8,u,0.0003,1\ns1,TILE,8,u,0.0431,1\n")
	fit()
	if !whole {
		return
	}
	angle := Everything()
	angle.Coupons, angle.Pulls, angle.AngleDeg = []string{"E1"}, study.Spans{{From: 1, To: 1}}, 60
	_, err := d.Review(ctx, angle, study.Aside, "a finger mark")
	require.NoError(t, err)
	fit()
	_, err = d.Review(ctx, angle, study.Counted, "it was not on the spot")
	require.NoError(t, err)
	fit()
	write("amend", func(tx *store.Tx) error {
		_, err := tx.AmendPull(study.Pull{Exposure: "roof", Pull: 1, Dose: 92, Date: "2026-04-03"}, "dose", "date")
		return err
	})
	write("amend", func(tx *store.Tx) error {
		_, err := tx.AmendCoupon(study.Coupon{Coupon: "E1", Back: "bare"}, "back")
		return err
	})
	fit()
	write("amend", func(tx *store.Tx) error {
		_, err := tx.AmendSession(study.Session{Session: "s1", HumidityPercent: 71}, "humidity_percent")
		return err
	})
	fit()
	assert.Greater(t, surveys, 6, "with a survey")
}
