package desk

import (
	"context"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
)

// geometryRows are the map rows of an export of [folder.sessionExport] whose last reading, at 60
// degrees, was taken in a geometry.
func geometryRows(rows, geometry string) string {
	lines := strings.Split(strings.TrimSuffix(rows, "\n"), "\n")
	for i := range lines {
		lines[i] += ",specular"
	}
	last := len(lines) - 1
	lines[last] = strings.TrimSuffix(lines[last], "specular") + geometry
	return strings.Join(lines, "\n") + "\n"
}

const geometryMapHeader = "file,column,coupon,pull,spot,angle_deg,polarisation,quantity,unit,session,geometry\n"

// A spot with a reading without the mirror direction, or with specular and total readings, is not evaluated, in no kind of
// fit: single fits, fits of sessions, over the blank, joint fits. Its row names the geometry. After doing what the refusal says, the
// other readings are evaluated.
func TestGeometryIsNotEvaluated(t *testing.T) {
	for _, settings := range []study.Settings{
		{Correction: study.RouteControls, Mixing: "bruggeman"}, {Correction: study.RouteSession, Mixing: "bruggeman"},
		{Correction: study.RouteNone, Mixing: "bruggeman", OverBlank: true},
	} {
		for _, geometry := range []string{"total_included", "total_excluded"} {
			t.Run(fmt.Sprintf("%s %v %s", settings.Correction, settings.OverBlank, geometry), func(t *testing.T) {
				ctx, f := context.Background(), newFolder(t)
				d, err := New(ctx, filepath.Join(f.path, "made.wane"), settings, tester())
				require.NoError(t, err)
				t.Cleanup(func() { require.NoError(t, d.Close()) })
				_, err = d.Enrol(ctx, f.rosters())
				require.NoError(t, err)
				rows := geometryMapHeader
				for pull, session := range []string{"s0", "s1"} {
					rows += geometryRows(f.sessionExport("B1", pull, 0, session, 1, 0, uint64(pull)), "specular")
					rows += geometryRows(f.sessionExport("C1", pull, 118, session, 1, 0, uint64(10+pull)), "")
				}
				rows += geometryRows(f.sessionExport("E1", 0, 118, "s0", 1, 0, 20), geometry)
				rows += geometryRows(f.sessionExport("E1", 1, 110, "s1", 1, 0, 21), "specular")
				f.takeIn(d, "map.csv", rows)
				fitted, err := d.Fit(ctx, FitOptions{Workers: 1})
				require.NoError(t, err)
				require.Len(t, fitted.Refused, 1)
				assert.Contains(t, fitted.Refused[0].Error(),
					"the reading of coupon E1 at 60 degrees cannot be evaluated: its geometry is "+geometry)

				for _, listed := range [][]study.Result{results(t, d), jointResults(t, d)} {
					for _, r := range listed {
						bad := r.Coupon == "E1" && r.Pull == 0
						what := fmt.Sprintf("%s, pull %v: %v", r.Coupon, r.Pull, r.Flags)
						assert.Equal(t, bad, slices.Contains(r.Flags, study.FlagNotEvaluated), what)
						assert.Equal(t, bad, slices.Contains(r.Flags, study.FlagGeometry+geometry))
						assert.NotEqual(t, bad, r.SolarT.Value.Valid())
					}
				}

				of := Everything()
				of.Filter, of.AngleDeg = atPull("E1", 0), 60
				of.Spots = []string{"1"}
				_, err = d.Review(ctx, of, study.Aside, "taken by the sphere")
				require.NoError(t, err)
				f.fit(d)
				for _, r := range results(t, d) {
					assert.True(t, r.SolarT.Value.Valid(), "%s, pull %v: %v", r.Coupon, r.Pull, r.Flags)
				}
			})
		}
	}
}

