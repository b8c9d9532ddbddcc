package store_test

import (
	"database/sql"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/store"
)

// withdraw withdraws the one row with this key.
func withdraw(t testing.TB, s *store.Store, of, key string) (made []store.Correction, err error) {
	t.Helper()
	err = s.Write(t.Context(), entry("amend"), func(tx *store.Tx) error {
		made, err = tx.Withdraw(of, numberOf(t, tx, of, key))
		return err
	})
	return made, err
}

// numberOf returns the number of the one row with this key.
func numberOf(t testing.TB, tx *store.Tx, of, key string) int64 {
	t.Helper()
	rows, err := tx.KeyedRows(of)
	require.NoError(t, err)
	rows = slices.DeleteFunc(rows, func(k store.KeyedRow) bool { return k.Key != key })
	require.Len(t, rows, 1, "%s:%s", of, key)
	return rows[0].Number
}

func TestAWithdrawnCouponIsGoneAndItsCodeStaysTaken(t *testing.T) {
	s, path := everyKind(t)
	made, err := withdraw(t, s, "coupon", "C004")
	require.NoError(t, err)
	assert.Equal(t, `coupon "C004" withdrawn`, words(made))
	for _, c := range rosterOf(t, s).Coupons {
		assert.NotEqual(t, "C004", c.Coupon)
	}
	again := coupon("C004", study.Exposed, "rack")
	r := refused(t, s.Write(t.Context(), entry("enrol"), func(tx *store.Tx) error { _, err := tx.AddCoupon(again); return err }),
		`coupon "C004" was withdrawn`)
	assert.Contains(t, r.Try, "under a name that is new")
	refused(t, s.Write(t.Context(), entry("amend"), func(tx *store.Tx) error {
		_, err := tx.AmendCoupon(again, "lot")
		return err
	}), `coupon "C004" was withdrawn`)
	e, readings := export("late.csv", study.Unit{Coupon: "C004", Pull: 1, Spot: "a"}, 8)
	require.Error(t, s.Write(t.Context(), entry("intake"), func(tx *store.Tx) error {
		_, err := tx.AddExport(e, how, readings)
		return err
	}), "nothing is taken in of it")
	verified(t, s)
	require.NoError(t, s.Close())
	assert.Equal(t, []string{"0"}, ask(t, path, "SELECT count(*) FROM v_coupons WHERE coupon = 'C004'"))
	assert.Equal(t, []string{"1"}, ask(t, path, "SELECT count(*) FROM coupon WHERE coupon = 'C004'"), "the row stays")
	assert.Equal(t, []string{"coupon|ada"}, ask(t, path, "SELECT of, who FROM v_withdrawals"))
}

func TestWhatIsNamedIsNotWithdrawn(t *testing.T) {
	s, _ := everyKind(t)
	before := dump(t, s)
	for _, c := range []struct{ of, key, fault string }{
		{"coupon", "C002", `coupon "C002" has readings that count or are held: 4`},
		{"coupon", "C001", `coupon "C001" has readings that count or are held: 1-2`},
		{"exposure", "rack", `exposure "rack" is named by coupon "C001"; coupon "C002"`},
		{"pull", "rack/1", `pull 1 of exposure "rack" has readings that count or are held: 1-2, 4-6`},
		{"instrument", "bench 1", `instrument "bench 1" is named by session "s1"`},
		{"standard", "TILE/2031-01-01/8/u", `is named by reading 1 of standard "TILE"`},
	} {
		_, err := withdraw(t, s, c.of, c.key)
		refused(t, err, c.fault)
	}
	assert.Equal(t, before, dump(t, s))
}

// A coupon of which all readings are set aside can be withdrawn. They stay in the study, and nothing lists them.
func TestReadingsThatAreSetAsideGoWithTheirCoupon(t *testing.T) {
	s, _ := everyKind(t)
	for _, reading := range []int64{5, 6} { // of K001
		require.NoError(t, s.Write(t.Context(), entry("review"), func(tx *store.Tx) error {
			return tx.Review(study.Review{Reading: reading, Standing: study.Aside, Why: "no such coupon"})
		}))
	}
	line := lastLineOf(t, s)
	_, err := withdraw(t, s, "coupon", "K001")
	require.NoError(t, err)
	require.NoError(t, s.View(t.Context(), func(v *store.View) error {
		units, err := v.Units()
		require.NoError(t, err)
		for _, u := range units {
			assert.NotEqual(t, "K001", u.Coupon)
		}
		for _, list := range []func(func(string)) error{
			func(see func(string)) error {
				return v.EachReading(func(k store.Kept[study.Reading]) error { see(k.Row.Coupon); return nil })
			},
			func(see func(string)) error {
				return v.EachHeader(func(h store.ReadingHeader) error { see(h.Coupon); return nil })
			},
			func(see func(string)) error {
				return v.Fits(func(f *study.Fit) error { see(f.Coupon); return nil })
			},
			func(see func(string)) error {
				return v.Fits(func(f *study.Fit) error { see(f.Coupon); return nil }, study.Exposed, study.Control)
			},
		} {
			n := 0
			require.NoError(t, list(func(code string) { n++; assert.NotEqual(t, "K001", code) }))
			assert.Positive(t, n)
		}
		return nil
	}))
	require.NoError(t, s.ViewAsOf(t.Context(), line, func(v *store.View) error {
		then, err := v.Roster()
		assert.Len(t, then.Coupons, 6, "it was there then")
		return err
	}))
	verified(t, s)
}

