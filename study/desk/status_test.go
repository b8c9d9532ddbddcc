package desk

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
)

// lateRosters are those of a study with two exposures: the roof, whose pull 1 is on 2026-04-01, and a
// chamber, whose pulls have no days.
func (f folder) lateRosters() *Desk {
	coupons := couponHeader + "C1,control,m,K,1,soda-lime,,matched,\nB1,blank,,,,soda-lime,,matched,\n"
	for i := range 4 {
		coupons += fmt.Sprintf("E%d,exposed,m,K,1,soda-lime,,matched,roof\n", i+1)
	}
	coupons += "H1,exposed,m,K,1,soda-lime,,matched,chamber\nH2,exposed,m,K,1,soda-lime,,matched,chamber\n"
	return f.startFrom(f.write("coupons.csv", coupons),
		f.write("exposures.csv", exposureHeader+"roof,rack,nowhere,days,2026-01-01\nchamber,box,nowhere,hours,\n"),
		f.write("pulls.csv", pullHeader+"roof,0,0,2026-01-01\nroof,1,90,2026-04-01\nroof,2,180,2026-07-01\n"+
			"chamber,0,0,\nchamber,1,500,\n"))
}

// spotsOf writes exports of these spots of a coupon at a pull and returns their map rows, but for
// those that end in one of the words of without, which name angles as 1@60.
func (f folder) spotsOf(coupon string, pull int, spots string, without ...string) (text string) {
	for _, spot := range strings.Fields(spots) {
		name := fmt.Sprintf("%s-%d-%s.csv", coupon, pull, spot)
		own := 7*float64(coupon[0]%7) + float64(coupon[1]-'0') + float64(spot[0]-'0')/4
		bare := 0.0
		if coupon[0] == 'B' {
			bare = 1
		}
		f.export("x.csv", 100+own-float64(pull), bare, pull)
		f.renamedExport("x.csv", name)
		for k, angle := range []string{"8", "60"} {
			if !contains(without, spot+"@"+angle) {
				text += fmt.Sprintf("%s,#%d,%s,%d,%s,%s,u,R,percent\n", name, k+2, coupon, pull, spot, angle)
			}
		}
	}
	return text
}

func contains(list []string, word string) bool {
	return strings.Contains(" "+strings.Join(list, " ")+" ", " "+word+" ")
}

// rowsOf are the rows of a status as texts: coupon, pull, state, spots read of those expected, angles,
// attention.
func rowsOf(t *testing.T, d *Desk, day string) (rows []string, s *Status) {
	t.Helper()
	s, err := d.Status(context.Background(), StatusOptions{AsOf: Moment{Day: day}})
	require.NoError(t, err)
	for _, r := range s.Rows {
		rows = append(rows, strings.TrimSpace(fmt.Sprintf("%s %d %s %d/%d %d %s", r.Coupon, r.Pull, r.State, r.SpotsRead, r.SpotsExpected,
			r.AnglesRead, strings.Join(r.Attention, " "))))
	}
	return rows, s
}

// tasksOf are tasks as texts.
func tasksOf(tasks []Task) (all []string) {
	for _, t := range tasks {
		all = append(all, fmt.Sprintf("%s %s %v %s %d: %s", t.Task, t.Coupon, t.Pull, t.Date, t.OverdueDays, t.What))
	}
	return all
}

// Before anything is read, all pulls 0 whose day has come are to be measured; nothing is known of spots.
func TestStatusBeforeReading(t *testing.T) {
	f := newFolder(t)
	d := f.lateRosters()
	rows, s := rowsOf(t, d, "2025-12-31")
	assert.Contains(t, rows, "E1 0 planned 0/0 0")
	assert.Contains(t, rows, "H1 0 missing 0/0 0 overdue", "a pull 0 without a day is due")
	assert.Contains(t, rows, "H1 1 planned 0/0 0")
	assert.Contains(t, rows, "C1 2 planned 0/0 0", "a coupon without an exposure goes with all pulls")
	assert.Equal(t, "pull 0 of roof at 0 days on 2026-01-01", s.NextPull)
	assert.Equal(t, []string{"measure H1 0  0: measure its spots", "measure H2 0  0: measure its spots"}, tasksOf(s.Tasks))

	rows, s = rowsOf(t, d, "2026-01-04")
	assert.Equal(t, "pull 1 of roof at 90 days on 2026-04-01", s.NextPull)
	assert.Contains(t, rows, "E1 0 missing 0/0 0 overdue")
	assert.Contains(t, tasksOf(s.Tasks), "measure E1 0 2026-01-01 3: measure its spots")
	assert.Equal(t, 0, s.Overview.Spots)
}

