package store

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strconv"

	"wane/study"
)

var amendmentTable = newTable(31, "amendment", fields[amendmentRow]{
	textField("of", func(a *amendmentRow) *string { return &a.of }),
	wholeField("row", func(a *amendmentRow) *int64 { return &a.row }),
	textField("field", func(a *amendmentRow) *string { return &a.field }),
	{name: "value",
		get: func(a *amendmentRow) any { return a.value },
		set: func(a *amendmentRow, x any) error { a.value = x; return nil }},
})

var withdrawalTable = newTable(32, "withdrawal", fields[withdrawalRow]{
	textField("of", func(w *withdrawalRow) *string { return &w.of }),
	wholeField("row", func(w *withdrawalRow) *int64 { return &w.row }),
})

// amendmentRow is the new value of one cell.
type amendmentRow struct {
	of    string // the table
	row   int64
	field string
	value any // as in a row of that table
}

// withdrawalRow takes a row out of the study.
type withdrawalRow struct {
	of  string
	row int64
}

// Correction is one cell that was amended, or a row that was withdrawn.
type Correction struct {
	Of    string // the table
	Row   int64  // its number there
	What  string // the row by its key, in words
	Key   string // as [KeyedRow] has it, in [View.Corrections]
	Field string // the column; empty: the row was withdrawn

	// Was and Is are the values before and after: nil, int64, float64, string, or bytes where numbers are packed.
	Was, Is any
}

// The methods below amend the row that has the key of the one given: of the columns named, its values become
// those of the row given, and the others stay. Each returns what changes, nothing if all was so. A row that is not there
// is refused, and so are a column of the key, a word or number that cannot be, and a name of what is not there.

// AmendExposure amends an exposure.
func (tx *Tx) AmendExposure(e study.Exposure, columns ...string) ([]Correction, error) {
	return exposureTable.amend(tx, &e, columns)
}

// AmendPull amends a pull.
func (tx *Tx) AmendPull(p study.Pull, columns ...string) ([]Correction, error) {
	return pullTable.amend(tx, &p, columns)
}

// AmendCoupon amends a coupon.
func (tx *Tx) AmendCoupon(c study.Coupon, columns ...string) ([]Correction, error) {
	return couponTable.amend(tx, &c, columns)
}

// AmendGlassBatch amends a batch of a glass.
func (tx *Tx) AmendGlassBatch(b study.GlassBatch, columns ...string) ([]Correction, error) {
	return glassBatchTable.amend(tx, &b, columns)
}

// AmendInstrument amends an instrument.
func (tx *Tx) AmendInstrument(i study.Instrument, columns ...string) ([]Correction, error) {
	return instrumentTable.amend(tx, &i, columns)
}

// AmendEvent amends an event of an instrument.
func (tx *Tx) AmendEvent(e study.Event, columns ...string) ([]Correction, error) {
	return eventTable.amend(tx, &e, columns)
}

// AmendStandard amends a certified value of a check standard.
func (tx *Tx) AmendStandard(c study.Standard, columns ...string) ([]Correction, error) {
	return standardTable.amend(tx, &c, columns)
}

// AmendSession amends a session.
func (tx *Tx) AmendSession(s study.Session, columns ...string) ([]Correction, error) {
	return sessionTable.amend(tx, &s, columns)
}

// AmendStandardReading amends a reading of a check standard.
func (tx *Tx) AmendStandardReading(c study.StandardReading, columns ...string) ([]Correction, error) {
	return standardReadingTable.amend(tx, &c, columns)
}

// amend amends the row with the key of v.
func (t *tableOf[T]) amend(tx *Tx, v *T, columns []string) ([]Correction, error) {
	return tx.amend(t.table, t.row(v), columns)
}

