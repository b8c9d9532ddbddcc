package evaluate_test

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/fit/film"
	"wane/optics"
	"wane/study"
	"wane/study/evaluate"
	"wane/testdata/foreign"
)

// lined is the register of a session in which a tile was read at two angles and two lines of a filter. Everything is
// made up.
func lined() *study.Roster {
	return &study.Roster{
		Instruments: []study.Instrument{{Instrument: "bench", ConeDeg: study.Null(), SlitNM: study.Null(),
			UJoin: study.Null()}},
		Standards: []study.Standard{
			{Standard: "TILE", Issued: "2026-01-01", AngleDeg: 8, Polarisation: "u", Quantity: "R",
				WavelengthNM: 550, Value: 0.8, U: 0.0024},
			{Standard: "TILE", Issued: "2026-01-01", AngleDeg: 45, Polarisation: "u", Quantity: "R",
				WavelengthNM: 550, Value: 0.82, U: 0.0024},
			{Standard: "F-1", Issued: "2026-01-01", AngleDeg: 8, Polarisation: "u", Quantity: study.Line,
				WavelengthNM: study.Null(), Value: 536.5, U: 0.1},
			{Standard: "F-2", Issued: "2026-01-01", Expires: "2026-12-31", AngleDeg: 8, Polarisation: "u", Quantity: study.Line,
				WavelengthNM: study.Null(), Value: 637.7, U: 0.1},
		},
		Sessions: []study.Session{{Session: "s", Instrument: "bench", Date: "2026-03-01"}},
		Checks: []study.StandardReading{
			{Session: "s", Standard: "TILE", AngleDeg: 8, Polarisation: "u", Replicate: 1, Value: 0.8 * 0.982},
			{Session: "s", Standard: "TILE", AngleDeg: 45, Polarisation: "u", Replicate: 1, Value: 0.82 * 0.978},
			{Session: "s", Standard: "F-1", AngleDeg: 8, Polarisation: "u", Replicate: 1, Value: 537},
			{Session: "s", Standard: "F-2", AngleDeg: 8, Polarisation: "u", Replicate: 1, Value: 638.2},
		},
	}
}

// knownOf is what a fit of a session knows.
func knownOf(t *testing.T, r *study.Roster) film.Session {
	c, stated := evaluate.RegisteredConditions(r)["s"]
	require.True(t, stated)
	setup := c.Under(evaluate.Setup{Glass: film.Glass{Index: optics.SodaLime()}})
	require.NotNil(t, setup.Known)
	return setup.Known.Session
}

// byInverseVariance is the mean of values with standard uncertainties, computed here.
func byInverseVariance(values, us []float64) (mean, u float64) {
	sum := 0.0
	for i, v := range values {
		w := 1 / us[i] / us[i]
		mean, sum = mean+w*v, sum+w
	}
	return mean / sum, 1 / math.Sqrt(sum)
}

func TestStandardsStateTheSession(t *testing.T) {
	known := knownOf(t, lined())
	// scatter of two lines that are off alike is none; both certificates are of 0.1 nm
	mean, u := byInverseVariance([]float64{-0.5, 0}, []float64{0.1, 0.3})
	assert.InDelta(t, mean, known.WavelengthNM, 1e-12, "true less read")
	assert.InDelta(t, u, known.UWavelengthNM, 1e-12)

	// 0.98 on average: the certificate has 0.3 %; factors of two angles 0.01/√2, of two curves 0.002/√2; zeros
	own := math.Hypot(math.Hypot(0.003, math.Hypot(0.0005, 0.0002)/0.8), math.Hypot(0.01, 0.002)/math.Sqrt2)
	mean, u = byInverseVariance([]float64{0.98, 1}, []float64{own, 0.01})
	assert.InDelta(t, mean, known.Scale, 1e-12)
	assert.InDelta(t, u, known.UScale, 1e-12)

	r := lined()
	r.References = []study.Reference{{Reference: "M", Issued: "2026-01-01", UScale: 0.02}}
	r.Sessions[0].Reference = "M"
	mean, u = byInverseVariance([]float64{0.98, 1}, []float64{own, 0.02})
	known = knownOf(t, r)
	assert.InDelta(t, mean, known.Scale, 1e-12, "with the certificate of the reference")
	assert.InDelta(t, u, known.UScale, 1e-12)

	r = lined()
	r.Sessions[0].Date = "2027-03-01"
	_, u = byInverseVariance([]float64{0, 0}, []float64{0.3, 0.3})
	assert.InDelta(t, u, knownOf(t, r).UWavelengthNM, 1e-12, "an expired certificate makes nothing surer than the default")

	r = lined()
	for i := range r.Checks[:2] {
		r.Checks[i].Value *= 0.95
	}
	assert.Zero(t, knownOf(t, r).Scale, "a tile that contradicts the reference states nothing")
}

