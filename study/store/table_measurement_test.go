package store_test

import (
	"crypto/sha256"
	"errors"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/store"
)

// file makes a file of these bytes.
func file(name, data string) study.Export {
	return study.Export{Name: name, Data: []byte(data), SHA256: sha256.Sum256([]byte(data))}
}

// gauged is a made-up thickness by an ellipsometer.
func gauged() study.Measurement {
	return study.Measurement{Coupon: "C001", Pull: 1, Spot: "a", Condition: "cleaned", Quantity: "thickness",
		Value: 118.4, U: 0.8,
		Method: "ellipsometer", Date: "2031-06-02", Replicate: 1, Operator: "ada", Note: "near the edge", Line: 2}
}

func measure(t testing.TB, s *store.Store, sheet study.Export, m study.Measurement,
	picture *study.Export) (added bool, err error) {
	t.Helper()
	err = s.Write(t.Context(), entry("measure"), func(tx *store.Tx) error {
		added, err = tx.AddMeasurement(sheet, m, picture)
		return err
	})
	return added, err
}

func allMeasurements(t testing.TB, s *store.Store) (list []study.Measurement) {
	t.Helper()
	require.NoError(t, s.View(t.Context(), func(v *store.View) error {
		return v.Measurements(func(m study.Measurement) error { list = append(list, m); return nil })
	}))
	return list
}

func TestMeasurementsComeBackExactly(t *testing.T) {
	s, path := enrolled(t)
	sheet, picture := file("gauges.csv", "a made-up table"), file("edge.png", "\x89PNG made up\x00\xff")
	first := gauged()
	first.Value, first.U = study.Num(0.1+0.2), 5e-324
	whole := study.Measurement{Coupon: "B001", Pull: 0, Quantity: "mass", Value: 0, U: study.Null(), Method: "balance",
		Date: "2031-03-01", Replicate: 3, Line: 7}
	for _, m := range []struct {
		of      study.Measurement
		picture *study.Export
	}{{first, &picture}, {whole, nil}} {
		added, err := measure(t, s, sheet, m.of, m.picture)
		require.NoError(t, err)
		assert.True(t, added)
	}
	require.NoError(t, s.Close())

	s, err := store.Open(t.Context(), path)
	require.NoError(t, err)
	defer s.Close()
	got := allMeasurements(t, s)
	require.Len(t, got, 2)
	first.Sheet, first.Picture, whole.Sheet = hexOf(sheet.SHA256), hexOf(picture.SHA256), hexOf(sheet.SHA256)
	assert.Equal(t, math.Float64bits(float64(first.Value)), math.Float64bits(float64(got[1].Value)))
	assert.Equal(t, first, got[1])
	assert.False(t, got[0].U.Valid())
	got[0].U, whole.U = 0, 0 // NaN does not equal itself
	assert.Equal(t, whole, got[0], "in the order of coupons")
	for _, f := range []study.Export{sheet, picture} {
		kept, err := s.Original(t.Context(), f.SHA256)
		require.NoError(t, err)
		assert.Equal(t, f, *kept)
	}
	var thick []study.Measurement
	require.NoError(t, s.View(t.Context(), func(v *store.View) error {
		return v.Thicknesses(func(m study.Measurement) error { thick = append(thick, m); return nil })
	}))
	assert.Equal(t, []study.Measurement{first}, thick)
	verified(t, s)

	t.Run("for any SQLite", func(t *testing.T) {
		require.NoError(t, s.Close())
		assert.Equal(t, []string{
			"B001|0|||mass|0.0||g|balance|2031-03-01|3|||gauges.csv|" + hexOf(sheet.SHA256) + "|7||",
			"C001|1|a|cleaned|thickness|0.3|4.94065645841247e-324|nm|ellipsometer|2031-06-02|1|ada|near the edge|gauges.csv|" +
				hexOf(sheet.SHA256) + "|2|edge.png|" + hexOf(picture.SHA256),
		}, ask(t, path, "SELECT * FROM v_measurements"))
	})
}

func TestTheSameMeasurementAgainAddsNothing(t *testing.T) {
	s, _ := enrolled(t)
	picture := file("edge.png", "made up")
	_, err := measure(t, s, file("gauges.csv", "a table"), gauged(), &picture)
	require.NoError(t, err)
	before := dump(t, s)
	again := gauged()
	again.Line = 17
	renamed := picture
	renamed.Name = "copy.png"
	added, err := measure(t, s, file("later.csv", "another table that repeats the row"), again, &renamed)
	require.NoError(t, err)
	assert.False(t, added)
	assert.Equal(t, before, dump(t, s), "neither the row nor its table")
	verified(t, s)
}

