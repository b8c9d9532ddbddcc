package desk

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/scenario"
)

const sessionMapHeader = "file,column,coupon,pull,spot,angle_deg,polarisation,quantity,unit,session\n"

// sessionExport writes the export of a coupon that was read in a session whose reference is off by the
// factor scale and whose angles are off by tilt degrees. It returns the map rows.
func (f folder) sessionExport(coupon string, pull int, thickness float64, session string, scale, tilt float64,
	seed uint64) string {
	rng := rand.New(rand.NewPCG(seed, 77))
	angles := []float64{8, 30, 45, 60}
	var nm []float64
	for x := 380.0; x <= 1100; x += 8 {
		nm = append(nm, x)
	}
	var b strings.Builder
	b.WriteString("made up\nnm,8 deg %R,30 deg %R,45 deg %R,60 deg %R\n")
	columns := make([][]float64, len(angles))
	for k, a := range angles {
		r, err := scenario.Surface{ThicknessNM: thickness, Porosity: 0.35, Bare: 0.05}.Reflectance(nm, a+tilt)
		require.NoError(f.tb, err)
		columns[k] = r
	}
	for i := range nm {
		fmt.Fprintf(&b, "%g", nm[i])
		for k := range angles {
			fmt.Fprintf(&b, ",%.4f", 100*(scale*columns[k][i]+0.0004*rng.NormFloat64()))
		}
		b.WriteString("\n")
	}
	name := fmt.Sprintf("s/%s-%d.csv", coupon, pull)
	f.write(name, b.String())
	var rows strings.Builder
	for k, a := range angles {
		fmt.Fprintf(&rows, "%s,#%d,%s,%d,1,%g,u,R,percent,%s\n", name, k+2, coupon, pull, a, session)
	}
	return rows.String()
}

