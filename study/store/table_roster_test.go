package store_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/store"
)

// A study that was made before the glass had its present name means the same glass: it
// is read by the new name, and the same row under the new name adds nothing.
func TestOldGlassName(t *testing.T) {
	s, _ := create(t)
	old, now := coupon("C1", study.Blank, ""), coupon("C1", study.Blank, "")
	old.Glass, now.Glass = "n-bk7", "borosilicate-crown"
	require.NoError(t, s.Write(t.Context(), entry("enrol"), func(tx *store.Tx) error {
		_, err := tx.AddCoupon(old)
		return err
	}))
	roster, err := s.Roster(t.Context())
	require.NoError(t, err)
	assert.Equal(t, "borosilicate-crown", roster.Coupons[0].Glass)
	require.NoError(t, s.Write(t.Context(), entry("enrol"), func(tx *store.Tx) error {
		added, err := tx.AddCoupon(now)
		assert.False(t, added)
		return err
	}))
}

func TestRosterComesBack(t *testing.T) {
	s, path := create(t)
	want := &study.Roster{
		Exposures: []study.Exposure{
			{Exposure: "damp heat", Protocol: "chamber", DoseUnit: "hours"},
			{Exposure: "rack", Protocol: "outdoor", Site: "Dunmere", DoseUnit: "kWh/m2", Start: "2031-03-01"},
		},
		Pulls: []study.Pull{
			{Exposure: "rack", Pull: 0, Dose: 0, Date: "2031-03-01"},
			{Exposure: "rack", Pull: 2, Dose: 181.25, Date: "2031-09-01"},
			{Exposure: "rack", Pull: 10, Dose: 900, Date: "2033-03-01"},
		},
		Coupons: []study.Coupon{
			coupon("B 1", study.Blank, ""),
			{Coupon: "C1", Role: study.Exposed, Supplier: "maker-A", Coating: "U7", Lot: "L2", Glass: "glass/rolled.csv",
				GlassMM: 3.2, Back: "bare", Exposure: "rack", WaterRepellent: true, Batch: "melt 7", Leak: stated(0)},
			coupon("ÄÖ ta\u030ab “é”", study.Control, "damp heat"), // as long as the bytes are kept
		},
		Glasses: []study.Glass{{Name: "glass/rolled.csv", NM: []float64{300, 400.5, 2500},
			N: []float64{1.55, 1.53, 1.4871234567890123}, K: []float64{1e-7, 0, 2.25e-6}}},
		Batches: []study.GlassBatch{{Glass: "glass/rolled.csv", Batch: "melt 7", UIndex: stated(0.0002), Model: "its table"},
			{Glass: "soda-lime", Batch: "melt 7"}},
		Returns: []study.ReturnSpectrum{{Name: "laminate.csv", NM: []float64{300, 2500}, Return: []float64{0.041, 0.0123456789}}},
	}
	want.Coupons[0].Back, want.Coupons[0].ReturnSpectrum = "laminated", "laminate.csv"
	want.Coupons[0].GlassMM, want.Coupons[2].GlassMM = 4, 2 // not null: NaN does not equal itself
	add := func(tx *store.Tx) error {
		for _, e := range want.Exposures {
			_, err := tx.AddExposure(e)
			require.NoError(t, err)
		}
		for _, p := range want.Pulls {
			_, err := tx.AddPull(p)
			require.NoError(t, err)
		}
		for _, c := range want.Coupons {
			_, err := tx.AddCoupon(c)
			require.NoError(t, err)
		}
		for _, g := range want.Glasses {
			_, err := tx.AddGlass(g)
			require.NoError(t, err)
		}
		for _, b := range want.Batches {
			_, err := tx.AddGlassBatch(b)
			require.NoError(t, err)
		}
		for _, r := range want.Returns {
			_, err := tx.AddReturnSpectrum(r)
			require.NoError(t, err)
		}
		within, err := tx.Roster()
		require.NoError(t, err)
		assert.Equal(t, want, within)
		return nil
	}
	require.NoError(t, s.Write(t.Context(), entry("enrol"), add))
	got, err := s.Roster(t.Context())
	require.NoError(t, err)
	assert.Equal(t, want, got)
	verified(t, s)

	before := dump(t, s)
	require.NoError(t, s.Write(t.Context(), entry("enrol"), add), "the same rows again add nothing")
	assert.Equal(t, before, dump(t, s))
	require.NoError(t, s.Close())
	assert.Equal(t, before, dumpFile(t, path))
}