// Nothing is evaluated over a blank that was read in another geometry; the blank itself is evaluated.
func TestGeometryOfTheBlank(t *testing.T) {
	ctx, f := context.Background(), newFolder(t)
	over := study.Settings{Correction: study.RouteNone, Mixing: "bruggeman", OverBlank: true}
	d, err := New(ctx, filepath.Join(f.path, "over.wane"), over, tester())
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, d.Close()) })
	_, err = d.Enrol(ctx, f.rosters())
	require.NoError(t, err)
	rows := inGeometry(f.sessionExport("B1", 0, 0, "s0", 1, 0, 1), "total_included") +
		inGeometry(f.sessionExport("E1", 0, 118, "s0", 1, 0, 2), "")
	f.takeIn(d, "map.csv", halfAngleMapHeader+rows)
	fitted, err := d.Fit(ctx, FitOptions{Workers: 1})
	require.NoError(t, err)
	require.Len(t, fitted.Refused, 1)
	assert.Contains(t, fitted.Refused[0].Error(), "no dark blank was read at 8 degrees, u, not by a sphere, in the same session")
	for _, r := range results(t, d) {
		assert.Equal(t, r.Coupon == "E1", slices.Contains(r.Flags, study.FlagNotEvaluated))
	}
}

// inGeometry returns map rows with one geometry, and a half-angle where it is mixed.
func inGeometry(rows, geometry string) string {
	tail := "," + geometry + ","
	if geometry == study.MixedGeometry {
		tail += "12"
	}
	return strings.ReplaceAll(rows, "\n", tail+"\n")
}

const halfAngleMapHeader = "file,column,coupon,pull,spot,angle_deg,polarisation,quantity,unit,session,geometry,half_angle_deg\n"

// A sphere and a mixed geometry collect all that a smooth film reflects: the same curves give the same film. Of a sphere,
// scale and zero are less well known, and the trace says so. The half-angle is kept.
func TestGeometriesThatAreEvaluated(t *testing.T) {
	ctx, u, film := context.Background(), map[string]float64{}, map[string]float64{}
	for _, geometry := range []string{"specular", "total_included", "mixed"} {
		f := newFolder(t)
		d := f.start()
		f.takeIn(d, "map.csv", halfAngleMapHeader+inGeometry(f.sessionExport("E1", 0, 118, "s0", 1, 0, 3), geometry))
		f.fit(d)
		r := results(t, d)[0]
		require.True(t, r.SolarT.Value.Valid(), "%s: %v", geometry, r.Flags)
		u[geometry], film[geometry] = float64(r.SolarT.U), float64(r.Thickness.Value)
		traced, err := d.Trace(ctx, "E1", 0, "")
		require.NoError(t, err)
		assert.Equal(t, geometry == "mixed", traced.Units[0].Readings[0].HalfAngleDeg.Is)
		said := fmt.Sprint(traced.Units[0].Fits[0].Knew)
		assert.Equal(t, geometry == "total_included", strings.Contains(said,
			"scale 1 ± 0.0141 stated by geometry total_included") && strings.Contains(said,
			"zero 0 ± 0.000707 stated by geometry total_included"), said)
		sound, err := d.Verify(ctx, VerifyOptions{})
		require.NoError(t, err)
		assert.True(t, sound.Sound())
	}
	assert.Equal(t, u["specular"], u["mixed"])
	assert.Greater(t, u["total_included"], 1.1*u["specular"])
	assert.InDelta(t, film["specular"], film["total_included"], 0.2)
}

// A geometry that the instrument of the session is not registered for is refused when it is taken in, and in the fit where
// the session was enrolled later. The only geometry of an instrument counts where a reading states none.
func TestGeometryThatTheRegisterDenies(t *testing.T) {
	ctx, f := context.Background(), newFolder(t)
	d := f.start()
	instruments := f.write("instruments.csv", strings.TrimSuffix(instrumentHeader, "\n")+",geometry\n"+
		"ball,,,,,,,total_included\nbench,,,,,,,specular mixed\n")
	_, err := d.Enrol(ctx, []string{instruments, f.write("sessions.csv", sessionHeader+"b,ball,2026-01-02,,,,,\n")})
	require.NoError(t, err)
	rows := f.sessionExport("E1", 0, 118, "b", 1, 0, 3)
	in, err := d.Intake(ctx, f.write("map.csv", halfAngleMapHeader+inGeometry(rows, "specular")), nil, IntakeOptions{Workers: 1})
	require.NoError(t, err)
	require.Len(t, in.Refused, 1)
	refused(t, in.Refused[0], "map.csv:2: the geometry is specular, and instrument ball of session b is registered for "+
		"total_included only")

	f.takeIn(d, "map.csv", sessionMapHeader+rows)
	later := f.sessionExport("C1", 0, 118, "later", 1, 0, 4)
	f.takeIn(d, "map2.csv", halfAngleMapHeader+inGeometry(later, "total_included"))
	_, err = d.Enrol(ctx, []string{f.write("more.csv", sessionHeader+"later,bench,2026-01-02,,,,,\n")})
	require.NoError(t, err)
	fitted, err := d.Fit(ctx, FitOptions{Workers: 1})
	require.NoError(t, err)
	require.Len(t, fitted.Refused, 1)
	assert.Contains(t, fitted.Refused[0].Error(), "its geometry is total_included: the instrument of session later is not "+
		"registered for it")
	traced, err := d.Trace(ctx, "E1", 0, "")
	require.NoError(t, err)
	assert.Equal(t, "total_included", traced.Units[0].Readings[0].Geometry)
	assert.Contains(t, fmt.Sprint(traced.Units[0].Fits[0].Knew), "stated by geometry total_included")
}

