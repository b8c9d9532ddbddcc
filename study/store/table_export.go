package store

import (
	"bytes"
	"context"
	"crypto/sha256"
	"database/sql"
	"fmt"
	"runtime/debug"
	"strings"

	"wane/study"
)

// mostBytes bounds an export. SQLite holds no blob above 1e9 bytes. Source:
// sqlite.org/limits.html.
const mostBytes = 900_000_000

var exportTable = newTable(5, "export", fields[study.Export]{
	sumField("sha256", func(e *study.Export) *[sha256.Size]byte { return &e.SHA256 }),
	textField("name", func(e *study.Export) *string { return &e.Name }).asGiven(),
	wholeField("size_bytes", func(e *study.Export) *int64 { return &e.Size }),
})

// originalTable holds the bytes of the export with the same number.
var originalTable = newTable(6, "original", fields[study.Export]{
	blobField("data_zstd", func(e *study.Export) *[]byte { return &e.Packed }),
})

var intakeTable = newTable(19, "intake", fields[intakeRow]{
	wholeField("export", func(i *intakeRow) *int64 { return &i.export }),
	sumField("digest", func(i *intakeRow) *[sha256.Size]byte { return &i.Digest }),
	textOrNull("stated", func(i *intakeRow) *string { return &i.Stated }),
	wholeOrNull("profile", func(i *intakeRow) *int64 { return &i.profile }),
})

// intakeRow is how an export was taken in, with the numbers of the export and of the profile,
// 0 for none.
type intakeRow struct {
	study.Taking
	export, profile int64
}

// Packed is an export with readings from its columns, as they go into the study: all that
// can be made without the study itself is made. [Store.PackReadings] makes one.
type Packed struct {
	export   study.Export
	readings []packedReading
}

// Bytes returns how many bytes the export has compressed; 0 of nil.
func (p *Packed) Bytes() int {
	if p == nil {
		return 0
	}
	return len(p.export.Packed)
}

// packedReading is a reading as a row that lacks the numbers of other rows, and what else is
// needed of it.
type packedReading struct {
	place    study.Place
	column   int
	concerns []study.Concern
	curve
	row row
}

// PackReadings compresses the bytes of an export and packs readings from its columns. It is
// safe for concurrent use, so that many can be packed at a time and then be added in one
// transaction. It keeps neither the bytes nor the wavelengths and values. A reading without
// points or with a number that is not finite is refused.
//
// Export of the readings is not looked at. The error is plain if SHA256 is not that of
// the data. PackReadings panics if NM and Values of a reading differ in length.
func (s *Store) PackReadings(e study.Export, readings []study.Reading) (*Packed, error) {
	if err := s.Pack(&e); err != nil {
		return nil, err
	}
	e.Data = nil
	return packReadings(e, readings)
}

// packReadings packs readings of an export that is packed or in the study.
func packReadings(e study.Export, readings []study.Reading) (*Packed, error) {
	p := &Packed{export: e, readings: make([]packedReading, 0, len(readings))}
	var nm []float64 // of the reading before: most readings of an export share one slice
	var of grid
	packed := &readingRow{}
	for i := range readings {
		r := &readings[i]
		c, err := packCurve(e.Name, r, nm, of)
		if err != nil {
			return nil, err
		}
		nm, of = r.NM, c.grid
		*packed = rowOfReading(r, &c)
		p.readings = append(p.readings, packedReading{r.Place, r.Column, r.Concerns, c, readingTable.row(packed)})
	}
	return p, nil
}

// AddExport packs an export and readings from its columns, as [Store.PackReadings] does, and
// adds them and how the export was taken in. It returns how many of the readings are new. An
// export, a reading or a way of taking in that is there already is not added again, even if the
// session, operator, geometry or orientation now given differ. New readings are held where they
// have concerns. These are refused: a column that went to another place or gave other numbers, a
// place that was read from another column or export, a coupon that is not enrolled, a pull that is
// not planned, and a certificate or a profile that is not there. Without readings nothing is added.
func (tx *Tx) AddExport(e study.Export, how study.Taking, readings []study.Reading) (added int, err error) {
	p, err := tx.store.PackReadings(e, readings)
	if err != nil {
		if isRefusal(err) {
			return 0, err
		}
		return 0, tx.fail(err)
	}
	return tx.addPacked(p, how)
}