func TestRosterRefusals(t *testing.T) {
	s, _ := enrolled(t)
	glass := study.Glass{Name: "g.csv", NM: []float64{300, 400}, N: []float64{1.5, 1.5}, K: []float64{0, 0}}
	require.NoError(t, s.Write(t.Context(), entry("enrol"), func(tx *store.Tx) error {
		_, err := tx.AddGlass(glass)
		return err
	}))
	before := dump(t, s)
	moved, other, lot := glass, coupon("C001", study.Exposed, "rack"), coupon("C001", study.Exposed, "rack")
	moved.K = []float64{0, 1e-9}
	other.GlassMM, lot.Lot = 3.2, ""
	for _, c := range []struct {
		name  string
		words []string
		add   func(*store.Tx) (bool, error)
	}{
		{"a coupon that differs", []string{`coupon "C001"`, "glass_mm was empty", "here it is 3.2"},
			func(tx *store.Tx) (bool, error) { return tx.AddCoupon(other) }},
		{"a coupon that lost its lot", []string{`coupon "C001"`, `lot was "L2"`, "here it is empty"},
			func(tx *store.Tx) (bool, error) { return tx.AddCoupon(lot) }},
		{"a pull that differs", []string{`pull 1 of exposure "rack"`, "dose was 90.5", "here it is 91"},
			func(tx *store.Tx) (bool, error) {
				return tx.AddPull(study.Pull{Exposure: "rack", Pull: 1, Dose: 91, Date: "2031-06-01"})
			}},
		{"an exposure that differs", []string{`exposure "rack"`, `site was "Dunmere"`, "here it is empty"},
			func(tx *store.Tx) (bool, error) {
				return tx.AddExposure(study.Exposure{Exposure: "rack", Protocol: "outdoor", DoseUnit: "days", Start: "2031-03-01"})
			}},
		{"a return spectrum that differs", []string{`return spectrum "r.csv" is known already, with other numbers`},
			func(tx *store.Tx) (bool, error) {
				s := study.ReturnSpectrum{Name: "r.csv", NM: []float64{300, 400}, Return: []float64{0.1, 0.2}}
				if _, err := tx.AddReturnSpectrum(s); err != nil {
					return false, err
				}
				s.Return = []float64{0.1, 0.3}
				return tx.AddReturnSpectrum(s)
			}},
		{"a return spectrum without rows", []string{`return spectrum "e.csv" has no rows`}, func(tx *store.Tx) (bool, error) {
			return tx.AddReturnSpectrum(study.ReturnSpectrum{Name: "e.csv"})
		}},
		{"a batch that differs", []string{`batch "a" of glass "g.csv"`, "u_index was empty", "here it is 0.001"},
			func(tx *store.Tx) (bool, error) {
				if _, err := tx.AddGlassBatch(study.GlassBatch{Glass: "g.csv", Batch: "a"}); err != nil {
					return false, err
				}
				return tx.AddGlassBatch(study.GlassBatch{Glass: "g.csv", Batch: "a", UIndex: stated(0.001)})
			}},
		{"a glass that differs", []string{`glass "g.csv"`, "with other numbers"},
			func(tx *store.Tx) (bool, error) { return tx.AddGlass(moved) }},
		{"a glass without rows", []string{`glass "e.csv"`},
			func(tx *store.Tx) (bool, error) { return tx.AddGlass(study.Glass{Name: "e.csv"}) }},
		{"a glass with an infinite index", []string{`glass "i.csv"`, "finite"}, func(tx *store.Tx) (bool, error) {
			return tx.AddGlass(study.Glass{Name: "i.csv", NM: []float64{1}, N: []float64{math.Inf(1)}, K: []float64{0}})
		}},
		{"a coupon of no exposure enrolled", []string{`coupon "C900"`, "names what is not enrolled"},
			func(tx *store.Tx) (bool, error) { return tx.AddCoupon(coupon("C900", study.Exposed, "roof")) }},
		{"a pull of no exposure enrolled", []string{`exposure "roof"`, "not enrolled"},
			func(tx *store.Tx) (bool, error) { return tx.AddPull(study.Pull{Exposure: "roof"}) }},
		{"a role that there is not", []string{`coupon "C900"`},
			func(tx *store.Tx) (bool, error) { return tx.AddCoupon(coupon("C900", "witness", "rack")) }},
		{"a dose that is not a number", []string{"pull 9"}, func(tx *store.Tx) (bool, error) {
			return tx.AddPull(study.Pull{Exposure: "rack", Pull: 9, Dose: math.NaN()})
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			err := s.Write(t.Context(), entry("enrol"), func(tx *store.Tx) error {
				added, err := c.add(tx)
				assert.False(t, added)
				return err
			})
			refused(t, err, c.words...)
			assert.Equal(t, before, dump(t, s))
		})
	}
	t.Run("a ragged glass is a programmer's error", func(t *testing.T) {
		assert.Panics(t, func() {
			_ = s.Write(t.Context(), entry("enrol"), func(tx *store.Tx) error {
				_, err := tx.AddGlass(study.Glass{Name: "r", NM: []float64{1, 2}, N: []float64{1}, K: []float64{0, 0}})
				return err
			})
		})
	})
}