// amend amends the row of t with the key of to.
func (tx *Tx) amend(t *table, to row, columns []string) (made []Correction, err error) {
	what, err := t.keyed.describe(to)
	if err != nil {
		return nil, tx.fail(err)
	}
	err = tx.atomically(func() error {
		made = nil
		old, err := tx.find(t, to)
		if err == nil {
			err = old.refuseMissing(t, what)
		}
		if err != nil {
			return err
		}
		if made, err = changes(t, what, old.now, to, columns); err != nil || len(made) == 0 {
			return err
		}
		if err := tx.tryRow(t, what, overlaid(t, old.now, made)); err != nil {
			return err
		}
		for _, c := range made {
			if _, err := amendmentTable.add(tx, &amendmentRow{t.name, c.Row, c.Field, c.Is}); isConstraint(err) {
				return &study.Refusal{Fault: fmt.Sprintf("%s of %s is amended twice", c.Field, what),
					Try: "amend it once, with the value that is right", Cause: err}
			} else if err != nil {
				return err
			}
			if known := tx.corrected[t]; known != nil {
				known.cells[c.Row] = append(known.cells[c.Row], cell{t.column(c.Field), c.Is})
			}
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	return made, nil
}

// refuseMissing refuses a row that is not there.
func (f foundRow) refuseMissing(t *table, what string) error {
	switch {
	case f.withdrawn:
		return withdrawn(t, what)
	case f.now == nil:
		return &study.Refusal{Fault: what + " is not enrolled", Try: "correct its key, or add it with `wane " +
			cmp.Or(t.keyed.verb, "enrol") + "`"}
	}
	return nil
}

// changes returns the cells of the columns named in which to differs from now.
func changes(t *table, what string, now, to row, columns []string) (made []Correction, err error) {
	for _, name := range columns {
		i := t.at(name)
		if i < len(headColumns) || t.keyed.isKey(i) {
			return nil, &study.Refusal{Fault: fmt.Sprintf("%s of %s cannot be amended", name, what),
				Try: "name a column of the table that is not of its key"}
		}
		if same(now[i], to[i]) || t.keyed.alike(name, now[i], to[i]) {
			continue
		}
		made = append(made, Correction{Of: t.name, Row: now.whole(0), What: what, Field: name, Was: now[i], Is: to[i]})
	}
	return made, nil
}

// overlaid returns a row with the changes made.
func overlaid(t *table, now row, made []Correction) row {
	r := append(row(nil), now...)
	for _, c := range made {
		r[t.column(c.Field)] = c.Is
	}
	return r
}

// tryRow refuses an amended row that its table would not take. The row goes into the table under a key that is free,
// and is taken out again, so that an amended row fits by the rules of the table.
func (tx *Tx) tryRow(t *table, what string, r row) error {
	if err := checkTexts(t, r); err != nil {
		return err
	}
	r = append(row(nil), r...)
	switch first := t.keyed.keys[0]; key := r[first].(type) {
	case nil:
		r[first] = "to be tried"
	case int64:
		r[first] = key + 1<<40
	case float64:
		r[first] = key + 1<<40
	case string:
		r[first] = key + " (to be tried)"
	}
	r[0] = nil
	if err := tx.exec("SAVEPOINT trial"); err != nil {
		return err
	}
	err := tx.exec(t.insertOf(1), append(append([]any{}, r...), int64(0))...)
	undone := firstError(tx.exec("ROLLBACK TO trial"), tx.exec("RELEASE trial"))
	if isConstraint(err) {
		return doesNotFit(what, err)
	}
	return firstError(err, undone)
}

// AmendGlass makes a table of a glass the one given.
func (tx *Tx) AmendGlass(g study.Glass) ([]Correction, error) {
	p, err := packGlass(g)
	if err != nil {
		return nil, err
	}
	return glassTable.amend(tx, p, glassTable.open())
}

// AmendReturnSpectrum makes a return spectrum the one given.
func (tx *Tx) AmendReturnSpectrum(s study.ReturnSpectrum) ([]Correction, error) {
	p, err := packReturn(s)
	if err != nil {
		return nil, err
	}
	return returnTable.amend(tx, p, returnTable.open())
}

// AmendReference amends a certificate. If values is among the columns, its values become those given: curves that it
// has no more are withdrawn.
func (tx *Tx) AmendReference(c study.Reference, columns ...string) (made []Correction, err error) {
	columns, withCurves := without(columns, "values")
	var curves []curveRow
	r := &referenceRow{Reference: c}
	if withCurves {
		if curves, r.sum, err = packReference(describeReference(c.Reference, c.Issued), &c); err != nil {
			return nil, err
		}
		r.curves, columns = len(curves), append(columns, "curves", "sha256")
	}
	err = tx.atomically(func() error {
		if made, err = referenceTable.amend(tx, r, columns); err != nil || !withCurves {
			return err
		}
		more, err := tx.amendCurves(&c, curves)
		made = append(made, more...)
		return err
	})
	if err != nil {
		return nil, err
	}
	return made, nil
}

// amendCurves makes the curves of a certificate those given.
func (tx *Tx) amendCurves(c *study.Reference, curves []curveRow) (made []Correction, err error) {
	type setting struct {
		angleDeg     float64
		polarisation string
	}
	old := map[setting]int64{}
	err = referenceCurveTable.each(tx.ctx, prepared{tx}, "FROM reference_curve WHERE (reference, issued) = (?, ?)",
		[]any{c.Reference, c.Issued}, func(k *Kept[curveRow]) error {
			old[setting{k.Row.angleDeg, k.Row.polarisation}] = k.Number
			return nil
		})
	if err != nil {
		return nil, err
	}
	for i := range curves {
		at := setting{curves[i].angleDeg, curves[i].polarisation}
		var some []Correction
		if old[at] != 0 {
			some, err = referenceCurveTable.amend(tx, &curves[i], referenceCurveTable.open())
		} else {
			_, err = referenceCurveTable.enrol(tx, &curves[i])
		}
		if err != nil {
			return nil, err
		}
		made = append(made, some...)
		delete(old, at)
	}
	for _, number := range slices.Sorted(maps.Values(old)) {
		gone, err := tx.takeOut(referenceCurveTable.table, number)
		if err != nil {
			return nil, err
		}
		made = append(made, gone)
	}
	return made, nil
}

// AmendMeasurement amends a measurement. If picture is among the columns, its picture becomes the one given, nil for
// none. Sheet and Picture of the measurement are not looked at.
func (tx *Tx) AmendMeasurement(m study.Measurement, picture *study.Export, columns ...string) (made []Correction,
	err error) {
	err = tx.atomically(func() error {
		r := &measurementRow{Measurement: m}
		if picture != nil {
			if r.picture, err = tx.keep(*picture); err != nil {
				return err
			}
		}
		made, err = measurementTable.amend(tx, r, columns)
		return err
	})
	if err != nil {
		return nil, err
	}
	return made, nil
}

// open returns the columns that can be amended.
func (t *table) open() (names []string) {
	for i := len(headColumns); i < len(t.columns); i++ {
		if !t.keyed.isKey(i) && !t.keyed.noted[t.columns[i]] {
			names = append(names, t.columns[i])
		}
	}
	return names
}

// without returns the words less one, and reports whether that was among them.
func without(words []string, word string) (others []string, was bool) {
	for _, w := range words {
		if w == word {
			was = true
		} else {
			others = append(others, w)
		}
	}
	return others, was
}

// Present is a row that people find by a key, as it is now.
type Present struct {
	KeyedRow
	Cells map[string]string // by the name of the column in tables that people write; not of files that are kept
}

// Present returns the row with the key of the one given, a pointer to a noun of rosters, the register or measurements. A
// row that is not there is refused. It panics if there are no rows of that kind.
func (tx *Tx) Present(of any) (*Present, error) {
	t, key := keyedRow(of)
	what, err := t.keyed.describe(key)
	if err != nil {
		return nil, tx.fail(err)
	}
	old, err := tx.find(t, key)
	if err != nil {
		return nil, tx.fail(err)
	}
	if err := old.refuseMissing(t, what); err != nil {
		return nil, err
	}
	p := &Present{Cells: map[string]string{}}
	if p.KeyedRow, err = t.keyedRow(old.now); err != nil {
		return nil, tx.fail(err)
	}
	for i := len(headColumns); i < len(t.columns); i++ {
		if name := t.columns[i]; name == "done_by" {
			p.Cells["by"] = cellText(old.now[i])
		} else if !notWritten[name] {
			p.Cells[name] = cellText(old.now[i])
		}
	}
	return p, nil
}

// notWritten are columns that hold the numbers or digests of what is kept elsewhere.
var notWritten = map[string]bool{"picture": true, "export": true, "line": true, "sha256": true, "curves": true}

// cellText writes a value as people do.
func cellText(v any) string {
	switch v := v.(type) {
	case string:
		return v
	case int64:
		return strconv.FormatInt(v, 10)
	case float64:
		return strconv.FormatFloat(v, 'g', -1, 64)
	}
	return ""
}

// keyedRow returns the table of a noun, and the noun as a row.
func keyedRow(of any) (*table, row) {
	switch v := of.(type) {
	case *study.Exposure:
		return exposureTable.table, exposureTable.row(v)
	case *study.Pull:
		return pullTable.table, pullTable.row(v)
	case *study.GlassBatch:
		return glassBatchTable.table, glassBatchTable.row(v)
	case *study.Coupon:
		return couponTable.table, couponTable.row(v)
	case *study.Instrument:
		return instrumentTable.table, instrumentTable.row(v)
	case *study.Event:
		return eventTable.table, eventTable.row(v)
	case *study.Reference:
		return referenceTable.table, referenceTable.row(&referenceRow{Reference: *v})
	case *study.Standard:
		return standardTable.table, standardTable.row(v)
	case *study.Session:
		return sessionTable.table, sessionTable.row(v)
	case *study.StandardReading:
		return standardReadingTable.table, standardReadingTable.row(v)
	case *study.Measurement:
		return measurementTable.table, measurementTable.row(&measurementRow{Measurement: *v})
	case *study.CouponEvent:
		return couponEventTable.table, couponEventTable.row(v)
	case *study.DoseReading:
		return doseTable.table, doseTable.row(v)
	}
	panic(fmt.Sprintf("store: there are no rows of %T", of))
}
