package store

import (
	"context"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"fmt"

	"wane/study"
)

// Positions in the rows of readings and grids.
var (
	readingExport = readingTable.column("export")
	readingColumn = readingTable.column("column_number")
	readingGrid   = readingTable.column("grid")
	readingIntake = readingTable.column("intake")
	readingValues = readingTable.column("values_packed")
	gridPoints    = gridTable.column("points")
	gridValues    = gridTable.column("nm_packed")

	readingBandFirst = readingTable.column("band_first_nm")
	readingBands     = readingTable.column("bands_packed")
)

// placeOf returns the place in a row of readings.
func placeOf(r row) study.Place { return r.fields().place() }

func (c *cursor) place() study.Place {
	return study.Place{
		Coupon: c.text(), Pull: c.whole(), Spot: c.text(), Condition: c.text(), AngleDeg: c.real(),
		Polarisation: c.text(), Quantity: study.Quantity(c.text()), Replicate: c.whole(),
	}
}

// mean returns the mean of x, which is not empty.
func mean(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v
	}
	return sum / float64(len(x))
}

// grid is the wavelengths of readings, packed, and the SHA-256 of that.
type grid struct {
	nm              []byte
	sum             [sha256.Size]byte
	points          int
	firstNM, lastNM float64
}

// curve is what a reading holds, packed.
type curve struct {
	grid
	values, bands []byte
}

// packCurve packs a reading of the export called name, and refuses what cannot be a
// spectrum. of is the grid of nm, which the reading may share.
func packCurve(name string, r *study.Reading, nm []float64, of grid) (c curve, err error) {
	if len(r.NM) != len(r.Values) {
		panic("store: wavelengths and values of a reading differ in length")
	}
	refuse := func(fault string) error {
		return &study.Refusal{File: name, Fault: fmt.Sprintf("column %d %s", r.Column, fault), Try: "export it again"}
	}
	if len(r.NM) == 0 {
		return c, refuse("has no points")
	}
	c.grid = of
	if len(nm) != len(r.NM) || &nm[0] != &r.NM[0] {
		packed, err := pack(r.NM)
		if err != nil {
			return c, refuse("has a wavelength that is " + err.Error())
		}
		c.grid = grid{packed, sha256.Sum256(packed), len(r.NM), r.NM[0], r.NM[len(r.NM)-1]}
	}
	if c.values, err = pack(r.Values); err != nil {
		return c, refuse("holds a value that is " + err.Error())
	}
	if c.bands, err = pack(r.Traits.Bands); err != nil {
		return c, refuse("has a mean over a band that is " + err.Error())
	}
	return c, nil
}

// twin returns what is the same of two readings with the same numbers, and hardly ever
// of two others.
func (c *curve) twin() int64 {
	h := sha256.New()
	h.Write(c.nm)
	h.Write(c.values)
	return int64(binary.BigEndian.Uint64(h.Sum(nil)))
}

// rowOfReading returns the row of a reading, without the numbers of its export, its grid and
// how it was taken in.
func rowOfReading(r *study.Reading, c *curve) row {
	p := r.Place
	now := row{nil, nil, p.Coupon, int64(p.Pull), p.Spot, p.Condition, p.AngleDeg, p.Polarisation,
		string(p.Quantity), int64(p.Replicate), nullText(r.Session), nullText(r.Operator), nullText(r.Geometry),
		nullReal(float64(r.OrientationDeg)), nil, int64(r.Column), nullText(r.Heading), nil, mean(r.Values), c.values,
		nullWhole(r.FirstLine), nullWhole(r.LastLine), nil, nullText(r.Reference), nullText(r.Issued),
		nullReal(r.Traits.Noise), nil, nil, c.twin()}
	if len(r.Traits.Bands) > 0 {
		now[readingBandFirst], now[readingBands] = int64(r.Traits.FirstBandNM), c.bands
	}
	return now
}

// findGrid returns the number of the wavelengths of c, 0 if they are new.
func (tx *Tx) findGrid(c *curve) (int64, error) {
	if id := tx.grids[c.sum]; id != 0 {
		return id, nil
	}
	old, err := gridTable.one(tx.ctx, prepared{tx}, "FROM grid WHERE sha256 = ?", c.sum[:])
	if old == nil || err != nil {
		return 0, err
	}
	tx.grids[c.sum] = old.whole(0)
	return old.whole(0), nil
}

// grid returns the number of the wavelengths of a reading, which it adds if they are new.
func (tx *Tx) grid(r *packedReading) (int64, error) {
	old, err := tx.findGrid(&r.curve)
	if old != 0 || err != nil {
		return old, err
	}
	g := row{nil, nil, r.sum[:], int64(r.points), r.firstNM, r.lastNM, r.nm}
	err = tx.insert(gridTable, g)
	return g.whole(0), err
}

