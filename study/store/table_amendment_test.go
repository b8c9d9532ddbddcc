package store_test

import (
	"database/sql"
	"fmt"
	"maps"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/store"
)

// viewOf names the view of each table that has one.
var viewOf = map[string]string{
	"exposure": "v_exposures", "pull": "v_pulls", "coupon": "v_coupons", "glass_batch": "v_glass_batches",
	"instrument": "v_instruments", "event": "v_events", "reference": "v_references", "standard": "v_standards",
	"session": "v_sessions", "standard_reading": "v_standard_readings",
	"coupon_event": "v_coupon_events", "dose_reading": "v_dose_readings",
}

// everyKind is a study with a row in each table whose rows people correct.
func everyKind(t testing.TB) (*store.Store, string) {
	t.Helper()
	path := filled(t)
	s, err := store.Open(t.Context(), path)
	require.NoError(t, err)
	t.Cleanup(func() { s.Close() })
	return s, path
}

// correct amends a batch of a glass and withdraws coupon C003, under two lines of the log.
func correct(t testing.TB, s *store.Store) {
	t.Helper()
	amended(t, s, func(tx *store.Tx) ([]store.Correction, error) {
		return tx.AmendGlassBatch(study.GlassBatch{Glass: "g.csv", Batch: "melt 1", Model: "words"}, "model")
	})
	_, err := withdraw(t, s, "coupon", "C003")
	require.NoError(t, err)
}

// amended lets do amend in a transaction, and returns what it made.
func amended(t testing.TB, s *store.Store, do func(*store.Tx) ([]store.Correction, error)) (made []store.Correction) {
	t.Helper()
	require.NoError(t, s.Write(t.Context(), entry("amend"), func(tx *store.Tx) (err error) {
		made, err = do(tx)
		return err
	}))
	return made
}

// words writes corrections, a line each.
func words(made []store.Correction) string {
	var lines []string
	for _, c := range made {
		if c.Field == "" {
			lines = append(lines, c.What+" withdrawn")
		} else {
			lines = append(lines, fmt.Sprintf("%s: %s %s -> %s", c.What, c.Field, store.Show(c.Was), store.Show(c.Is)))
		}
	}
	return strings.Join(lines, "\n")
}

func rosterOf(t testing.TB, s *store.Store) *study.Roster {
	t.Helper()
	roster, err := s.Roster(t.Context())
	require.NoError(t, err)
	return roster
}

func TestAnAmendedRowIsReadAndTheOldOneStays(t *testing.T) {
	s, path := everyKind(t)
	before := rosterOf(t, s)
	right := coupon("C001", study.Exposed, "rack")
	right.Lot, right.Supplier = "L9", "not looked at"
	made := amended(t, s, func(tx *store.Tx) ([]store.Correction, error) { return tx.AmendCoupon(right, "lot", "back") })
	assert.Equal(t, `coupon "C001": lot "L2" -> "L9"`, words(made), "the same value is no change")

	want := *before
	want.Coupons = slices.Clone(want.Coupons)
	i := slices.IndexFunc(want.Coupons, func(c study.Coupon) bool { return c.Coupon == "C001" })
	want.Coupons[i].Lot = "L9"
	sameRoster(t, &want, rosterOf(t, s))

	t.Run("within a transaction", func(t *testing.T) {
		err := s.Write(t.Context(), entry("amend"), func(tx *store.Tx) error {
			_, err := tx.Roster() // what it read before does not hide what it amends
			require.NoError(t, err)
			right.Lot = "L10"
			_, err = tx.AmendCoupon(right, "lot")
			require.NoError(t, err)
			now, err := tx.Roster()
			require.NoError(t, err)
			assert.Equal(t, "L10", now.Coupons[i].Lot)
			return assert.AnError
		})
		assert.ErrorIs(t, err, assert.AnError)
		sameRoster(t, &want, rosterOf(t, s))
	})
	t.Run("enrolled again, the present row adds nothing, and the old one is refused", func(t *testing.T) {
		all := dump(t, s)
		enrolAgain := func(c study.Coupon) error {
			return s.Write(t.Context(), entry("enrol"), func(tx *store.Tx) error {
				added, err := tx.AddCoupon(c)
				assert.False(t, added)
				return err
			})
		}
		require.NoError(t, enrolAgain(want.Coupons[i]))
		r := refused(t, enrolAgain(before.Coupons[i]),
			`coupon "C001" is known already, and differs: lot was "L9", and here it is "L2"`)
		assert.Contains(t, r.Try, "wane amend")
		assert.Equal(t, all, dump(t, s))
	})
	verified(t, s)
	require.NoError(t, s.Close())
	assert.Equal(t, []string{"L2"}, ask(t, path, "SELECT lot FROM coupon WHERE coupon = 'C001'"))
	assert.Equal(t, []string{"L9"}, ask(t, path, "SELECT lot FROM v_coupons WHERE coupon = 'C001'"))
	assert.Equal(t, []string{"L9"}, ask(t, path, "SELECT DISTINCT lot FROM v_results WHERE coupon = 'C001'"))
	assert.Equal(t, []string{"coupon|lot|L9|ada"}, ask(t, path, "SELECT of, field, value, who FROM v_amendments WHERE value = 'L9'"))
}

