package desk

import (
	"context"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/bench"
	"wane/study/store"
)

// killedVerb is one atomic unit of work.
type killedVerb struct {
	verb string
	do   func(ctx context.Context, d *Desk, f folder, lot string) error
}

// killedVerbs are what the child of TestKilledAtAnyMoment does with each lot when it is fitted: every other verb that
// writes. Each is one atomic unit.
var killedVerbs = []killedVerb{
	{"measure", func(ctx context.Context, d *Desk, f folder, lot string) error {
		_, err := d.Measure(ctx, []string{f.write(lot+"-gauges.csv",
			measuredHeader+lot+"-0,0,,mass,41.25,,g,balance,2026-01-02,,,\n"+lot+"-1,0,,mass,41.5,,g,balance,2026-01-02,,,\n")})
		return err
	}},
	{"review", func(ctx context.Context, d *Desk, f folder, lot string) error {
		of := Everything()
		of.Coupons, of.Pulls = []string{lot + "-0"}, study.Spans{{From: 1, To: 1}}
		_, err := d.Review(ctx, of, study.Aside, "made up: a finger mark")
		return err
	}},
	{"profile", func(ctx context.Context, d *Desk, f folder, lot string) error {
		_, err := d.AddProfile(ctx, f.write(lot+"-profile.yaml", "profile: answers\nstated:\n  unit: percent\n# "+lot+"\n"))
		return err
	}},
	{"protocol", func(ctx context.Context, d *Desk, f folder, lot string) error {
		_, err := d.AddProtocols(ctx, []string{f.write(lot+"-rack.yaml", ownRack+"# "+lot+"\n")})
		return err
	}},
	{"amend", func(ctx context.Context, d *Desk, f folder, lot string) error {
		_, err := d.Amend(ctx, []string{f.write(lot+"-amend.csv",
			pullHeader+"x"+lot+",0,0,2026-01-02\nx"+lot+",1,90,2026-04-02\n")}, "made up: a day late", false)
		return err
	}},
	{"withdraw", func(ctx context.Context, d *Desk, f folder, lot string) error {
		_, err := d.Withdraw(ctx, []string{"coupon:" + lot + "-2"}, "made up: never cut", false)
		return err
	}},
	{"move", func(ctx context.Context, d *Desk, f folder, lot string) error {
		of := MoveSelection{Selection: Everything()}
		of.Coupons, of.Pulls = []string{lot + "-1"}, study.Spans{{From: 1, To: 1}}
		_, err := d.Move(ctx, of, MoveTo{Spot: "2", Pull: AllPulls, AngleDeg: study.Null()}, "made up: it was spot 2", false)
		return err
	}},
	{"replace", func(ctx context.Context, d *Desk, f folder, lot string) error {
		file := lot + "-0.csv"
		m := f.write(lot+"-corrected.csv", mapHeader+strings.ReplaceAll(rows(file, lot+"-0", 0), ",0,1,", ",0,3,"))
		_, err := d.Replace(ctx, m, nil, IntakeOptions{Workers: 1}, "made up: it was spot 3", false)
		return err
	}},
	{"exchange", func(ctx context.Context, d *Desk, _ folder, lot string) error {
		of := MoveSelection{Selection: Everything()}
		of.Pulls = study.Spans{{From: 0, To: 0}}
		to := MoveTo{Pull: AllPulls, AngleDeg: study.Null(), Exchange: []string{lot + "-0", lot + "-1"}}
		_, err := d.Move(ctx, of, to, "made up: their holders were exchanged", false)
		return err
	}},
	{"life", func(ctx context.Context, d *Desk, f folder, lot string) error {
		_, err := d.Enrol(ctx, []string{
			f.write(lot+"-events.csv", "coupon,event,pull,note\n"+lot+"-0,clean,1,\n"+lot+"-1,broken,1,fell\n"),
			f.write(lot+"-doses.csv", "exposure,date,value,unit\nx"+lot+",2026-02-01,30,days\n")})
		return err
	}},
	{"register", func(ctx context.Context, d *Desk, f folder, lot string) error {
		_, err := d.Enrol(ctx, []string{
			f.write(lot+"-instruments.csv", instrumentHeader+"i"+lot+",1,two beams,,,,\n"),
			f.write(lot+"-sessions.csv", sessionHeader+"s"+lot+",i"+lot+",2026-01-02,ada,,,,\n")})
		return err
	}},
	{"sheet", func(ctx context.Context, d *Desk, f folder, lot string) error {
		_, err := d.DrawSheet(ctx, SheetOptions{Wanted: bench.Wanted{Exposure: "x" + lot, Pull: 1}}, 7)
		return err
	}},
	{"rule", func(ctx context.Context, d *Desk, f folder, lot string) error {
		_, err := d.AddRule(ctx, f.write(lot+"-rule.yaml", strings.NewReplacer("haze-90", "of-"+lot, "roof", "x"+lot,
			"haze", "mass", "by: coating", "by: lot", "unit: pp", "unit: g").Replace(hazeRule)))
		return err
	}},
	{"judge", func(ctx context.Context, d *Desk, f folder, lot string) error {
		_, err := d.JudgeRules(ctx, []string{"of-" + lot})
		return err
	}},
	{"merge", func(ctx context.Context, d *Desk, f folder, lot string) error {
		path := filepath.Join(f.path, lot+"-other.wane")
		other, err := New(ctx, path, study.Settings{Correction: study.RouteControls, Mixing: "bruggeman"}, tester())
		if err != nil {
			return err
		}
		_, err = other.Enrol(ctx, []string{
			f.write(lot+"-m-exposures.csv", exposureHeader+"m"+lot+",rack,nowhere,days,2026-01-01\n"),
			f.write(lot+"-m-coupons.csv", couponHeader+"merged-"+lot+",exposed,m,K,1,soda-lime,,matched,m"+lot+"\n")})
		if closed := other.Close(); err == nil {
			err = closed
		}
		if err == nil {
			_, err = d.EnrolFrom(ctx, path)
		}
		return err
	}},
}

