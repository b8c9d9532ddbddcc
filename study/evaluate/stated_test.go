package evaluate_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/fit/film"
	"wane/optics"
	"wane/study"
	"wane/study/evaluate"
)

func is(x float64) study.Stated { return study.Stated{Value: x, Is: true} }

// trapped is a made-up register of one instrument with a light trap, read three times in one of two sessions.
func trapped() *study.Roster {
	trap := study.Standard{Standard: "LT", Issued: "2026-01-01", Expires: "2026-12-31", AngleDeg: 8, Polarisation: "u",
		Quantity: study.Zero, WavelengthNM: study.Null(), Value: 0.0001, U: 0.00005}
	read := study.StandardReading{Session: "with", Standard: "LT", AngleDeg: 8, Polarisation: "u"}
	r := &study.Roster{
		Instruments: []study.Instrument{{Instrument: "known", ConeDeg: study.Null(), SlitNM: study.Null(), UJoin: study.Null(),
			UZero: is(0.0002), UTiltDeg: is(0.02), UPlace: is(0), UPlaceZero: is(0.0001), UWavelengthNM: is(0.1)}},
		Standards: []study.Standard{trap},
		Sessions: []study.Session{{Session: "with", Instrument: "known", Date: "2026-03-01"},
			{Session: "without", Instrument: "known", Date: "2026-03-02"}},
	}
	for i, v := range []float64{0.0003, 0.0004, 0.0008} {
		read.Replicate, read.Value = i+1, v
		r.Checks = append(r.Checks, read)
	}
	return r
}

// Each statement takes the place of one default and of no other.
func TestStatementsEnterTheSetup(t *testing.T) {
	all := evaluate.RegisteredConditions(trapped())
	plain := evaluate.Setup{Glass: film.Glass{Back: optics.Blackened}}
	want := film.DefaultKnown(optics.Blackened)
	want.Session.UZero, want.Session.UWavelengthNM = 0.0002, 0.1
	want.Placement = film.Placement{UFactor: 0, UTiltDeg: 0.02, UZero: 0.0001, UThrough: want.Placement.UThrough}
	got := all["without"].Under(plain)
	require.NotNil(t, got.Known)
	assert.Equal(t, want, *got.Known)

	// By hand: readings less the certified value are 0.0002, 0.0003, 0.0007; mean 0.0004, standard deviation 0.000264575
	// (their deviations -2, -1, 3 have squares of sum 14e-8), of the mean 0.000152753.
	want.Session.Zero, want.Session.UZero = 0.0004, math.Hypot(0.00005, math.Sqrt(14e-8/2/3))
	got = all["with"].Under(plain)
	assert.InDelta(t, want.Session.Zero, got.Known.Session.Zero, 1e-15)
	assert.InDelta(t, want.Session.UZero, got.Known.Session.UZero, 1e-15)
	got.Known.Session.Zero, got.Known.Session.UZero = want.Session.Zero, want.Session.UZero
	assert.Equal(t, want, *got.Known, "a light trap in place of u_zero, and of nothing else")
	assert.Nil(t, plain.Known)
}

// A light trap whose certificate had expired is not better than the default.
func TestExpiredLightTrap(t *testing.T) {
	r := trapped()
	r.Checks, r.Standards[0].Expires = r.Checks[:1], "2026-02-01"
	trap, read := evaluate.ZeroByTrap(r, &r.Sessions[0])
	require.True(t, read)
	assert.InDelta(t, 0.0002, trap.Mean, 1e-15)
	assert.Equal(t, film.DefaultSession().UZero, trap.U)
	_, read = evaluate.ZeroByTrap(r, &r.Sessions[1])
	assert.False(t, read)
}

// A leak of the size that is assumed gives what is assumed; a batch states the index of its glass alone.
func TestStatementsOfACoupon(t *testing.T) {
	roster := &study.Roster{Batches: []study.GlassBatch{{Glass: "soda-lime", Batch: "a", UIndex: is(0.0003)},
		{Glass: "low-iron", Batch: "b", UIndex: is(0.0001)}}}
	coupon := func(change func(*study.Coupon)) evaluate.Setup {
		c := study.Coupon{Coupon: "C", Glass: "soda-lime", GlassMM: study.Null(), Back: "matched"}
		change(&c)
		setup, err := evaluate.CouponSetup(&c, "bruggeman", roster)
		require.NoError(t, err)
		return setup
	}
	plain := coupon(func(*study.Coupon) {})
	assert.Nil(t, plain.Known)
	assert.Equal(t, 0.002, plain.Glass.UIndex)

	leaks := coupon(func(c *study.Coupon) { c.Leak = is(0.0002) })
	want := film.DefaultCoupon()
	assert.InDelta(t, want.Leak, leaks.Known.Coupon.Leak, 1e-18)
	assert.InDelta(t, want.ULeak, leaks.Known.Coupon.ULeak, 1e-18)
	tight := coupon(func(c *study.Coupon) { c.Leak = is(0) })
	assert.Equal(t, film.Coupon{UIndex: want.UIndex, UReturn: want.UReturn}, tight.Known.Coupon)

	assert.Equal(t, 0.0003, coupon(func(c *study.Coupon) { c.Batch = "a" }).Glass.UIndex)
	assert.Equal(t, 0.002, coupon(func(c *study.Coupon) { c.Batch = "b" }).Glass.UIndex, "that of another glass")
	assert.Equal(t, 0.002, coupon(func(c *study.Coupon) { c.Batch = "z" }).Glass.UIndex, "not enrolled")
}