// Each round amends cells of rows of every kind, at random. A model that is nothing but the last value of each cell says
// what is read, and what was read after each line is read as of that line for ever.
func TestWhatIsReadIsTheLastValueOfEachCell(t *testing.T) {
	s, path := everyKind(t)
	dice := rand.New(rand.NewPCG(3, 14))
	words := []string{"one", "two", "three", "four"}
	word := func() string { return words[dice.IntN(len(words))] }
	number := func() study.Num { return study.Num(dice.IntN(8)) / 4 }
	then := map[int64]*study.Roster{}
	note := func() int64 {
		line := lastLineOf(t, s)
		then[line] = rosterOf(t, s)
		return line
	}
	note()
	for range 40 {
		want := *rosterOf(t, s)
		want.Pulls, want.Coupons = slices.Clone(want.Pulls), slices.Clone(want.Coupons)
		want.Sessions, want.Checks = slices.Clone(want.Sessions), slices.Clone(want.Checks)
		require.NoError(t, s.Write(t.Context(), entry("amend"), func(tx *store.Tx) error {
			p := &want.Pulls[dice.IntN(len(want.Pulls))]
			p.Date, p.Dose = "2031-07-0"+fmt.Sprint(1+dice.IntN(9)), float64(number())
			c := &want.Coupons[dice.IntN(len(want.Coupons))]
			c.Lot, c.GlassMM, c.WaterRepellent = word(), number(), dice.IntN(2) == 0
			e := &want.Sessions[dice.IntN(len(want.Sessions))]
			e.Note, e.HumidityPercent = word(), number()
			if dice.IntN(2) == 0 {
				e.Note, e.HumidityPercent = "", study.Null()
			}
			r := &want.Checks[dice.IntN(len(want.Checks))]
			r.Value = float64(number())
			for _, amend := range []func() ([]store.Correction, error){
				func() ([]store.Correction, error) { return tx.AmendPull(*p, "date", "dose") },
				func() ([]store.Correction, error) { return tx.AmendCoupon(*c, "lot", "glass_mm", "water_repellent") },
				func() ([]store.Correction, error) { return tx.AmendSession(*e, "humidity_percent", "note") },
				func() ([]store.Correction, error) { return tx.AmendStandardReading(*r, "value") },
			} {
				if _, err := amend(); err != nil {
					return err
				}
			}
			return nil
		}))
		sameRoster(t, &want, rosterOf(t, s))
		note()
	}
	for _, line := range slices.Sorted(maps.Keys(then)) {
		require.NoError(t, s.ViewAsOf(t.Context(), line, func(v *store.View) error {
			got, err := v.Roster()
			sameRoster(t, then[line], got)
			return err
		}))
	}
	verified(t, s)
	for _, of := range slices.Sorted(maps.Keys(viewOf)) {
		columns, rows, err := s.CurrentRows(t.Context(), of)
		require.NoError(t, err)
		assert.Equal(t, rows, viewRows(t, raw(t, path), viewOf[of], columns), "the view shows the present rows of %s", of)
	}
}

// sameRoster compares rosters whose numbers may be null.
func sameRoster(t testing.TB, want, got *study.Roster) {
	t.Helper()
	require.Equal(t, fmt.Sprintf("%+v", want), fmt.Sprintf("%+v", got))
}

func lastLineOf(t testing.TB, s *store.Store) (last int64) {
	t.Helper()
	require.NoError(t, s.Log(t.Context(), func(e study.Entry) error { last = e.Number; return nil }))
	return last
}

