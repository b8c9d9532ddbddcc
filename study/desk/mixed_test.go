package desk

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
)

// halves are the map rows of an export of [folder.sessionExport] of which the readings above 30 degrees,
// the third and the fourth, are in another session.
func halves(rows, from, to string) string {
	lines := strings.SplitAfter(rows, "\n")
	for i := 2; i < 4; i++ {
		lines[i] = strings.TrimSuffix(lines[i], from+"\n") + to + "\n"
	}
	return strings.Join(lines, "")
}

// A pull with readings of two sessions is not in the joint fit of its spot: its row is that of its own fit
// and has a flag. The other pulls are fitted together.
func TestJointLeavesMixedSessionsOut(t *testing.T) {
	for _, pulls := range []int{2, 3} {
		f := newFolder(t)
		d := f.start()
		f.enrol(d, "later.csv", pullHeader+"roof,2,180,2026-07-01\n")
		rows := sessionMapHeader + f.sessionExport("E1", 0, 118, "s0", 1.01, 0.3, 1) +
			halves(f.sessionExport("E1", 1, 112, "s0", 0.99, -0.3, 2), "s0", "s1")
		if pulls == 3 {
			rows += f.sessionExport("E1", 2, 110, "s2", 1, 0, 3)
		}
		f.takeIn(d, "map.csv", rows)
		f.fit(d)
		own, joint := results(t, d), jointResults(t, d)
		require.Len(t, joint, pulls)
		for i := range joint {
			single := i == 1 || pulls == 2 // a single pull has none to be fitted with
			assert.Equal(t, i == 1, slices.Contains(own[i].Flags, study.FlagSessions), own[i].Flags)
			assert.Equal(t, single, slices.Contains(joint[i].Flags, study.FlagNotJoint), "pull %d: %v", i, joint[i].Flags)
			assert.Equal(t, single, own[i].SolarT == joint[i].SolarT, "pull %d", i)
			assert.Equal(t, i == 1, slices.Contains(joint[i].Flags, study.FlagSessions))
		}
	}
}

// A row that is not evaluated names the session of its readings, and has the flags of that session. It is
// not evaluated for its geometry, because no reading counts, or because of a review. If there are several
// sessions, it has a flag.
func TestNotEvaluatedRowsKnowTheirSession(t *testing.T) {
	f := newFolder(t)
	d := f.start()
	f.registered(d)
	f.enrol(d, "damp.csv", sessionHeader+"damp,bench-1,2026-04-02,,,75,,\n")
	_, err := d.Enrol(context.Background(), []string{f.write("more.csv",
		couponHeader+"E2,exposed,m,K,1,soda-lime,3.2,matched,roof\nE3,exposed,m,K,1,soda-lime,3.2,matched,roof\n")})
	require.NoError(t, err)
	rows := geometryMapHeader + geometryRows(f.sessionExport("E1", 0, 118, "s0", 1, 0, 1), "")
	rows += geometryRows(f.sessionExport("E1", 1, 112, "damp", 1, 0, 2), "total_included")
	mixed := strings.Split(geometryRows(f.sessionExport("E2", 1, 112, "damp", 1, 0, 3), "total_included"), "\n")
	mixed[0] = strings.Replace(mixed[0], ",damp,", ",s0,", 1)
	rows += strings.Join(mixed, "\n") + geometryRows(f.sessionExport("E3", 1, 112, "damp", 1, 0, 4), "")
	f.takeIn(d, "map.csv", rows)
	_, err = d.Fit(context.Background(), FitOptions{Workers: 1})
	require.NoError(t, err)
	aside := Everything()
	aside.Coupons = []string{"E3"}
	_, err = d.Review(context.Background(), aside, study.Aside, "a finger mark")
	require.NoError(t, err)

	said := func(state string) {
		seen := 0
		for _, r := range results(t, d) {
			if r.Pull == 0 {
				continue
			}
			seen++
			what := fmt.Sprintf("%s, %s: %v", r.Coupon, state, r.Flags)
			assert.Contains(t, r.Flags, study.FlagNotEvaluated, what)
			assert.Contains(t, r.Flags, study.FlagSessionNotTrusted, what)
			assert.Contains(t, r.Flags, study.FlagHumid, what)
			if r.Coupon == "E2" {
				assert.Contains(t, r.Flags, study.FlagSessions, what)
				continue
			}
			assert.Equal(t, "damp", r.Session, what)
			assert.NotContains(t, r.Flags, study.FlagSessions, what)
		}
		assert.Equal(t, 3, seen)
	}
	said("reviewed")
	_, err = d.Fit(context.Background(), FitOptions{Workers: 1})
	require.NoError(t, err)
	said("fitted again")
	v, err := d.Verify(context.Background(), VerifyOptions{Deep: true, Workers: 1})
	require.NoError(t, err)
	assert.True(t, v.Sound(), "%+v", v)

	// The readings of E2 that count change: its fit is to be made again, and is still of two sessions.
	aside.Coupons, aside.AngleDeg = []string{"E2"}, 60
	_, err = d.Review(context.Background(), aside, study.Aside, "a finger mark")
	require.NoError(t, err)
	said("one reading less")
}
