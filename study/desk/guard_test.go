package desk

import (
	"context"
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/guard"
	"wane/study/store"
)

// sessionRows are the map rows of an export that [folder.export] wrote, with a session.
func sessionRows(file, coupon string, pull int, session string) string {
	return fmt.Sprintf("%s,#2,%s,%d,1,8,u,R,percent,%s\n%s,#3,%s,%d,1,60,u,R,percent,%s\n", file, coupon, pull, session,
		file, coupon, pull, session)
}

// takeIn takes in the files of a map, none of which may be refused.
func (f folder) takeIn(d *Desk, name, text string) *TakenIn {
	in, err := d.Intake(context.Background(), f.write(name, text), nil, IntakeOptions{Workers: 2})
	require.NoError(f.tb, err)
	require.Empty(f.tb, in.Refused)
	return in
}

// fit evaluates what is stale, none of which may be refused.
func (f folder) fit(d *Desk) *Fitted {
	n, err := d.Fit(context.Background(), FitOptions{Workers: 2})
	require.NoError(f.tb, err)
	require.Empty(f.tb, n.Refused)
	return n
}

// A copy of a curve, under another name and for another coupon, is taken in and held, and so is the
// original. They enter no result until a person releases them, and none if a person sets them aside.
func TestHeldReadingsEnterNoResult(t *testing.T) {
	ctx := context.Background()
	f := newFolder(t)
	d := f.start()
	original := f.export("a.csv", 120, 0, 1)
	text, err := os.ReadFile(original)
	require.NoError(t, err)
	f.write("copy.csv", strings.Replace(string(text), "made up", "made up again", 1))
	require.Empty(t, f.takeIn(d, "map.csv", mapHeader+rows("a.csv", "E1", 0)).Held)
	f.fit(d)
	in := f.takeIn(d, "map2.csv", mapHeader+rows("copy.csv", "C1", 0))
	assert.Equal(t, 1, in.Files, "held curves are in the study")
	require.Len(t, in.Held, 4)
	for i, coupon := range []string{"E1", "E1", "C1", "C1"} {
		assert.Equal(t, coupon, in.Held[i].Coupon)
		require.Len(t, in.Held[i].Holds, 1)
		assert.Equal(t, "twin", in.Held[i].Holds[0].Guard)
	}
	held := in.Held[2]
	assert.Contains(t, held.Holds[0].Reason, "E1")
	row := func(coupon string) study.Result {
		for _, r := range results(t, d) {
			if r.Coupon == coupon {
				return r
			}
		}
		require.Fail(t, "no row", coupon)
		return study.Result{}
	}
	assert.False(t, row("E1").SolarT.Value.Valid(), "not even before the fit is made again")
	assert.Contains(t, row("E1").Flags, study.FlagReviewed)
	f.fit(d)
	for _, coupon := range []string{"E1", "C1"} {
		assert.False(t, row(coupon).SolarT.Value.Valid())
		assert.Equal(t, study.Unclear, row(coupon).State)
		assert.Subset(t, row(coupon).Flags, []string{study.FlagNotEvaluated, study.FlagHeld})
	}

	_, err = d.Review(ctx, Selection{Numbers: []int64{held.Number}, AngleDeg: study.Null()}, study.Counted, " ")
	assert.ErrorContains(t, err, "no reason is given")
	of := Everything()
	of.Coupons = []string{"E1"}
	_, err = d.Review(ctx, of, study.Counted, "made up to be alike")
	require.NoError(t, err)
	of.Coupons = []string{"C1"}
	reviewed, err := d.Review(ctx, of, study.Counted, "made up to be alike")
	require.NoError(t, err)
	changed := reviewed.Changed
	require.Len(t, changed, 2)
	assert.Equal(t, "tester", changed[0].Reviews[0].Line.Who)
	_, err = d.Review(ctx, of, study.Counted, "again")
	assert.ErrorContains(t, err, "2 readings: counted already")
	assert.False(t, row("C1").SolarT.Value.Valid(), "nothing is said before the fit is made again")
	f.fit(d)
	assert.Equal(t, row("E1").SolarT, row("C1").SolarT)
	assert.NotContains(t, row("C1").Flags, study.FlagHeld)

	// one of the two angles is set aside: the fit is invalid, and the next one is of the other angle
	of.AngleDeg = 60
	_, err = d.Review(ctx, of, study.Aside, "finger mark")
	require.NoError(t, err)
	assert.Contains(t, row("C1").Flags, study.FlagReviewed)
	assert.False(t, row("C1").SolarT.Value.Valid())
	f.fit(d)
	assert.Contains(t, row("C1").Flags, study.FlagAside)
	assert.EqualValues(t, 31, row("C1").Points)
	of.AngleDeg = study.Null()
	_, err = d.Review(ctx, of, study.Aside, "the other too")
	require.NoError(t, err)
	f.fit(d)
	assert.False(t, row("C1").SolarT.Value.Valid())
	assert.Equal(t, Fitted{Current: 2}, *f.fit(d))

	// nothing is deleted, and the study keeps who decided, when and why
	traced, err := d.Trace(ctx, "C1", AllPulls, "")
	require.NoError(t, err)
	require.Len(t, traced.Units[0].Readings, 2)
	r := traced.Units[0].Readings[1]
	assert.Equal(t, study.Aside, r.Standing)
	require.Len(t, r.Reviews, 2)
	assert.Equal(t, "finger mark", r.Reviews[1].Why)
	assert.Equal(t, "finger mark", r.Reviews[1].Line.Why)
	assert.False(t, r.InFit)
	v, err := d.Verify(ctx, VerifyOptions{})
	require.NoError(t, err)
	assert.True(t, v.Sound(), "%+v", v)
	assert.Zero(t, v.Due.Stale)
}

