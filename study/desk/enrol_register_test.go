package desk

import (
	"context"
	"fmt"
	"math"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/guard"
)

// Everything enrolled here is made up.
const (
	instrumentHeader = "instrument,serial,kind,cone_deg,slit_nm,join_nm,u_join\n"
	eventHeader      = "instrument,date,event,note\n"
	referenceHeader  = "reference,serial,certificate,issued,expires,u_scale,values\n"
	standardHeader   = "standard,serial,certificate,issued,expires,quantity,wavelength_nm," +
		"angle_deg,polarisation,value,u\n"
	sessionHeader         = "session,instrument,date,operator,reference,humidity_percent,temperature_c,condition\n"
	standardReadingHeader = "session,standard,angle_deg,polarisation,value,replicate\n"
)

// register writes a small register.
func (f folder) register() []string {
	f.write("m1.csv", "angle_deg,polarisation,wavelength_nm,value,u\n45,p,380,0.90,0.003\n45,p,1100,0.95,0.003\n"+
		"8,u,380,0.91,0.002\n8,u,1100,0.96,0.002\n")
	return []string{
		// before the row that it names, which is allowed
		f.write("readings.csv", standardReadingHeader+"one,TILE,8,u,0.0420,\none,TILE,8,u,0.0424,2\n"),
		f.write("instruments.csv", instrumentHeader+"bench,0017,two beams,1.5,4,350 860,0.001\nspare,,,,,,\n"),
		f.write("events.csv", eventHeader+"bench,2026-02-01,lamp,\n"),
		f.write("references.csv", referenceHeader+"M1,44,C/1,2026-01-01,2026-12-31,0.004,m1.csv\nM2,,C/2,2026-01-01,,,\n"),
		f.write("standards.csv", standardHeader+"TILE,T9,C/3,2026-01-01,2026-12-31,R,550,8,u,0.0423,0.0002\n"+
			"TILE,T9,C/3,2026-01-01,2026-12-31,R,550,45,s,0.0920,0.0004\n"),
		f.write("sessions.csv", sessionHeader+"one,bench,2026-03-01,ada,M1,41,22.5,cleaned\ntwo,spare,2026-03-02,,,,,\n"),
	}
}

func TestEnrolTheRegister(t *testing.T) {
	ctx, f := context.Background(), newFolder(t)
	d := f.start()
	files := f.register()
	n, err := d.Enrol(ctx, files)
	require.NoError(t, err)
	assert.Equal(t, Registered{Instruments: 2, Events: 1, References: 2, Standards: 2, Sessions: 2, Checks: 2},
		n.Registered)
	roster, err := d.store.Roster(ctx)
	require.NoError(t, err)
	assert.Equal(t, []float64{350, 860}, roster.Instruments[0].JoinsNM)
	require.Len(t, roster.References[0].Curves, 2)
	assert.Equal(t, study.ReferenceCurve{AngleDeg: 8, Polarisation: "u", NM: []float64{380, 1100},
		Values: []float64{0.91, 0.96}, U: []float64{0.002, 0.002}}, roster.References[0].Curves[0])
	assert.Equal(t, "two", roster.Sessions[1].Session)
	assert.False(t, roster.Sessions[1].HumidityPercent.Valid())
	var last string
	require.NoError(t, d.Log(ctx, func(e study.Entry) error { last = e.Summary; return nil }))
	assert.Contains(t, last, "enrolled 2 instruments, 1 event, 2 certificates of references, 2 certified values of "+
		"check standards, 2 sessions, 2 readings of check standards")

	before := dump(t, d)
	n, err = d.Enrol(ctx, files)
	require.NoError(t, err)
	assert.True(t, n.None(), "the same again adds nothing")
	assert.Equal(t, before, dump(t, d))
	sound, err := d.Verify(ctx, VerifyOptions{})
	require.NoError(t, err)
	assert.True(t, sound.Sound())
}

