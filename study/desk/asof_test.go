package desk

import (
	"context"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/store"
)

// said is what a study says at one moment: its results, its status on a fixed day, and the histories of two coupons.
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
	text += fmt.Sprintf("%s\n%+v\n%+v\n", rows, s.Tasks, s.Overview)
	for _, coupon := range []string{"E1", "C1"} {
		h, err := d.History(ctx, coupon, asOf)
		if err != nil {
			text += err.Error() + "\n" // it was not enrolled yet
			continue
		}
		text += fmt.Sprintf("%+v\n%+v\n%+v\n%+v\n", h.Coupon, h.Life, h.Judged, h.Corrected)
		for _, r := range h.Rows {
			text += printed(*r) + "\n"
		}
	}
	return text
}

// As of each line, a study says what it said when that line was the last one.
func TestAsOfEachLine(t *testing.T) {
	for _, route := range []study.Route{study.RouteControls, study.RouteSession} {
		t.Run(string(route), func(t *testing.T) {
			f := newFolder(t)
			lines, different := f.asOfEachLine(t, route, func(d *Desk) { f.aYear(t, d, route == study.RouteControls) })
			require.Greater(t, lines, int64(10))
			assert.Greater(t, different, 6, "most lines change what the study says")
		})
	}
}

// The same holds of random histories with mistakes that are put right: moves, exchanges, amendments, withdrawals, events,
// doses and reviews, in any order.
func TestAsOfEachLineOfRandomHistories(t *testing.T) {
	seeds, deeds := uint64(2), 14
	if os.Getenv("WANE_LONG") != "" {
		seeds, deeds = 40, 40
	}
	for seed := uint64(1); seed <= seeds; seed++ {
		t.Run(fmt.Sprint(seed), func(t *testing.T) {
			f, route := newFolder(t), study.RouteControls
			if seed%2 == 0 {
				route = study.RouteSession
			}
			w := &randomWork{folder: f, rng: rand.New(rand.NewPCG(seed, 13)), done: map[string]int{}}
			_, different := f.asOfEachLine(t, route, func(d *Desk) { w.work(d, deeds) })
			assert.Greater(t, different, deeds/2, "many lines change what the study says")
			t.Log(w.done)
		})
	}
}

// asOfEachLine works at a new study, and compares what it says as of each line with what it said when that line was the
// last one. It is asked whenever the work looks at its clock, which is before each line, by a second one who reads. It
// returns the number of lines, and how many different things the study said.
func (f folder) asOfEachLine(t *testing.T, route study.Route, work func(d *Desk)) (lines int64, different int) {
	ctx, path := context.Background(), filepath.Join(f.path, "made.wane")
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
	work(d)
	listen()

	lines = last()
	require.Len(t, before, int(lines), "each line was the last one once")
	differ := map[string]bool{}
	for line := int64(1); line <= lines; line++ {
		assert.Equal(t, before[line], said(t, d, Moment{Line: line, Day: day}), "line %d", line)
		differ[before[line]] = true
	}
	assert.Equal(t, before[lines], said(t, d, Moment{Day: day}))
	return lines, len(differ)
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
