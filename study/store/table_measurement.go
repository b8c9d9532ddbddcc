package store

import (
	"encoding/hex"
	"fmt"

	"wane/study"
)

// Positions in the rows of measurements.
var (
	measurementValue    = measurementTable.column("value")
	measurementOperator = measurementTable.column("operator")
	measurementExport   = measurementTable.column("export")
	measurementLine     = measurementTable.column("line")
	measurementPicture  = measurementTable.column("picture")
)

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
		old, err := measurementTable.one(tx.ctx, prepared{tx}, `FROM measurement WHERE (coupon, pull, spot, condition, quantity, method, date, replicate)
			= (?, ?, ?, ?, ?, ?, ?, ?)`, m.Coupon, m.Pull, m.Spot, m.Condition, m.Quantity, m.Method, m.Date, m.Replicate)
		if err != nil {
			return err
		}
		if old != nil {
			return tx.sameMeasurement(old, m, picture)
		}
		added = true
		return tx.measure(sheet, m, picture)
	})
	return added && err == nil, err
}

// measure adds a measurement that is new.
func (tx *Tx) measure(sheet study.Export, m study.Measurement, picture *study.Export) error {
	from, err := tx.keep(sheet)
	if err != nil {
		return err
	}
	var shows any
	if picture != nil {
		if shows, err = tx.keep(*picture); err != nil {
			return err
		}
	}
	err = tx.insert(measurementTable, row{nil, nil, m.Coupon, int64(m.Pull), m.Spot, m.Condition, m.Quantity,
		nullReal(float64(m.Value)), nullReal(float64(m.U)), m.Unit(),
		m.Method, m.Date, int64(m.Replicate), nullText(m.Operator), nullText(m.Note), from, int64(m.Line), shows})
	if isConstraint(err) {
		return &study.Refusal{
			Fault: "it does not fit into the study: " + describeMeasurement(m),
			Try:   "enrol the coupon and plan the pull first, and see the documentation for the words and bounds",
			Cause: err,
		}
	}
	return err
}

// sameMeasurement refuses m if it differs from the one that is there.
func (tx *Tx) sameMeasurement(old row, m study.Measurement, picture *study.Export) error {
	differs := func(what, was, is string) error {
		return &study.Refusal{
			Fault: fmt.Sprintf("%s is known already, and differs: %s was %s, and here it is %s", describeMeasurement(m), what,
				was, is),
			Try: "give the row as it was, or, if it was measured again, with another replicate; what was taken in stays as " +
				"it is",
		}
	}
	now := row{nullReal(float64(m.Value)), nullReal(float64(m.U)), nullText(m.Operator), nullText(m.Note)}
	for i, at := range []int{measurementValue, measurementValue + 1, measurementOperator, measurementOperator + 1} {
		if !same(old[at], now[i]) {
			return differs(measurementTable.columns[at], show(old[at]), show(now[i]))
		}
	}
	before := ""
	if old[measurementPicture] != nil {
		e, err := exportTable.one(tx.ctx, prepared{tx}, "FROM export WHERE id = ?", old[measurementPicture])
		if err != nil {
			return err
		}
		if e == nil {
			return &damage{"export", old.whole(measurementPicture), "it is missing"}
		}
		before = hex.EncodeToString(e.bytes(exportSum))
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

// measurementOf returns the measurement in a row, without the SHA-256 of table and
// picture.
func measurementOf(r row) study.Measurement {
	f := r.fields()
	m := study.Measurement{Coupon: f.text(), Pull: f.whole(), Spot: f.text(), Condition: f.text(), Quantity: f.text(),
		Value: f.num(), U: f.num()}
	f.step() // the unit
	m.Method, m.Date, m.Replicate, m.Operator, m.Note = f.text(), f.text(), f.whole(), f.text(), f.text()
	m.Line = int(r.whole(measurementLine))
	return m
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
	return v.refuse(measurementTable.each(v.ctx, v.q, tail, args, func(r row) (err error) {
		m := measurementOf(r)
		if m.Sheet, err = rd.export(r.whole(measurementExport)); err != nil {
			return err
		}
		if r[measurementPicture] != nil {
			if m.Picture, err = rd.export(r.whole(measurementPicture)); err != nil {
				return err
			}
		}
		return yield(Kept[study.Measurement]{m, r.whole(0), r.whole(1)})
	}))
}
