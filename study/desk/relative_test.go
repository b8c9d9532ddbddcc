package desk

import (
	"context"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/evaluate"
	"wane/study/intake/text"
)

// certified enrols an instrument, a reference of reflectance 0.9 with a table, and sessions.
func (f folder) certified(d *Desk) {
	_, err := d.Enrol(context.Background(), []string{
		f.write("instruments.csv", "instrument,serial,kind,cone_deg,slit_nm,join_nm,u_join\nbench-1,1,two beams,,,,\n"),
	})
	require.NoError(f.tb, err)
	f.write("m1.csv", "angle_deg,polarisation,wavelength_nm,value,u\n8,u,380,0.9,0.0045\n8,u,1100,0.9,0.0045\n"+
		"60,u,380,0.9,0.0045\n60,u,1100,0.9,0.0045\n")
	f.write("m2.csv", "angle_deg,polarisation,wavelength_nm,value,u\n8,u,380,0.8,0.004\n8,u,1100,0.8,0.004\n"+
		"60,u,380,0.8,0.004\n60,u,1100,0.8,0.004\n")
	_, err = d.Enrol(context.Background(), []string{
		f.write("references.csv", "reference,serial,certificate,issued,expires,u_scale,values\n"+
			"M1,1,C1,2025-01-01,2026-12-31,,m1.csv\nM1,1,C2,2026-03-15,2027-12-31,,m2.csv\n"),
		f.write("sessions.csv", "session,instrument,date,operator,reference,humidity_percent,temperature_c,condition\n"+
			"s0,bench-1,2026-01-01,ada,M1,,,\ns1,bench-1,2026-04-01,ada,M1,,,\ns9,bench-1,2024-01-01,ada,,,,\n"),
	})
	require.NoError(f.tb, err)
}

// Readings relative to a reference are made absolute by the certificate that was valid on the day of their
// session, and the study keeps which one it was.
func TestReadingsRelativeToAReference(t *testing.T) {
	ctx := context.Background()
	f := newFolder(t)
	d := f.start()
	f.certified(d)
	direct := read(t, f.export("direct.csv", 120, 0, 1))
	f.write("relative.csv", scaled(direct, 1/0.9))
	f.write("later.csv", scaled(direct, 1/0.8))
	relative := IntakeOptions{Workers: 2, Stated: text.Stated{RelativeTo: "M1"}}
	in, err := d.Intake(ctx, f.write("map.csv", sessionMapHeader+sessionRows("relative.csv", "E1", 0,
		"s0")+sessionRows("later.csv", "E1", 1, "s1")), nil, relative)
	require.NoError(t, err)
	require.Empty(t, in.Refused)
	f.takeIn(d, "direct-map.csv", mapHeader+rows("direct.csv", "C1", 0))

	values := map[string][]float64{}
	issued := map[string]string{}
	require.NoError(t, d.Spectra(ctx, nil, func(s *Spectrum) error {
		r := &s.Row
		if r.AngleDeg == 8 {
			key := r.Coupon + string(rune('0'+r.Pull))
			values[key], issued[key] = append([]float64(nil), r.Values...), r.Issued
		}
		return nil
	}))
	require.Len(t, values, 3)
	for i, v := range values["C10"] {
		// six decimals of percent in the file
		assert.InDelta(t, v, values["E10"][i], 1e-8)
		assert.InDelta(t, v, values["E11"][i], 1e-8)
	}
	assert.Equal(t, map[string]string{"E10": "2025-01-01", "E11": "2026-03-15", "C10": ""}, issued)

	again, err := d.Intake(ctx, filepath.Join(f.path, "map.csv"), nil, relative)
	require.NoError(t, err)
	assert.Equal(t, 2, again.Known)

	// the relative uncertainty of the scale is that of the certificate: u over value of its table
	for session, c := range evaluate.RegisteredConditions(must(d.store.Roster(ctx))(t)) {
		assert.InDelta(t, 0.005, c.UScale, 1e-12, session)
	}

	for name, c := range map[string]struct{ session, reference, want string }{
		"no session":      {"", "M1", "the readings are relative to M1, and this line names no session"},
		"no such session": {"s7", "M1", `the readings are relative to M1, and session "s7" is not enrolled`},
		"another reference": {"s0", "M2",
			"the readings are stated to be relative to M2, but session s0 has the reference M1"},
		"not issued yet": {"s9", "M1", "no certificate of reference M1 was issued by 2024-01-01, the day of session s9"},
	} {
		t.Run(name, func(t *testing.T) {
			f.write("bad.csv", scaled(direct, 1.05))
			in, err := d.Intake(ctx, f.write("bad-map.csv", sessionMapHeader+sessionRows("bad.csv", "E1", 0, c.session)), nil,
				IntakeOptions{Workers: 1, Stated: text.Stated{RelativeTo: c.reference}})
			require.NoError(t, err)
			require.Len(t, in.Refused, 1)
			assert.Contains(t, in.Refused[0].Error(), c.want)
		})
	}
}

// must returns a value whose error is nil.
func must[T any](v T, err error) func(*testing.T) T {
	return func(t *testing.T) T {
		require.NoError(t, err)
		return v
	}
}