func TestWhatBelongsToARowGoesWithIt(t *testing.T) {
	s, _ := create(t)
	require.NoError(t, s.Write(t.Context(), entry("enrol"), func(tx *store.Tx) error {
		require.NoError(t, enrol(tx))
		_, err := tx.AddExposure(study.Exposure{Exposure: "roof", DoseUnit: "days"})
		require.NoError(t, err)
		_, err = tx.AddPull(study.Pull{Exposure: "roof", Pull: 0})
		require.NoError(t, err)
		return register(tx)
	}))
	before := rosterOf(t, s)
	made, err := withdraw(t, s, "exposure", "roof")
	require.NoError(t, err)
	assert.Equal(t, "pull 0 of exposure \"roof\" withdrawn\nexposure \"roof\" withdrawn", words(made))
	for _, e := range before.Sessions {
		_, err := withdraw(t, s, "session", e.Session)
		require.NoError(t, err)
	}
	assert.Empty(t, rosterOf(t, s).Sessions)
	assert.Empty(t, rosterOf(t, s).Checks)
	for _, c := range before.References {
		_, err := withdraw(t, s, "reference", c.Reference+"/"+c.Issued)
		require.NoError(t, err)
	}
	assert.Empty(t, rosterOf(t, s).References)
	verified(t, s)
}

func TestTamperedCorrectionsAreNoticed(t *testing.T) {
	for _, c := range []struct {
		name, do, findings string
	}{
		{"another value", "UPDATE amendment SET value = 'L1' WHERE id = 1", "table amendment, row 1: its checksum is wrong\n"},
		{"taken away", "DELETE FROM withdrawal",
			"table log, row 5: 1 rows were added under this line, 0 are there\n"},
		{"of another row", "UPDATE amendment SET row = 77 WHERE id = 1", "table amendment, row 1: its checksum is wrong\n"},
	} {
		t.Run(c.name, func(t *testing.T) {
			s, path := enrolled(t)
			right := coupon("C001", study.Exposed, "rack")
			right.Lot = "L9"
			amended(t, s, func(tx *store.Tx) ([]store.Correction, error) { return tx.AmendCoupon(right, "lot") })
			right.Lot = "L10"
			amended(t, s, func(tx *store.Tx) ([]store.Correction, error) { return tx.AmendCoupon(right, "lot") })
			_, err := withdraw(t, s, "coupon", "C002")
			require.NoError(t, err)
			require.NoError(t, s.Close())
			tamper(t, path, func(db *sql.DB) { run(t, db, c.do) })
			assert.Contains(t, verifiedAs(t, path), c.findings)
		})
	}
}

// The file itself holds other programs to what corrections may be.
func TestTriggersHoldCorrections(t *testing.T) {
	s, path := enrolled(t)
	_, err := withdraw(t, s, "coupon", "C002")
	require.NoError(t, err)
	require.NoError(t, s.Close())
	db := raw(t, path)
	for _, c := range []struct{ do, fault string }{
		{"INSERT INTO amendment VALUES (9, 9, 'coupon', 99, 'lot', 'L', 0)", "no such row to amend"},
		{"INSERT INTO amendment VALUES (9, 9, 'fit', 1, 'lot', 'L', 0)", "no such row to amend"},
		{"INSERT INTO amendment VALUES (9, 9, 'coupon', 1, 'coupon', 'L', 0)", "the key of a row"},
		{"INSERT INTO amendment VALUES (9, 9, 'coupon', 1, 'crc', 1, 0)", "CHECK constraint failed"},
		{"INSERT INTO amendment VALUES (9, 9, 'coupon', 2, 'lot', 'L', 0)", "the row was withdrawn"},
		{"INSERT INTO withdrawal VALUES (9, 9, 'coupon', 2, 0)", "UNIQUE constraint failed"},
		{"INSERT INTO withdrawal VALUES (9, 9, 'reading', 1, 0)", "no such row to withdraw"},
	} {
		_, err := db.Exec(c.do)
		assert.ErrorContains(t, err, c.fault, c.do)
	}
}
