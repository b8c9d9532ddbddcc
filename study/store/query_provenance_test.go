package store_test

import (
	"errors"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/store"
)

// The line of the log and the number under which a row was added, which any SQLite
// client can look up too.
func TestWhereRowsCameFrom(t *testing.T) {
	s, path := enrolled(t) // lines 1 and 2
	elsewhere := study.Unit{Coupon: "C002", Pull: 1, Spot: "a"}
	first, readings := takeIn(t, s, unitA) // line 3
	second, _ := takeIn(t, s, elsewhere)   // line 4
	put(t, s, fitOf(unitA, 1))             // line 5
	put(t, s, fitOf(unitA, 2))             // line 6
	sheet, picture := file("gauges.csv", "a table"), file("edge.png", "made up")
	_, err := measure(t, s, sheet, gauged(), &picture) // line 7
	require.NoError(t, err)

	require.NoError(t, s.View(t.Context(), func(v *store.View) error {
		var fits []store.KeptFit
		require.NoError(t, v.AllFitsOf("C001", func(k store.KeptFit) error { fits = append(fits, k); return nil }))
		require.Len(t, fits, 2)
		assert.Equal(t, []int64{2, 6, 0}, []int64{fits[0].Number, fits[0].Line, fits[0].SupersededBy})
		assert.Equal(t, []int64{1, 5, 2}, []int64{fits[1].Number, fits[1].Line, fits[1].SupersededBy})
		assert.EqualValues(t, 2, fits[0].Row.Result.SolarT.Value)
		assert.EqualValues(t, 1, fits[1].Row.Result.SolarT.Value)

		var of, from, all []string
		note := func(to *[]string) func(store.Kept[study.Reading]) error {
			return func(k store.Kept[study.Reading]) error {
				assert.Equal(t, map[string]int64{hexOf(first.SHA256): 3, hexOf(second.SHA256): 4}[k.Row.Export], k.Line)
				*to = append(*to, k.Row.Coupon+" "+k.Row.Heading)
				return nil
			}
		}
		require.NoError(t, v.ReadingsOf("C001", note(&of)))
		require.NoError(t, v.ReadingsFrom(second.SHA256, note(&from)))
		require.NoError(t, v.EachReading(func(k store.Kept[study.Reading]) error {
			r := k.Row
			all = append(all, r.Coupon+" "+r.Heading)
			if len(all) == 1 {
				assert.Equal(t, bits(readings[0].Values), bits(r.Values))
			}
			return nil
		}))
		assert.Equal(t, []string{"C001 8 deg", "C001 45 deg"}, of)
		assert.Equal(t, []string{"C002 8 deg", "C002 45 deg"}, from)
		assert.Equal(t, append(of, from...), all)

		files, err := v.Files()
		require.NoError(t, err)
		require.Len(t, files, 4)
		for i, want := range []struct {
			of   study.Export
			line int64
		}{{first, 3}, {second, 4}, {sheet, 7}, {picture, 7}} {
			assert.Equal(t, store.Kept[store.KeptFile]{Row: store.KeptFile{Name: want.of.Name, SHA256: want.of.SHA256,
				Size: int64(len(want.of.Data))},
				Number: int64(i + 1), Line: want.line}, files[i])
		}
		for _, f := range []study.Export{sheet, picture} {
			n := 0
			require.NoError(t, v.MeasurementsFrom(f.SHA256, func(k store.Kept[study.Measurement]) error {
				n++
				assert.EqualValues(t, 7, k.Line)
				return nil
			}))
			assert.Equal(t, 1, n, f.Name)
		}
		require.NoError(t, v.MeasurementsFrom(first.SHA256,
			func(store.Kept[study.Measurement]) error { return errors.New("none is from an export of spectra") }))
		require.NoError(t, v.MeasurementsOf("C002",
			func(store.Kept[study.Measurement]) error { return errors.New("none is of this coupon") }))

		number, line, err := v.Enrolment("C001")
		require.NoError(t, err)
		assert.EqualValues(t, 1, number)
		assert.EqualValues(t, 2, line)
		_, line, err = v.Enrolment("C777")
		require.NoError(t, err)
		assert.Zero(t, line)
		e, err := v.Line(7)
		require.NoError(t, err)
		assert.Equal(t, "measure", e.Verb)
		_, err = v.Line(99)
		refused(t, err, path, "table log, row 99: it is missing")

		kept, err := v.Original(first.SHA256)
		require.NoError(t, err)
		assert.Equal(t, first, *kept)
		return nil
	}))
}

func TestNamed(t *testing.T) {
	kept := func(name string, begin ...byte) (k store.Kept[store.KeptFile]) {
		k.Row.Name = name
		copy(k.Row.SHA256[:], begin)
		return k
	}
	a, b, c := kept("a.csv", 0xab, 0xcd, 0xef, 0x01, 0x02), kept("a.csv", 0xab, 0xcd, 0xef, 0x01, 0x03),
		kept("abcdef01", 0x77)
	files := []store.Kept[store.KeptFile]{a, b, c}
	for _, q := range []struct {
		name string
		want []store.Kept[store.KeptFile]
	}{
		{"a.csv", files[:2]},
		{"A.csv", nil},
		{"abcdef0102", files[:1]},
		{"ABCDEF0103", files[1:2]},
		{"abcdef01", files[2:]}, // a name goes before a sum
		{"77000000", files[2:]},
		{"abcdef0", nil}, // seven digits
		{"", nil},
	} {
		assert.Equal(t, q.want, store.Named(files, q.name), q.name)
	}
}

// The program that wrote a line is part of the line: altering it breaks the chain.
func TestTheLogNamesTheProgram(t *testing.T) {
	s, path := enrolled(t)
	e := entry("enrol")
	e.Software = "wane 0, model 7"
	require.NoError(t, s.Write(t.Context(), e, func(tx *store.Tx) error {
		_, err := tx.AddCoupon(coupon("C900", study.Exposed, "rack"))
		return err
	}))
	var programs []string
	require.NoError(t,
		s.Log(t.Context(), func(e study.Entry) error { programs = append(programs, e.Software); return nil }))
	assert.Equal(t, []string{"", "", "wane 0, model 7"}, programs)
	verified(t, s)
	require.NoError(t, s.Close())

	db := raw(t, path)
	run(t, db, "DROP TRIGGER log_fixed; UPDATE log SET software = 'wane 1' WHERE number = 3")
	require.NoError(t, db.Close())
	assert.Contains(t, verifiedAs(t, path), "table log, row 3: the chain of hashes is broken")
}
