package store

import (
	"encoding/hex"
	"fmt"

	"wane/study"
)

var measurementTable = newTable(17, "measurement", fields[measurementRow]{
	textField("coupon", func(m *measurementRow) *string { return &m.Coupon }),
	wholeField("pull", func(m *measurementRow) *int { return &m.Pull }),
	textField("spot", func(m *measurementRow) *string { return &m.Spot }),
	textField("condition", func(m *measurementRow) *string { return &m.Condition }),
	textField("quantity", func(m *measurementRow) *string { return &m.Quantity }),
	realOrNull("value", func(m *measurementRow) *study.Num { return &m.Value }),
	realOrNull("u", func(m *measurementRow) *study.Num { return &m.U }),
	derived("unit", func(m *measurementRow) any { return m.Unit() }),
	textField("method", func(m *measurementRow) *string { return &m.Method }),
	textField("date", func(m *measurementRow) *string { return &m.Date }),
	wholeField("replicate", func(m *measurementRow) *int { return &m.Replicate }),
	textOrNull("operator", func(m *measurementRow) *string { return &m.Operator }),
	textOrNull("note", func(m *measurementRow) *string { return &m.Note }),
	wholeField("export", func(m *measurementRow) *int64 { return &m.sheet }),
	wholeField("line", func(m *measurementRow) *int { return &m.Line }),
	wholeOrNull("picture", func(m *measurementRow) *int64 { return &m.picture }),
}).keyedBy(func(m *measurementRow) string { return describeMeasurement(m.Measurement) },
	"replicate", "coupon", "pull", "spot", "condition", "quantity", "method", "date").
	noting("unit", "export", "line").takenBy("measure").afterWithdrawal("give the measurement another replicate")

// measurementRow is a measurement with the numbers of the files that it came from; picture 0:
// there is none. The measurement has no Sheet and no Picture.
type measurementRow struct {
	study.Measurement
	sheet, picture int64
}

// AddMeasurement adds a measurement that stood in sheet, whose Line is a line of that,
// with the picture that belongs to it, nil for none. It reports false if the same is
// there already, from whatever table; one that differs in value, uncertainty,
// operator, note or picture is refused, and so are a coupon that is not enrolled and a
// pull that is not planned. sheet and picture are kept with the first measurement that
// they bring.
//
// Sheet and Picture of the measurement are not looked at. The error is plain if a
// SHA256 is not that of the data.
func (tx *Tx) AddMeasurement(sheet study.Export, m study.Measurement, picture *study.Export) (added bool, err error) {
	err = tx.atomically(func() error {
		old, err := tx.find(measurementTable.table, measurementTable.row(&measurementRow{Measurement: m}))
		switch {
		case err != nil:
			return err
		case old.withdrawn:
			return withdrawn(measurementTable.table, describeMeasurement(m))
		case old.now != nil:
			was := &measurementRow{}
			if err := measurementTable.read(old.now, was); err != nil {
				return err
			}
			return tx.sameMeasurement(was, m, picture)
		}
		added = true
		return tx.measure(sheet, m, picture)
	})
	return added && err == nil, err
}

// measure adds a measurement that is new.
func (tx *Tx) measure(sheet study.Export, m study.Measurement, picture *study.Export) error {
	r := &measurementRow{Measurement: m}
	var err error
	if r.sheet, err = tx.keep(sheet); err != nil {
		return err
	}
	if picture != nil {
		if r.picture, err = tx.keep(*picture); err != nil {
			return err
		}
	}
	_, err = measurementTable.add(tx, r)
	if isConstraint(err) {
		return &study.Refusal{
			Fault: "it does not fit into the study: " + describeMeasurement(m),
			Try:   "enrol the coupon and plan the pull first; `wane help measurements` has the words and bounds",
			Cause: err,
		}
	}
	return err
}

// sameMeasurement refuses m if it differs from the one that is there.
func (tx *Tx) sameMeasurement(old *measurementRow, m study.Measurement, picture *study.Export) error {
	differs := func(what, was, is string) error {
		return &study.Refusal{
			Fault: fmt.Sprintf("%s is known already, and differs: %s was %s, and here it is %s", describeMeasurement(m), what,
				was, is),
			Try: "give the row as it was; if it was measured again, give it another replicate; if it was mistyped, " +
				"correct it with `wane amend` and the reason",
		}
	}
	was, is := measurementTable.row(old), measurementTable.row(&measurementRow{Measurement: m})
	for _, name := range []string{"value", "u", "operator", "note"} {
		if i := measurementTable.column(name); !same(was[i], is[i]) {
			return differs(name, show(was[i]), show(is[i]))
		}
	}
	before := ""
	if old.picture != 0 {
		e, err := exportTable.one(tx.ctx, prepared{tx}, "FROM export WHERE id = ?", old.picture)
		if err != nil {
			return err
		}
		if e == nil {
			return &damage{table: "export", row: old.picture, fault: "it is missing"}
		}
		before = hex.EncodeToString(e.Row.SHA256[:])
	}
	given := ""
	if picture != nil {
		given = hex.EncodeToString(picture.SHA256[:])
	}
	if before != given {
		return differs("the SHA-256 of the picture", show(nullText(before)), show(nullText(given)))
	}
	return nil
}

// describeMeasurement names what was measured, and of what.
func describeMeasurement(m study.Measurement) string {
	spot := "as a whole"
	if m.Spot != "" {
		spot = "spot " + m.Spot
	}
	if m.Condition != "" {
		spot += ", " + m.Condition
	}
	return fmt.Sprintf("%s of coupon %s, pull %d, %s, by %s on %s, replicate %d", m.Quantity, m.Coupon, m.Pull, spot,
		m.Method, m.Date, m.Replicate)
}

// Thicknesses hands the measurements of thickness to yield, in the order of coupon,
// pull, spot, condition, method, date and replicate.
func (v *View) Thicknesses(yield func(study.Measurement) error) error {
	return v.measurements("WHERE quantity = ?", []any{study.MeasuredThickness},
		func(k Kept[study.Measurement]) error { return yield(k.Row) })
}

// Measurements hands all measurements to yield, in the order of coupon, pull, spot,
// condition, quantity, method, date and replicate.
func (v *View) Measurements(yield func(study.Measurement) error) error {
	return v.measurements("", nil, func(k Kept[study.Measurement]) error { return yield(k.Row) })
}

func (v *View) measurements(where string, args []any, yield func(Kept[study.Measurement]) error) error {
	rd := newReader(v.ctx, v.ready)
	tail := "FROM measurement " + where + " ORDER BY coupon, pull, spot, condition, quantity, method, date, replicate"
	return v.refuse(measurementTable.each(v.ctx, v.q, tail, args, func(k *Kept[measurementRow]) (err error) {
		m := k.Row.Measurement
		if m.Sheet, err = rd.export(k.Row.sheet); err != nil {
			return err
		}
		if k.Row.picture != 0 {
			if m.Picture, err = rd.export(k.Row.picture); err != nil {
				return err
			}
		}
		return yield(Kept[study.Measurement]{m, k.Number, k.Line})
	}))
}