// In a study that corrects by sessions, a reference that drifted by 2.5 % and angles that moved between
// two sessions do not bias the changes beyond the stated uncertainty. A spot that names no session has a
// flag and no corrected change.
func TestSessionRoute(t *testing.T) {
	ctx, f := context.Background(), newFolder(t)
	d, err := New(ctx, filepath.Join(f.path, "made.wane"),
		study.Settings{Correction: study.RouteSession, Mixing: "bruggeman"}, tester())
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, d.Close()) })
	coupons := couponHeader + "C1,control,m,K,1,soda-lime,,matched,\nB1,blank,,,,soda-lime,,matched,\n" +
		"B2,blank,,,,soda-lime,,matched,\nX1,exposed,m,K,1,soda-lime,,matched,roof\n"
	rows := sessionMapHeader + f.sessionExport("X1", 0, 118, "", 1, 0, 50) +
		f.sessionExport("X1", 1, 112, "autumn", 0.975, 0.35, 51)
	for _, pull := range []int{0, 1} {
		session, scale, tilt := "spring", 1.004, -0.1
		if pull == 1 {
			session, scale, tilt = "autumn", 0.975, 0.35
		}
		for i := range 4 {
			if pull == 0 {
				coupons += fmt.Sprintf("E%d,exposed,m,K,1,soda-lime,,matched,roof\n", i)
			}
			thickness := 118 - float64(pull*(4+2*i))
			rows += f.sessionExport(fmt.Sprintf("E%d", i), pull, thickness, session, scale, tilt, uint64(10*i+pull))
		}
		rows += f.sessionExport("C1", pull, 118, session, scale, tilt, uint64(60+pull))
		rows += f.sessionExport("B1", pull, 0, session, scale, tilt, uint64(70+pull)) +
			f.sessionExport("B2", pull, 0, session, scale, tilt, uint64(80+pull))
	}
	_, err = d.Enrol(ctx, []string{f.write("coupons.csv", coupons),
		f.write("exposures.csv", exposureHeader+"roof,rack,nowhere,days,2026-01-01\n"),
		f.write("pulls.csv", pullHeader+"roof,0,0,2026-01-01\nroof,1,90,2026-04-01\n")})
	require.NoError(t, err)
	in, err := d.Intake(ctx, f.write("map.csv", rows), nil, IntakeOptions{Workers: 2})
	require.NoError(t, err)
	require.Empty(t, in.Refused)

	done, err := d.Fit(ctx, FitOptions{Workers: 2})
	require.NoError(t, err)
	assert.Equal(t, 16, done.Fits)
	require.Len(t, done.Sessions, 2)
	for _, s := range done.Sessions {
		require.Len(t, s.Results, 3)
		assert.Equal(t, "solar values", s.Results[0].Of)
		assert.True(t, s.Results[0].OK, s.Results[0].Why)
		assert.Equal(t, 2, s.Blanks)
	}

	solar := func(thickness float64) float64 {
		v, err := scenario.Surface{ThicknessNM: thickness, Porosity: 0.35, Bare: 0.05}.SolarT()
		require.NoError(t, err)
		return v
	}
	all := results(t, d)
	c1 := slices.IndexFunc(all, func(r study.Result) bool { return r.Coupon == "C1" && r.Pull == 1 })
	control := float64(all[c1].Change.Value)
	for _, r := range all {
		what := fmt.Sprintf("%s, pull %v: %v", r.Coupon, r.Pull, r.Flags)
		switch {
		case r.Coupon == "X1":
			assert.False(t, r.CorrectedChange.Value.Valid(), what)
			assert.Contains(t, r.Flags, study.FlagNoSession, what)
		case r.Role == "exposed" && r.Pull == 1:
			lost := 4 + 2*float64(r.Coupon[1]-'0')
			assert.Equal(t, "session", r.Correction)
			assert.InDelta(t, float64(r.Change.Value)-control, float64(r.CorrectedChange.Value), 1e-12, "less the control's")
			truth := 100 * (solar(118-lost) - solar(118))
			assert.InDelta(t, truth, float64(r.CorrectedChange.Value), 3*float64(r.CorrectedChange.U), what)
			assert.Less(t, float64(r.CorrectedChange.U), 0.8*float64(r.Change.U), "what both share of the sessions cancels")
			assert.InDelta(t, 118-lost, float64(r.Thickness.Value), 3*float64(r.Thickness.U), what)
			assert.Equal(t, []string{study.FlagSessionNotTrusted, study.FlagBaselineNotTrusted, study.FlagDosePlanned}, r.Flags,
				what+": its sessions are not enrolled, nor is a start of it")
		}
	}

	// A joint fit of a spot, with the other spots of its sessions: the change is right, and its
	// uncertainty is no larger.
	own := results(t, d)
	i := 0
	require.NoError(t, d.Results(ctx, ResultsOptions{Joint: true}, func(r *study.Result) error {
		single := own[i]
		i++
		if r.Role != "exposed" || r.Pull != 1 || r.Coupon == "X1" {
			return nil
		}
		lost := 4 + 2*float64(r.Coupon[1]-'0')
		truth := 100 * (solar(118-lost) - solar(118))
		assert.InDelta(t, truth, float64(r.CorrectedChange.Value), 3*float64(r.CorrectedChange.U), r.Coupon)
		assert.LessOrEqual(t, float64(r.CorrectedChange.U), 1.05*float64(single.CorrectedChange.U), r.Coupon)
		assert.NotEqual(t, single.Thickness, r.Thickness, "another fit")
		return nil
	}))

	again, err := d.Fit(ctx, FitOptions{Workers: 1})
	require.NoError(t, err)
	assert.Equal(t, Fitted{Current: 16}, *again, "nothing is stale, also with another number of workers")
	sound, err := d.Verify(ctx, VerifyOptions{})
	require.NoError(t, err)
	assert.True(t, sound.Sound(), "%v", sound.Differing)
	assert.Equal(t, 16, sound.Reproduced)

	// One more reading in a session: all of that session is fitted again, and no other.
	more := strings.ReplaceAll(f.sessionExport("E0", 1, 114, "autumn", 0.975, 0.35, 90), "s/E0-1.csv", "s/extra.csv")
	text := strings.ReplaceAll(strings.TrimSuffix(sessionMapHeader, "\n"), "session", "session,replicate") + "\n" +
		strings.ReplaceAll(more, ",autumn\n", ",autumn,2\n")
	f.renamedExport("s/E0-1.csv", "s/extra.csv")
	in, err = d.Intake(ctx, f.write("more.csv", text), nil, IntakeOptions{Workers: 1})
	require.NoError(t, err)
	require.Empty(t, in.Refused)
	third, err := d.Fit(ctx, FitOptions{Workers: 2})
	require.NoError(t, err)
	assert.Equal(t, 8, third.Fits)
	assert.Equal(t, 8, third.Current)
	require.Len(t, third.Sessions, 1)
	assert.Equal(t, "autumn", third.Sessions[0].Session)
}

