package store_test

import (
	"database/sql"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/store"
)

// registered is a made-up register, with no number that is null: NaN does not equal itself.
func registered() *study.Roster {
	return &study.Roster{
		Instruments: []study.Instrument{{Instrument: "bench 1", Serial: "0017", Kind: "two beams", ConeDeg: 1.5, SlitNM: 4,
			Geometries: []string{"specular", "mixed"},
			JoinsNM:    []float64{350, 860.5}, UJoin: 0.001, Note: "in the cellar", UZero: stated(0.0003), UPlace: stated(0),
			UTiltDeg: stated(0.02), UPlaceZero: stated(0.0001), UWavelengthNM: stated(0.1)}},
		Events: []study.Event{
			{Instrument: "bench 1", Date: "2031-03-02", Event: "detector"},
			{Instrument: "bench 1", Date: "2031-03-02", Event: "lamp", Note: "the second"},
		},
		References: []study.Reference{
			{Reference: "M1", Issued: "2031-01-01", Expires: "2032-01-01", Serial: "44", Certificate: "C/1", UScale: 0.004,
				Curves: []study.ReferenceCurve{
					{AngleDeg: 8, Polarisation: "u", NM: []float64{380, 1100}, Values: []float64{0.9, 0.95},
						U: []float64{0.002, 0.003}},
					{AngleDeg: 45, Polarisation: "s", NM: []float64{380, 700, 1100},
						Values: []float64{0.91, 0.93, 0.9512345678901234}, U: []float64{0.002, 0.002, 0.003}},
				}},
			{Reference: "M1", Issued: "2032-01-01", Certificate: "C/2", UScale: 0.003, Note: "no values"},
		},
		Standards: []study.Standard{
			{Standard: "TILE", Issued: "2031-01-01", Expires: "2032-01-01", AngleDeg: 8, Polarisation: "u", Serial: "T9",
				Certificate: "C/3", Quantity: "R", WavelengthNM: 550, Value: 0.0423, U: 0.0002},
		},
		Sessions: []study.Session{
			{Session: "s1", Instrument: "bench 1", Date: "2031-03-05", Operator: "ada", Reference: "M1", HumidityPercent: 41.5,
				PoreWater: stated(0.3), UPoreWater: stated(0.1),
				TemperatureC: 22, Condition: "cleaned", Note: "quiet"},
		},
		Checks: []study.StandardReading{{Session: "s1", Standard: "TILE", AngleDeg: 8, Polarisation: "u", Replicate: 1,
			Value: 0.0424}},
	}
}

// stated is a number that is stated.
func stated(x float64) study.Stated { return study.Stated{Value: x, Is: true} }

// register adds it: ten rows.
func register(tx *store.Tx) error { return addRegister(tx, registered()) }

func addRegister(tx *store.Tx, r *study.Roster) (err error) {
	for i := 0; i < len(r.Instruments) && err == nil; i++ {
		_, err = tx.AddInstrument(r.Instruments[i])
	}
	for i := 0; i < len(r.Events) && err == nil; i++ {
		_, err = tx.AddEvent(r.Events[i])
	}
	for i := 0; i < len(r.References) && err == nil; i++ {
		_, err = tx.AddReference(r.References[i])
	}
	for i := 0; i < len(r.Standards) && err == nil; i++ {
		_, err = tx.AddStandard(r.Standards[i])
	}
	for i := 0; i < len(r.Sessions) && err == nil; i++ {
		_, err = tx.AddSession(r.Sessions[i])
	}
	for i := 0; i < len(r.Checks) && err == nil; i++ {
		_, err = tx.AddStandardReading(r.Checks[i])
	}
	return err
}

func TestRegisterComesBack(t *testing.T) {
	s, path := create(t)
	require.NoError(t, s.Write(t.Context(), entry("enrol"), func(tx *store.Tx) error {
		require.NoError(t, register(tx))
		within, err := tx.Roster()
		assert.Equal(t, registered(), within)
		return err
	}))
	got, err := s.Roster(t.Context())
	require.NoError(t, err)
	assert.Equal(t, registered(), got)
	verified(t, s)

	before := dump(t, s)
	require.NoError(t, s.Write(t.Context(), entry("enrol"), register), "the same rows again add nothing")
	assert.Equal(t, before, dump(t, s))
	require.NoError(t, s.Close())
	assert.Equal(t, before, dumpFile(t, path))
}