// What is read, and what is not: forgotten spots and angles, a pull that was passed, and one that has
// begun without a day.
func TestStatusOfReadings(t *testing.T) {
	f := newFolder(t)
	d := f.lateRosters()
	f.takeIn(d, "map.csv", mapHeader+
		f.spotsOf("E1", 0, "1 2")+f.spotsOf("E2", 0, "1 2")+f.spotsOf("E3", 0, "1")+f.spotsOf("H1", 0, "1 2")+
		f.spotsOf("C1", 0, "1")+f.spotsOf("B1", 0, "1")+
		f.spotsOf("E1", 1, "1 2", "2@60")+f.spotsOf("E2", 1, "2")+f.spotsOf("E4", 1, "1")+f.spotsOf("C1", 1, "1")+
		f.spotsOf("H1", 1, "1 2")+f.spotsOf("E2", 2, "1 2 3"))
	f.fit(d)
	rows, s := rowsOf(t, d, "2026-04-11")
	assert.Equal(t, []string{
		"B1 0 read 1/1 2", "B1 1 missing 0/1 0 overdue", "B1 2 planned 0/1 0",
		"C1 0 read 1/1 2", "C1 1 read 1/1 2", "C1 2 planned 0/1 0",
		"E1 0 read 2/2 2", "E1 1 partly 2/2 2 angle-missing:2@60", "E1 2 planned 0/2 0",
		"E2 0 read 2/2 2", "E2 1 partly 1/2 2 spot-missing:1", "E2 2 read 3/2 2",
		"E3 0 partly 1/2 2 spot-missing:2", "E3 1 missing 0/1 0 overdue", "E3 2 planned 0/1 0",
		"E4 0 missed 0/2 0 missed", "E4 1 partly 1/2 2 spot-missing:2", "E4 2 planned 0/2 0",
		"H1 0 read 2/2 2", "H1 1 read 2/2 2",
		"H2 0 missing 0/2 0 overdue", "H2 1 missing 0/2 0 overdue",
	}, rows)
	tasks := tasksOf(s.Tasks)
	assert.Equal(t, "pull E3 1 2026-04-01 10: take it out at 90 days and measure spot 1 at 8, 60 degrees", tasks[0])
	assert.Contains(t, tasks, "measure E1 1 2026-04-01 10: measure what is missing: spot 2 at 60 degrees")
	assert.Contains(t, tasks, "measure E4 1 2026-04-01 10: measure what is missing: spot 2")
	assert.Contains(t, tasks, "pull H2 1  0: take it out at 500 hours and measure spots 1, 2 at 8, 60 degrees")
	for _, task := range tasks {
		assert.NotContains(t, task, "E2 1", "its pull 2 is read: the dose of pull 1 has passed")
		assert.NotContains(t, task, "E4 0")
		assert.NotContains(t, task, "E3 0", "the day of its pull 1 has come")
	}
}

// A coupon that went from one exposure into another is expected by the plan of that. One that is read at a pull that
// only the exposure before plans is there too, so that nothing that is held is hidden.
func TestStatusAfterATransfer(t *testing.T) {
	f := newFolder(t)
	d := f.startFrom(f.write("coupons.csv", couponHeader+"E1,exposed,m,K,1,soda-lime,,matched,roof\n"),
		f.write("exposures.csv", exposureHeader+"roof,rack,nowhere,days,2026-01-01\nbox,heat,nowhere,hours,\n"),
		f.write("pulls.csv", pullHeader+"roof,0,0,2026-01-01\nroof,1,90,2026-04-01\nroof,2,180,2026-06-30\nbox,3,500,2026-05-01\n"))
	f.enrol(d, "events.csv", "coupon,event,pull,exposure\nE1,transfer,1,box\n")
	f.takeIn(d, "map.csv", mapHeader+f.spotsOf("E1", 0, "1")+f.spotsOf("E1", 1, "1"))
	rows, s := rowsOf(t, d, "2026-05-02")
	assert.Equal(t, []string{"E1 0 read 1/1 2 not-fitted", "E1 1 read 1/1 2 not-fitted", "E1 3 missing 0/1 0 overdue"}, rows)
	assert.Equal(t, "box", s.Rows[2].Exposure)
	assert.Contains(t, tasksOf(s.Tasks), "pull E1 3 2026-05-01 1: take it out at 500 hours and measure spot 1 at 8, 60 degrees")

	f.takeIn(d, "wrong.csv", mapHeader+f.spotsOf("E1", 2, "1"))
	rows, _ = rowsOf(t, d, "2026-05-02")
	assert.Contains(t, rows, "E1 2 read 1/1 2 not-fitted")
}

