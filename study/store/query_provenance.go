package store

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"strings"

	"wane/study"
)

// Kept is a row with its number in the study and the line of the log under which it
// was added.
type Kept[T any] struct {
	Row          T
	Number, Line int64
}

// KeptFit is a fit, current or not.
type KeptFit struct {
	Kept[*study.Fit]
	SupersededBy int64 // its number; 0: the fit is the current one of its unit
}

// KeptFile is a file whose bytes the study keeps: an export, a table of measurements or
// a picture.
type KeptFile struct {
	Name   string // as given
	SHA256 [sha256.Size]byte
	Size   int64 // bytes
}

// AllFitsOf hands all fits of a coupon to yield, superseded ones too, those of a unit
// one after the other, the newest first.
func (v *View) AllFitsOf(coupon string, yield func(KeptFit) error) error {
	check, err := v.enrolled(fitTable.table)
	if err != nil {
		return v.refuse(err)
	}
	return v.refuse(fitTable.eachRow(v.ctx, v.q, "FROM fit WHERE coupon = ? ORDER BY pull, spot, condition, id DESC",
		[]any{coupon}, func(r row) error {
			f, err := fitOfRow(r)
			if err != nil {
				return err
			}
			if there, err := check(r.whole(0), coupon); !there || err != nil {
				return err
			}
			return yield(KeptFit{Kept[*study.Fit]{f, r.whole(0), r.whole(1)}, r.whole(fitSuperseded)})
		}))
}

// ReadingsOf hands the readings of a coupon to yield, in the order of pull, spot,
// condition, angle, polarisation, quantity and replicate.
func (v *View) ReadingsOf(coupon string, yield func(Kept[study.Reading]) error) error {
	return v.readings("coupon = ?", []any{coupon}, yield)
}

// KeptReading is a reading, current or not.
type KeptReading struct {
	Kept[study.Reading]
	SupersededBy int64 // its number; 0: the reading is current
}

// AllReadingsOf is [View.ReadingsOf] with the readings that were moved. Those of one place come in the order of
// their numbers.
func (v *View) AllReadingsOf(coupon string, yield func(KeptReading) error) error {
	return v.allReadings(ever("coupon = ?1"), []any{coupon}, yield)
}

// AllReadingsFrom is [View.ReadingsFrom] with the readings that were moved. Those of one place come in the order
// of their numbers.
func (v *View) AllReadingsFrom(sum [sha256.Size]byte, yield func(KeptReading) error) error {
	return v.readingsEver(ever("export = (SELECT id FROM export WHERE sha256 = ?1)"), []any{sum[:]}, yield)
}

// ReadingsFrom hands the readings from the export with this SHA-256 to yield, in the
// order of coupon, pull, spot, condition, angle, polarisation, quantity and replicate; those of coupons that were
// withdrawn too.
func (v *View) ReadingsFrom(sum [sha256.Size]byte, yield func(Kept[study.Reading]) error) error {
	return v.readingsEver("WHERE superseded_by IS NULL AND export = (SELECT id FROM export WHERE sha256 = ?)", []any{sum[:]},
		func(k KeptReading) error { return yield(k.Kept) })
}

// ReadingNumbered returns the current reading with a number, nil if there is none. Its coupon may have been withdrawn.
func (v *View) ReadingNumbered(number int64) (found *Kept[study.Reading], err error) {
	err = v.readingsEver("WHERE superseded_by IS NULL AND id = ?", []any{number}, func(k KeptReading) error {
		found = &k.Kept
		return nil
	})
	return found, err
}

// EachReading hands all readings to yield, in the order of coupon, pull, spot,
// condition, angle, polarisation, quantity and replicate. They may share their
// wavelengths: NM must not be changed.
func (v *View) EachReading(yield func(Kept[study.Reading]) error) error {
	return v.readings("true", nil, yield)
}

// EveryReading is [View.EachReading] with the readings that were moved.
func (v *View) EveryReading(yield func(KeptReading) error) error {
	return v.allReadings("", nil, yield)
}

// readings hands the current readings that meet a condition to yield.
func (v *View) readings(condition string, args []any, yield func(Kept[study.Reading]) error) error {
	return v.allReadings("WHERE superseded_by IS NULL AND "+condition, args,
		func(k KeptReading) error { return yield(k.Kept) })
}

func (v *View) allReadings(where string, args []any, yield func(KeptReading) error) error {
	check, err := v.enrolled(readingTable.table)
	if err != nil {
		return v.refuse(err)
	}
	return v.readingsIf(check, where, args, yield)
}

// readingsEver is allReadings with those of coupons that were withdrawn.
func (v *View) readingsEver(where string, args []any, yield func(KeptReading) error) error {
	check, err := v.everEnrolled(readingTable.table)
	if err != nil {
		return v.refuse(err)
	}
	return v.readingsIf(check, where, args, yield)
}

