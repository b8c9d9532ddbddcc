package store

import (
	"context"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"fmt"

	"wane/study"
)

// gridTable holds the wavelengths of readings, once for all that share them.
var gridTable = newTable(7, "grid", fields[grid]{
	sumField("sha256", func(g *grid) *[sha256.Size]byte { return &g.sum }),
	wholeField("points", func(g *grid) *int { return &g.points }),
	realField("first_nm", func(g *grid) *float64 { return &g.firstNM }),
	realField("last_nm", func(g *grid) *float64 { return &g.lastNM }),
	blobField("nm_packed", func(g *grid) *[]byte { return &g.nm }),
})

var readingTable = newTable(8, "reading", placeFields(func(r *readingRow) *study.Place { return &r.Place }),
	fields[readingRow]{
		textOrNull("session", func(r *readingRow) *string { return &r.Session }),
		textOrNull("operator", func(r *readingRow) *string { return &r.Operator }),
		textOrNull("geometry", func(r *readingRow) *string { return &r.Geometry }),
		realOrNull("orientation_deg", func(r *readingRow) *study.Num { return &r.OrientationDeg }),
		wholeField("export", func(r *readingRow) *int64 { return &r.export }),
		wholeField("column_number", func(r *readingRow) *int { return &r.Column }),
		textOrNull("heading", func(r *readingRow) *string { return &r.Heading }).asGiven(),
		wholeField("grid", func(r *readingRow) *int64 { return &r.grid }),
		realField("mean", func(r *readingRow) *float64 { return &r.mean }),
		blobField("values_packed", func(r *readingRow) *[]byte { return &r.values }),
		wholeOrNull("first_line", func(r *readingRow) *int { return &r.FirstLine }),
		wholeOrNull("last_line", func(r *readingRow) *int { return &r.LastLine }),
		wholeOrNull("intake", func(r *readingRow) *int64 { return &r.intake }),
		textOrNull("reference", func(r *readingRow) *string { return &r.Reference }),
		textOrNull("reference_issued", func(r *readingRow) *string { return &r.Issued }),
		realOrNull("noise", func(r *readingRow) *float64 { return &r.Traits.Noise }),
		firstBandField("band_first_nm"),
		blobOrNull("bands_packed", func(r *readingRow) *[]byte { return &r.bands }),
		twinField("twin"),
		wholeOrNull("mounting", func(r *readingRow) *int { return &r.Mounting }),
		statedOrNull("half_angle_deg", func(r *readingRow) *study.Stated { return &r.HalfAngleDeg }),
		textOrNull("position", func(r *readingRow) *string { return &r.Position }),
		wholeOrNull("superseded_by", func(r *readingRow) *int64 { return &r.supersededBy }), // set by Tx.Replace
	})

// Positions in the rows of readings, of the numbers of other rows, which are filled in last.
var (
	readingExport = readingTable.column("export")
	readingGrid   = readingTable.column("grid")
	readingIntake = readingTable.column("intake")

	readingSuperseded = readingTable.column("superseded_by")
)

// placeFields are the columns of a place.
func placeFields[T any](at func(*T) *study.Place) fields[T] {
	return fields[T]{
		textField("coupon", func(v *T) *string { return &at(v).Coupon }),
		wholeField("pull", func(v *T) *int { return &at(v).Pull }),
		textField("spot", func(v *T) *string { return &at(v).Spot }),
		textField("condition", func(v *T) *string { return &at(v).Condition }),
		realField("angle_deg", func(v *T) *float64 { return &at(v).AngleDeg }),
		textField("polarisation", func(v *T) *string { return &at(v).Polarisation }),
		textField("quantity", func(v *T) *study.Quantity { return &at(v).Quantity }),
		wholeField("replicate", func(v *T) *int { return &at(v).Replicate }),
	}
}

// firstBandField is null without bands.
func firstBandField(name string) field[readingRow] {
	f := wholeField(name, func(r *readingRow) *int { return &r.Traits.FirstBandNM })
	f.get = func(r *readingRow) any {
		if r.bands == nil {
			return nil
		}
		return int64(r.Traits.FirstBandNM)
	}
	return f
}