// What is not stated comes back as null, and adds nothing again either.
func TestRegisterWithoutNumbers(t *testing.T) {
	s, _ := create(t)
	bare := &study.Roster{
		Instruments: []study.Instrument{{Instrument: "b", ConeDeg: study.Null(), SlitNM: study.Null(), UJoin: study.Null()}},
		References:  []study.Reference{{Reference: "M", Issued: "2031-01-01", Certificate: "C", UScale: study.Null()}},
		Standards: []study.Standard{{Standard: "S", Issued: "2031-01-01", Certificate: "C", Polarisation: "u",
			Quantity: "solar_R", WavelengthNM: study.Null(), Value: 0.04, U: 0.001},
			{Standard: "T", Issued: "2031-01-01", Certificate: "own", Polarisation: "u", Quantity: study.Zero,
				WavelengthNM: study.Null(), U: study.UTrap}},
		Sessions: []study.Session{{Session: "s", Instrument: "b", Date: "2031-01-01", HumidityPercent: study.Null(),
			TemperatureC: study.Null()}},
	}
	add := func(tx *store.Tx) error { return addRegister(tx, bare) }
	require.NoError(t, s.Write(t.Context(), entry("enrol"), add))
	before := dump(t, s)
	require.NoError(t, s.Write(t.Context(), entry("enrol"), add))
	assert.Equal(t, before, dump(t, s))
	got, err := s.Roster(t.Context())
	require.NoError(t, err)
	for _, n := range []study.Num{got.Instruments[0].ConeDeg, got.Instruments[0].SlitNM, got.Instruments[0].UJoin,
		got.References[0].UScale,
		got.Standards[0].WavelengthNM, got.Sessions[0].HumidityPercent, got.Sessions[0].TemperatureC} {
		assert.False(t, n.Valid())
	}
	assert.Empty(t, got.Instruments[0].JoinsNM)
	assert.Empty(t, got.References[0].Curves)
	verified(t, s)
}

func TestRegisterRefusals(t *testing.T) {
	s, _ := create(t)
	require.NoError(t, s.Write(t.Context(), entry("enrol"), register))
	before := dump(t, s)
	for _, c := range []struct {
		name   string
		change func(r *study.Roster)
		words  []string
	}{
		{"a slit that differs", func(r *study.Roster) { r.Instruments[0].SlitNM = 5 },
			[]string{`instrument "bench 1" is known already`, "slit_nm was 4", "here it is 5"}},
		{"a join that differs", func(r *study.Roster) { r.Instruments[0].JoinsNM[1] = 861 },
			[]string{`join_nm was "350 860.5"`, `here it is "350 861"`}},
		{"an event of another note", func(r *study.Roster) { r.Events[1].Note = "" },
			[]string{`event lamp of instrument "bench 1" on 2031-03-02`, "note was"}},
		{"an event that there is not", func(r *study.Roster) { r.Events[0].Event = "party" },
			[]string{"does not fit into the study"}},
		{"an event of no instrument", func(r *study.Roster) { r.Events[0].Instrument = "bench 9" },
			[]string{`"bench 9"`, "names what is not enrolled"}},
		{"a certificate that expires later", func(r *study.Roster) { r.References[0].Expires = "2033-01-01" },
			[]string{`reference "M1" with the certificate issued 2031-01-01`, "expires was"}},
		{"a value of the table", func(r *study.Roster) { r.References[0].Curves[0].Values[1] = 0.951 },
			[]string{`reference "M1"`, "with other numbers"}},
		{"an angle of the table", func(r *study.Roster) { r.References[0].Curves[0].AngleDeg = 9 },
			[]string{`reference "M1"`, "with other numbers"}},
		{"a curve less", func(r *study.Roster) { r.References[0].Curves = r.References[0].Curves[:1] },
			[]string{`reference "M1"`, "curves was 2", "here it is 1"}},
		{"a table that was not there", func(r *study.Roster) { r.References[1].Curves = r.References[0].Curves },
			[]string{"curves was 0"}},
		{"a curve twice", func(r *study.Roster) {
			r.References[0].Issued = "2031-02-01"
			r.References[0].Curves[1] = r.References[0].Curves[0]
		}, []string{`reference "M1" with the certificate issued 2031-02-01 has a curve twice`}},
		{"a certified value that differs", func(r *study.Roster) { r.Standards[0].Value = 0.0424 },
			[]string{`standard "TILE" at 8 degrees, u`, "value was 0.0423"}},
		{"a standard without uncertainty",
			func(r *study.Roster) { r.Standards[0].Issued, r.Standards[0].U = "2032-01-01", 0 }, []string{"does not fit"}},
		{"a wavelength of a solar value", func(r *study.Roster) {
			r.Standards[0].Issued,
				r.Standards[0].Quantity = "2032-01-01", "solar_R"
		}, []string{"does not fit"}},
		{"a session of another day", func(r *study.Roster) { r.Sessions[0].Date = "2031-03-06" },
			[]string{`session "s1"`, "date was"}},
		{"a session at no instrument", func(r *study.Roster) {
			r.Sessions[0].Session, r.Sessions[0].Instrument = "s2",
				"bench 9"
		}, []string{`session "s2" does not fit`}},
		{"a session against no reference", func(r *study.Roster) {
			r.Sessions[0].Session, r.Sessions[0].Reference = "s2",
				"M9"
		}, []string{`session "s2" does not fit`}},
		{"a reading that differs", func(r *study.Roster) { r.Checks[0].Value = 0.0425 },
			[]string{`reading 1 of standard "TILE"`, "value was 0.0424"}},
		{"a reading in no session", func(r *study.Roster) { r.Checks[0].Session = "s9" }, []string{"does not fit"}},
		{"a reading of what is not certified", func(r *study.Roster) { r.Checks[0].AngleDeg = 30 },
			[]string{"at 30 degrees", "does not fit"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			err := s.Write(t.Context(), entry("enrol"), func(tx *store.Tx) error {
				r := registered()
				c.change(r)
				return addRegister(tx, r)
			})
			refused(t, err, c.words...)
			assert.Equal(t, before, dump(t, s))
		})
	}
	verified(t, s)
}