func (v *View) readingsIf(check func(int64, string) (bool, error), where string, args []any,
	yield func(KeptReading) error) error {
	rd := newReader(v.ctx, v.ready)
	tail := "FROM reading " + where +
		" ORDER BY coupon, pull, spot, condition, angle_deg, polarisation, quantity, replicate, id"
	return v.refuse(readingTable.each(v.ctx, v.q, tail, args, func(k *Kept[readingRow]) error {
		if there, err := check(k.Number, k.Row.Coupon); !there || err != nil {
			return err
		}
		reading, err := rd.reading(k)
		if err != nil {
			return err
		}
		return yield(KeptReading{Kept[study.Reading]{reading, k.Number, k.Line}, k.Row.supersededBy})
	}))
}

// MeasurementsOf hands the measurements of a coupon to yield, in the order of
// [View.Measurements].
func (v *View) MeasurementsOf(coupon string, yield func(Kept[study.Measurement]) error) error {
	return v.measurements("WHERE coupon = ?", []any{coupon}, yield)
}

// MeasurementsFrom hands to yield the measurements that stood in the file with this
// SHA-256, or whose picture it is.
func (v *View) MeasurementsFrom(sum [sha256.Size]byte, yield func(Kept[study.Measurement]) error) error {
	return v.measurements("WHERE (SELECT id FROM export WHERE sha256 = ?) IN (export, picture)", []any{sum[:]}, yield)
}

// MeasuredIn hands to yield the measurements that stood in the table with this SHA-256, as they stood there: without
// amendments, and with those that were withdrawn.
func (v *View) MeasuredIn(sum [sha256.Size]byte, yield func(Kept[study.Measurement]) error) error {
	const tail = "FROM measurement WHERE export = (SELECT id FROM export WHERE sha256 = ?) ORDER BY id"
	return v.refuse(measurementTable.eachEnrolled(v.ctx, v.q, tail, []any{sum[:]}, func(r row) error {
		k := new(Kept[measurementRow])
		if err := measurementTable.keep(r, k); err != nil {
			return err
		}
		return yield(Kept[study.Measurement]{k.Row.Measurement, k.Number, k.Line})
	}))
}

// Enrolment returns the number of a coupon in the study and the line of the log under which it was enrolled, 0 if it was
// not.
func (v *View) Enrolment(coupon string) (number, line int64, err error) {
	k, err := couponTable.one(v.ctx, v.q, "FROM coupon WHERE coupon = ?", coupon)
	if err != nil || k == nil {
		return 0, 0, v.refuse(err)
	}
	return k.Number, k.Line, nil
}

// Files returns the files whose bytes the study keeps, in the order in which they were
// taken in.
func (v *View) Files() (files []Kept[KeptFile], err error) {
	err = exportTable.each(v.ctx, v.q, "", nil, func(k *Kept[study.Export]) error {
		file := KeptFile{Name: k.Row.Name, SHA256: k.Row.SHA256, Size: k.Row.Size}
		files = append(files, Kept[KeptFile]{file, k.Number, k.Line})
		return nil
	})
	return files, v.refuse(err)
}

// LastLine returns the number of the last line of the log.
func (v *View) LastLine() (int64, error) {
	last, err := lastNumber(v.ctx, v.q, logTable.table)
	return last, v.refuse(err)
}

// Line returns a line of the log. One that is not there is a [*study.Failure].
func (v *View) Line(number int64) (study.Entry, error) {
	l, err := lineNumbered(v.ctx, v.q, number)
	return l, v.refuse(err)
}

func lineNumbered(ctx context.Context, q querier, number int64) (study.Entry, error) {
	l, err := logTable.one(ctx, q, "FROM log WHERE number = ?", number)
	if err == nil && l == nil {
		err = &damage{table: "log", row: number, fault: "it is missing"}
	}
	if err != nil {
		return study.Entry{}, err
	}
	return l.Row.Entry, nil
}

// Named returns those of files that are called name; where there is none, those whose
// SHA-256 begins with it, which takes eight hexadecimal digits or more.
func Named(files []Kept[KeptFile], name string) []Kept[KeptFile] {
	var called, begin []Kept[KeptFile]
	for _, f := range files {
		switch {
		case f.Row.Name == name:
			called = append(called, f)
		case len(name) >= 8 && strings.HasPrefix(hex.EncodeToString(f.Row.SHA256[:]), strings.ToLower(name)):
			begin = append(begin, f)
		}
	}
	if len(called) > 0 {
		return called
	}
	return begin
}

// keep returns the number of a file, which it adds if its bytes are new.
func (tx *Tx) keep(e study.Export) (int64, error) {
	if err := tx.store.Pack(&e); err != nil {
		return 0, err
	}
	number, _, err := tx.export(&e)
	return number, err
}