// viewRows returns the rows of a view in the order of the rows of its table.
func viewRows(t testing.TB, db *sql.DB, view string, columns []string) (all []string) {
	t.Helper()
	rows, err := db.Query("SELECT " + strings.Join(columns, ", ") + " FROM " + view)
	require.NoError(t, err)
	defer rows.Close()
	values, places := make([]any, len(columns)), make([]any, len(columns))
	for i := range values {
		places[i] = &values[i]
	}
	for rows.Next() {
		require.NoError(t, rows.Scan(places...))
		var cells []string
		for _, v := range values {
			cells = append(cells, store.Show(v))
		}
		all = append(all, strings.Join(cells, "|"))
	}
	require.NoError(t, rows.Err())
	return all
}

// An amended row is held to what its table holds rows to: what is refused changes nothing, and the transaction goes on.
func TestAnAmendmentThatDoesNotFitIsRefused(t *testing.T) {
	s, _ := everyKind(t)
	before := dump(t, s)
	c := func(change func(*study.Coupon)) study.Coupon {
		c := coupon("C001", study.Exposed, "rack")
		change(&c)
		return c
	}
	require.NoError(t, s.Write(t.Context(), entry("amend"), func(tx *store.Tx) error {
		for _, of := range []struct {
			name, fault string
			do          func() ([]store.Correction, error)
		}{
			{"a word that is none of those allowed", `coupon "C001" does not fit into the study`,
				func() ([]store.Correction, error) {
					return tx.AmendCoupon(c(func(c *study.Coupon) { c.Role = "spare" }), "role")
				}},
			{"an exposure that is not enrolled", `coupon "C001" does not fit into the study`,
				func() ([]store.Correction, error) {
					return tx.AmendCoupon(c(func(c *study.Coupon) { c.Exposure = "roof" }), "exposure")
				}},
			{"a number below its bound", `coupon "C001" does not fit into the study`, func() ([]store.Correction, error) {
				return tx.AmendCoupon(c(func(c *study.Coupon) { c.Leak = study.Stated{Value: -1, Is: true} }), "leak")
			}},
			{"a text that hides something", "lot: ", func() ([]store.Correction, error) {
				return tx.AmendCoupon(c(func(c *study.Coupon) { c.Lot = "L\u200b2" }), "lot")
			}},
			{"a column of the key", `coupon of coupon "C001" cannot be amended`, func() ([]store.Correction, error) {
				return tx.AmendCoupon(c(func(*study.Coupon) {}), "coupon")
			}},
			{"a column that the program fills in", `log of coupon "C001" cannot be amended`,
				func() ([]store.Correction, error) { return tx.AmendCoupon(c(func(*study.Coupon) {}), "log") }},
			{"a row that is not there", `coupon "C999" is not enrolled`, func() ([]store.Correction, error) {
				return tx.AmendCoupon(coupon("C999", study.Exposed, "rack"), "lot")
			}},
			{"an instrument that is not enrolled", `session "s1" does not fit into the study`, func() ([]store.Correction, error) {
				return tx.AmendSession(study.Session{Session: "s1", Instrument: "none", Date: "2031-06-02"}, "instrument")
			}},
			{"a measurement without a value", "does not fit into the study", func() ([]store.Correction, error) {
				m := gauged()
				m.Value = study.Null()
				return tx.AmendMeasurement(m, nil, "value")
			}},
		} {
			made, err := of.do()
			refused(t, err, of.fault)
			assert.Empty(t, made, of.name)
		}
		return nil
	}))
	assert.Equal(t, before, dump(t, s))
	require.NoError(t, s.Write(t.Context(), entry("amend"), func(tx *store.Tx) error {
		_, err := tx.AmendCoupon(c(func(c *study.Coupon) { c.Lot = "L3" }), "lot")
		require.NoError(t, err)
		_, err = tx.AmendCoupon(c(func(c *study.Coupon) { c.Lot = "L4" }), "lot")
		refused(t, err, `lot of coupon "C001" is amended twice`)
		return nil
	}))
	i := slices.IndexFunc(rosterOf(t, s).Coupons, func(c study.Coupon) bool { return c.Coupon == "C001" })
	assert.Equal(t, "L3", rosterOf(t, s).Coupons[i].Lot)
	verified(t, s)
}