// A wrong row is refused with its line, and the study does not change.
func TestEnrolTheRegisterRefuses(t *testing.T) {
	for _, c := range []struct{ name, text, fault string }{
		{"instrument with a wide cone", instrumentHeader + "b2,,,40,,,\n",
			"r.csv:2: instrument b2: a cone of half-angle 40 degrees is outside 0 to 15"},
		{"joins that fall", instrumentHeader + "b2,,,,,860 350,0.001\n",
			"r.csv:2: instrument b2: the detector joins do not rise"},
		{"join that is no number", instrumentHeader + "b2,,,,,red,0.001\n",
			`r.csv:2: column join_nm: "red" is not a wavelength`},
		{"join without its step", instrumentHeader + "b2,,,,,860,\n", "r.csv:2: column u_join: join_nm names joins"},
		{"step without a join", instrumentHeader + "b2,,,,,,0.001\n",
			"r.csv:2: column join_nm: u_join is given, and no join"},
		{"instrument that differs", instrumentHeader + "bench,0017,two beams,1.5,5,350 860,0.001\n",
			`r.csv:2: instrument "bench" is known already, and differs: slit_nm was 4, and here it is 5`},
		{"event of no instrument", eventHeader + "b9,2026-03-01,lamp,\n", `r.csv:2: there is no instrument "b9"`},
		{"event of another kind", eventHeader + "bench,2026-03-01,birthday,\n",
			`r.csv:2: column event: "birthday" is not one of lamp, detector, service`},
		{"event without a day", eventHeader + "bench,,lamp,\n", "r.csv:2: column date: the cell is empty"},
		{"day of another form", eventHeader + "bench,1.3.2026,lamp,\n",
			`r.csv:2: column date: "1.3.2026" can be read in two ways: 2026-03-01 or 2026-01-03`},
		{"certificate that expires before", referenceHeader + "M3,,C,2026-05-01,2026-04-30,0.004,\n",
			"r.csv:2: column expires: the certificate expires on 2026-04-30, before it was issued on 2026-05-01"},
		{"certificate without a number", referenceHeader + "M3,,,2026-05-01,,0.004,\n",
			"r.csv:2: column certificate: the cell is empty"},
		{"scale in percent", referenceHeader + "M3,,C,2026-05-01,,4,\n",
			"r.csv:2: column u_scale: 4 is not a standard uncertainty of a scale"},
		{"table that is not there", referenceHeader + "M3,,C,2026-05-01,,0.004,no.csv\n", "no.csv: there is no such file"},
		{"table that differs", referenceHeader + "M1,44,C/1,2026-01-01,2026-12-31,0.004,other.csv\n",
			`r.csv:2: reference "M1" with the certificate issued 2026-01-01 is known already, with other numbers`},
		{"table that falls", referenceHeader + "M3,,C,2026-05-01,,0.004,falls.csv\n",
			"falls.csv:3: column wavelength_nm: 1100 is not larger than in the row before at 8 degrees, u"},
		{"table in percent", referenceHeader + "M3,,C,2026-05-01,,0.004,percent.csv\n",
			"percent.csv:2: column value: 91 is outside 0 to 1"},
		{"table of one row", referenceHeader + "M3,,C,2026-05-01,,0.004,one.csv\n",
			"one.csv: the curve at 8 degrees, u, has one row"},
		{"table without rows", referenceHeader + "M3,,C,2026-05-01,,0.004,none.csv\n",
			"none.csv: the table of the reference has no rows"},
		{"standard of no wavelength", standardHeader + "S,,C,2026-01-01,,R,,8,u,0.04,0.001\n",
			"r.csv:2: column wavelength_nm: R is certified at a wavelength, which is not given"},
		{"solar value at a wavelength", standardHeader + "S,,C,2026-01-01,,solar_R,550,8,u,0.04,0.001\n",
			"r.csv:2: column wavelength_nm: solar_R is weighted over the spectrum"},
		{"standard in percent", standardHeader + "S,,C,2026-01-01,,R,550,8,u,4,0.001\n",
			"r.csv:2: column value: 4 is outside 0 to 1"},
		{"standard without uncertainty", standardHeader + "S,,C,2026-01-01,,R,550,8,u,0.04,0\n",
			"r.csv:2: column u: an uncertainty of 0 is none"},
		{"angle beyond grazing", standardHeader + "S,,C,2026-01-01,,R,550,90,u,0.04,0.001\n",
			"r.csv:2: column angle_deg: 90 degrees is outside 0 to below 90"},
		{"one standard of two quantities", standardHeader + "TILE,T9,C/4,2026-06-01,,R,900,8,u,0.04,0.001\n",
			"r.csv:2: standard TILE is certified for R at 900 nm here, and for R at 550 nm elsewhere"},
		{"session at no instrument", sessionHeader + "three,b9,2026-03-01,,,,,\n",
			`r.csv:2: session three: there is no instrument "b9"`},
		{"session against no reference", sessionHeader + "three,bench,2026-03-01,,M9,,,\n",
			`r.csv:2: session three: there is no reference "M9"`},
		{"session of another day", sessionHeader + "one,bench,2026-03-02,ada,M1,41,22.5,cleaned\n",
			`r.csv:2: session "one" is known already, and differs: date was`},
		{"air that cannot be", sessionHeader + "three,bench,2026-03-01,,,141,,\n",
			"r.csv:2: column humidity_percent: 141 % is not a relative humidity"},
		{"condition that there is not", sessionHeader + "three,bench,2026-03-01,,,,,shiny\n",
			`r.csv:2: column condition: "shiny" is not one of as_found`},
		{"reading in no session", standardReadingHeader + "nine,TILE,8,u,0.042,\n", `r.csv:2: there is no session "nine"`},
		{"reading of no standard", standardReadingHeader + "one,SLATE,8,u,0.042,\n",
			`r.csv:2: there is no check standard "SLATE"`},
		{"reading of what is not certified", standardReadingHeader + "one,TILE,30,u,0.042,\n",
			"r.csv:2: standard TILE has no certified value at 30 degrees, u"},
		{"reading that differs", standardReadingHeader + "one,TILE,8,u,0.0421,1\n",
			`r.csv:2: reading 1 of standard "TILE" at 8 degrees, u, in session "one" is known already, and differs: ` +
				`value was 0.042`},
		{"reading in percent", standardReadingHeader + "one,TILE,8,u,4.2,3\n",
			"r.csv:2: column value: 4.2 is outside -0.1 to 2"},
		{"column that there is not", "instrument,serial,kind,cone_deg,slit_nm,join_nm,u_join,colour\nb,,,,,,,\n",
			`r.csv:1: there is no column "colour" here`},
		{"column missing", "session,instrument,date\nthree,bench,2026-03-01\n", "r.csv:1: the column operator is missing"},
	} {
		t.Run(c.name, func(t *testing.T) {
			f := newFolder(t)
			d := f.start()
			_, err := d.Enrol(context.Background(), f.register())
			require.NoError(t, err)
			const table = "angle_deg,polarisation,wavelength_nm,value,u\n"
			f.write("other.csv", table+"8,u,380,0.91,0.002\n8,u,1100,0.96,0.002\n45,p,380,0.90,0.003\n45,p,1100,0.94,0.003\n")
			f.write("falls.csv", table+"8,u,1100,0.96,0.002\n8,u,1100,0.91,0.002\n")
			f.write("percent.csv", table+"8,u,380,91,0.2\n")
			f.write("one.csv", table+"8,u,380,0.91,0.002\n")
			f.write("none.csv", table)
			before := dump(t, d)
			good := f.write("good.csv", instrumentHeader+"b1,,,,,,\n")
			_, err = d.Enrol(context.Background(), []string{good, f.write("r.csv", c.text)})
			refused(t, err, c.fault)
			assert.Equal(t, before, dump(t, d), "all files of a call, or none")
		})
	}
}

