package store_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/store"
)

// drawn is a bench sheet of the rack. Made up.
func drawn() *study.Sheet {
	return &study.Sheet{Exposure: "rack", Pull: 1, Session: "S 1", Condition: "rinsed", Protocol: "mine@2",
		AnglesDeg: []float64{8, 45.5}, Replicates: 2, Seed: 7, Blind: true,
		Lines: []study.SheetLine{
			{Kind: study.SheetTrap},
			{Kind: study.SheetCoupon, Code: "C002", Blind: "K7", Spots: []string{"a", `upper "left", µ`}},
			{Kind: study.SheetCheck, Code: "tile"},
		}}
}

// A sheet comes back as it was drawn, the last one of a pull, and one of another pull is no other of it.
func TestSheets(t *testing.T) {
	s, path := enrolled(t)
	add := func(sheet *study.Sheet) error {
		return s.Write(t.Context(), entry("sheet"), func(tx *store.Tx) error { return tx.AddSheet(sheet) })
	}
	last := func(exposure string, pull int) (sheet *study.Sheet) {
		require.NoError(t, s.View(t.Context(), func(v *store.View) error {
			kept, err := v.Sheet(exposure, pull)
			if kept != nil {
				sheet = &kept.Row
			}
			return err
		}))
		return sheet
	}
	assert.Nil(t, last("rack", 1))
	first := drawn()
	require.NoError(t, add(first))
	assert.Equal(t, 1, first.Number)
	assert.Equal(t, first, last("rack", 1))
	assert.Nil(t, last("rack", 0))

	second := &study.Sheet{Exposure: "rack", Pull: 1, Protocol: "mine@2", AnglesDeg: []float64{8}, Replicates: 1}
	require.NoError(t, add(second))
	assert.Equal(t, 2, second.Number)
	assert.Equal(t, second, last("rack", 1))

	refused(t, add(&study.Sheet{Exposure: "rack", Pull: 9, Protocol: "mine@2", AnglesDeg: []float64{8}, Replicates: 1}),
		"the pull is not planned")
	verified(t, s)
	require.NoError(t, s.Close())
	assert.Equal(t, []string{`1|C002|K7|["a","upper \"left\", µ"]`}, ask(t, path,
		"SELECT s.number, l.code, l.blind_code, l.spots FROM sheet s JOIN sheet_line l ON l.sheet = s.id WHERE l.kind = 'coupon'"))
}
