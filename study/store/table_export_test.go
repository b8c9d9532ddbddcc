package store_test

import (
	"bytes"
	"crypto/sha256"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/store"
)

var unitA = study.Unit{Coupon: "C001", Pull: 1, Spot: "a", Condition: "as_found"}

func add(t testing.TB, s *store.Store, e study.Export, readings []study.Reading) (added int, err error) {
	t.Helper()
	err = s.Write(t.Context(), entry("intake"), func(tx *store.Tx) error {
		added, err = tx.AddExport(e, how, readings)
		return err
	})
	return added, err
}

func TestReadingsComeBackExactly(t *testing.T) {
	s, path := enrolled(t)
	e, readings := export("weekly.csv", unitA, 45, 8, 30)
	readings[0].Quantity, readings[0].Polarisation = study.Transmittance, "s"
	readings[0].Values[0], readings[0].Values[1] = math.Copysign(0, -1), 5e-324
	readings[1].OrientationDeg, readings[1].Replicate, readings[1].Mounting = 90, 2, 3
	readings[1].FirstLine, readings[1].LastLine = 12, 412
	readings[1].Traits = study.Traits{Noise: 1.0 / 3, FirstBandNM: 400, Bands: []float64{0.25, 1.0 / 7}}
	readings[2].Traits = study.Traits{Noise: 1e-5, FirstBandNM: 350, Bands: []float64{0.0123, 0.0124, 0.0125}}
	for i := range readings {
		readings[i].NM[7] += 1.0 / 3 * float64(i) // three grids
	}
	added, err := add(t, s, e, readings)
	require.NoError(t, err)
	assert.Equal(t, 3, added)
	require.NoError(t, s.Close())

	s, err = store.Open(t.Context(), path)
	require.NoError(t, err)
	defer s.Close()
	got, err := s.Readings(t.Context(), unitA)
	require.NoError(t, err)
	require.Len(t, got, 3)
	for i, want := range []study.Reading{readings[1], readings[2], readings[0]} { // by angle
		want.Export = hexOf(e.SHA256)
		assert.Equal(t, bits(want.Values), bits(got[i].Values))
		assert.Equal(t, bits(want.NM), bits(got[i].NM))
		assert.Equal(t, bits([]float64{float64(want.OrientationDeg)}), bits([]float64{float64(got[i].OrientationDeg)}))
		want.OrientationDeg, got[i].OrientationDeg = 0, 0 // NaN does not equal itself
		assert.Equal(t, want, got[i])
	}
	kept, err := s.Original(t.Context(), e.SHA256)
	require.NoError(t, err)
	assert.Equal(t, e, *kept)

	places, err := s.Placed(t.Context(), e.SHA256)
	require.NoError(t, err)
	assert.Equal(t, map[int]study.Place{2: readings[0].Place, 3: readings[1].Place, 4: readings[2].Place}, places)
	verified(t, s)
}

// The bytes of a long export take other ways than those of a short one.
func TestALongExport(t *testing.T) {
	s, _ := enrolled(t)
	_, readings := export("long.csv", unitA, 8)
	data := make([]byte, 3<<20)
	rng := rand.New(rand.NewPCG(1, 2))
	for i := range data {
		data[i] = "0123456789.,\n"[rng.IntN(13)]
	}
	e := study.Export{Name: "long.csv", Data: data, SHA256: sha256.Sum256(data)}
	_, err := add(t, s, e, readings)
	require.NoError(t, err)
	kept, err := s.Original(t.Context(), e.SHA256)
	require.NoError(t, err)
	assert.True(t, bytes.Equal(data, kept.Data))
	verified(t, s)
}