// addPacked is AddExport for what is packed already.
func (tx *Tx) addPacked(p *Packed, how study.Taking) (added int, err error) {
	if len(p.readings) == 0 {
		return 0, nil
	}
	err = tx.atomically(func() error {
		a, err := tx.beginAddition(&p.export, how)
		if err != nil {
			return err
		}
		if !a.old && len(p.readings) <= mostReadings && differentColumns(p.readings) {
			added = len(p.readings)
			return tx.readAll(a, p.readings)
		}
		for i := range p.readings {
			isNew, err := tx.read(a, &p.readings[i])
			if err != nil {
				return err
			}
			if isNew {
				added++
			}
		}
		return nil
	})
	if err != nil {
		return 0, err
	}
	return added, nil
}

// mostReadings bounds how many readings one statement adds: SQLite takes 32,766 values.
// Source: sqlite.org/limits.html.
const mostReadings = 100

// differentColumns reports whether the readings are of different columns.
func differentColumns(readings []packedReading) bool {
	seen := make(map[int]bool, len(readings))
	for i := range readings {
		if seen[readings[i].column] {
			return false
		}
		seen[readings[i].column] = true
	}
	return true
}

// exportAddition is an export on its way into the study.
type exportAddition struct {
	name           string
	number, intake any          // of the rows of the export and of how it is taken in: values of rows, made once
	old            bool         // the export was there before
	columns        map[int]bool // those that were read here
}

// beginAddition adds an export and how it is taken in, unless they are there.
func (tx *Tx) beginAddition(e *study.Export, how study.Taking) (a *exportAddition, err error) {
	number, old, err := tx.export(e)
	if err != nil {
		return nil, err
	}
	a = &exportAddition{name: e.Name, number: number, old: old, columns: map[int]bool{}}
	if how.Digest == [sha256.Size]byte{} { // of a study that did not keep how it was taken in
		return a, nil
	}
	if a.old {
		old, err := intakeTable.one(tx.ctx, prepared{tx}, "FROM intake WHERE export = ? AND digest = ?", a.number,
			how.Digest[:])
		if err != nil {
			return nil, err
		}
		if old != nil {
			a.intake = old.Number
			return a, nil
		}
	}
	profile, err := tx.profile(e.Name, how)
	if err != nil {
		return nil, err
	}
	a.intake, err = intakeTable.add(tx, &intakeRow{how, number, profile})
	return a, err
}

// export returns the number of e, which it adds if it is new. Most are new: an old one is
// looked up when the study does not take it again.
func (tx *Tx) export(e *study.Export) (number int64, old bool, err error) {
	number, err = exportTable.add(tx, e)
	if err != nil {
		if !isConstraint(err) {
			return 0, false, err
		}
		there, failed := exportTable.one(tx.ctx, prepared{tx}, "FROM export WHERE sha256 = ?", e.SHA256[:])
		if failed != nil || there == nil {
			return 0, false, firstError(failed, err)
		}
		return there.Number, true, nil
	}
	if len(e.Packed) > largePacked {
		debug.FreeOSMemory()
	}
	_, err = originalTable.add(tx, e)
	return number, false, err
}

// Pack compresses the bytes of an export or another file, unless that was done, and checks
// them against the SHA-256 given. It is safe for concurrent use, so that many can be packed
// at a time and then be added in one transaction; what adds an export packs it otherwise.
func (s *Store) Pack(e *study.Export) error {
	if e.Packed != nil {
		return nil
	}
	if sha256.Sum256(e.Data) != e.SHA256 {
		return fmt.Errorf("store: the SHA-256 given with %s is not that of its bytes", e.Name)
	}
	if len(e.Data) > mostBytes {
		return &study.Refusal{File: e.Name,
			Fault: fmt.Sprintf("it has %d bytes; a file may have %d", len(e.Data), mostBytes), Try: "split it"}
	}
	e.Packed, e.Size = s.compressor.EncodeAll(e.Data, make([]byte, 0, s.packedRoom(e.Data))), int64(len(e.Data))
	return nil
}

// largePacked is from which size on SQLite's copies of a blob, which are not Go's memory,
// count: what Go has done with is given back before they are made.
const largePacked = 8 << 20

// packedSample is how much of a large file shows how far it can be compressed.
const packedSample = 1 << 20

// packedRoom returns how many bytes the data may take compressed: what is too little
// would be made again and copied. Numbers written as text come to less than half; of a
// large file the beginning shows it.
func (s *Store) packedRoom(data []byte) int {
	if len(data) < 4*packedSample {
		return len(data)/2 + 64
	}
	sample := len(s.compressor.EncodeAll(data[:packedSample], nil))
	return min(len(data), len(data)/packedSample*(sample+sample/20)) + packedSample
}

