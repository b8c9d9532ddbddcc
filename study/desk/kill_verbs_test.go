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
	{"sheet", func(ctx context.Context, d *Desk, f folder, lot string) error {
		_, err := d.DrawSheet(ctx, SheetOptions{Wanted: bench.Wanted{Exposure: "x" + lot, Pull: 1}}, 7)
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

// verbsDone is what the verbs have done by now.
type verbsDone struct {
	fitted map[string]map[study.Unit]bool // by lot: units that have or had a fit
	done   map[string]bool                // by verb and lot: it is there, as a whole
}

// verbsThere looks what the verbs have done. What is half there fails the test.
func verbsThere(t *testing.T, d *Desk) verbsDone {
	t.Helper()
	out := verbsDone{map[string]map[study.Unit]bool{}, map[string]bool{}}
	whole := func(verb, lot string, parts, want int) {
		if assert.Contains(t, []int{0, want}, parts, "%s of lot %s is half there", verb, lot) && parts == want {
			out.done[verb+" "+lot] = true
		}
	}
	require.NoError(t, d.store.View(t.Context(), func(v *store.View) error {
		roster, err := v.Roster()
		require.NoError(t, err)
		judged, err := v.Standings()
		require.NoError(t, err)
		moved, aside, masses := map[string]int{}, map[string]int{}, map[string]int{}
		require.NoError(t, v.EachHeader(func(m store.ReadingHeader) error {
			if m.Spot == "2" {
				moved[lotOf(m.Coupon)]++
			}
			if judged[m.Number].Standing == study.Aside {
				aside[lotOf(m.Coupon)]++
			}
			return nil
		}))
		require.NoError(t, v.Measurements(func(m study.Measurement) error {
			masses[lotOf(m.Coupon)]++
			return nil
		}))
		coupons, amended, merged := map[string]int{}, map[string]int{}, map[string]int{}
		for _, p := range roster.Pulls {
			if strings.HasSuffix(p.Date, "-02") {
				amended[strings.TrimPrefix(p.Exposure, "x")]++
			}
		}
		for _, e := range roster.Exposures {
			if lot, ok := strings.CutPrefix(e.Exposure, "m"); ok {
				merged[lot]++
			}
		}
		for _, c := range roster.Coupons {
			if lot, ok := strings.CutPrefix(c.Coupon, "merged-"); ok {
				merged[lot]++
				continue
			}
			coupons[lotOf(c.Coupon)]++
			require.NoError(t, v.AllFitsOf(c.Coupon, func(k store.KeptFit) error {
				lot := lotOf(c.Coupon)
				if out.fitted[lot] == nil {
					out.fitted[lot] = map[study.Unit]bool{}
				}
				out.fitted[lot][k.Row.Unit] = true
				return nil
			}))
		}
		for lot, n := range coupons {
			whole("measure", lot, masses[lot], 2)
			whole("review", lot, aside[lot], lotCurves)
			whole("amend", lot, amended[lot], 2)
			whole("move", lot, moved[lot], lotCurves)
			whole("merge", lot, merged[lot], 2)
			whole("withdraw", lot, lotCoupons-n, 1)
			sheet, err := v.Sheet("x"+lot, 1)
			require.NoError(t, err)
			out.done["sheet "+lot] = sheet != nil
		}
		protocols, err := v.Protocols()
		require.NoError(t, err)
		for _, p := range protocols {
			out.done["protocol "+lastComment(p.Text)] = true
		}
		profiles, err := v.Profiles()
		require.NoError(t, err)
		for _, p := range profiles {
			out.done["profile "+lastComment(p.Text)] = true
		}
		return nil
	}))
	return out
}

// lotOf is the lot of a coupon.
func lotOf(coupon string) string { return coupon[:strings.LastIndex(coupon, "-")] }

// lastComment is what stands after the last # of a text.
func lastComment(text string) string { return strings.TrimSpace(text[strings.LastIndex(text, "#")+1:]) }
