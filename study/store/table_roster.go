package store

import (
	"bytes"
	"context"
	"fmt"

	"wane/study"
)

// AddExposure adds an exposure. It reports false if the same is there already;
// one of the same name that differs is refused.
func (tx *Tx) AddExposure(e study.Exposure) (added bool, err error) {
	r := row{nil, nil, e.Exposure, nullText(e.Protocol), nullText(e.Site), e.DoseUnit, nullText(e.Start)}
	return tx.enrol(exposureTable, fmt.Sprintf("exposure %q", e.Exposure), 1, r)
}

// AddPull adds a pull of an exposure that is there. It reports false if the same
// is there already; one of the same number that differs is refused.
func (tx *Tx) AddPull(p study.Pull) (added bool, err error) {
	r := row{nil, nil, p.Exposure, int64(p.Pull), p.Dose, nullText(p.Date)}
	return tx.enrol(pullTable, fmt.Sprintf("pull %d of exposure %q", p.Pull, p.Exposure), 2, r)
}

// AddCoupon adds a coupon, whose exposure, if it has one, is there. It reports
// false if the same is there already; one of the same code that differs is
// refused.
func (tx *Tx) AddCoupon(c study.Coupon) (added bool, err error) {
	r := row{nil, nil, c.Coupon, string(c.Role), nullText(c.Supplier), nullText(c.Coating), nullText(c.Lot),
		c.Glass, nullReal(float64(c.GlassMM)), c.Back, nullText(c.Exposure), nil}
	if c.WaterRepellent {
		r[len(r)-1] = "yes"
	}
	return tx.enrol(couponTable, fmt.Sprintf("coupon %q", c.Coupon), 1, r)
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
	r := row{nil, nil, g.Name, int64(len(g.NM)), g.NM[0], g.NM[len(g.NM)-1], nil, nil, nil}
	for i, column := range [][]float64{g.NM, g.N, g.K} {
		packed, err := pack(column)
		if err != nil {
			return false, &study.Refusal{Fault: what + " holds what is " + err.Error(), Try: "correct its table"}
		}
		r[6+i] = packed
	}
	return tx.enrol(glassTable, what, 1, r)
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
			tail += t.columns[i] + " = ?"
		}
		old, err := t.one(tx.ctx, prepared{tx}, tail, r[2:2+key]...)
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
		if same(old[i], now[i]) || t == couponTable && t.columns[i] == "glass" && sameGlass(old[i], now[i]) {
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
	y, both := b.([]byte)
	if isBytes && both {
		return bytes.Equal(x, y)
	}
	return !isBytes && !both && a == b
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
	err := exposureTable.each(ctx, q, "FROM exposure ORDER BY exposure", nil, func(r row) error {
		f := r.fields()
		roster.Exposures = append(roster.Exposures, study.Exposure{
			Exposure: f.text(), Protocol: f.text(), Site: f.text(), DoseUnit: f.text(), Start: f.text()})
		return nil
	})
	if err != nil {
		return nil, err
	}
	err = pullTable.each(ctx, q, "FROM pull ORDER BY exposure, pull", nil, func(r row) error {
		f := r.fields()
		roster.Pulls = append(roster.Pulls, study.Pull{Exposure: f.text(), Pull: f.whole(), Dose: f.real(), Date: f.text()})
		return nil
	})
	if err != nil {
		return nil, err
	}
	err = couponTable.each(ctx, q, "FROM coupon ORDER BY coupon", nil, func(r row) error {
		f := r.fields()
		roster.Coupons = append(roster.Coupons, study.Coupon{
			Coupon: f.text(), Role: study.Role(f.text()), Supplier: f.text(), Coating: f.text(), Lot: f.text(),
			Glass: study.GlassName(f.text()), GlassMM: f.num(), Back: f.text(), Exposure: f.text(),
			WaterRepellent: f.text() != ""})
		return nil
	})
	if err != nil {
		return nil, err
	}
	err = glassTable.each(ctx, q, "FROM glass ORDER BY glass", nil, func(r row) error {
		g, err := glassOf(r)
		roster.Glasses = append(roster.Glasses, g)
		return err
	})
	if err != nil {
		return nil, err
	}
	return roster, readRegister(ctx, q, roster)
}

// glassOf returns the table of a glass in a row.
func glassOf(r row) (study.Glass, error) {
	f := r.fields()
	g := study.Glass{Name: f.text()}
	points := f.whole()
	f.next += 2 // the ends
	for _, column := range []*[]float64{&g.NM, &g.N, &g.K} {
		values, err := unpack(f.bytes(), points)
		if err != nil {
			return g, &damage{"glass", r.whole(0), err.Error()}
		}
		*column = values
	}
	return g, nil
}