// wholeLots is how many rows each verb makes of a lot.
var wholeLots = map[string]int{"measure": 2, "review": lotCurves, "amend": 2, "withdraw": 1, "move": lotCurves,
	"replace": lotCurves, "exchange": lotCurves, "life": 3, "register": 2, "merge": 2}

// lotCounts counts the rows that verbs have made, by verb and lot.
type lotCounts map[string]map[string]int

func (c lotCounts) add(verb, lot string) {
	if c[verb] == nil {
		c[verb] = map[string]int{}
	}
	c[verb][lot]++
}

// verbsDone is what the verbs have done by now.
type verbsDone struct {
	fitted map[string]map[study.Unit]bool // by lot: units that have or had a fit
	done   map[string]bool                // by verb and lot: it is there, as a whole
}

// verbsThere looks what the verbs have done. What is half there fails the test.
func verbsThere(t *testing.T, d *Desk) verbsDone {
	t.Helper()
	out := verbsDone{map[string]map[study.Unit]bool{}, map[string]bool{}}
	counts := lotCounts{}
	require.NoError(t, d.store.View(t.Context(), func(v *store.View) error {
		roster, err := v.Roster()
		require.NoError(t, err)
		counts.addRoster(roster)
		counts.addReadings(t, v)
		for lot, n := range counts["coupon"] {
			if lotCoupons-n == 1 {
				counts.add("withdraw", lot)
			}
			sheet, err := v.Sheet("x"+lot, 1)
			require.NoError(t, err)
			out.done["sheet "+lot] = sheet != nil
		}
		for _, c := range roster.Coupons {
			if !strings.HasPrefix(c.Coupon, "merged-") {
				out.addFits(t, v, c.Coupon)
			}
		}
		return out.addTexts(v)
	}))
	for verb, whole := range wholeLots {
		for lot, n := range counts[verb] {
			if assert.Equal(t, whole, n, "%s of lot %s is half there", verb, lot) {
				out.done[verb+" "+lot] = true
			}
		}
	}
	return out
}

