package desk

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
)

// A correction is a table of corrections, and whose fits become stale by it.
type correction struct {
	name, table string
	stale       []string // by themselves
}

// corrections are one of each kind, of the study that amendable makes. Where a fit hangs on nothing of it, none is stale.
var corrections = []correction{
	{"date", "exposure,pull,date\nroof,1,2026-04-03\n", nil},
	{"dose", "exposure,pull,dose\nroof,1,92\n", nil},
	{"start", "exposure,start\nroof,2026-01-02\n", nil},
	{"lot", "coupon,lot\nE1,7\n", nil},
	{"glass", "coupon,glass\nC1,low-iron\n", []string{"C1 0", "C1 1"}},
	{"far face", "coupon,back\nE1,bare\n", []string{"E1 0", "E1 1"}},
	{"humidity", "session,humidity_percent\ns1,55\n", nil},
	{"instrument", "instrument,cone_deg\nbench-1,2\n", []string{"B1 0", "C1 0", "C1 1", "E1 0", "E1 1"}},
	{"light trap", "session,standard,angle_deg,polarisation,value\ns1,LT,8,u,0.0007\n", []string{"C1 1", "E1 1"}},
	{"check standard", "standard,issued,angle_deg,polarisation,value\nTILE,2025-12-01,8,u,0.0425\n", []string{"B1 0", "C1 0", "E1 0"}},
	{"certificate", "reference,issued,u_scale\nM1,2025-12-01,0.003\n", []string{"C1 1", "E1 1"}},
	{"measurement", "coupon,pull,spot,quantity,method,date,value\nE1,0,1,thickness,gauge,2026-01-02,118.2\n", nil},
	{"event", "coupon,event,pull,date\nE1,start,0,2026-01-06\n", nil},
	{"pull of an event", "coupon,event,pull,to_pull,note\nC1,clean,0,1,two wipes\n", nil},
	{"row of doses", "exposure,date,value\nroof,2026-02-01,29\n", nil},
	{"day of a dose", "exposure,date,to_date\nroof,2026-03-01,2026-02-28\n", nil},
}

// amendable makes a study that has something of each kind, with fits that are up to date.
func (f folder) amendable(route study.Route) *Desk {
	d, err := New(context.Background(), f.path+"/amended.wane", study.Settings{Correction: route, Mixing: "bruggeman"}, tester())
	require.NoError(f.tb, err)
	f.tb.Cleanup(func() { require.NoError(f.tb, d.Close()) })
	_, err = d.Enrol(context.Background(), f.rosters())
	require.NoError(f.tb, err)
	f.enrol(d, "doses.csv", "exposure,date,value,unit\nroof,2026-02-01,30,days\nroof,2026-03-01,30,days\nroof,2026-04-01,30,days\n")
	f.enrol(d, "events.csv", "coupon,event,pull,date\nE1,start,0,2026-01-05\nC1,clean,0,\n")
	f.enrol(d, "references.csv", referenceHeader+"M1,44,C/1,2025-12-01,,0.004,\n")
	f.enrol(d, "instruments.csv", instrumentHeader+"bench-1,1,two beams,,,,\n")
	f.enrol(d, "standards.csv", standardHeader+"TILE,9,C1,2025-12-01,,R,550,8,u,0.0423,0.0004\nLT,3,own,2025-12-01,,zero,,8,u,0,0.0002\n")
	f.enrol(d, "sessions.csv", sessionHeader+"s0,bench-1,2026-01-01,,,,,\ns1,bench-1,2026-04-01,,M1,41,,\n")
	f.enrol(d, "checks.csv", standardReadingHeader+"s0,TILE,8,u,0.0422,\ns1,LT,8,u,0.0003,1\n")
	f.takeIn(d, "map.csv", sessionMapHeader+f.sessionExport("E1", 0, 120, "s0", 1, 0, 1)+
		f.sessionExport("C1", 0, 118, "s0", 1, 0, 2)+f.sessionExport("B1", 0, 0, "s0", 1, 0, 3)+
		f.sessionExport("E1", 1, 114, "s1", 1.01, 0, 4)+f.sessionExport("C1", 1, 118, "s1", 1.01, 0, 5))
	_, err = d.Measure(context.Background(), []string{f.write("gauges.csv", "coupon,pull,spot,quantity,value,u,unit,method,date,"+
		"operator,picture,note\nE1,0,1,thickness,181.2,0.8,nm,gauge,2026-01-02,ada,,\n")})
	require.NoError(f.tb, err)
	f.fit(d)
	return d
}

// amend makes one correction.
func (f folder) amend(d *Desk, c *correction) *Amended {
	out, err := d.Amend(context.Background(), []string{f.write("corrections.csv", c.table)}, "a slip of the pen", false)
	require.NoError(f.tb, err, c.name)
	require.NotEmpty(f.tb, out.Changes, c.name)
	return out
}

// unitWords names units.
func unitWords(units []study.Unit) (words []string) {
	for _, u := range units {
		words = append(words, fmt.Sprintf("%s %d", u.Coupon, u.Pull))
	}
	return words
}

// Each correction makes stale what hangs on it and no more: as many fits are made again as it names. Where all of a session
// is fitted together, those are the sessions of what is stale by itself.
func TestWhatCorrectionsMakeStale(t *testing.T) {
	for _, route := range []study.Route{study.RouteControls, study.RouteSession} {
		t.Run(string(route), func(t *testing.T) {
			f := newFolder(t)
			d := f.amendable(route)
			for i := range corrections {
				c := &corrections[i]
				out := f.amend(d, c)
				stale := c.stale
				if route == study.RouteSession {
					stale = wholeSessions(stale)
				}
				assert.Equal(t, stale, unitWords(out.Stale), c.name)
				assert.Equal(t, len(stale), f.fit(d).Fits, c.name)
			}
		})
	}
}