// readAll adds the readings of an export of which none is there.
func (tx *Tx) readAll(a *exportAddition, readings []packedReading) error {
	rows := make([]row, len(readings))
	for i := range readings {
		if err := tx.fillNumbers(a, &readings[i]); err != nil {
			return err
		}
		rows[i] = readings[i].row
	}
	if err := tx.insertAll(readingTable.table, rows); isConstraint(err) {
		for i := range readings { // one by one, to see which is not taken
			if _, err := tx.read(a, &readings[i]); err != nil {
				return err
			}
		}
		return err
	} else if err != nil {
		return err
	}
	for i := range readings {
		if err := tx.holdForConcerns(&readings[i]); err != nil {
			return err
		}
	}
	return nil
}

// read adds a reading of an export, unless it is there.
func (tx *Tx) read(a *exportAddition, r *packedReading) (added bool, err error) {
	if a.old || a.columns[r.column] {
		if known, err := tx.isKnown(a, r); known || err != nil {
			return false, err
		}
	}
	a.columns[r.column] = true
	if err := tx.fillNumbers(a, r); err != nil {
		return false, err
	}
	err = tx.insert(readingTable.table, r.row)
	if isConstraint(err) {
		return false, tx.refuseUnfit(a, r, err)
	}
	return true, firstError(err, tx.holdForConcerns(r))
}

// fillNumbers fills the numbers of other rows into the row of a reading.
func (tx *Tx) fillNumbers(a *exportAddition, r *packedReading) error {
	grid, err := tx.grid(r)
	r.row[readingExport], r.row[readingIntake], r.row[readingGrid] = a.number, a.intake, grid
	return err
}

// holdForConcerns holds a reading that was just added where it has concerns.
func (tx *Tx) holdForConcerns(r *packedReading) error {
	for i := range r.concerns {
		if err := tx.hold(study.Hold{Reading: r.row.whole(0), Concern: r.concerns[i]}); err != nil {
			return err
		}
	}
	return nil
}

// isKnown reports whether the reading is there already. It refuses one whose column
// went elsewhere or was read otherwise.
func (tx *Tx) isKnown(a *exportAddition, r *packedReading) (bool, error) {
	old, err := readingTable.one(tx.ctx, prepared{tx}, "FROM reading WHERE superseded_by IS NULL AND export = ? AND column_number = ?",
		a.number, int64(r.column))
	if old == nil || err != nil {
		return false, err
	}
	if old.Row.Place != r.place {
		return false, &study.Refusal{
			File: a.name,
			Fault: fmt.Sprintf("column %d is %s here, but the same bytes were taken in as %s", r.column, describe(r.place),
				describe(old.Row.Place)),
			Try: "correct the map: one curve belongs to one place; or, if it was taken in at a wrong place, put it right with " +
				"`wane intake --map MAP --replace --why TEXT` or with `wane move`",
		}
	}
	grid, err := tx.findGrid(&r.curve)
	if err != nil {
		return false, err
	}
	if !bytes.Equal(old.Row.values, r.values) || grid == 0 || grid != old.Row.grid {
		return false, &study.Refusal{
			File:  a.name,
			Fault: fmt.Sprintf("column %d was taken in before with other numbers: its unit was understood otherwise", r.column),
			Try: "state the unit as before; or, if it was wrong, put it right with `wane move --to-unit UNIT --why TEXT` or " +
				"`wane intake --map MAP --replace --why TEXT`",
		}
	}
	return true, nil
}

// refuseUnfit says why the study does not take r, which SQLite says in cause.
func (tx *Tx) refuseUnfit(a *exportAddition, r *packedReading, cause error) error {
	taken, err := tx.takenBy(a, r)
	if err != nil {
		return err
	}
	if taken != nil {
		return taken
	}
	return &study.Refusal{
		File:  a.name,
		Fault: fmt.Sprintf("column %d does not fit into the study: %s", r.column, describe(r.place)),
		Try:   "enrol the coupon, the certificate and the pull first, or correct the map",
		Cause: cause,
	}
}