// A refused reference leaves nothing of its curves behind.
func TestReferenceIsWhole(t *testing.T) {
	s, _ := create(t)
	before := dump(t, s)
	require.NoError(t, s.Write(t.Context(), entry("enrol"), func(tx *store.Tx) error {
		r := registered().References[0]
		r.Curves[1].Polarisation = "x"
		_, err := tx.AddReference(r)
		refused(t, err, `reference "M1" with the certificate issued 2031-01-01, the values at 45 degrees, x, does not fit`)
		return nil
	}))
	assert.Equal(t, before, dump(t, s))
}

func TestTamperingWithTheRegisterIsNoticed(t *testing.T) {
	for _, c := range []struct{ name, do, finding string }{
		{"a cone altered", "UPDATE instrument SET cone_deg = 0", "table instrument, row 1: its checksum is wrong"},
		{"an event removed", "DELETE FROM event WHERE id = 1", "table event, row 2: rows 1 to 1 before it are missing"},
		{"a certificate made to last", "UPDATE reference SET expires = NULL",
			"table reference, row 1: its checksum is wrong"},
		{"a value of a reference", "UPDATE reference_curve SET values_packed = u_packed WHERE id = 1",
			"table reference_curve, row 1: its checksum is wrong"},
		{"a curve gone", "DELETE FROM reference_curve WHERE id = 2", "table reference, row 1: it had 2 curves, 1 are there"},
		{"a certified value", "UPDATE standard SET u = 1", "table standard, row 1: its checksum is wrong"},
		{"a session moved", "UPDATE session SET date = '2031-03-01'", "table session, row 1: its checksum is wrong"},
		{"a reading bettered", "UPDATE standard_reading SET value = 0.0423",
			"table standard_reading, row 1: its checksum is wrong"},
		{"an instrument gone", "DELETE FROM instrument", "it refers to a row of table instrument that is not there"},
	} {
		t.Run(c.name, func(t *testing.T) {
			path := filled(t)
			tamper(t, path, func(db *sql.DB) { run(t, db, c.do) })
			assert.Contains(t, verifiedAs(t, path), c.finding)
		})
	}
}

func TestSessionsRead(t *testing.T) {
	s, _ := enrolled(t)
	ask := func() (names []string) {
		require.NoError(t, s.View(t.Context(), func(v *store.View) (err error) {
			names, err = v.SessionsRead()
			return err
		}))
		return names
	}
	assert.Empty(t, ask())
	takeIn(t, s, study.Unit{Coupon: "C001", Pull: 1, Spot: "a"})
	takeIn(t, s, study.Unit{Coupon: "C002", Pull: 1, Spot: "a"})
	assert.Equal(t, []string{"m1"}, ask(), "each once")
}

// What is held counts for its session, and not among the sessions of its unit; after a
// review it is the other way round.
func TestHeldInAndSessionsOf(t *testing.T) {
	s, _ := enrolled(t)
	unit := study.Unit{Coupon: "C001", Pull: 1, Spot: "a"}
	takeIn(t, s, unit) // readings 1 and 2, of session m1
	ask := func() (held map[string]int, sessions []string) {
		require.NoError(t, s.View(t.Context(), func(v *store.View) (err error) {
			if held, err = v.HeldIn(); err == nil {
				sessions, err = v.SessionsOf(unit)
			}
			return err
		}))
		return held, sessions
	}
	held, sessions := ask()
	assert.Empty(t, held)
	assert.Equal(t, []string{"m1", "m1"}, sessions)
	_, err := guard(t, s, 2, hold(1, "noise", "it is noisy"), hold(2, "noise", "it is noisy"),
		hold(2, "level", "too bright"))
	require.NoError(t, err)
	held, sessions = ask()
	assert.Equal(t, map[string]int{"m1": 2}, held)
	assert.Empty(t, sessions)
	require.NoError(t, s.Write(t.Context(), entry("review"), func(tx *store.Tx) error {
		return tx.Review(study.Review{Reading: 2, Standing: study.Counted, Why: "seen"})
	}))
	held, sessions = ask()
	assert.Equal(t, map[string]int{"m1": 1}, held)
	assert.Equal(t, []string{"m1"}, sessions)
}