// diary registers a made-up instrument with a standard that was read on n days, one session
// a day from 2026-01-01 on; value says what was read, and extra is more to register.
func (f folder) diary(d *Desk, n int, value func(i int) float64, extra ...string) {
	sessions, readings := sessionHeader, standardReadingHeader
	for i := range n {
		day := fmt.Sprintf("2026-%02d-%02d", 1+i/28, 1+i%28)
		sessions += fmt.Sprintf("s%02d,bench,%s,ada,M1,,,\n", i, day)
		readings += fmt.Sprintf("s%02d,TILE,8,u,%.5f,\n", i, value(i))
	}
	files := []string{f.write("instruments.csv", instrumentHeader+"bench,,,,,,\n"), f.write("sessions.csv", sessions),
		f.write("readings.csv", readings),
		f.write("references.csv", referenceHeader+"M1,,C/1,2025-06-01,,0.004,\n"),
		f.write("standards.csv", standardHeader+"TILE,,C/3,2025-06-01,2026-02-10,solar_R,,8,u,0.0423,0.0004\n")}
	_, err := d.Enrol(context.Background(), append(files, extra...))
	require.NoError(f.tb, err)
}

func zigzag(i int) float64 { return 0.0422 + 0.0001*float64(1-2*(i%2)) }

// A diary of 40 sessions is judged by the certificate at first, then by the chart. One value is too high,
// the certificate expires, and after a change of the lamp the chart restarts.
func TestCheck(t *testing.T) {
	ctx, f := context.Background(), newFolder(t)
	d := f.start()
	f.diary(d, 46, func(i int) float64 {
		if i == 24 {
			return 0.0431 // above 0.0422 + 3.71·√(1 + 1/20)·0.0002·√(1/1.128² + 1/12) = 0.042909 (worked by hand)
		}
		return zigzag(i)
	}, f.write("events.csv", eventHeader+"bench,2026-01-27,lamp,the old one flickered\n"))
	all, err := d.Check(ctx, CheckOptions{})
	require.NoError(t, err)
	require.Len(t, all, 46)

	require.Len(t, all[3].Checks, 1)
	c := all[3].Checks[0]
	assert.Equal(t, guard.ByCertificate, c.Rule)
	assert.Equal(t, "C/3", c.Certificate)
	assert.Equal(t, "solar_R", c.Quantity)
	assert.InDelta(t, 0.0415, float64(c.Lower), 1e-12)
	assert.True(t, all[3].Trust)
	assert.Equal(t, "all check standards in control, provisionally: a chart needs 20 sessions", all[3].Why)
	assert.Equal(t, "all check standards in control", all[20].Why)
	assert.Equal(t, guard.ByChart, all[20].Checks[0].Rule)
	assert.InDelta(t, 0.042909, float64(all[20].Checks[0].Upper), 5e-7)

	assert.False(t, all[24].Trust)
	assert.Equal(t, guard.OutOfLimits, all[24].Checks[0].Verdict)
	assert.Contains(t, all[24].Why, "TILE at 8 degrees, u: 0.0431 is above the upper limit 0.042909 of the chart")

	// The lamp of 27 January, a day with a session, counts as before it.
	assert.Equal(t, guard.ByChart, all[25].Checks[0].Rule)
	assert.Equal(t, guard.ByCertificate, all[26].Checks[0].Rule)
	assert.Equal(t, []study.Event{{Instrument: "bench", Date: "2026-01-27", Event: "lamp",
		Note: "the old one flickered"}}, all[26].Changes)
	assert.Empty(t, all[27].Changes)

	// 10 February is the 38th day, the last of the certificate.
	assert.Equal(t, guard.InControl, all[37].Checks[0].Verdict)
	assert.Equal(t, guard.ExpiredCertificate, all[38].Checks[0].Verdict)
	assert.Equal(t, "TILE at 8 degrees, u: its certificate C/3 expired on 2026-02-10", all[38].Why)

	one, err := d.Check(ctx, CheckOptions{Session: "s24"})
	require.NoError(t, err)
	assert.Equal(t, fmt.Sprintf("%+v", all[24:25]), fmt.Sprintf("%+v", one), "a session is as it is, alone or not")
	_, err = d.Check(ctx, CheckOptions{Session: "s99"})
	refused(t, err, `there is no session "s99"`)
	_, err = d.Check(ctx, CheckOptions{Standard: "SLATE"})
	refused(t, err, `there is no check standard "SLATE"`)
}

