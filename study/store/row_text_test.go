package store_test

import (
	"reflect"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/store"
)

// Whatever way it comes in, no text that hides something gets into a study: each text of
// each row, and of the line of the log, is spoilt by itself.
func TestNoTextHides(t *testing.T) {
	s, _ := enrolled(t)
	unit := study.Unit{Coupon: "C001", Pull: 1, Spot: "a"}
	e, readings := export("a", unit, 8)
	before := dump(t, s)
	r := registered()
	refuses(t, s, r.Instruments[0], (*store.Tx).AddInstrument)
	refuses(t, s, r.Events[1], (*store.Tx).AddEvent)
	refuses(t, s, r.References[1], (*store.Tx).AddReference, "Table") // the path is not kept
	refuses(t, s, r.Standards[0], (*store.Tx).AddStandard)
	refuses(t, s, r.Sessions[0], (*store.Tx).AddSession)
	refuses(t, s, r.Checks[0], (*store.Tx).AddStandardReading)
	refuses(t, s, study.Exposure{Exposure: "x", Protocol: "p", Site: "s", DoseUnit: "days", Start: "2031-01-01"},
		(*store.Tx).AddExposure)
	refuses(t, s, study.Pull{Exposure: "x", Pull: 9, Date: "2031-01-01"}, (*store.Tx).AddPull)
	refuses(t, s, coupon("C999", study.Exposed, "roof"), (*store.Tx).AddCoupon)
	refuses(t, s, study.Glass{Name: "g.csv", NM: []float64{1}, N: []float64{1}, K: []float64{0}}, (*store.Tx).AddGlass)
	measured := study.Measurement{Coupon: "C001", Pull: 1, Spot: "a", Quantity: "haze", Value: 1, Method: "m",
		Date: "2031-01-01", Replicate: 1, Operator: "ada", Note: "n"}
	refuses(t, s, measured,
		func(tx *store.Tx, m study.Measurement) (bool, error) { return tx.AddMeasurement(e, m, nil) }, "Sheet", "Picture")
	refuses(t, s, readings[0], func(tx *store.Tx, r study.Reading) (bool, error) {
		n, err := tx.AddExport(e, how, []study.Reading{r})
		return n > 0, err
	}, "Heading", "Export", "Reference", "Issued") // a certificate that is not there is refused as such
	refuses(t, s, struct{ Name string }{"bench"}, func(tx *store.Tx, p struct{ Name string }) (bool, error) {
		_, added, err := tx.AddProfile(p.Name, "profile: bench\n")
		return added, err
	})
	assert.Equal(t, before, dump(t, s), "nothing of it is kept")

	takeIn(t, s, unit)
	before = dump(t, s)
	refuses(t, s, struct{ Why string }{"a reason"}, func(tx *store.Tx, r struct{ Why string }) (bool, error) {
		return false, tx.Review(study.Review{Reading: 1, Standing: study.Aside, Why: r.Why})
	})
	for i, spoil := range []func(*study.Entry){
		func(e *study.Entry) { e.Who = "ada\nbob" }, func(e *study.Entry) { e.Why = "x\n9999 forged" },
		func(e *study.Entry) { e.Verb = "enrol\x1b[2J" },
	} {
		line := entry("enrol")
		spoil(line)
		err := s.Write(t.Context(), line, func(tx *store.Tx) error {
			_, err := tx.AddCoupon(coupon("C998", study.Control, ""))
			return err
		})
		refused(t, err, "the line of the log: ", "a control character")
		assert.Equal(t, before, dump(t, s), "entry %d", i)
	}
}

// refuses adds row once for each of its texts, with a character in it that hides
// something; the texts of the fields named are others'.
func refuses[T any](t *testing.T, s *store.Store, row T, add func(*store.Tx, T) (bool, error), foreign ...string) {
	t.Helper()
	texts := 0
	var spoil func(at reflect.Value, try func(string))
	spoil = func(at reflect.Value, try func(string)) {
		for i := range at.NumField() {
			f, name := at.Field(i), at.Type().Field(i).Name
			switch {
			case f.Kind() == reflect.Struct:
				spoil(f, try)
			case f.Kind() == reflect.String:
				texts++
				was := f.String()
				f.SetString(was + "\u200b")
				if !slices.Contains(foreign, name) {
					try(name)
				}
				f.SetString(was)
			}
		}
	}
	changed := row
	spoil(reflect.ValueOf(&changed).Elem(), func(name string) {
		err := s.Write(t.Context(), entry("test"), func(tx *store.Tx) error {
			_, err := add(tx, changed)
			return err
		})
		r := refused(t, err)
		assert.Contains(t, r.Error(), "U+200B", "%T.%s", row, name)
	})
	require.NotZero(t, texts)
}

// What others named stays as it is, also in the log, where it is written with escapes.
func TestForeignNamesStay(t *testing.T) {
	s, _ := enrolled(t)
	unit := study.Unit{Coupon: "C001", Pull: 1, Spot: "a"}
	e, readings := export("a", unit, 8)
	e.Name, readings[0].Heading = "e\x1b\n\u202e.csv", "R\u200b %"
	line := entry("intake")
	line.Summary = "took in " + e.Name
	require.NoError(t, s.Write(t.Context(), line, func(tx *store.Tx) error {
		_, err := tx.AddExport(e, how, readings)
		return err
	}))
	got, err := s.Original(t.Context(), e.SHA256)
	require.NoError(t, err)
	assert.Equal(t, e.Name, got.Name)
	kept, err := s.Readings(t.Context(), unit)
	require.NoError(t, err)
	assert.Equal(t, "R\u200b %", kept[0].Heading)
	var last study.Entry
	require.NoError(t, s.Log(t.Context(), func(e study.Entry) error { last = e; return nil }))
	assert.Equal(t, `took in e\x1b\n\u202e.csv`, last.Summary)
}