// Readings by a sphere and others have not one scale, so that a session of both corrects nothing, and says why.
func TestSessionOfTwoGeometries(t *testing.T) {
	ctx, f := context.Background(), newFolder(t)
	d, err := New(ctx, filepath.Join(f.path, "made.wane"),
		study.Settings{Correction: study.RouteSession, Mixing: "bruggeman"}, tester())
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, d.Close()) })
	_, err = d.Enrol(ctx, f.rosters())
	require.NoError(t, err)
	f.takeIn(d, "map.csv", halfAngleMapHeader+inGeometry(f.sessionExport("B1", 0, 0, "s0", 1, 0, 1), "total_included")+
		inGeometry(f.sessionExport("E1", 0, 118, "s0", 1, 0, 2), "specular"))
	done := f.fit(d)
	require.Len(t, done.Sessions, 1)
	assert.Contains(t, fmt.Sprint(done.Sessions[0].Notes), "session s0 corrects nothing: some of its readings are by a sphere "+
		"and some are not, which have not one scale; name a session for each, on instruments of their own")
	for _, r := range results(t, d) {
		assert.Contains(t, r.Flags, study.FlagNoSession)
	}
}

// Guards do not judge a reading that is not specular, and compare no other reading with it. Haze that
// makes coated glass ten times as bright is held in a specular reading, and not in one of a sphere.
func TestGuardsIgnoreOtherGeometries(t *testing.T) {
	for geometry, want := range map[string]int{"": 2, "specular": 2, "total_included": 0, "total_excluded": 0,
		"mixed": 0} {
		f := newFolder(t)
		d := f.start()
		f.write("bright.csv", scaled(read(t, f.export("plain.csv", 120, 0, 1)), 10))
		rows := ""
		for i, angle := range []int{8, 60} {
			rows += fmt.Sprintf("bright.csv,#%d,E1,0,1,%d,u,R,percent,s0\n", i+2, angle)
		}
		in := f.takeIn(d, "map.csv", halfAngleMapHeader+inGeometry(rows, geometry))
		assert.Len(t, in.Held, want, "%q: %v", geometry, in.Held)
	}
}

// A noisy reading beside six others of its session is held if it is specular, and is not
// compared if it is not.
func TestGuardsCompareSpecularReadings(t *testing.T) {
	for geometry, want := range map[string]int{"specular": 1, "total_included": 0} {
		f := newFolder(t)
		d := f.start()
		lines := strings.Split(strings.TrimSuffix(read(t, f.export("plain.csv", 120, 0, 1)), "\n"), "\n")
		rows := ""
		for spot := 1; spot <= 7; spot++ {
			own := geometry
			name := fmt.Sprintf("spot%d.csv", spot)
			if spot < 7 {
				own = "specular"
			}
			text := strings.Join(lines[:2], "\n") + "\n"
			for i, line := range lines[2:] {
				cells := strings.Split(line, ",")
				var v float64
				_, err := fmt.Sscan(cells[1], &v)
				require.NoError(t, err)
				v += 0.0001 * float64(spot) // no two hold the same numbers
				if spot == 7 {
					v += 0.2 * float64(i%2) // percent
				}
				text += fmt.Sprintf("%s,%.4f\n", cells[0], v)
			}
			f.write(name, strings.Replace(text, ",60 deg %R", "", 1))
			rows += fmt.Sprintf("%s,#2,E1,0,%d,8,u,R,percent,s0,%s\n", name, spot, own)
		}
		in := f.takeIn(d, "map.csv", geometryMapHeader+rows)
		require.Len(t, in.Held, want, geometry)
		if want == 1 {
			assert.Equal(t, "noisy", in.Held[0].Holds[0].Guard)
		}
	}
}