// Each instrument has its own charts. Another reference, and another certificate of it, restart them.
// Replicates are averaged. Sessions without a reading and unknown sessions are not trusted.
func TestCheckApart(t *testing.T) {
	ctx, f := context.Background(), newFolder(t)
	d := f.start()
	f.diary(d, 22, zigzag,
		f.write("more-references.csv", referenceHeader+"M1,,C/2,2026-01-22,2026-01-31,0.004,\nM2,,C/9,2026-05-01,,0.004,\n"),
		f.write("more-instruments.csv", instrumentHeader+"other,,,,,,\n"),
		f.write("more-standards.csv", standardHeader+"SLATE,,C/5,2026-01-20,,T,550,8,u,0.5,0.01\n"),
		f.write("more-sessions.csv", sessionHeader+"t1,other,2026-01-22,,,,,\nt2,other,2026-01-23,,,,,\n"+
			"t3,other,2026-01-24,,M2,,,\nt4,bench,2026-02-03,,M1,,,\nt5,other,2026-01-10,,,,,\n"),
		f.write("more-readings.csv", standardReadingHeader+"t1,TILE,8,u,0.0420,1\nt1,TILE,8,u,0.0425,2\n"+
			"t1,SLATE,8,u,0.6,\nt3,TILE,8,u,0.0422,\nt4,TILE,8,u,0.0422,\nt5,SLATE,8,u,0.5,\n"))
	all, err := d.Check(ctx, CheckOptions{})
	require.NoError(t, err)
	by := map[string]SessionCheck{}
	for _, s := range all {
		by[s.Session.Session] = s
	}
	assert.Equal(t, guard.ByChart, by["s20"].Checks[0].Rule)
	assert.Equal(t, guard.ByCertificate, by["s21"].Checks[0].Rule, "the first under the new certificate of the reference")
	assert.True(t, by["s21"].Trust)

	require.Len(t, by["t1"].Checks, 2)
	tile := by["t1"].Checks[1]
	assert.Equal(t, "TILE", tile.Standard)
	assert.Equal(t, 2, tile.Readings)
	assert.InDelta(t, 0.04225, tile.Value, 1e-15)
	assert.Equal(t, guard.ByCertificate, tile.Rule, "a chart of the other instrument says nothing of this one")
	assert.Equal(t, "SLATE at 8 degrees, u: 0.6 is above the upper limit 0.52 of the certificate", by["t1"].Why)

	assert.Empty(t, by["t2"].Checks)
	assert.Equal(t, "no check standard was read", by["t2"].Why)
	assert.Equal(t, "reference M2: no certificate was issued by then", by["t3"].Why)
	assert.Equal(t, guard.InControl, by["t3"].Checks[0].Verdict)
	assert.Equal(t, "reference M1: its certificate C/2 expired on 2026-01-31", by["t4"].Why)
	assert.Equal(t, guard.NoCertificate, by["t5"].Checks[0].Verdict)
	assert.Equal(t, "SLATE at 8 degrees, u: no certificate was issued by then", by["t5"].Why)

	only, err := d.Check(ctx, CheckOptions{Session: "t1", Standard: "TILE"})
	require.NoError(t, err)
	require.Len(t, only, 1)
	assert.Len(t, only[0].Checks, 1)
	assert.False(t, only[0].Trust, "the verdict on a session is of all its standards")

	rows := sessionMapHeader + f.sessionExport("E1", 0, 118, "nobody's", 1, 0, 1)
	_, err = d.Intake(ctx, f.write("map.csv", rows), nil, IntakeOptions{Workers: 1})
	require.NoError(t, err)
	all, err = d.Check(ctx, CheckOptions{})
	require.NoError(t, err)
	last := all[len(all)-1]
	assert.Equal(t, "nobody's", last.Session.Session)
	assert.False(t, last.Registered || last.Trust)
	assert.Equal(t, "readings name it, and it is not enrolled", last.Why)
}

