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
	"wane/study/ageing"
)

// enrol enrols the text of one table.
func (f folder) enrol(d *Desk, name, text string) {
	_, err := d.Enrol(context.Background(), []string{f.write(name, text)})
	require.NoError(f.tb, err)
}

// registered enrols an instrument and a check standard of 0.0423 ± 0.0004 (one u), and
// sessions s0 and s1, in the first of which it reads 0.0422.
func (f folder) registered(d *Desk) {
	f.enrol(d, "instruments.csv", instrumentHeader+"bench-1,1,two beams,,,,\n")
	f.enrol(d, "standards.csv", standardHeader+"TILE,9,C1,2025-12-01,,R,550,8,u,0.0423,0.0004\n")
	f.enrol(d, "sessions.csv", sessionHeader+"s0,bench-1,2026-01-01,,,,,\ns1,bench-1,2026-04-01,,,,,\n")
	f.enrol(d, "first.csv", standardReadingHeader+"s0,TILE,8,u,0.0422,\n")
}

// suspects are the rows with the flag that their session is not trusted; check is the verdict on the
// sessions, by name.
func suspects(t *testing.T, d *Desk) (rows []string, check map[string]bool) {
	for _, r := range results(t, d) {
		if slices.Contains(r.Flags, study.FlagSessionNotTrusted) {
			rows = append(rows, r.Coupon+"@"+r.Session)
		}
	}
	sessions, err := d.Check(context.Background(), CheckOptions{})
	require.NoError(t, err)
	check = map[string]bool{}
	for i := range sessions {
		check[sessions[i].Session.Session] = sessions[i].Trust
	}
	return rows, check
}

// Rows have the verdict of check on the day when they are listed, also if their fit was stored before.
// Groups count the spots.
func TestResultsKnowCheck(t *testing.T) {
	f := newFolder(t)
	d := f.start()
	f.export("e0.csv", 120, 0, 1)
	f.export("e1.csv", 118, 0, 2)
	f.export("c0.csv", 120, 0, 3)
	f.takeIn(d, "map.csv", sessionMapHeader+sessionRows("e0.csv", "E1", 0, "s0")+sessionRows("e1.csv", "E1", 1, "s1")+
		sessionRows("c0.csv", "C1", 0, ""))
	assert.Equal(t, 3, f.fit(d).Fits)

	rows, check := suspects(t, d)
	assert.Equal(t, map[string]bool{"s0": false, "s1": false}, check)
	assert.Equal(t, []string{"E1@s0", "E1@s1"}, rows,
		"they are not enrolled; a reading without a session has none to distrust")

	f.registered(d)
	rows, check = suspects(t, d)
	assert.Equal(t, map[string]bool{"s0": true, "s1": false}, check)
	assert.Equal(t, []string{"E1@s1"}, rows, "no check standard was read in s1")

	groups, err := d.Groups(context.Background(), ageing.ByCoating, ResultsOptions{})
	require.NoError(t, err)
	require.Len(t, groups, 2)
	assert.Equal(t, []int{1, 0, 0}, []int{groups[0].Spots, groups[0].Flags[study.FlagSessionNotTrusted],
		groups[0].Flags[study.FlagBaselineNotTrusted]})
	assert.Equal(t, []int{1, 1, 0}, []int{groups[1].Spots, groups[1].Flags[study.FlagSessionNotTrusted],
		groups[1].Flags[study.FlagBaselineNotTrusted]})

	f.enrol(d, "second.csv", standardReadingHeader+"s1,TILE,8,u,0.0421,\n")
	rows, check = suspects(t, d)
	assert.Equal(t, map[string]bool{"s0": true, "s1": true}, check)
	assert.Empty(t, rows, "and nothing was fitted again")

	// 0.0440 lies more than 2u above the certificate
	f.enrol(d, "third.csv", sessionHeader+"s2,bench-1,2026-04-02,,,,,\n")
	f.enrol(d, "readings.csv", standardReadingHeader+"s2,TILE,8,u,0.0440,\n")
	f.export("again.csv", 118, 0, 4)
	in, err := d.Intake(context.Background(),
		f.write("more.csv", "file,column,coupon,pull,spot,angle_deg,polarisation,quantity,unit,session,replicate\n"+
			"again.csv,#2,E1,1,1,8,u,R,percent,s2,2\nagain.csv,#3,E1,1,1,60,u,R,percent,s2,2\n"), nil, IntakeOptions{Workers: 1})
	require.NoError(t, err)
	require.Empty(t, in.Refused)
	f.fit(d)
	rows, _ = suspects(t, d)
	assert.Equal(t, []string{"E1@s1"}, rows, "one of the sessions of its readings is not to be trusted")
	for _, r := range results(t, d) {
		assert.Equal(t, r.Coupon == "E1" && r.Pull == 1, slices.Contains(r.Flags, study.FlagSessions))
	}
}

// A change from a pull 0 in a session that is not trusted has a flag, also if only some readings of pull 0
// are of that session. Pull 0 itself and rows without a change do not have it.
func TestChangesKnowTheSessionOfPull0(t *testing.T) {
	for _, mixed := range []bool{false, true} {
		f := newFolder(t)
		d := f.start()
		f.registered(d) // s1 has no reading of a check standard
		rows := f.sessionExport("E1", 0, 118, "s1", 1, 0, 1)
		if mixed {
			rows = halves(f.sessionExport("E1", 0, 118, "s0", 1, 0, 1), "s0", "s1")
		}
		f.takeIn(d, "map.csv", sessionMapHeader+rows+f.sessionExport("E1", 1, 112, "s0", 1, 0, 2)+
			strings.ReplaceAll(f.sessionExport("C1", 1, 118, "s0", 1, 0, 3), ",C1,1,1,", ",C1,1,9,"))
		f.fit(d)
		for _, r := range append(results(t, d), jointResults(t, d)...) {
			at := fmt.Sprint(r.Coupon, r.Pull)
			assert.Equal(t, at == "E10", slices.Contains(r.Flags, study.FlagSessionNotTrusted), "%s: %v", at, r.Flags)
			assert.Equal(t, at == "E11", slices.Contains(r.Flags, study.FlagBaselineNotTrusted), "%s: %v", at, r.Flags)
		}
		groups, err := d.Groups(context.Background(), ageing.ByCoating, ResultsOptions{})
		require.NoError(t, err)
		require.Len(t, groups, 2)
		assert.Equal(t, []int{1, 0}, []int{groups[0].Flags[study.FlagSessionNotTrusted], groups[0].Flags[study.FlagBaselineNotTrusted]})
		assert.Equal(t, []int{0, 1}, []int{groups[1].Flags[study.FlagSessionNotTrusted], groups[1].Flags[study.FlagBaselineNotTrusted]})
	}
}