// What standards state reaches a fit: a session whose wavelengths and scale are off as they say gives the film that is
// there.
func TestStandardsReachTheFit(t *testing.T) {
	law := foreign.Prior().Set("scale", -0.02).Set("wavelength", -0.5)
	roster := lined()
	coupon := &study.Coupon{Coupon: "E", Role: study.Exposed, Coating: "A", Glass: "soda-lime", GlassMM: study.Null(),
		Back: "matched"}
	setup, err := evaluate.CouponSetup(coupon, "bruggeman", roster)
	require.NoError(t, err)
	e, err := evaluate.NewEvaluator(evaluate.RegisteredConditions(roster)["s"].Under(setup))
	require.NoError(t, err)
	scale, off := 0.0, 0.0
	const n = 10
	for run := range uint64(n) {
		s := foreign.SceneNamed("patchy").Run(law, 31, run)
		f, err := e.Unit(context.Background(), coupon.Role, study.Unit{Coupon: "E", Spot: "1"},
			readingsOf(&foreign.Reading{Coupon: "E", Spot: "1", Session: "s", Curves: s.Curves}))
		require.NoError(t, err)
		scale += float64(f.Result.Scale.Value) / n
		off += (float64(f.Result.SolarT.Value) - s.Truth.SolarT) / float64(f.Result.SolarT.U) / n
	}
	assert.InDelta(t, 0.98, scale, 0.01)
	assert.InDelta(t, 0, off, 1, "mean of ten in u, which the session makes alike")
}

// A line that contradicts what is stated of the instrument, or that no instrument reads, is refused.
func TestContradictingLines(t *testing.T) {
	require.NoError(t, evaluate.CheckStandards(lined()))
	for fault, change := range map[string]func(*study.Roster){
		"session s: its line standard is off by -0.5 nm, and the u_wavelength_nm of instrument bench is stated as 0.05 nm": func(
			r *study.Roster) {
			r.Instruments[0].UWavelengthNM = is(0.05)
		},
		"session s: its line standard is off by -3": func(r *study.Roster) { r.Checks[2].Value, r.Checks[3].Value = 540, 641 },
	} {
		r := lined()
		change(r)
		var refused *study.Refusal
		require.ErrorAs(t, evaluate.CheckStandards(r), &refused, fault)
		assert.Contains(t, refused.Fault, fault)
		assert.NotEmpty(t, refused.Try)
	}
}

// In a session with a dark blank, an uncertified reference may be off by 5 %: what a check standard says is combined with
// that, and not with what is taken of a reference by itself, so that a poor one does not hide a drift.
func TestStandardsBesideABlank(t *testing.T) {
	r := lined()
	setup := evaluate.Setup{Glass: film.Glass{Index: optics.SodaLime()}}
	own := math.Hypot(math.Hypot(0.003, math.Hypot(0.0005, 0.0002)/0.8), math.Hypot(0.01, 0.002)/math.Sqrt2)
	joint := func() film.Session {
		c := evaluate.RegisteredConditions(r)["s"]
		return evaluate.JointKnownForTest(c.Under(setup), c.Standards)
	}
	known := joint()
	mean, u := byInverseVariance([]float64{0.98, 1}, []float64{own, 0.05})
	assert.InDelta(t, mean, known.Scale, 1e-12)
	assert.InDelta(t, u, known.UScale, 1e-12)

	r.References = []study.Reference{{Reference: "M", Issued: "2026-01-01", UScale: 0.005}}
	r.Sessions[0].Reference = "M"
	mean, u = byInverseVariance([]float64{0.98, 1}, []float64{own, 0.005})
	known = joint()
	assert.InDelta(t, mean, known.Scale, 1e-12, "a certificate holds beside a blank, too")
	assert.InDelta(t, u, known.UScale, 1e-12)
}