// If an intake is cut off before the guards have run, the next fit runs them first.
func TestGuardsRunAfterAnIntakeThatWasCutOff(t *testing.T) {
	f := newFolder(t)
	d := f.start()
	text, err := os.ReadFile(f.export("a.csv", 120, 0, 1))
	require.NoError(t, err)
	f.write("copy.csv", strings.Replace(string(text), "made up", "made up again", 1))
	ctx, cancel := context.WithCancel(context.Background())
	in, err := d.Intake(ctx, f.write("map.csv", mapHeader+rows("a.csv", "E1", 0)+rows("copy.csv", "C1", 0)), nil,
		IntakeOptions{Workers: 1, Progress: func(done, total int) {
			cancel()
		}})
	require.ErrorIs(t, err, context.Canceled)
	require.Equal(t, 2, in.Files)
	require.Empty(t, in.Held)
	assert.Equal(t, 2, f.fit(d).Fits)
	for _, r := range results(t, d) {
		assert.False(t, r.SolarT.Value.Valid(), r.Coupon)
	}
	held, err := d.held(context.Background())
	require.NoError(t, err)
	assert.Len(t, held, 4)
}

// What guards find depends neither on the number of workers nor on the order of the files in the map.
func TestGuardsDoNotDependOnOrder(t *testing.T) {
	var first []string
	for _, workers := range []int{1, 3} {
		f := newFolder(t)
		d := f.start()
		text := ""
		for i, coupon := range []string{"B1", "C1", "E1"} {
			name := coupon + ".csv"
			f.export(name, 120, []float64{1, 0, 0}[i], i)
			text += sessionRows(name, coupon, 0, "s0")
		}
		high := strings.Replace(read(t, f.export("high.csv", 120, 0, 9)), "made up", "made up, too high", 1)
		f.write("high.csv", scaled(high, 3))
		text += "high.csv,#2,E1,1,1,8,u,R,percent,s1\nhigh.csv,#3,E1,1,1,60,u,R,percent,s1\n"
		in, err := d.Intake(context.Background(), f.write("map.csv", sessionMapHeader+text), nil,
			IntakeOptions{Workers: workers})
		require.NoError(t, err)
		require.Empty(t, in.Refused)
		var found []string
		for _, j := range in.Held {
			for _, h := range j.Holds {
				found = append(found, fmt.Sprintf("%v %s %s", j.Place, h.Guard, h.Reason))
			}
		}
		require.NotEmpty(t, found, "three times the reflectance of glass")
		if first == nil {
			first = found
		}
		assert.Equal(t, first, found)
	}
}