// twinField is null in readings that were taken in before there were guards.
func twinField(name string) field[readingRow] {
	return field[readingRow]{name: name,
		get: func(r *readingRow) any { return r.twin },
		set: func(r *readingRow, x any) error {
			r.guardable = x != nil
			r.twin = wholeOf(x)
			return nil
		}}
}

// readingRow is a reading as a table holds it: packed, and with the numbers of the rows that
// it refers to. The reading has no wavelengths, no values and no bands.
type readingRow struct {
	study.Reading
	export, grid, intake int64 // intake 0: it is not known how it was taken in
	supersededBy         int64 // the reading that stands instead of this one; 0: this is the current one
	mean                 float64
	values, bands        []byte // bands nil: there are none
	twin                 int64
	guardable            bool // it was taken in with traits and twin
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
	refuse := func(fault string, cause error) error {
		if cause != nil {
			fault += " " + cause.Error()
		}
		return &study.Refusal{File: name, Fault: fmt.Sprintf("column %d %s", r.Column, fault), Try: "export it again",
			Cause: cause}
	}
	if len(r.NM) == 0 {
		return c, refuse("has no points", nil)
	}
	c.grid = of
	if len(nm) != len(r.NM) || &nm[0] != &r.NM[0] {
		packed, err := pack(r.NM)
		if err != nil {
			return c, refuse("has a wavelength that is", err)
		}
		c.grid = grid{packed, sha256.Sum256(packed), len(r.NM), r.NM[0], r.NM[len(r.NM)-1]}
	}
	if c.values, err = pack(r.Values); err != nil {
		return c, refuse("has a value that is", err)
	}
	if c.bands, err = pack(r.Traits.Bands); err != nil {
		return c, refuse("has a mean over a band that is", err)
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

// rowOfReading returns a reading without the numbers of its export, its grid and how it was
// taken in.
func rowOfReading(r *study.Reading, c *curve) readingRow {
	packed := readingRow{Reading: *r, mean: mean(r.Values), values: c.values, twin: c.twin()}
	if len(r.Traits.Bands) > 0 {
		packed.bands = c.bands
	}
	return packed
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
	tx.grids[c.sum] = old.Number
	return old.Number, nil
}

// grid returns the number of the wavelengths of a reading, which it adds if they are new.
func (tx *Tx) grid(r *packedReading) (int64, error) {
	old, err := tx.findGrid(&r.curve)
	if old != 0 || err != nil {
		return old, err
	}
	return gridTable.add(tx, &r.grid)
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
		err = v.readings("(coupon, pull, spot, condition) = (?, ?, ?, ?)",
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
		[]any{unit.Coupon, unit.Pull, unit.Spot, unit.Condition}, func(k *Kept[readingRow]) error {
			reading, err := rd.reading(k)
			found = append(found, reading)
			return err
		})
	return found, v.refuse(err)
}

// countedOfUnit selects the readings of a unit that are counted.
const countedOfUnit = `FROM reading WHERE superseded_by IS NULL AND (coupon, pull, spot, condition) = (?, ?, ?, ?)
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

func (rd *reader) reading(k *Kept[readingRow]) (out study.Reading, err error) {
	out = k.Row.Reading
	if out.Export, err = rd.export(k.Row.export); err != nil {
		return out, err
	}
	if out.NM, err = rd.grid(k.Row.grid); err != nil {
		return out, err
	}
	if out.Values, err = unpack(k.Row.values, len(out.NM)); err != nil {
		return out, damaged("reading", k.Number, err)
	}
	out.Traits, err = k.Row.traits(k.Number)
	return out, err
}

// traits returns the traits of the reading with this number. Those of one that was taken
// in before there were traits have a Noise of NaN and no bands.
func (r *readingRow) traits(number int64) (t study.Traits, err error) {
	t = r.Traits
	if len(r.bands) > 0 {
		if t.Bands, err = unpack(r.bands, packed(r.bands)); err != nil {
			return t, damaged("reading", number, err)
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
		return nil, &damage{table: "grid", row: id, fault: "it is missing"}
	}
	nm, err := unpack(g.Row.nm, g.Row.points)
	if err != nil {
		return nil, damaged("grid", id, err)
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
		return "", &damage{table: "export", row: id, fault: "it is missing"}
	}
	rd.exports[id] = hex.EncodeToString(e.Row.SHA256[:])
	return rd.exports[id], nil
}
