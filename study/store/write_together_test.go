package store_test

import (
	"context"
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/store"
)

// pending packs exports of C001 with two readings each, one of which a guard holds.
func pending(t *testing.T, s *store.Store, n int) (all []store.PendingExport) {
	t.Helper()
	for i := range n {
		unit := study.Unit{Coupon: "C001", Pull: i % 4, Spot: fmt.Sprintf("s%02d", i/4)}
		e, readings := export(fmt.Sprintf("e%02d.csv", i), unit, 8, 45)
		if i == 3 {
			readings[1].Concerns = []study.Concern{{Guard: "noise", Reason: "made up"}}
		}
		p, err := s.PackReadings(e, readings)
		require.NoError(t, err)
		all = append(all, store.PendingExport{Packed: p, How: how})
	}
	return all
}

// Exports that are added together leave the rows, with checksums and the digest in the log,
// that they leave one by one, also where one of them is refused or known.
func TestAddAll(t *testing.T) {
	const n = 40 // more readings than one statement adds, and some left
	for name, spoil := range map[string]func(t *testing.T, s *store.Store, all []store.PendingExport){
		"all new": func(*testing.T, *store.Store, []store.PendingExport) {},
		"a coupon that is not enrolled": func(t *testing.T, s *store.Store, all []store.PendingExport) {
			e, readings := export("stray.csv", study.Unit{Coupon: "C999", Spot: "1"}, 8, 45)
			p, err := s.PackReadings(e, readings)
			require.NoError(t, err)
			all[17].Packed = p
		},
		"a place twice": func(t *testing.T, s *store.Store, all []store.PendingExport) {
			e, readings := export("other.csv", study.Unit{Coupon: "C001", Pull: 1, Spot: "s00"}, 8, 45)
			p, err := s.PackReadings(e, readings)
			require.NoError(t, err)
			all[30].Packed = p
		},
		"an export twice": func(_ *testing.T, _ *store.Store, all []store.PendingExport) { all[20] = all[5] },
	} {
		t.Run(name, func(t *testing.T) {
			together, _ := enrolled(t)
			single, _ := enrolled(t)
			var got, want []store.Outcome
			require.NoError(t, together.Write(t.Context(), entry("intake"), func(tx *store.Tx) (err error) {
				all := pending(t, together, n)
				spoil(t, together, all)
				got, err = tx.AddAll(all)
				return err
			}))
			require.NoError(t, single.Write(t.Context(), entry("intake"), func(tx *store.Tx) error {
				all := pending(t, single, n)
				spoil(t, single, all)
				for _, a := range all {
					added, err := tx.AddPacked(a.Packed, a.How)
					want = append(want, store.Outcome{Added: added, Refused: err})
				}
				return nil
			}))
			require.Len(t, got, n)
			for i := range got {
				assert.Equal(t, want[i].Added, got[i].Added)
				assert.Equal(t, fmt.Sprint(want[i].Refused), fmt.Sprint(got[i].Refused))
			}
			assert.Equal(t, dump(t, single), dump(t, together))
			verified(t, together)
		})
	}
}

// A log that was moved into the main file beside the writer leaves one whole file.
func TestFoldedBeside(t *testing.T) {
	s, path := enrolled(t)
	exports, readings := spots(600)
	for i := 0; i < len(exports); i += 200 {
		require.NoError(t, s.Write(t.Context(), entry("intake"), func(tx *store.Tx) error {
			for k := i; k < i+200; k++ {
				if _, err := tx.AddExport(exports[k], how, readings[k]); err != nil {
					return err
				}
			}
			return nil
		}))
	}
	before := dump(t, s)
	require.NoError(t, s.Close())
	assert.Equal(t, []string{"s.wane"}, filesBeside(t, path))
	assert.Equal(t, before, dumpFile(t, path))
	again, err := store.Open(context.Background(), path)
	require.NoError(t, err)
	defer again.Close()
	verified(t, again)
}