// Whatever is stated enters the digest.
func TestStatementsEnterDigests(t *testing.T) {
	seen := map[[32]byte]string{}
	add := func(what string, d [32]byte) {
		assert.Empty(t, seen[d], what)
		seen[d] = what
	}
	for what, change := range map[string]func(*study.Instrument){
		"nothing": func(*study.Instrument) {}, "u_zero": func(i *study.Instrument) { i.UZero = is(0.0003) },
		"u_zero 0": func(i *study.Instrument) { i.UZero = is(0) }, "u_place": func(i *study.Instrument) { i.UPlace = is(0.0003) },
		"u_tilt":       func(i *study.Instrument) { i.UTiltDeg = is(0.0003) },
		"u_place_zero": func(i *study.Instrument) { i.UPlaceZero = is(0.0003) },
		"u_wavelength": func(i *study.Instrument) { i.UWavelengthNM = is(0.0003) },
	} {
		r := trapped()
		r.Checks, r.Instruments[0] = nil, study.Instrument{Instrument: "known", JoinsNM: []float64{860}, UJoin: 0.001}
		change(&r.Instruments[0])
		add(what, evaluate.RegisteredConditions(r)["with"].Digest([32]byte{1}))
	}
	add("a light trap", evaluate.RegisteredConditions(trapped())["with"].Digest([32]byte{1}))

	roster := &study.Roster{Batches: []study.GlassBatch{{Glass: "soda-lime", Batch: "a", UIndex: is(0.0003)}}}
	for what, c := range map[string]study.Coupon{"coupon": {}, "leak": {Leak: is(0)}, "a batch": {Batch: "a"},
		"another batch": {Batch: "b"}} {
		c.Glass, c.Back = "soda-lime", "matched"
		add(what, evaluate.Digest(&c, "bruggeman", [32]byte{1}, roster))
	}
}

func TestKnowledgeSaysWhoStatesIt(t *testing.T) {
	roster := trapped()
	conditions := evaluate.RegisteredConditions(roster)["with"]
	conditions.UScale = 0.003
	coupon := study.Coupon{Coupon: "C", Glass: "soda-lime", GlassMM: study.Null(), Back: "matched", Leak: is(0.001)}
	setup, err := evaluate.CouponSetup(&coupon, "bruggeman", roster)
	require.NoError(t, err)
	var said []string
	for _, k := range evaluate.Knowledge(conditions.Under(setup), conditions.All(&coupon, roster)) {
		said = append(said, k.String())
	}
	assert.Equal(t, []string{"scale 1 ± 0.003 stated by its reference", "zero 0.0004 ± 0.000161 stated by light trap LT",
		"wavelength 0 ± 0.1 nm stated by instrument known", "place ± 0 stated by instrument known",
		"tilt ± 0.02 degrees stated by instrument known", "place zero ± 0.0001 stated by instrument known",
		"leak 0.0008 ± 0.0006 stated by coupon C", "glass index ± 0.002 assumed"}, said)

	coupon.Back, coupon.Leak = "blackened", study.Stated{}
	setup, err = evaluate.CouponSetup(&coupon, "bruggeman", roster)
	require.NoError(t, err)
	all := evaluate.Knowledge(setup, evaluate.Conditions{}.All(&coupon, roster))
	require.Len(t, all, 6, "no leak, and the scale is not stated")
	for _, k := range all {
		assert.Empty(t, k.By, k.What)
	}
	assert.Equal(t, "place zero ± 0.0001", all[4].What, "of a blackened far face")
}

func TestContradictions(t *testing.T) {
	require.NoError(t, evaluate.CheckStandards(trapped()))
	for fault, change := range map[string]func(*study.Roster){
		"session with: its light trap reads 0.0019, and the u_zero of instrument known is stated as 0.0002": func(r *study.Roster) {
			for i := range r.Checks {
				r.Checks[i].Value += 0.0015
			}
		},
		"session with: its light trap reads 0.04, and a zero is at most 0.02": func(r *study.Roster) {
			r.Checks = r.Checks[:1]
			r.Checks[0].Value, r.Instruments[0].UZero = 0.0401, study.Stated{}
		},
	} {
		r := trapped()
		change(r)
		var refused *study.Refusal
		require.ErrorAs(t, evaluate.CheckStandards(r), &refused, fault)
		assert.Contains(t, refused.Fault, fault)
		assert.NotEmpty(t, refused.Try)
	}
}

// The zero of the trap is 0.0004 ± 0.00016, so that it is brighter than a coupon from below 0.00008 on.
func TestTrapBrighterThanTheCoupon(t *testing.T) {
	c := evaluate.RegisteredConditions(trapped())["with"]
	flat := func(level float64) []study.Reading {
		r := study.Reading{Place: study.Place{Coupon: "C", AngleDeg: 8}, Session: "with", Values: make([]float64, 30)}
		for i := range r.Values {
			r.Values[i] = level + 0.001*float64(i%3-1) // noise that 9 points average to zero
			if i < 10 {
				r.Values[i] += 0.01
			}
		}
		return []study.Reading{r}
	}
	require.NoError(t, c.CheckZero(flat(0.0005)))
	require.NoError(t, c.CheckZero(flat(0.0001)))
	var refused *study.Refusal
	require.ErrorAs(t, c.CheckZero(flat(0.00005)), &refused)
	assert.Equal(t, "the light trap LT of session with reads 0.0004, and coupon C at 8 degrees as little as 5e-05: the trap is "+
		"brighter than the coupon", refused.Fault)
	assert.NotEmpty(t, refused.Try)
	without := evaluate.RegisteredConditions(trapped())["without"]
	require.NoError(t, without.CheckZero(flat(-0.001)), "no light trap was read")
}