// Readings is [View.Readings] of a moment of its own.
func (s *Store) Readings(ctx context.Context, unit study.Unit) ([]study.Reading, error) {
	return view(ctx, s, func(v *View) ([]study.Reading, error) { return v.Readings(unit) })
}

// Readings returns the readings of a unit that are counted, in the order of angle,
// polarisation, quantity and replicate. Readings may share their wavelengths: NM must
// not be changed.
func (v *View) Readings(unit study.Unit) (found []study.Reading, err error) {
	if v.asIf {
		err = v.readings("WHERE (coupon, pull, spot, condition) = (?, ?, ?, ?)",
			[]any{unit.Coupon, unit.Pull, unit.Spot, unit.Condition}, func(r Kept[study.Reading]) error {
				if v.now[r.Number] == study.Counted {
					found = append(found, r.Row)
				}
				return nil
			})
		return found, err
	}
	rd := newReader(v.ctx, v.ready)
	err = readingTable.each(v.ctx, v.ready, countedOfUnit,
		[]any{unit.Coupon, unit.Pull, unit.Spot, unit.Condition}, func(r row) error {
			reading, err := rd.reading(r)
			found = append(found, reading)
			return err
		})
	return found, v.refuse(err)
}

// countedOfUnit selects the readings of a unit that are counted.
const countedOfUnit = `FROM reading WHERE (coupon, pull, spot, condition) = (?, ?, ?, ?)
	AND (SELECT standing FROM v_standings s WHERE s.reading = reading.id) = 'counted'
	ORDER BY angle_deg, polarisation, quantity, replicate`

// reader turns rows into readings and keeps what they share.
type reader struct {
	ctx     context.Context
	q       querier
	grids   map[int64][]float64
	exports map[int64]string // SHA-256, hexadecimal
}

func newReader(ctx context.Context, q querier) *reader {
	return &reader{ctx: ctx, q: q, grids: map[int64][]float64{}, exports: map[int64]string{}}
}

func (rd *reader) reading(r row) (out study.Reading, err error) {
	f := r.fields()
	out = study.Reading{Place: f.place(), Session: f.text(), Operator: f.text(), Geometry: f.text(),
		OrientationDeg: f.num()}
	if out.Export, err = rd.export(int64(f.whole())); err != nil {
		return out, err
	}
	out.Column, out.Heading = f.whole(), f.text()
	if out.NM, err = rd.grid(int64(f.whole())); err != nil {
		return out, err
	}
	f.real() // the mean
	if out.Values, err = unpack(f.bytes(), len(out.NM)); err != nil {
		return out, &damage{"reading", r.whole(0), err.Error()}
	}
	out.FirstLine, out.LastLine = f.whole(), f.whole()
	f.step() // the intake
	out.Reference, out.Issued = f.text(), f.text()
	out.Traits, err = f.traits(r.whole(0))
	return out, err
}

// traits takes the traits of the reading with this number. Those of one that was taken
// in before there were traits have a Noise of NaN and no bands.
func (c *cursor) traits(number int64) (t study.Traits, err error) {
	t.Noise, t.FirstBandNM = c.real(), c.whole()
	if b := c.bytes(); len(b) > 0 {
		if t.Bands, err = unpack(b, packed(b)); err != nil {
			return t, &damage{"reading", number, err.Error()}
		}
	}
	return t, nil
}

func (rd *reader) grid(id int64) ([]float64, error) {
	if nm, ok := rd.grids[id]; ok {
		return nm, nil
	}
	g, err := gridTable.one(rd.ctx, rd.q, gridNumbered, id)
	if err != nil {
		return nil, err
	}
	if g == nil {
		return nil, &damage{"grid", id, "it is missing"}
	}
	nm, err := unpack(g.bytes(gridValues), int(g.whole(gridPoints)))
	if err != nil {
		return nil, &damage{"grid", id, err.Error()}
	}
	rd.grids[id] = nm
	return nm, nil
}

func (rd *reader) export(id int64) (string, error) {
	if sum, ok := rd.exports[id]; ok {
		return sum, nil
	}
	e, err := exportTable.one(rd.ctx, rd.q, exportNumbered, id)
	if err != nil {
		return "", err
	}
	if e == nil {
		return "", &damage{"export", id, "it is missing"}
	}
	rd.exports[id] = hex.EncodeToString(e.bytes(exportSum))
	return rd.exports[id], nil
}