// A study in which nothing is enrolled has nothing to check.
func TestCheckOfNothing(t *testing.T) {
	f := newFolder(t)
	all, err := f.start().Check(context.Background(), CheckOptions{})
	require.NoError(t, err)
	assert.Empty(t, all)
}

// What is enrolled of a session changes the fits of its units only, and makes them stale; verify
// reproduces them. A certified reference gives the scale a smaller uncertainty than the default.
func TestTheRegisterIsUsed(t *testing.T) {
	ctx, f := context.Background(), newFolder(t)
	d := f.start()
	rows := sessionMapHeader + f.sessionExport("E1", 0, 118, "one", 1, 0, 1) +
		f.sessionExport("E1", 1, 112, "one", 1, 0, 2) +
		f.sessionExport("C1", 0, 118, "two", 1, 0, 3) + f.sessionExport("C1", 1, 118, "", 1, 0, 4)
	// A unit with readings of two sessions: the register of neither is used.
	mixed := strings.Replace(f.sessionExport("B1", 0, 0, "one", 1, 0, 5), "8,u,R,percent,one", "8,u,R,percent,two", 1)
	in, err := d.Intake(ctx, f.write("map.csv", rows+mixed), nil, IntakeOptions{Workers: 1})
	require.NoError(t, err)
	require.Empty(t, in.Refused)
	first, err := d.Fit(ctx, FitOptions{Workers: 2})
	require.NoError(t, err)
	require.Equal(t, 5, first.Fits)
	before := results(t, d)

	_, err = d.Enrol(ctx, f.register())
	require.NoError(t, err)
	again, err := d.Fit(ctx, FitOptions{Workers: 2})
	require.NoError(t, err)
	assert.Equal(t, 2, again.Fits, "those of session one; of two only the day is known")
	assert.Equal(t, 3, again.Current)
	for i, r := range results(t, d) {
		what := fmt.Sprintf("%s, pull %v", r.Coupon, r.Pull)
		require.Equal(t, before[i].Coupon, r.Coupon)
		if r.Coupon != "E1" {
			assert.Equal(t, printed(before[i]), printed(r), what)
			continue
		}
		// The curves hardly determine the scale, so that its posterior is its prior: 0.004 by the certificate.
		assert.Less(t, float64(r.Scale.U), 0.004, what)
		assert.Greater(t, float64(before[i].Scale.U), float64(r.Scale.U), what)
		assert.InDelta(t, 118-6*float64(r.Pull), float64(r.Thickness.Value), 3*float64(r.Thickness.U), what)
	}
	sound, err := d.Verify(ctx, VerifyOptions{})
	require.NoError(t, err)
	assert.True(t, sound.Sound(), "%v", sound.Differing)
	assert.Equal(t, 5, sound.Reproduced)

	// A joint fit of the pulls uses it too.
	require.NoError(t, d.Results(ctx, ResultsOptions{Joint: true}, func(r *study.Result) error {
		if r.Coupon == "E1" {
			assert.Less(t, float64(r.Scale.U), 0.004)
			assert.False(t, math.IsNaN(float64(r.Thickness.Value)))
		}
		return nil
	}))

	// Another certificate that was valid on the day makes them stale again.
	_, err = d.Enrol(ctx, []string{f.write("new.csv", referenceHeader+"M1,44,C/8,2026-02-15,2027-01-31,0.002,\n")})
	require.NoError(t, err)
	third, err := d.Fit(ctx, FitOptions{Workers: 1})
	require.NoError(t, err)
	assert.Equal(t, 2, third.Fits)
}

// In a study that corrects by sessions, a certified reference supports solar values without a blank.
func TestTheRegisterSupportsASession(t *testing.T) {
	ctx, f := context.Background(), newFolder(t)
	d, err := New(ctx, filepath.Join(f.path, "made.wane"),
		study.Settings{Correction: study.RouteSession, Mixing: "bruggeman"}, tester())
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, d.Close()) })
	_, err = d.Enrol(ctx, append(f.rosters(), f.register()...))
	require.NoError(t, err)
	rows := sessionMapHeader + f.sessionExport("E1", 0, 118, "one", 1, 0, 1) +
		f.sessionExport("C1", 0, 118, "one", 1, 0, 2)
	_, err = d.Intake(ctx, f.write("map.csv", rows), nil, IntakeOptions{Workers: 1})
	require.NoError(t, err)
	done, err := d.Fit(ctx, FitOptions{Workers: 1})
	require.NoError(t, err)
	require.Len(t, done.Sessions, 1)
	assert.Equal(t, "solar values", done.Sessions[0].Results[0].Of)
	assert.True(t, done.Sessions[0].Results[0].OK, done.Sessions[0].Results[0].Why)
}
