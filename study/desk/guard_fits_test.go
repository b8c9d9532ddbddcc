package desk

import (
	"context"
	"fmt"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
)

// exchangedStudy is a study of two suppliers with two coupons each, a control and a blank. Each coupon has
// two spots. The solar values of the suppliers differ by some 0.2 pp, and their coupons exchange names at
// pull 1. It returns the map rows of the pulls.
func exchangedStudy(t *testing.T, route study.Route) (f folder, d *Desk, rows [3]string) {
	ctx, f := context.Background(), newFolder(t)
	settings := study.Settings{Correction: route, Mixing: "bruggeman"}
	d, err := New(ctx, filepath.Join(f.path, "made.wane"), settings, tester())
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, d.Close()) })
	coupons := couponHeader + "C1,control,x,KX,1,soda-lime,3.2,matched,roof\nB1,blank,,,,soda-lime,3.2,matched,roof\n"
	films := map[string]float64{"C1": 118, "X1": 118, "X2": 119, "Y1": 106, "Y2": 107}
	for _, c := range []string{"X1", "X2", "Y1", "Y2"} {
		coupons += fmt.Sprintf("%s,exposed,%c,K%c,1,soda-lime,3.2,matched,roof\n", c, c[0], c[0])
	}
	_, err = d.Enrol(ctx, []string{
		f.write("coupons.csv", coupons),
		f.write("exposures.csv", exposureHeader+"roof,rack,nowhere,days,2026-01-01\n"),
		f.write("pulls.csv", pullHeader+"roof,0,0,2026-01-01\nroof,1,90,2026-02-01\nroof,2,180,2026-04-01\n")})
	require.NoError(t, err)
	lies := map[string]string{"X1": "Y1", "Y1": "X1", "X2": "Y2", "Y2": "X2"} // in its place at pull 1
	for pull := range rows {
		session := fmt.Sprintf("s%d", pull)
		for _, c := range sortedKeys(films) {
			really := c
			if other, ok := lies[c]; ok && pull == 1 {
				really = other
			}
			for spot := range 2 {
				thickness := films[really] + 0.3*float64(spot-pull)
				rows[pull] += f.scene(c, pull, fmt.Sprint(spot+1), session, thickness, 0, nil)
			}
		}
		rows[pull] += f.scene("B1", pull, "1", session, 0, 1, nil)
	}
	return f, d, rows
}

// If all coupons of two suppliers exchanged names in one session, the fit holds that session, and its fits
// are superseded. Earlier and later readings are not held. A release by a person is final, and another fit
// changes nothing.
func TestFilmComparisonHolds(t *testing.T) {
	ctx := context.Background()
	for _, route := range []study.Route{study.RouteControls, study.RouteSession} {
		t.Run(string(route), func(t *testing.T) {
			f, d, rows := exchangedStudy(t, route)
			in := f.takeIn(d, "map.csv", sessionMapHeader+strings.Join(rows[:], ""))
			require.Empty(t, in.Held, "no other guard sees it")
			done := f.fit(d)
			require.Len(t, done.Guards.Held, 4*2*4, "four coupons of two spots at four angles")
			exchanged := func(r *study.Result) bool { return r.Pull == 1 && (r.Coupon[0] == 'X' || r.Coupon[0] == 'Y') }
			for _, r := range results(t, d) {
				assert.Equal(t, !exchanged(&r), r.SolarT.Value.Valid(), "%s, pull %v", r.Coupon, r.Pull)
				if exchanged(&r) {
					assert.Subset(t, r.Flags, []string{study.FlagNotEvaluated, study.FlagHeld})
				}
			}
			held, words := heldIn(t, d)
			assert.Equal(t, map[string]bool{"exchanged": true}, words)
			assert.Contains(t, held[0], "exchanged: the film of X1 at pull 1 looks like those of KY (Y); perhaps "+
				"the coupons were exchanged: compare the labels and measure again. Optical thickness ")
			traced, err := d.Trace(ctx, "X1", AllPulls, "1")
			require.NoError(t, err)
			kept := 0
			for _, fit := range traced.Units[1].Fits {
				if fit.SupersededBy > 0 && fit.Fit.Result.SolarT.Value.Valid() {
					kept++
				}
			}
			assert.Equal(t, 1, kept, "the fit that was superseded is kept")

			before := lastEntry(t, d).Number
			again := f.fit(d)
			assert.Zero(t, again.Fits)
			assert.Empty(t, again.Guards.Held)
			assert.Equal(t, before, lastEntry(t, d).Number)

			of := Everything()
			of.Filter = atPull("X1", 1)
			_, err = d.Review(ctx, of, study.Counted, "the label was checked")
			require.NoError(t, err)
			for range 2 {
				assert.Empty(t, f.fit(d).Guards.Held, "what a person has released is not held again")
			}
			for _, r := range results(t, d) {
				assert.Equal(t, !exchanged(&r) || r.Coupon == "X1", r.SolarT.Value.Valid(), "%s, pull %v", r.Coupon, r.Pull)
			}
			v, err := d.Verify(ctx, VerifyOptions{})
			require.NoError(t, err)
			assert.True(t, v.Sound(), "%+v", v)
			assert.Zero(t, v.Due.Stale)
		})
	}
}