// If the certificate of a reference had expired, all readings of the session are held. The humidity of the
// session holds nothing; rows of coated coupons whose film takes up water have a flag.
func TestGuardsKnowTheRegister(t *testing.T) {
	ctx := context.Background()
	f := newFolder(t)
	d := f.start()
	_, err := d.Enrol(ctx, []string{
		f.write("more.csv",
			strings.TrimSuffix(couponHeader, "\n")+",water_repellent\nE2,exposed,m,K,1,soda-lime,3.2,matched,roof,yes\n"),
		f.write("instruments.csv", "instrument,serial,kind,cone_deg,slit_nm,join_nm,u_join\nbench-1,1,two beams,,,,\n"),
		f.write("references.csv",
			"reference,serial,certificate,issued,expires,u_scale,values\nM1,1,C1,2025-01-01,2026-03-01,0.004,\n"),
		f.write("sessions.csv", "session,instrument,date,operator,reference,humidity_percent,temperature_c,condition\n"+
			"s0,bench-1,2026-01-01,ada,M1,40,22,\ns1,bench-1,2026-02-01,ada,M1,75,22,\ns2,bench-1,2026-04-01,ada,M1,42,22,\n"),
	})
	require.NoError(t, err)
	rows := map[string]string{}
	for i, coupon := range []string{"E1", "E2", "B1"} {
		for pull := range 2 {
			session, name := fmt.Sprintf("s%d", pull), fmt.Sprintf("%s-%d.csv", coupon, pull)
			f.export(name, 120-float64(pull), []float64{0, 0, 1}[i], 2*i+pull)
			rows[session] += sessionRows(name, coupon, pull, session)
		}
	}
	require.Empty(t, f.takeIn(d, "map0.csv", sessionMapHeader+rows["s0"]).Held)
	require.Empty(t, f.takeIn(d, "map1.csv", sessionMapHeader+rows["s1"]).Held)
	f.fit(d)
	var humid []string
	for _, r := range results(t, d) {
		if slices.Contains(r.Flags, study.FlagHumid) {
			humid = append(humid, fmt.Sprint(r.Coupon, r.Pull))
		}
	}
	assert.Equal(t, []string{"E11"}, humid, "75 % at pull 1; E2 is declared water-repellent, B1 has no pores")

	f.export("c1.csv", 121, 0, 9)
	in := f.takeIn(d, "map2.csv", sessionMapHeader+sessionRows("c1.csv", "C1", 1, "s2"))
	require.Len(t, in.Held, 2)
	for _, j := range in.Held {
		assert.Equal(t, "expired", j.Holds[0].Guard)
	}
	checked, err := d.Check(ctx, CheckOptions{Session: "s2"})
	require.NoError(t, err)
	assert.Equal(t, 2, checked[0].Held)
	assert.Contains(t, checked[0].Why, "2 readings held by guards")
}

func read(t testing.TB, path string) string {
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	return string(data)
}

// scaled multiplies the values of an export that [folder.export] wrote.
func scaled(text string, by float64) string {
	lines := strings.Split(strings.TrimSpace(text), "\n")
	for i := 2; i < len(lines); i++ {
		var nm, a, b float64
		if _, err := fmt.Sscanf(lines[i], "%g,%g,%g", &nm, &a, &b); err == nil {
			lines[i] = fmt.Sprintf("%g,%.6f,%.6f", nm, by*a, by*b)
		}
	}
	return strings.Join(lines, "\n") + "\n"
}

// Guards check a session as a whole, in whatever order its exports were taken in: two exchanged curves are
// both held, and fits that used them are no longer valid.
func TestGuardsCheckASessionAsAWhole(t *testing.T) {
	held := map[bool]map[string]bool{}
	for _, oneByOne := range []bool{false, true} {
		f := newFolder(t)
		d := f.start()
		_, err := d.Enrol(context.Background(), []string{f.write("more.csv", couponHeader+
			"E2,exposed,m,K,1,soda-lime,3.2,matched,roof\nE3,exposed,m,K,1,soda-lime,3.2,matched,roof\n"+
			"E4,exposed,m,K,1,soda-lime,3.2,matched,roof\nE5,exposed,m,K,1,soda-lime,3.2,matched,roof\n")})
		require.NoError(t, err)
		var lots []string
		coupons, thickness := []string{"B1", "C1", "E1", "E2", "E3", "E4", "E5"}, []float64{0, 121, 80, 120, 118, 122, 119}
		for pull := range 2 {
			for i, coupon := range coupons {
				of := i
				if pull == 1 && (i == 2 || i == 3) {
					of = 5 - i // E1 and E2 are exchanged
				}
				name, bare := fmt.Sprintf("%s-%d.csv", coupon, pull), 0.0
				if i == 0 {
					bare = 1
				}
				f.export(name, thickness[of], bare, 7*pull+i)
				lots = append(lots, sessionRows(name, coupon, pull, fmt.Sprintf("s%d", pull)))
			}
		}
		if !oneByOne {
			lots = []string{strings.Join(lots, "")}
		}
		for i, lot := range lots {
			f.takeIn(d, fmt.Sprintf("map%d.csv", i), sessionMapHeader+lot)
			f.fit(d)
		}
		held[oneByOne] = map[string]bool{}
		all, err := d.held(context.Background())
		require.NoError(t, err)
		for _, j := range all {
			assert.Equal(t, "swapped", j.Holds[0].Guard)
			held[oneByOne][fmt.Sprint(j.Place)] = true
		}
		for _, r := range results(t, d) {
			swapped := r.Pull == 1 && (r.Coupon == "E1" || r.Coupon == "E2")
			assert.Equal(t, !swapped, r.SolarT.Value.Valid(), "%s, pull %v", r.Coupon, r.Pull)
		}
	}
	assert.Len(t, held[false], 4)
	assert.Equal(t, held[false], held[true])
}