func TestReferencesOfReadings(t *testing.T) {
	s, _ := enrolled(t)
	require.NoError(t, s.Write(t.Context(), entry("enrol"), register))
	e, readings := export("relative.csv", unitA, 8)
	readings[0].Reference, readings[0].Issued = "M1", "1999-01-01"
	_, err := add(t, s, e, readings)
	refused(t, err, "relative.csv: column 2", "there is no such certificate")

	roster, err := s.Roster(t.Context())
	require.NoError(t, err)
	c := roster.References[0]
	readings[0].Reference, readings[0].Issued = c.Reference, c.Issued
	_, err = add(t, s, e, readings)
	require.NoError(t, err)
	got, err := s.Readings(t.Context(), unitA)
	require.NoError(t, err)
	require.Len(t, got, 1)
	assert.Equal(t, []string{c.Reference, c.Issued}, []string{got[0].Reference, got[0].Issued})
	verified(t, s)
}

func TestUnknownExport(t *testing.T) {
	s, _ := enrolled(t)
	places, err := s.Placed(t.Context(), [32]byte{1})
	require.NoError(t, err)
	assert.Nil(t, places)
	_, err = s.Original(t.Context(), [32]byte{1})
	refused(t, err, "SHA-256")
	none, err := s.Readings(t.Context(), unitA)
	require.NoError(t, err)
	assert.Empty(t, none)
}

func TestTheSameAgainAddsNothing(t *testing.T) {
	s, _ := enrolled(t)
	e, readings := export("weekly.csv", unitA, 8, 30, 45)
	added, err := add(t, s, e, readings[:2])
	require.NoError(t, err)
	assert.Equal(t, 2, added)
	before := dump(t, s)

	e.Name = "renamed.csv"
	readings[0].Session, readings[0].Operator = "m2", "bea"
	added, err = add(t, s, e, readings[:2])
	require.NoError(t, err)
	assert.Zero(t, added)
	assert.Equal(t, before, dump(t, s))

	added, err = add(t, s, e, readings) // one column more
	require.NoError(t, err)
	assert.Equal(t, 1, added)
	report := verified(t, s)
	assert.EqualValues(t, 4, report.Lines)

	added, err = add(t, s, study.Export{Name: "none.csv", SHA256: sha256.Sum256(nil)}, nil)
	require.NoError(t, err)
	assert.Zero(t, added, "an export without readings is not added")
}