// renamedExport renames an export.
func (f folder) renamedExport(from, to string) {
	require.NoError(f.tb, os.Rename(filepath.Join(f.path, from), filepath.Join(f.path, to)))
}

// A session without blanks knows its scale only from the prior of its reference: its solar values are not
// supported, and each coated row has a flag.
func TestSessionWithoutBlank(t *testing.T) {
	ctx, f := context.Background(), newFolder(t)
	d, err := New(ctx, filepath.Join(f.path, "made.wane"),
		study.Settings{Correction: study.RouteSession, Mixing: "bruggeman"}, tester())
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, d.Close()) })
	_, err = d.Enrol(ctx, f.rosters())
	require.NoError(t, err)
	rows := sessionMapHeader + f.sessionExport("E1", 0, 118, "one", 1, 0, 1) +
		f.sessionExport("C1", 0, 118, "one", 1, 0, 2)
	in, err := d.Intake(ctx, f.write("map.csv", rows), nil, IntakeOptions{Workers: 1})
	require.NoError(t, err)
	require.Empty(t, in.Refused)
	done, err := d.Fit(ctx, FitOptions{Workers: 1})
	require.NoError(t, err)
	require.Len(t, done.Sessions, 1)
	assert.False(t, done.Sessions[0].Results[0].OK)
	assert.Contains(t, done.Sessions[0].Results[0].Why, "the session has no usable dark blank and no usable check standard")
	for _, r := range results(t, d) {
		assert.Contains(t, r.Flags, study.FlagSessionLimits+"solar")
		assert.False(t, math.IsNaN(float64(r.SolarT.Value)))
	}
}

