package store

import (
	"bytes"
	"context"
	"crypto/sha256"
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
}).keyedBy(func(e *study.Exposure) string { return fmt.Sprintf("exposure %q", e.Exposure) }, "exposure").
	noting(keptProtocol)

var pullTable = newTable(2, "pull", fields[study.Pull]{
	textField("exposure", func(p *study.Pull) *string { return &p.Exposure }),
	wholeField("pull", func(p *study.Pull) *int { return &p.Pull }),
	realField("dose", func(p *study.Pull) *float64 { return &p.Dose }),
	textOrNull("date", func(p *study.Pull) *string { return &p.Date }),
	textOrNull(keptProtocol, func(p *study.Pull) *string { return &p.KeptProtocol }),
}).keyedBy(func(p *study.Pull) string { return fmt.Sprintf("pull %d of exposure %q", p.Pull, p.Exposure) },
	"pull", "exposure").noting(keptProtocol)

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
}).keyedBy(func(g *glassRow) string { return fmt.Sprintf("glass %q", g.name) }, "glass")

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
}).keyedBy(func(c *study.Coupon) string { return fmt.Sprintf("coupon %q", c.Coupon) }, "coupon").taking(sameGlass)

var glassBatchTable = newTable(24, "glass_batch", fields[study.GlassBatch]{
	textField("glass", func(b *study.GlassBatch) *string { return &b.Glass }),
	textField("batch", func(b *study.GlassBatch) *string { return &b.Batch }),
	statedOrNull("u_index", func(b *study.GlassBatch) *study.Stated { return &b.UIndex }),
	textOrNull("model", func(b *study.GlassBatch) *string { return &b.Model }),
}).keyedBy(func(b *study.GlassBatch) string { return fmt.Sprintf("batch %q of glass %q", b.Batch, b.Glass) },
	"batch", "glass")

var returnTable = newTable(25, "return_spectrum", fields[returnRow]{
	textField("return_spectrum", func(s *returnRow) *string { return &s.name }),
	wholeField("points", func(s *returnRow) *int { return &s.points }),
	realField("first_nm", func(s *returnRow) *float64 { return &s.firstNM }),
	realField("last_nm", func(s *returnRow) *float64 { return &s.lastNM }),
	blobField("nm_packed", func(s *returnRow) *[]byte { return &s.nm }),
	blobField("return_packed", func(s *returnRow) *[]byte { return &s.values }),
}).keyedBy(func(s *returnRow) string { return fmt.Sprintf("return spectrum %q", s.name) }, "return_spectrum")

// AddGlassBatch adds a batch of a glass. It reports false if the same is there already; one of the same glass and name
// that differs is refused.
func (tx *Tx) AddGlassBatch(b study.GlassBatch) (added bool, err error) {
	return glassBatchTable.enrol(tx, &b)
}

// AddExposure adds an exposure. It reports false if the same is there already;
// one of the same name that differs is refused.
func (tx *Tx) AddExposure(e study.Exposure) (added bool, err error) {
	return exposureTable.enrol(tx, &e)
}

// AddPull adds a pull of an exposure that is there. It reports false if the same
// is there already; one of the same number that differs is refused.
func (tx *Tx) AddPull(p study.Pull) (added bool, err error) {
	return pullTable.enrol(tx, &p)
}

// AddCoupon adds a coupon, whose exposure, if it has one, is there. It reports
// false if the same is there already; one of the same code that differs is
// refused.
func (tx *Tx) AddCoupon(c study.Coupon) (added bool, err error) {
	return couponTable.enrol(tx, &c)
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
	p, err := packGlass(g)
	if err != nil {
		return false, err
	}
	return glassTable.enrol(tx, p)
}

// packGlass refuses a table without rows, and one with what is no number.
func packGlass(g study.Glass) (*glassRow, error) {
	if len(g.N) != len(g.NM) || len(g.K) != len(g.NM) {
		panic("store: the columns of a glass differ in length")
	}
	what := fmt.Sprintf("glass %q", g.Name)
	if len(g.NM) == 0 {
		return nil, &study.Refusal{Fault: what + " has no rows", Try: "give at least one wavelength"}
	}
	p := &glassRow{name: g.Name, points: len(g.NM), firstNM: g.NM[0], lastNM: g.NM[len(g.NM)-1]}
	if err := packColumns([]*[]byte{&p.nm, &p.n, &p.k}, g.NM, g.N, g.K); err != nil {
		return nil, &study.Refusal{Fault: what + " contains what is " + err.Error(), Try: "correct its table", Cause: err}
	}
	return p, nil
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
	p, err := packReturn(s)
	if err != nil {
		return false, err
	}
	return returnTable.enrol(tx, p)
}

// packReturn is packGlass for a return spectrum.
func packReturn(s study.ReturnSpectrum) (*returnRow, error) {
	if len(s.Return) != len(s.NM) {
		panic("store: the columns of a return spectrum differ in length")
	}
	what := fmt.Sprintf("return spectrum %q", s.Name)
	if len(s.NM) == 0 {
		return nil, &study.Refusal{Fault: what + " has no rows", Try: "give at least two wavelengths"}
	}
	p := &returnRow{name: s.Name, points: len(s.NM), firstNM: s.NM[0], lastNM: s.NM[len(s.NM)-1]}
	if err := packColumns([]*[]byte{&p.nm, &p.values}, s.NM, s.Return); err != nil {
		return nil, &study.Refusal{Fault: what + " contains what is " + err.Error(), Try: "correct its table", Cause: err}
	}
	return p, nil
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

func same(a, b any) bool {
	x, isBytes := a.([]byte)
	y, otherIsBytes := b.([]byte)
	if isBytes && otherIsBytes {
		return bytes.Equal(x, y)
	}
	return !isBytes && !otherIsBytes && a == b
}

// sameGlass reports whether two cells of a column of coupons name one glass: a study may hold its old name.
func sameGlass(column string, a, b any) bool {
	return column == "glass" && study.GlassName(textOf(a)) == study.GlassName(textOf(b))
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
//
// It is read once for each line of the log, since a command looks at the study several times: nobody may change it.
func (v *View) Roster() (*study.Roster, error) {
	if _, past := v.q.(asOf); past || v.unfinished { // there is no line of the log of it
		roster, err := readRoster(v.ctx, v.q)
		return roster, v.refuse(err)
	}
	last, err := lastLine(v.ctx, v.q)
	if err != nil {
		return nil, v.refuse(err)
	}
	if kept := v.store.roster.Load(); kept != nil && kept.hash == last.hash {
		return kept.roster, nil
	}
	roster, err := readRoster(v.ctx, v.q)
	if err == nil {
		v.store.roster.Store(&keptRoster{last.hash, roster})
	}
	return roster, v.refuse(err)
}

// keptRoster is the roster after the line of the log with this hash.
type keptRoster struct {
	hash   [sha256.Size]byte
	roster *study.Roster
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