// takenBy says which reading has the place of r; nil: none has it.
func (tx *Tx) takenBy(a *exportAddition, r *packedReading) (*study.Refusal, error) {
	p := r.place
	const tail = "FROM reading WHERE superseded_by IS NULL AND (" + placeColumns + ") = (?, ?, ?, ?, ?, ?, ?, ?)"
	taken, err := readingTable.one(tx.ctx, prepared{tx}, tail,
		p.Coupon, p.Pull, p.Spot, p.Condition, p.AngleDeg, p.Polarisation, string(p.Quantity), p.Replicate)
	if taken == nil || err != nil {
		return nil, err
	}
	source, err := exportTable.one(tx.ctx, prepared{tx}, "FROM export WHERE id = ?", taken.Row.export)
	if err != nil {
		return nil, err
	}
	name := "an export that is missing"
	if source != nil {
		name = source.Row.Name
	}
	return &study.Refusal{
		File: a.name,
		Fault: fmt.Sprintf("column %d is %s, which was read before, from column %d of %s", r.column, describe(p),
			taken.Row.Column, name),
		Try: "give the second reading another replicate in the map",
	}, nil
}

// describe names a place in words.
func describe(p study.Place) string {
	var b strings.Builder
	fmt.Fprintf(&b, "coupon %s, pull %d, spot %s", p.Coupon, p.Pull, p.Spot)
	if p.Condition != "" {
		fmt.Fprintf(&b, ", %s", p.Condition)
	}
	fmt.Fprintf(&b, ", %g°, %s, %s, replicate %d", p.AngleDeg, p.Polarisation, p.Quantity, p.Replicate)
	return b.String()
}

// Placed returns which column of an export went to which place. It is nil if the
// export is not in the study.
func (s *Store) Placed(ctx context.Context, sum [sha256.Size]byte) (places map[int]study.Place, err error) {
	err = s.snapshot(ctx, func(q *sql.Tx) error {
		e, err := exportTable.one(ctx, q, "FROM export WHERE sha256 = ?", sum[:])
		if err != nil || e == nil {
			return err
		}
		places = map[int]study.Place{}
		return readingTable.each(ctx, q, "FROM reading WHERE superseded_by IS NULL AND export = ?", []any{e.Number},
			func(k *Kept[readingRow]) error {
				places[k.Row.Column] = k.Row.Place
				return nil
			})
	})
	return places, err
}

// Original is [View.Original] of a moment of its own.
func (s *Store) Original(ctx context.Context, sum [sha256.Size]byte) (*study.Export, error) {
	return view(ctx, s, func(v *View) (*study.Export, error) { return v.Original(sum) })
}

// Original returns an export as it was taken in, byte for byte. One that is not
// in the study is refused.
func (v *View) Original(sum [sha256.Size]byte) (*study.Export, error) {
	e, err := exportTable.one(v.ctx, v.q, "FROM export WHERE sha256 = ?", sum[:])
	if err != nil {
		return nil, v.refuse(err)
	}
	if e == nil {
		return nil, &study.Refusal{File: v.store.path, Fault: fmt.Sprintf("no export with SHA-256 %x was taken in", sum),
			Try: "take it in first"}
	}
	data, err := v.store.original(v.ctx, v.q, e)
	return &study.Export{Name: e.Row.Name, SHA256: sum, Data: data}, v.refuse(err)
}

// original returns the bytes of the export e.
func (s *Store) original(ctx context.Context, q querier, e *Kept[study.Export]) ([]byte, error) {
	o, err := originalTable.one(ctx, q, "FROM original WHERE id = ?", e.Number)
	if err != nil {
		return nil, err
	}
	if o == nil {
		return nil, &damage{table: "original", row: e.Number, fault: "it is missing"}
	}
	return s.decompress(e, o)
}

// decompress returns the bytes in o, which must be those of the export e. It makes no more
// than the size that e records.
func (s *Store) decompress(e, o *Kept[study.Export]) ([]byte, error) {
	size := e.Row.Size
	if size < 0 || size > mostBytes {
		return nil, &damage{table: "export", row: e.Number, fault: fmt.Sprintf("%d bytes are no size of a file", size)}
	}
	data, err := s.decompressor.DecodeAll(o.Row.Packed, make([]byte, 0, size))
	if err != nil {
		return nil, &damage{table: "original", row: o.Number,
			fault: fmt.Sprintf("it does not decompress to the %d bytes that are recorded: %v", size, err), cause: err}
	}
	if int64(len(data)) != size {
		return nil, &damage{table: "original", row: o.Number,
			fault: fmt.Sprintf("it decompresses to %d bytes, and %d are recorded", len(data), size)}
	}
	if sha256.Sum256(data) != e.Row.SHA256 {
		return nil, &damage{table: "original", row: o.Number, fault: "its SHA-256 is not that of the export"}
	}
	return data, nil
}