// A dark blank that has become darker since its pull 0 is left out of the fit of its session, and its row says so. Where
// its pull 0 is set aside, nothing speaks against it any more, and the session is stale.
func TestSessionWithChangedBlank(t *testing.T) {
	ctx, f := context.Background(), newFolder(t)
	d, err := New(ctx, filepath.Join(f.path, "made.wane"),
		study.Settings{Correction: study.RouteSession, Mixing: "bruggeman"}, tester())
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, d.Close()) })
	_, err = d.Enrol(ctx, f.rosters())
	require.NoError(t, err)
	rows := sessionMapHeader
	for pull, session := range []string{"spring", "autumn"} {
		rows += f.sessionExport("E1", pull, 118, session, 1, 0, uint64(1+pull)) +
			f.sessionExport("C1", pull, 118, session, 1, 0, uint64(10+pull)) +
			f.sessionExport("B1", pull, 0, session, []float64{1, 0.915}[pull], 0, uint64(20+pull))
	}
	in, err := d.Intake(ctx, f.write("map.csv", rows), nil, IntakeOptions{Workers: 1})
	require.NoError(t, err)
	require.Empty(t, in.Refused)
	marked := func() (rows []string) {
		for _, r := range results(t, d) {
			if slices.Contains(r.Flags, study.FlagNoAnchor) {
				rows = append(rows, fmt.Sprint(r.Coupon, " ", r.Pull))
			}
		}
		return rows
	}
	done, err := d.Fit(ctx, FitOptions{Workers: 1})
	require.NoError(t, err)
	require.Len(t, done.Sessions, 2)
	autumn, spring := done.Sessions[0], done.Sessions[1]
	assert.Empty(t, spring.Notes)
	assert.Equal(t, 1, spring.Blanks)
	assert.Equal(t, 0, autumn.Blanks, "it has changed")
	require.Len(t, autumn.Notes, 1)
	assert.Contains(t, autumn.Notes[0], "dark blank B1, spot 1 says nothing of session autumn: it reflects 0.9")
	assert.False(t, autumn.Results[0].OK)
	assert.Contains(t, autumn.Results[0].Why, "the session has no usable")
	assert.Equal(t, []string{"B1 1"}, marked())

	require.NoError(t, d.Results(ctx, ResultsOptions{Joint: true}, func(r *study.Result) error {
		assert.Equal(t, r.Coupon == "B1" && r.Pull == 1, slices.Contains(r.Flags, study.FlagNoAnchor), "%s %v", r.Coupon, r.Pull)
		return nil
	}))
	of := Everything()
	of.Coupons, of.Pulls = []string{"B1"}, study.Spans{{}}
	_, err = d.Review(ctx, of, study.Aside, "another pane")
	require.NoError(t, err)
	done, err = d.Fit(ctx, FitOptions{Workers: 1})
	require.NoError(t, err)
	assert.Equal(t, Fitted{Fits: 6, Sessions: done.Sessions}, *done, "both sessions were stale")
	assert.Empty(t, marked())
}

// In a joint fit of all pulls of a spot, changes are right within their uncertainty, which is not larger
// than that of single fits. Nothing is stored.
func TestJointResults(t *testing.T) {
	ctx, f := context.Background(), newFolder(t)
	d := f.start()
	rows := sessionMapHeader
	for pull, thickness := range []float64{118, 108} {
		rows += f.sessionExport("E1", pull, thickness, fmt.Sprintf("s%d", pull), 1, 0, uint64(pull)) +
			f.sessionExport("C1", pull, 118, fmt.Sprintf("s%d", pull), 1, 0, uint64(10+pull))
	}
	in, err := d.Intake(ctx, f.write("map.csv", rows), nil, IntakeOptions{Workers: 1})
	require.NoError(t, err)
	require.Empty(t, in.Refused)
	_, err = d.Fit(ctx, FitOptions{Workers: 1})
	require.NoError(t, err)
	single, before := results(t, d), dump(t, d)
	var joint []study.Result
	require.NoError(t,
		d.Results(ctx, ResultsOptions{Joint: true}, func(r *study.Result) error { joint = append(joint, *r); return nil }))
	assert.Equal(t, before, dump(t, d))
	require.Len(t, joint, len(single))
	var truth [2]float64
	for i, thickness := range []float64{118, 108} {
		truth[i], err = scenario.Surface{ThicknessNM: thickness, Porosity: 0.35, Bare: 0.05}.SolarT()
		require.NoError(t, err)
	}
	for i, r := range joint {
		assert.Equal(t, single[i].Coupon, r.Coupon)
		assert.NotEqual(t, single[i].Thickness, r.Thickness, "another fit")
		if r.Pull != 1 {
			continue
		}
		want := 0.0
		if r.Coupon == "E1" {
			want = 100 * (truth[1] - truth[0])
		}
		assert.InDelta(t, want, float64(r.Change.Value), 3*float64(r.Change.U), r.Coupon)
		assert.Less(t, r.Change.U, single[i].Change.U, "the pulls share glass and coating")
	}
}