// Held readings are there and wait for a person. Those that are set aside are not there. Fits follow.
func TestStatusOfHeldAndStale(t *testing.T) {
	f, ctx := newFolder(t), context.Background()
	d := f.start()
	f.export("a.csv", 120, 0, 1)
	f.export("b.csv", 119, 0, 2)
	f.takeIn(d, "map.csv", mapHeader+rows("a.csv", "E1", 0)+rows("b.csv", "C1", 0))
	row := func() *CouponPull {
		_, s := rowsOf(t, d, "2026-01-10")
		k := slices.IndexFunc(s.Rows, func(r CouponPull) bool { return r.Coupon == "E1" && r.Pull == 0 })
		return &s.Rows[k]
	}
	assert.Equal(t, []string{AttentionUnfitted}, row().Attention)
	assert.Equal(t, 1, row().Unfitted)
	f.fit(d)
	assert.Empty(t, row().Attention)
	assert.Equal(t, 1, row().Fits)

	second := Selection{Numbers: []int64{2}, AngleDeg: study.Null()}
	_, err := d.Review(ctx, second, study.Aside, "soiled")
	require.NoError(t, err)
	assert.Equal(t, PullPartly, row().State)
	assert.Equal(t, []string{AttentionAngle + "1@60", AttentionUnfitted}, row().Attention,
		"what was set aside is to be read again, and the fit is no longer valid")
	assert.Equal(t, 1, row().Aside)
	_, err = d.Review(ctx, second, study.Counted, "it was the other one")
	require.NoError(t, err)
	f.fit(d)
	assert.Empty(t, row().Attention)

	f.export("c.csv", 120, 0, 3)
	f.takeIn(d, "more.csv", "file,column,coupon,pull,spot,angle_deg,polarisation,quantity,unit,replicate\n"+
		"c.csv,#2,E1,0,1,8,u,R,percent,2\n")
	assert.Equal(t, []string{AttentionStale}, row().Attention)
	assert.Equal(t, []int{1, 1}, []int{row().Fits, row().Stale})

	text := f.text(f.path + "/a.csv")
	f.write("copy.csv", strings.Replace(text, "made up", "made up again", 1))
	f.takeIn(d, "copy-map.csv", mapHeader+rows("copy.csv", "B1", 0))
	assert.Equal(t, []string{AttentionHeld, AttentionUnfitted}, row().Attention, "a twin, of which a person judged one curve")
	assert.Equal(t, 1, row().Held)
	assert.Equal(t, PullRead, row().State)
	_, s := rowsOf(t, d, "2026-01-10")
	assert.Contains(t, tasksOf(s.Tasks), "judge E1 0  0: judge 1 reading, which guards hold")
	assert.Equal(t, 3, s.Overview.Held)
}

// Sessions without readings and certificates are due, too.
func TestDueSessionsAndCertificates(t *testing.T) {
	f := newFolder(t)
	d := f.start()
	f.enrol(d, "instruments.csv", instrumentHeader+"bench-1,1,two beams,,,,\n")
	f.enrol(d, "standards.csv", standardHeader+"TILE,9,C1,2025-01-01,2026-01-01,R,550,8,u,0.0423,0.0004\n"+
		"TILE,9,C2,2026-01-01,2026-05-01,R,550,8,u,0.0423,0.0004\n")
	f.enrol(d, "sessions.csv", sessionHeader+"s0,bench-1,2026-01-01,,,,,\ns1,bench-1,2026-04-03,,,,,\n")
	f.export("a.csv", 120, 0, 1)
	f.takeIn(d, "map.csv", sessionMapHeader+sessionRows("a.csv", "E1", 0, "s0"))
	of := func(day string) (all []string) {
		_, s := rowsOf(t, d, day)
		for _, task := range s.Tasks {
			if task.Task == TaskTakeIn || task.Task == TaskCertificate {
				all = append(all, tasksOf([]Task{task})...)
			}
		}
		return all
	}
	assert.Empty(t, of("2026-03-31"))
	const session = "take the exports of session s1 in: no reading names it"
	const renew = "renew the certificate of check standard TILE: it "
	assert.Equal(t, []string{"certificate  NaN 2026-05-01 0: " + renew + "expires on 2026-05-01"}, of("2026-04-01"))
	assert.Equal(t, []string{"take-in  NaN 2026-04-03 29: " + session,
		"certificate  NaN 2026-05-01 1: " + renew + "expired on 2026-05-01"}, of("2026-05-02"))

	days, _, err := d.Calendar(context.Background())
	require.NoError(t, err)
	var all []string
	for _, day := range days {
		all = append(all, day.Day.Format(time.DateOnly)+" "+day.Summary+": "+day.What)
	}
	assert.Equal(t, []string{"2026-01-01 pull 0: B1, C1", "2026-04-01 pull 1: B1, C1",
		"2026-04-01 pull 1 of roof at 90 days: E1", "2026-05-01 check standard TILE expires: renew the certificate"}, all)
}

func TestMoments(t *testing.T) {
	f, ctx := newFolder(t), context.Background()
	d := f.start() // two lines on 2026-01-02
	for words, want := range map[string]Moment{"1": {1, "2026-01-02"}, "2": {2, "2026-01-02"},
		"2026-01-02": {2, "2026-01-02"}, "23.03.2031": {2, "2031-03-23"}} {
		m, err := d.MomentOf(ctx, words)
		require.NoError(t, err, words)
		assert.Equal(t, want, m)
	}
	for words, fault := range map[string]string{"0": "neither", "3": "no line 3", "-1": "neither", "2026-01-01": "begun after",
		"soon": "neither", "10.03.2031": "two days", "": "neither"} {
		_, err := d.MomentOf(ctx, words)
		var refused *study.Refusal
		require.ErrorAs(t, err, &refused, words)
		assert.Contains(t, refused.Fault, fault)
		assert.NotEmpty(t, refused.Try)
	}
}
