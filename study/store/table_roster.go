package store

import (
	"bytes"
	"context"
	"fmt"

	"wane/study"
)

var exposureTable = newTable(1, "exposure", fields[study.Exposure]{
	textField("exposure", func(e *study.Exposure) *string { return &e.Exposure }),
	textOrNull("protocol", func(e *study.Exposure) *string { return &e.Protocol }),
	textOrNull("site", func(e *study.Exposure) *string { return &e.Site }),
	textField("dose_unit", func(e *study.Exposure) *string { return &e.DoseUnit }),
	textOrNull("start", func(e *study.Exposure) *string { return &e.Start }),
	textOrNull(keptProtocol, func(e *study.Exposure) *string { return &e.KeptProtocol }),
})

var pullTable = newTable(2, "pull", fields[study.Pull]{
	textField("exposure", func(p *study.Pull) *string { return &p.Exposure }),
	wholeField("pull", func(p *study.Pull) *int { return &p.Pull }),
	realField("dose", func(p *study.Pull) *float64 { return &p.Dose }),
	textOrNull("date", func(p *study.Pull) *string { return &p.Date }),
	textOrNull(keptProtocol, func(p *study.Pull) *string { return &p.KeptProtocol }),
})

// keptProtocol is a column that a row remembers from the day of its enrolment: no roster has it.
const keptProtocol = "kept_protocol"

var glassTable = newTable(3, "glass", fields[glassRow]{
	textField("glass", func(g *glassRow) *string { return &g.name }),
	wholeField("points", func(g *glassRow) *int { return &g.points }),
	realField("first_nm", func(g *glassRow) *float64 { return &g.firstNM }),
	realField("last_nm", func(g *glassRow) *float64 { return &g.lastNM }),
	blobField("nm_packed", func(g *glassRow) *[]byte { return &g.nm }),
	blobField("n_packed", func(g *glassRow) *[]byte { return &g.n }),
	blobField("k_packed", func(g *glassRow) *[]byte { return &g.k }),
})

var couponTable = newTable(4, "coupon", fields[study.Coupon]{
	textField("coupon", func(c *study.Coupon) *string { return &c.Coupon }),
	textField("role", func(c *study.Coupon) *study.Role { return &c.Role }),
	textOrNull("supplier", func(c *study.Coupon) *string { return &c.Supplier }),
	textOrNull("coating", func(c *study.Coupon) *string { return &c.Coating }),
	textOrNull("lot", func(c *study.Coupon) *string { return &c.Lot }),
	textField("glass", func(c *study.Coupon) *string { return &c.Glass }),
	realOrNull("glass_mm", func(c *study.Coupon) *study.Num { return &c.GlassMM }),
	textField("back", func(c *study.Coupon) *string { return &c.Back }),
	textOrNull("exposure", func(c *study.Coupon) *string { return &c.Exposure }),
	flagOrNull("water_repellent", "yes", func(c *study.Coupon) *bool { return &c.WaterRepellent }),
	textOrNull("glass_batch", func(c *study.Coupon) *string { return &c.Batch }),
	statedOrNull("leak", func(c *study.Coupon) *study.Stated { return &c.Leak }),
	textOrNull("return_spectrum", func(c *study.Coupon) *string { return &c.ReturnSpectrum }),
	wholeOrNull("baseline_pull", func(c *study.Coupon) *int { return &c.BaselinePull }),
	textOrNull("position", func(c *study.Coupon) *string { return &c.Position }),
})

var glassBatchTable = newTable(24, "glass_batch", fields[study.GlassBatch]{
	textField("glass", func(b *study.GlassBatch) *string { return &b.Glass }),
	textField("batch", func(b *study.GlassBatch) *string { return &b.Batch }),
	statedOrNull("u_index", func(b *study.GlassBatch) *study.Stated { return &b.UIndex }),
	textOrNull("model", func(b *study.GlassBatch) *string { return &b.Model }),
})

var returnTable = newTable(25, "return_spectrum", fields[returnRow]{
	textField("return_spectrum", func(s *returnRow) *string { return &s.name }),
	wholeField("points", func(s *returnRow) *int { return &s.points }),
	realField("first_nm", func(s *returnRow) *float64 { return &s.firstNM }),
	realField("last_nm", func(s *returnRow) *float64 { return &s.lastNM }),
	blobField("nm_packed", func(s *returnRow) *[]byte { return &s.nm }),
	blobField("return_packed", func(s *returnRow) *[]byte { return &s.values }),
})

// AddGlassBatch adds a batch of a glass. It reports false if the same is there already; one of the same glass and name
// that differs is refused.
func (tx *Tx) AddGlassBatch(b study.GlassBatch) (added bool, err error) {
	return tx.register(glassBatchTable.table, fmt.Sprintf("batch %q of glass %q", b.Batch, b.Glass), 2,
		glassBatchTable.row(&b))
}

