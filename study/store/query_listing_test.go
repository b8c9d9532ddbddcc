package store_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/store"
)

// listed returns the rows of a listing, some of its columns with a space between them.
func listed(t *testing.T, s *store.Store, name string, history bool, columns ...string) (rows []string) {
	t.Helper()
	require.NoError(t, s.View(t.Context(), func(v *store.View) error {
		all, err := v.Listings(history)
		require.NoError(t, err)
		i := slices.IndexFunc(all, func(l *store.Listing) bool { return l.Name == name })
		require.GreaterOrEqual(t, i, 0, name)
		return v.EachListed(all[i], func(cells []any) error {
			var words []string
			for _, c := range columns {
				at := slices.IndexFunc(all[i].Fields, func(f study.Field) bool { return f.Name == c })
				require.GreaterOrEqual(t, at, 0, c)
				words = append(words, fmt.Sprint(cells[at]))
			}
			rows = append(rows, strings.Join(words, " "))
			return nil
		})
	}))
	return rows
}

// With history a row that was amended has a row for each state, and one that was withdrawn is there until that line of
// the log; without it rows are as they are now. A study of it all is the same.
func TestListingsWithHistory(t *testing.T) {
	s, _ := enrolled(t) // lines 1 and 2
	amend := func(do func(tx *store.Tx) error) {
		t.Helper()
		require.NoError(t, s.Write(t.Context(), entry("amend"), do))
	}
	c := coupon("C001", study.Exposed, "rack")
	c.Lot, c.Supplier = "L3", "maker-B"
	amend(func(tx *store.Tx) error { _, err := tx.AmendCoupon(c, "lot", "supplier"); return err })
	c.Lot = "L4"
	amend(func(tx *store.Tx) error { _, err := tx.AmendCoupon(c, "lot"); return err })
	amend(func(tx *store.Tx) error {
		_, err := tx.Withdraw("coupon", numberOf(t, tx, "coupon", "C002"))
		return err
	})
	assert.Equal(t, []string{"C001 L4 maker-B", "C003 L2 maker-A", "C004 L2 maker-A", "K001 L2 maker-A", "B001 <nil> <nil>"},
		listed(t, s, "coupon", false, "coupon", "lot", "supplier"))
	assert.Equal(t, []string{"C001 L2 maker-A 2 3", "C001 L3 maker-B 3 4", "C001 L4 maker-B 4 <nil>", "C002 L2 maker-A 2 5",
		"C003 L2 maker-A 2 <nil>", "C004 L2 maker-A 2 <nil>", "K001 L2 maker-A 2 <nil>", "B001 <nil> <nil> 2 <nil>"},
		listed(t, s, "coupon", true, "coupon", "lot", "supplier", "from_log", "until_log"))
	assert.Equal(t, []string{"coupon 1 lot L3", "coupon 1 supplier maker-B", "coupon 1 lot L4"},
		listed(t, s, "amendment", false, "of", "row", "field", "value"))
	files := dumped(t, s)
	again, err := store.Rebuild(t.Context(), t.TempDir()+"/again.wane", files.dump())
	require.NoError(t, err)
	defer again.Close()
	assert.Equal(t, dump(t, s), dump(t, again))
}

// Fits that others supersede are listed with history only.
func TestListedFits(t *testing.T) {
	s, _ := enrolled(t)
	u := study.Unit{Coupon: "C001", Pull: 1, Spot: "a"}
	takeIn(t, s, u)
	put(t, s, fitOf(u, 1))
	put(t, s, fitOf(u, 2))
	assert.Equal(t, []string{"2 <nil>"}, listed(t, s, "fit", false, "id", "superseded_by"))
	assert.Equal(t, []string{"1 2", "2 <nil>"}, listed(t, s, "fit", true, "id", "superseded_by"))
}