// A reading that stage 4 of the guards holds is no history of later pulls. Here all readings of pull 2 are
// held for a certificate, so that no change of a coating is known; the coupons that have their right names
// again at pull 2 are not held as exchanged. This holds in any order of entry.
func TestReadingsHeldByTheirFilmsAreNoHistory(t *testing.T) {
	var first []string
	for _, order := range []string{"r012f", "012frf", "01frf2f", "2rf1f0f"} {
		t.Run(order, func(t *testing.T) {
			f, d, rows := exchangedStudy(t, study.RouteControls)
			register := []string{
				f.write("in.csv", "instrument,serial,kind,cone_deg,slit_nm,join_nm,u_join\nplain,1,two beams,,,,\n"),
				f.write("ref.csv", "reference,serial,certificate,issued,expires,u_scale,values\n"+
					"M1,1,C1,2025-01-01,2026-03-01,0.004,\n"),
				f.write("ses.csv", "session,instrument,date,operator,reference,humidity_percent,temperature_c,condition\n"+
					"s2,plain,2026-04-01,ada,M1,40,22,\n"),
			}
			for i, step := range order {
				switch step {
				case 'r':
					_, err := d.Enrol(context.Background(), register)
					require.NoError(t, err)
				case 'f':
					f.fit(d)
				default:
					f.takeIn(d, fmt.Sprintf("map%d.csv", i), sessionMapHeader+rows[step-'0'])
				}
			}
			held, words := heldIn(t, d)
			assert.Equal(t, map[string]bool{"exchanged": true, "expired": true}, words)
			if first == nil {
				first = held
			}
			assert.Equal(t, first, held)
			before := lastEntry(t, d).Number
			assert.Empty(t, f.fit(d).Guards.Held)
			assert.Equal(t, before, lastEntry(t, d).Number, "all is settled")
		})
	}
}

// Two coatings become thinner, and the thicker one reaches the thickness that the other one had at the
// last pull. They are not held.
func TestFilmComparisonIgnoresAgeing(t *testing.T) {
	f := newFolder(t)
	coupons, rows := couponHeader, sessionMapHeader
	films := map[string]float64{"X1": 118, "X2": 119, "Y1": 106, "Y2": 107}
	for _, c := range sortedKeys(films) {
		coupons += fmt.Sprintf("%s,exposed,%c,K%c,1,soda-lime,3.2,matched,roof\n", c, c[0], c[0])
		for pull := range 2 {
			lost := map[byte]float64{'X': 12, 'Y': 1}[c[0]] * float64(pull) // X thins to what Y was
			for spot := range 2 {
				rows += f.scene(c, pull, fmt.Sprint(spot+1), fmt.Sprintf("s%d", pull), films[c]-lost+0.3*float64(spot), 0, nil)
			}
		}
	}
	f.write("coupons.csv", coupons)
	f.write("exposures.csv", exposureHeader+"roof,rack,nowhere,days,2026-01-01\n")
	f.write("pulls.csv", pullHeader+"roof,0,0,2026-01-01\nroof,1,90,2026-02-01\n")
	d := f.startFrom("coupons.csv", "exposures.csv", "pulls.csv")
	f.takeIn(d, "map.csv", rows)
	assert.Empty(t, f.fit(d).Guards.Held)
}