// AddExposure adds an exposure. It reports false if the same is there already;
// one of the same name that differs is refused.
func (tx *Tx) AddExposure(e study.Exposure) (added bool, err error) {
	return tx.enrol(exposureTable.table, fmt.Sprintf("exposure %q", e.Exposure), 1, exposureTable.row(&e))
}

// AddPull adds a pull of an exposure that is there. It reports false if the same
// is there already; one of the same number that differs is refused.
func (tx *Tx) AddPull(p study.Pull) (added bool, err error) {
	return tx.enrol(pullTable.table, fmt.Sprintf("pull %d of exposure %q", p.Pull, p.Exposure), 2, pullTable.row(&p))
}

// AddCoupon adds a coupon, whose exposure, if it has one, is there. It reports
// false if the same is there already; one of the same code that differs is
// refused.
func (tx *Tx) AddCoupon(c study.Coupon) (added bool, err error) {
	return tx.enrol(couponTable.table, fmt.Sprintf("coupon %q", c.Coupon), 1, couponTable.row(&c))
}

// glassRow is the table of a glass, packed.
type glassRow struct {
	name            string
	points          int
	firstNM, lastNM float64
	nm, n, k        []byte
}

// AddGlass adds a table of a glass. It reports false if the same is there
// already; one of the same name that differs is refused. It panics if the
// columns of the table differ in length.
func (tx *Tx) AddGlass(g study.Glass) (added bool, err error) {
	if len(g.N) != len(g.NM) || len(g.K) != len(g.NM) {
		panic("store: the columns of a glass differ in length")
	}
	what := fmt.Sprintf("glass %q", g.Name)
	if len(g.NM) == 0 {
		return false, &study.Refusal{Fault: what + " has no rows", Try: "give at least one wavelength"}
	}
	p := glassRow{name: g.Name, points: len(g.NM), firstNM: g.NM[0], lastNM: g.NM[len(g.NM)-1]}
	err = packColumns([]*[]byte{&p.nm, &p.n, &p.k}, g.NM, g.N, g.K)
	if err != nil {
		return false, &study.Refusal{Fault: what + " contains what is " + err.Error(), Try: "correct its table", Cause: err}
	}
	return tx.enrol(glassTable.table, what, 1, glassTable.row(&p))
}

// returnRow is a return spectrum, packed.
type returnRow struct {
	name            string
	points          int
	firstNM, lastNM float64
	nm, values      []byte
}

// AddReturnSpectrum adds a return spectrum. It reports false if the same is there already;
// one of the same name that differs is refused. It panics if its columns differ in length.
func (tx *Tx) AddReturnSpectrum(s study.ReturnSpectrum) (added bool, err error) {
	if len(s.Return) != len(s.NM) {
		panic("store: the columns of a return spectrum differ in length")
	}
	what := fmt.Sprintf("return spectrum %q", s.Name)
	if len(s.NM) == 0 {
		return false, &study.Refusal{Fault: what + " has no rows", Try: "give at least two wavelengths"}
	}
	p := returnRow{name: s.Name, points: len(s.NM), firstNM: s.NM[0], lastNM: s.NM[len(s.NM)-1]}
	if err := packColumns([]*[]byte{&p.nm, &p.values}, s.NM, s.Return); err != nil {
		return false, &study.Refusal{Fault: what + " contains what is " + err.Error(), Try: "correct its table", Cause: err}
	}
	return tx.enrol(returnTable.table, what, 1, returnTable.row(&p))
}

// packColumns packs each column into what stands for it.
func packColumns(packed []*[]byte, columns ...[]float64) (err error) {
	for i, column := range columns {
		if *packed[i], err = pack(column); err != nil {
			return err
		}
	}
	return nil
}

// unpackColumns returns columns of the given number of points.
func unpackColumns(columns []*[]float64, points int, packed ...[]byte) (err error) {
	for i, b := range packed {
		if *columns[i], err = unpack(b, points); err != nil {
			return err
		}
	}
	return nil
}

// enrol adds r to t unless the same is there. The key of r is the given count of
// its values after the first two.
func (tx *Tx) enrol(t *table, what string, key int, r row) (added bool, err error) {
	err = tx.atomically(func() error {
		tail := "FROM " + t.name + " WHERE "
		for i := 2; i < 2+key; i++ {
			if i > 2 {
				tail += " AND "
			}
			tail += t.columns[i] + " IS ?" // as = but that null is null
		}
		old, err := t.oneRow(tx.ctx, prepared{tx}, tail, r[2:2+key]...)
		if err != nil {
			return err
		}
		if old != nil {
			return difference(t, what, old, r)
		}
		added = true
		err = tx.insert(t, r)
		if isConstraint(err) {
			return &study.Refusal{
				Fault: what + " does not fit into the study: its exposure is not enrolled, or a word is not one of those allowed",
				Try:   "enrol the exposure with it, and see the documentation for the words",
				Cause: err,
			}
		}
		return err
	})
	return added && err == nil, err
}