func TestValuesOfACertificateAreAmended(t *testing.T) {
	s, _ := everyKind(t)
	i := slices.IndexFunc(registered().References, func(c study.Reference) bool { return len(c.Curves) > 0 })
	was := registered().References[i]
	is := was
	is.Curves = []study.ReferenceCurve{
		{AngleDeg: was.Curves[0].AngleDeg, Polarisation: was.Curves[0].Polarisation, NM: []float64{300, 400, 500},
			Values: []float64{0.9, 0.91, 0.92}, U: []float64{0.01, 0.01, 0.01}},
		{AngleDeg: 77, Polarisation: "s", NM: []float64{300, 400}, Values: []float64{0.5, 0.6}, U: []float64{0.1, 0.1}},
	}
	at := slices.IndexFunc(rosterOf(t, s).References, func(c study.Reference) bool {
		return c.Reference == was.Reference && c.Issued == was.Issued
	})
	made := amended(t, s, func(tx *store.Tx) ([]store.Correction, error) { return tx.AmendReference(is, "values") })
	assert.NotEmpty(t, made)
	assert.Equal(t, is.Curves, rosterOf(t, s).References[at].Curves)
	verified(t, s)

	made = amended(t, s, func(tx *store.Tx) ([]store.Correction, error) { return tx.AmendReference(is, "values") })
	assert.Empty(t, made, "the same values again")
}

func TestATableOfAGlassIsAmended(t *testing.T) {
	s, _ := everyKind(t)
	right := study.Glass{Name: "g.csv", NM: []float64{300, 400, 500}, N: []float64{1.52, 1.51, 1.5}, K: []float64{0, 0, 0}}
	spectrum := study.ReturnSpectrum{Name: "r.csv", NM: []float64{300, 400}, Return: []float64{0.07, 0.05}}
	amended(t, s, func(tx *store.Tx) ([]store.Correction, error) {
		made, err := tx.AmendGlass(right)
		require.NoError(t, err)
		more, err := tx.AmendReturnSpectrum(spectrum)
		return append(made, more...), err
	})
	roster := rosterOf(t, s)
	assert.Equal(t, []study.Glass{right}, roster.Glasses)
	assert.Equal(t, []study.ReturnSpectrum{spectrum}, roster.Returns)
	verified(t, s)
}

func TestAMeasurementIsAmended(t *testing.T) {
	s, path := everyKind(t)
	right, picture := gauged(), file("right.png", "made up anew")
	right.Value, right.Note = 119.2, ""
	made := amended(t, s, func(tx *store.Tx) ([]store.Correction, error) {
		return tx.AmendMeasurement(right, &picture, "value", "note", "picture")
	})
	require.Len(t, made, 3)
	got := allMeasurements(t, s)
	require.Len(t, got, 1)
	assert.EqualValues(t, 119.2, got[0].Value)
	assert.Empty(t, got[0].Note)
	assert.Equal(t, hexOf(picture.SHA256), got[0].Picture)
	assert.Equal(t, gauged().Operator, got[0].Operator, "what is not named stays")
	r := refused(t, func() error { _, err := measure(t, s, file("again.csv", "a"), gauged(), nil); return err }(),
		"value was 119.2, and here it is 118.4")
	assert.Contains(t, r.Try, "wane amend")
	verified(t, s)
	require.NoError(t, s.Close())
	assert.Equal(t, []string{"119.2||right.png"}, ask(t, path, "SELECT value, note, picture FROM v_measurements"))
}

func TestCorrectionsAreListedWithWhatWasBefore(t *testing.T) {
	s, _ := create(t)
	require.NoError(t, s.Write(t.Context(), entry("enrol"), enrol))
	c := coupon("C001", study.Exposed, "rack")
	for _, lot := range []string{"L3", "L4"} {
		c.Lot = lot
		amended(t, s, func(tx *store.Tx) ([]store.Correction, error) { return tx.AmendCoupon(c, "lot") })
	}
	amended(t, s, func(tx *store.Tx) ([]store.Correction, error) { return tx.Withdraw("coupon", 2) })
	amended(t, s, func(tx *store.Tx) ([]store.Correction, error) {
		return tx.AmendPull(study.Pull{Exposure: "rack", Pull: 1, Dose: 90.5}, "date")
	})
	var got []string
	require.NoError(t, s.View(t.Context(), func(v *store.View) error {
		return v.Corrections(func(k store.Kept[store.Correction]) error {
			got = append(got, fmt.Sprintf("%d %s", k.Line, words([]store.Correction{k.Row})))
			return nil
		})
	}))
	assert.Equal(t, []string{
		`3 coupon "C001": lot "L2" -> "L3"`,
		`4 coupon "C001": lot "L3" -> "L4"`,
		`5 coupon "C002" withdrawn`,
		`6 pull 1 of exposure "rack": date "2031-06-01" -> empty`,
	}, got)
}