// Pictures that are the same are kept once.
func TestOnePictureForTwo(t *testing.T) {
	s, path := enrolled(t)
	sheet, picture := file("gauges.csv", "a table"), file("edge.png", "made up")
	second := gauged()
	second.Quantity, second.Value = "haze", 1.5
	for _, m := range []study.Measurement{gauged(), second} {
		_, err := measure(t, s, sheet, m, &picture)
		require.NoError(t, err)
	}
	var n int
	require.NoError(t, raw(t, path).QueryRow("SELECT count(*) FROM original").Scan(&n))
	assert.Equal(t, 2, n, "the table and one picture")
	verified(t, s)
}

func TestAddMeasurementRefuses(t *testing.T) {
	s, _ := enrolled(t)
	sheet, picture, other := file("gauges.csv", "a table"), file("edge.png", "made up"),
		file("edge.png", "made up otherwise")
	_, err := measure(t, s, sheet, gauged(), &picture)
	require.NoError(t, err)
	before := dump(t, s)
	const known = "thickness of coupon C001, pull 1, spot a, cleaned, by ellipsometer on 2031-06-02, replicate 1 is " +
		"known already, and differs: "
	for _, c := range []struct {
		name    string
		change  func(*study.Measurement)
		picture *study.Export
		words   string
	}{
		{"another value", func(m *study.Measurement) { m.Value = 118.5 }, &picture,
			known + "value was 118.4, and here it is 118.5"},
		{"no uncertainty any more", func(m *study.Measurement) { m.U = study.Null() }, &picture,
			known + "u was 0.8, and here it is empty"},
		{"another operator", func(m *study.Measurement) { m.Operator = "bea" }, &picture,
			known + `operator was "ada", and here it is "bea"`},
		{"another note", func(m *study.Measurement) { m.Note = "" }, &picture,
			known + `note was "near the edge", and here it is empty`},
		{"another picture", func(*study.Measurement) {}, &other, known + `the SHA-256 of the picture was "` +
			hexOf(picture.SHA256) + `", and here it is "` + hexOf(other.SHA256) + `"`},
		{"no picture any more", func(*study.Measurement) {}, nil, "and here it is empty"},
		{"a coupon nobody enrolled", func(m *study.Measurement) { m.Coupon = "C777" }, &picture, "coupon C777"},
		{"a pull nobody planned", func(m *study.Measurement) { m.Pull = 17 }, &picture,
			"it does not fit into the study: thickness of coupon C001, pull 17"},
		{"a quantity that there is not", func(m *study.Measurement) { m.Quantity = "charm" }, &picture,
			"it does not fit into the study: charm of"},
		{"a value that is not finite", func(m *study.Measurement) {
			m.Date, m.Value = "2031-06-03",
				study.Num(math.Inf(1))
		}, &picture, "it does not fit"},
		{"no method", func(m *study.Measurement) { m.Method = "" }, &picture, "it does not fit"},
		{"a replicate of 0", func(m *study.Measurement) { m.Replicate = 0 }, &picture, "replicate 0"},
	} {
		t.Run(c.name, func(t *testing.T) {
			m := gauged()
			c.change(&m)
			added, err := measure(t, s, sheet, m, c.picture)
			refused(t, err, c.words)
			assert.False(t, added)
			assert.Equal(t, before, dump(t, s))
		})
	}
	t.Run("another replicate, date, method, condition or spot is another measurement", func(t *testing.T) {
		for _, change := range []func(*study.Measurement){
			func(m *study.Measurement) { m.Replicate = 2 }, func(m *study.Measurement) { m.Date = "2031-06-03" },
			func(m *study.Measurement) { m.Method = "profilometer" }, func(m *study.Measurement) { m.Condition = "" },
			func(m *study.Measurement) { m.Spot = "" },
		} {
			m := gauged()
			m.Value++
			change(&m)
			added, err := measure(t, s, sheet, m, nil)
			require.NoError(t, err)
			assert.True(t, added)
		}
	})
	t.Run("bytes with another SHA-256 are a programmer's error", func(t *testing.T) {
		wrong := picture
		wrong.SHA256[0] ^= 1
		m := gauged()
		m.Spot = "z"
		_, err := measure(t, s, sheet, m, &wrong)
		var r *study.Refusal
		require.ErrorContains(t, err, "SHA-256")
		assert.False(t, errors.As(err, &r))
	})
	verified(t, s)
}