// difference refuses now, if it differs from old.
func difference(t *table, what string, old, now row) error {
	for i := 2; i < len(old); i++ {
		if same(old[i], now[i]) || t.columns[i] == keptProtocol || t == couponTable.table && t.columns[i] == "glass" && sameGlass(old[i], now[i]) {
			continue
		}
		fault := fmt.Sprintf("%s is known already, and differs: %s was %s, and here it is %s", what, t.columns[i],
			show(old[i]), show(now[i]))
		if _, packed := now[i].([]byte); packed {
			fault = what + " is known already, with other numbers"
		}
		return &study.Refusal{
			Fault: fault,
			Try: "give the row as it was; if this one is right: wane cannot change an enrolled row yet, so enrol it under " +
				"another name, " +
				"or begin a new study if its readings are taken in already",
		}
	}
	return nil
}

func same(a, b any) bool {
	x, isBytes := a.([]byte)
	y, otherIsBytes := b.([]byte)
	if isBytes && otherIsBytes {
		return bytes.Equal(x, y)
	}
	return !isBytes && !otherIsBytes && a == b
}

// sameGlass reports whether two cells name one glass: a study may hold its old name.
func sameGlass(a, b any) bool {
	x, _ := a.(string)
	y, _ := b.(string)
	return study.GlassName(x) == study.GlassName(y)
}

// show writes a value of a row for a message.
func show(v any) string {
	switch v := v.(type) {
	case nil:
		return "empty"
	case string:
		return fmt.Sprintf("%q", v)
	default:
		return fmt.Sprint(v)
	}
}

// Roster is [View.Roster] of a moment of its own.
func (s *Store) Roster(ctx context.Context) (*study.Roster, error) {
	return view(ctx, s, (*View).Roster)
}

// Roster returns what is enrolled, in the order of the names (of pulls: exposure
// and number).
func (v *View) Roster() (*study.Roster, error) {
	roster, err := readRoster(v.ctx, v.q)
	return roster, v.refuse(err)
}

// Roster returns what is enrolled, with what this transaction added, in the order
// of the names (of pulls: exposure and number).
func (tx *Tx) Roster() (*study.Roster, error) {
	roster, err := readRoster(tx.ctx, prepared{tx})
	return roster, tx.fail(err)
}

func readRoster(ctx context.Context, q querier) (*study.Roster, error) {
	roster := &study.Roster{}
	err := appendRows(ctx, q, exposureTable, "exposure", &roster.Exposures)
	if err == nil {
		err = appendRows(ctx, q, pullTable, "exposure, pull", &roster.Pulls)
	}
	if err != nil {
		return nil, err
	}
	err = couponTable.each(ctx, q, "FROM coupon ORDER BY coupon", nil, func(k *Kept[study.Coupon]) error {
		k.Row.Glass = study.GlassName(k.Row.Glass)
		roster.Coupons = append(roster.Coupons, k.Row)
		return nil
	})
	if err != nil {
		return nil, err
	}
	err = glassTable.each(ctx, q, "FROM glass ORDER BY glass", nil, func(k *Kept[glassRow]) error {
		g, p := study.Glass{Name: k.Row.name}, &k.Row
		if err := unpackColumns([]*[]float64{&g.NM, &g.N, &g.K}, p.points, p.nm, p.n, p.k); err != nil {
			return damaged("glass", k.Number, err)
		}
		roster.Glasses = append(roster.Glasses, g)
		return nil
	})
	if err != nil {
		return nil, err
	}
	err = returnTable.each(ctx, q, "FROM return_spectrum ORDER BY return_spectrum", nil, func(k *Kept[returnRow]) error {
		s, p := study.ReturnSpectrum{Name: k.Row.name}, &k.Row
		if err := unpackColumns([]*[]float64{&s.NM, &s.Return}, p.points, p.nm, p.values); err != nil {
			return damaged("return_spectrum", k.Number, err)
		}
		roster.Returns = append(roster.Returns, s)
		return nil
	})
	if err != nil {
		return nil, err
	}
	if err := appendRows(ctx, q, glassBatchTable, "glass, batch", &roster.Batches); err != nil {
		return nil, err
	}
	if err := readLives(ctx, q, roster); err != nil {
		return nil, err
	}
	return roster, readRegister(ctx, q, roster)
}

// appendRows appends the rows of a table, in the order that is given, to all.
func appendRows[T any](ctx context.Context, q querier, t *tableOf[T], order string, all *[]T) error {
	return t.each(ctx, q, "FROM "+t.name+" ORDER BY "+order, nil, func(k *Kept[T]) error {
		*all = append(*all, k.Row)
		return nil
	})
}