func TestAddExportRefuses(t *testing.T) {
	s, _ := enrolled(t)
	first, placed := export("first.csv", unitA, 8, 45)
	_, err := add(t, s, first, placed)
	require.NoError(t, err)
	second, again := export("second.csv", unitA, 8, 45)
	before := dump(t, s)

	change := func(from []study.Reading, edit func(*study.Reading)) []study.Reading {
		list := append([]study.Reading(nil), from...)
		list[1].Values = append([]float64(nil), list[1].Values...)
		edit(&list[1])
		return list
	}
	elsewhere := study.Unit{Coupon: "C002", Pull: 1, Spot: "a"}
	fresh, free := export("fresh.csv", elsewhere, 8, 45)
	for _, c := range []struct {
		name     string
		export   study.Export
		readings []study.Reading
		words    []string
	}{
		{"the same bytes mapped to another place", first, change(placed, func(r *study.Reading) { r.Spot = "b" }),
			[]string{"first.csv: column 3", "coupon C001, pull 1, spot b",
				"taken in as coupon C001, pull 1, spot a, as_found, 45°, u, R, replicate 1"}},
		{"the same place from other bytes", second, again,
			[]string{"second.csv: column 2", "spot a, as_found, 8°", "read before, from column 2 of first.csv"}},
		{"two columns for one place", fresh, change(free, func(r *study.Reading) { r.AngleDeg = 8 }),
			[]string{"column 3", "from column 2 of fresh.csv"}},
		{"one column for two places", fresh, change(free, func(r *study.Reading) { r.Column = 2 }),
			[]string{"column 2", "45°", "8°"}},
		{"a coupon nobody enrolled", fresh, change(free, func(r *study.Reading) { r.Coupon = "C777" }),
			[]string{"fresh.csv: column 3", "coupon C777"}},
		{"a pull nobody planned", fresh, change(free, func(r *study.Reading) { r.Pull = 17 }),
			[]string{"fresh.csv: column 3", "pull 17"}},
		{"a negative replicate", fresh, change(free, func(r *study.Reading) { r.Replicate = -1 }),
			[]string{"column 3", "replicate -1"}},
		{"a value that is not a number", fresh, change(free, func(r *study.Reading) { r.Values[3] = math.NaN() }),
			[]string{"fresh.csv: column 3", "finite"}},
		{"a wavelength that is not finite", fresh, change(free, func(r *study.Reading) {
			r.NM = append([]float64(nil), r.NM...)
			r.NM[400] = math.Inf(1)
		}), []string{"fresh.csv", "wavelength", "finite"}},
		{"the same column in another unit", first, change(placed, func(r *study.Reading) { r.Values[5] *= 100 }),
			[]string{"first.csv: column 3", "other numbers", "unit"}},
		{"the same column on other wavelengths", first, change(placed, func(r *study.Reading) {
			r.NM = append([]float64(nil), r.NM...)
			r.NM[400] = 781
		}), []string{"first.csv: column 3", "other numbers"}},
		{"no points", fresh, change(free, func(r *study.Reading) { r.NM, r.Values = nil, nil }),
			[]string{"column 3", "no points"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			added, err := add(t, s, c.export, c.readings)
			refused(t, err, c.words...)
			assert.Zero(t, added)
			assert.Equal(t, before, dump(t, s))
		})
	}
	t.Run("values of another length are a programmer's error", func(t *testing.T) {
		assert.Panics(t, func() {
			_, _ = add(t, s, fresh, change(free, func(r *study.Reading) { r.Values = r.Values[1:] }))
		})
	})
	t.Run("another replicate of the place", func(t *testing.T) {
		for i := range again {
			again[i].Replicate = 2
		}
		added, err := add(t, s, second, again)
		require.NoError(t, err)
		assert.Equal(t, 2, added)
	})
	verified(t, s)
}

// A blank or control without an exposure belongs to all: any planned pull will
// do, another will not.
func TestPullsOfCouponsWithoutExposure(t *testing.T) {
	s, _ := enrolled(t)
	e, readings := export("k.csv", study.Unit{Coupon: "K001", Pull: 3, Spot: "a"}, 8)
	_, err := add(t, s, e, readings)
	require.NoError(t, err)
	e, readings = export("k.csv", study.Unit{Coupon: "K001", Pull: 4, Spot: "a"}, 8)
	_, err = add(t, s, e, readings)
	refused(t, err, "pull 4")
}

// SQLite keeps no sign of a zero outside of blobs.
func TestNegativeZeroAngle(t *testing.T) {
	s, _ := enrolled(t)
	e, readings := export("z.csv", unitA, math.Copysign(0, -1))
	for _, want := range []int{1, 0} {
		added, err := add(t, s, e, readings)
		require.NoError(t, err)
		assert.Equal(t, want, added)
	}
	verified(t, s)
}

// One bad export of a batch stays out alone.
func TestBatchWithABadExport(t *testing.T) {
	s, _ := enrolled(t)
	line := entry("intake")
	require.NoError(t, s.Write(t.Context(), line, func(tx *store.Tx) error {
		for i, code := range []string{"C001", "C002", "C777", "C003"} {
			e, readings := export(code+".csv", study.Unit{Coupon: code, Spot: "a"}, 8, 45)
			if code == "C777" {
				readings[0].Coupon = "C004" // the first reading is good, the second is not
			}
			added, err := tx.AddExport(e, how, readings)
			if i == 2 {
				refused(t, err, "C777")
				continue
			}
			require.NoError(t, err)
			assert.Equal(t, 2, added)
		}
		return nil
	}))
	units, err := s.Units(t.Context())
	require.NoError(t, err)
	require.Len(t, units, 3)
	verified(t, s) // numbers without gaps, the digest of the line right
}