// In a study that evaluates over the blank, a common error of scale in a session cancels.
func TestOverBlank(t *testing.T) {
	ctx := context.Background()
	solar := map[float64]study.Result{}
	for _, scale := range []float64{1, 1.06} {
		f := newFolder(t)
		d, err := New(ctx, filepath.Join(f.path, "over.wane"),
			study.Settings{Correction: study.RouteNone, Mixing: "bruggeman", OverBlank: true}, tester())
		require.NoError(t, err)
		t.Cleanup(func() { require.NoError(t, d.Close()) })
		_, err = d.Enrol(ctx, f.rosters())
		require.NoError(t, err)
		f.write("e.csv", scaled(read(t, f.export("e.csv", 120, 0, 1)), scale))
		f.write("b.csv", scaled(read(t, f.export("b.csv", 0, 1, 2)), scale))
		f.takeIn(d, "map.csv", sessionMapHeader+sessionRows("e.csv", "E1", 0, "s0")+sessionRows("b.csv", "B1", 0, "s0"))
		assert.Equal(t, 2, f.fit(d).Fits)
		for _, r := range results(t, d) {
			assert.Equal(t, r.Coupon == "E1", slices.Contains(r.Flags, study.FlagOverBlank), r.Coupon)
			if r.Coupon == "E1" {
				solar[scale] = r
			}
		}
		assert.True(t, d.Settings().OverBlank)
		v, err := d.Verify(ctx, VerifyOptions{})
		require.NoError(t, err)
		assert.True(t, v.Sound(), "%+v", v)

		traced, err := d.Trace(ctx, "E1", 0, "1")
		require.NoError(t, err)
		require.Len(t, traced.Units[0].Readings, 4)
		for i, r := range traced.Units[0].Readings {
			assert.Equal(t, i > 1, r.IsBlank, "the number rests on the blank too")
			assert.True(t, r.InFit)
		}

		// if a blank is set aside, the fits over it are not valid
		of := Everything()
		of.Coupons = []string{"B1"}
		_, err = d.Review(ctx, of, study.Aside, "soiled")
		require.NoError(t, err)
		assert.Contains(t, results(t, d)[1].Flags, study.FlagReviewed)
		n, err := d.Fit(ctx, FitOptions{Workers: 1})
		require.NoError(t, err)
		require.Len(t, n.Refused, 1)
		assert.Contains(t, n.Refused[0].Error(),
			"coupon E1, pull 0, spot 1: the dark blanks of its session are held or set aside")
	}
	a, b := solar[1], solar[1.06]
	assert.InDelta(t, float64(a.SolarT.Value), float64(b.SolarT.Value), 1e-6, "six decimals of percent in the files")
	assert.InDelta(t, float64(a.Thickness.Value), float64(b.Thickness.Value), 0.01)
	assert.InDelta(t, 120, float64(a.Thickness.Value), 3)
}

// A joint fit in a study that evaluates over the blank uses the blanks of each session: an error of scale
// of each session cancels. If the blank of one pull is set aside, no pull is fitted jointly, and both have
// a flag.
func TestJointOverBlank(t *testing.T) {
	ctx, f := context.Background(), newFolder(t)
	d, err := New(ctx, filepath.Join(f.path, "over.wane"),
		study.Settings{Correction: study.RouteNone, Mixing: "bruggeman", OverBlank: true}, tester())
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, d.Close()) })
	_, err = d.Enrol(ctx, f.rosters())
	require.NoError(t, err)
	rows := sessionMapHeader
	for pull, thickness := range []float64{118, 108} {
		session, scale := []string{"s0", "s1"}[pull], []float64{1.06, 0.95}[pull]
		rows += f.sessionExport("E1", pull, thickness, session, scale, 0, uint64(pull)) +
			f.sessionExport("B1", pull, 0, session, scale, 0, uint64(10+pull))
	}
	f.takeIn(d, "map.csv", rows)
	f.fit(d)
	single := results(t, d)
	joint := jointResults(t, d)
	require.Len(t, joint, len(single))
	for i, r := range joint {
		what := r.Coupon + ": " + strings.Join(r.Flags, " ")
		assert.NotContains(t, r.Flags, study.FlagNotJoint, what)
		if r.Coupon != "E1" {
			continue
		}
		assert.Contains(t, r.Flags, study.FlagOverBlank, what)
		assert.NotEqual(t, single[i].Thickness, r.Thickness, "another fit")
		assert.InDelta(t, 118-10*float64(r.Pull), float64(r.Thickness.Value), 3*float64(r.Thickness.U), what)
	}

	of := Everything()
	of.Filter = atPull("B1", 1)
	_, err = d.Review(ctx, of, study.Aside, "soiled")
	require.NoError(t, err)
	_, err = d.Fit(ctx, FitOptions{Workers: 1})
	require.NoError(t, err)
	for _, r := range jointResults(t, d) {
		if r.Coupon == "E1" {
			assert.Contains(t, r.Flags, study.FlagNotJoint, "pull %v", r.Pull)
			assert.Equal(t, r.Pull == 1, slices.Contains(r.Flags, study.FlagNotEvaluated))
		}
	}
}

// jointResults returns all rows of the joint fits.
func jointResults(t *testing.T, d *Desk) (rows []study.Result) {
	require.NoError(t, d.Results(context.Background(), ResultsOptions{Joint: true}, func(r *study.Result) error {
		rows = append(rows, *r)
		return nil
	}))
	return rows
}