// A pull of which all readings are held is not in the joint fit. The other pulls are fitted together as if
// it had never been read.
func TestHeldPullsAreLeftOutOfJointFits(t *testing.T) {
	ctx := context.Background()
	rowsOf := func(withHeld bool) map[float64]study.Result {
		f := newFolder(t)
		rosters := f.rosters()
		f.write("pulls.csv", pullHeader+"roof,0,0,2026-01-01\nroof,1,90,2026-04-01\nroof,2,180,2026-07-01\n")
		d, err := New(ctx, f.path+"/joint.wane", study.Settings{Correction: study.RouteNone, Mixing: "bruggeman"}, tester())
		require.NoError(t, err)
		t.Cleanup(func() { require.NoError(t, d.Close()) })
		_, err = d.Enrol(ctx, rosters)
		require.NoError(t, err)
		text := ""
		for pull, thickness := range []float64{120, 117, 114} {
			name := fmt.Sprintf("%d.csv", pull)
			f.export(name, thickness, 0, pull)
			if pull != 1 || withHeld {
				text += rows(name, "E1", pull)
			}
		}
		f.takeIn(d, "map.csv", mapHeader+text)
		if withHeld {
			of := Everything()
			of.Filter = atPull("E1", 1)
			_, err = d.Review(ctx, of, study.Aside, "dropped")
			require.NoError(t, err)
		}
		f.fit(d)
		found := map[float64]study.Result{}
		require.NoError(t, d.Results(ctx, ResultsOptions{Joint: true}, func(r *study.Result) error {
			found[float64(r.Pull)] = *r
			return nil
		}))
		return found
	}
	with, without := rowsOf(true), rowsOf(false)
	require.Len(t, with, 3)
	assert.False(t, with[1].SolarT.Value.Valid())
	for _, pull := range []float64{0, 2} {
		assert.Equal(t, without[pull].SolarT, with[pull].SolarT)
		assert.Equal(t, without[pull].Change, with[pull].Change)
	}
}

// The guards compare a session with the last readings before it, not with all earlier ones: otherwise the
// time of an intake would grow with the square of the number of sessions.
func TestGuardsReadTheLastPullOnly(t *testing.T) {
	ctx := context.Background()
	f := newFolder(t)
	m := f.benchmarkSessions(6, false)
	d := f.startFrom("coupons.csv", "exposures.csv", "pulls.csv")
	_, err := d.Intake(ctx, m, nil, IntakeOptions{Workers: 1})
	require.NoError(t, err)
	pulls := func(last bool) (read []int) {
		require.NoError(t, d.store.View(ctx, func(v *store.View) error {
			g := &guardRun{}
			require.NoError(t, g.checkEntered(v))
			g.view = v
			var seen []guard.Reading
			err := v.HeadersIn(store.ReadingSet{Session: "s5"},
				func(m store.ReadingHeader) error { seen = append(seen, g.asSeen(&m)); return nil })
			require.NoError(t, err)
			require.Len(t, seen, 2)
			found, err := g.lastReadings("s5", seen)
			if !last {
				found, err = g.readHistory("s5", 1, map[string]bool{"P00000": true})
			}
			for i := range found {
				read = append(read, found[i].Pull)
			}
			return err
		}))
		return read
	}
	assert.Equal(t, []int{4, 4}, pulls(true), "its two angles at the pull before")
	assert.Equal(t, []int{0, 0, 1, 1, 2, 2, 3, 3, 4, 4}, pulls(false))
	_, err = d.Review(ctx, Selection{Filter: atPull("P00000", 4), AngleDeg: study.Null()}, study.Aside, "a finger mark")
	require.NoError(t, err)
	assert.Equal(t, []int{3, 3}, pulls(true), "what was set aside is no history")
}

// atPull is the filter of what was read of a coupon at a pull.
func atPull(coupon string, pull int64) study.Filter {
	return study.Filter{Coupons: []string{coupon}, Pulls: study.Spans{{From: pull, To: pull}}}
}