func (c lotCounts) addRoster(roster *study.Roster) {
	for _, p := range roster.Pulls {
		if strings.HasSuffix(p.Date, "-02") {
			c.add("amend", strings.TrimPrefix(p.Exposure, "x"))
		}
	}
	for _, e := range roster.Exposures {
		if lot, ok := strings.CutPrefix(e.Exposure, "m"); ok {
			c.add("merge", lot)
		}
	}
	for i := range roster.Coupons {
		if lot, ok := strings.CutPrefix(roster.Coupons[i].Coupon, "merged-"); ok {
			c.add("merge", lot)
		} else {
			c.add("coupon", lotOf(roster.Coupons[i].Coupon))
		}
	}
	for i := range roster.Lives {
		c.add("life", lotOf(roster.Lives[i].Coupon))
	}
	for _, r := range roster.Doses {
		c.add("life", strings.TrimPrefix(r.Exposure, "x"))
	}
	for i := range roster.Instruments {
		c.add("register", strings.TrimPrefix(roster.Instruments[i].Instrument, "i"))
	}
	for i := range roster.Sessions {
		c.add("register", strings.TrimPrefix(roster.Sessions[i].Session, "s"))
	}
}

func (c lotCounts) addReadings(t *testing.T, v *store.View) {
	judged, err := v.Standings()
	require.NoError(t, err)
	require.NoError(t, v.EachHeader(func(m store.ReadingHeader) error {
		switch m.Spot {
		case "2":
			c.add("move", lotOf(m.Coupon))
		case "3":
			c.add("replace", lotOf(m.Coupon))
			if strings.HasSuffix(m.Coupon, "-1") {
				c.add("exchange", lotOf(m.Coupon))
			}
		}
		if judged[m.Number].Standing == study.Aside {
			c.add("review", lotOf(m.Coupon))
		}
		return nil
	}))
	require.NoError(t, v.Measurements(func(m study.Measurement) error {
		c.add("measure", lotOf(m.Coupon))
		return nil
	}))
}

func (done *verbsDone) addFits(t *testing.T, v *store.View, coupon string) {
	lot := lotOf(coupon)
	require.NoError(t, v.AllFitsOf(coupon, func(k store.KeptFit) error {
		if done.fitted[lot] == nil {
			done.fitted[lot] = map[study.Unit]bool{}
		}
		done.fitted[lot][k.Row.Unit] = true
		return nil
	}))
}

func (done *verbsDone) addTexts(v *store.View) error {
	rules, err := v.Rules()
	if err != nil {
		return err
	}
	lots := map[int64]string{}
	for _, k := range rules {
		lots[k.Number] = strings.TrimPrefix(k.Row.Rule, "of-")
		done.done["rule "+lots[k.Number]] = true
	}
	if err := v.Verdicts(func(rule int64, _ store.Kept[study.IssuedVerdict]) error {
		done.done["judge "+lots[rule]] = true
		return nil
	}); err != nil {
		return err
	}
	protocols, err := v.Protocols()
	if err != nil {
		return err
	}
	for _, p := range protocols {
		done.done["protocol "+lastComment(p.Text)] = true
	}
	profiles, err := v.Profiles()
	for _, p := range profiles {
		done.done["profile "+lastComment(p.Text)] = true
	}
	return err
}

// lotOf is the lot of a coupon.
func lotOf(coupon string) string { return coupon[:strings.LastIndex(coupon, "-")] }

// lastComment is what stands after the last # of a text.
func lastComment(text string) string { return strings.TrimSpace(text[strings.LastIndex(text, "#")+1:]) }