// wholeSessions are the units of amendable that were read in a session with one of these.
func wholeSessions(units []string) (all []string) {
	for _, u := range []string{"B1 0", "C1 0", "C1 1", "E1 0", "E1 1"} {
		of := func(o string) bool { return o[len(o)-1] == u[len(u)-1] }
		if slices.ContainsFunc(units, of) {
			all = append(all, u)
		}
	}
	return all
}

// In whatever order corrections come, the study is the same afterwards: what is enrolled, and the results.
func TestCorrectionsInAnyOrder(t *testing.T) {
	ctx := context.Background()
	var said []string
	for _, order := range []func([]correction){func([]correction) {}, slices.Reverse[[]correction], func(c []correction) {
		half := slices.Concat(c[len(c)/2:], c[:len(c)/2])
		copy(c, half)
	}} {
		f := newFolder(t)
		d := f.amendable(study.RouteControls)
		some := slices.Clone(corrections)
		order(some)
		for i := range some {
			f.amend(d, &some[i])
		}
		f.fit(d)
		roster, err := d.store.Roster(ctx)
		require.NoError(t, err)
		slices.SortFunc(roster.Lives, func(a, b study.CouponEvent) int { return strings.Compare(a.String(), b.String()) })
		said = append(said, fmt.Sprintf("%+v\n%s", *roster, printed(results(t, d)...)))
		verified, err := d.Verify(ctx, VerifyOptions{Workers: 1})
		require.NoError(t, err)
		assert.True(t, verified.Sound())
	}
	assert.Equal(t, said[0], said[1], "backwards")
	assert.Equal(t, said[0], said[2], "from the middle")
}

// manyCoupons is the table of 500 coupons with another lot, of which edit changes lines by their number.
func manyCoupons(edit map[int]string) string {
	lines := []string{"coupon,lot,exposure"}
	for i := range 500 {
		lines = append(lines, fmt.Sprintf("P%03d,8,roof", i))
	}
	for number, line := range edit {
		lines[number-1] = line
	}
	return strings.Join(lines, "\n") + "\n"
}

// Of a table of 500 rows with bad ones nothing is amended, and every bad row is said with its line, also those of which only
// the whole study says that they cannot be.
func TestEveryFaultIsSaid(t *testing.T) {
	ctx, f := context.Background(), newFolder(t)
	d := f.start()
	var coupons, pulls strings.Builder
	for i := range 500 {
		fmt.Fprintf(&coupons, "P%03d,exposed,m,K,1,soda-lime,3.2,matched,roof\n", i)
		fmt.Fprintf(&pulls, "roof,%d,%d,\n", i+2, 100+i)
	}
	f.enrol(d, "more.csv", couponHeader+coupons.String())
	f.enrol(d, "more-pulls.csv", pullHeader+pulls.String())
	f.enrol(d, "more-events.csv", "coupon,event,pull\nP007,start,0\nP007,end,3\nP008,end,4\n")
	before := dump(t, d)
	for _, c := range []struct {
		table  string
		faults []string
	}{
		{manyCoupons(map[int]string{250: "Q1,8,roof"}), []string{`250: coupon "Q1" is not enrolled`}},
		{manyCoupons(map[int]string{2: "P000,8,", 250: "Q1,8,roof", 333: "P331,8,yard", 501: "P000,8,roof"}),
			[]string{`2: column exposure: the cell is empty`, `250: coupon "Q1" is not enrolled`,
				`501: coupon "P000" stands in line 2 too`, `333: coupon P331: there is no exposure "yard"`}},
		{"exposure,pull,dose,date\nroof,10,99,\nroof,20,118,2026-02-01\nroof,30,5,2026-01-05\n",
			[]string{"2: exposure roof: the dose 99 of pull 10 is not above the 107 of pull 9",
				"4: exposure roof: the dose 5 of pull 30 is not above the 127 of pull 29",
				"3: exposure roof: the date 2026-02-01 of pull 20 lies before the 2026-04-01 of pull 1",
				"4: exposure roof: the date 2026-01-05 of pull 30 lies before the 2026-02-01 of pull 20"}},
		{"coupon,event,pull,to_pull,date\nP007,start,0,5,\nP008,end,,,2025-11-30\n",
			[]string{`2: event start of coupon "P007" at pull 5: the history of coupon P007 ended before it`,
				`3: event end of coupon "P008" at pull 4 on 2025-11-30: 2025-11-30 is before`}},
	} {
		_, err := d.Amend(ctx, []string{f.write("table.csv", c.table)}, "as in the note", false)
		var faults study.Refusals
		if !errors.As(err, &faults) {
			require.True(t, faults.Note(err), "%v", err)
		}
		var said []string
		for _, r := range faults {
			said = append(said, fmt.Sprintf("%d: %s", r.Line, r.Fault))
			assert.NotEmpty(t, r.Try)
		}
		if assert.Len(t, said, len(c.faults), "%q", said) {
			for i := range said {
				assert.True(t, strings.HasPrefix(said[i], c.faults[i]), "%q and not %q", said[i], c.faults[i])
			}
		}
		assert.Equal(t, before, dump(t, d))
	}
	out, err := d.Amend(ctx, []string{f.write("table.csv", manyCoupons(nil))}, "as in the note", false)
	require.NoError(t, err)
	assert.Len(t, out.Changes, 500)
}
