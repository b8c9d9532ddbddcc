package desk

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"path/filepath"

	"wane/study"
	"wane/study/intake/placing"
	"wane/study/intake/sheet"
	"wane/study/intake/source"
	"wane/study/store"
)

// Measured is what became of tables of measurements.
type Measured struct {
	Files    int     // with something new
	Rows     int     // new
	Pictures int     // of the new rows
	Known    int     // rows that were there already
	Refused  []error // each a *study.Refusal; the tables that are not in
	Notes    []string
}

// Measure takes tables of what other instruments read of coupons, with the pictures
// that they name. Each table is one transaction: in as a whole or not at all. Table
// and pictures are kept byte for byte.
func (d *Desk) Measure(ctx context.Context, files []string) (*Measured, error) {
	roster, err := d.store.Roster(ctx)
	if err != nil {
		return nil, err
	}
	index, out := newRosterIndex(roster), &Measured{}
	for _, file := range files {
		in, err := d.measure(ctx, file, index)
		var refused *study.Refusal
		switch {
		case errors.As(err, &refused):
			out.Refused = append(out.Refused, refused)
		case err != nil:
			return out, err
		default:
			out.Files += in.Files
			out.Rows += in.Rows
			out.Pictures += in.Pictures
			out.Known += in.Known
			out.Notes = append(out.Notes, in.Notes...)
		}
	}
	return out, nil
}

// measure takes one table.
func (d *Desk) measure(ctx context.Context, file string, index *rosterIndex) (*Measured, error) {
	var given givenFiles
	data, err := given.read(givenMeasurements, file)
	if err != nil {
		return nil, err
	}
	lines, notes, err := sheet.ReadMeasured(file, data)
	if err != nil {
		return nil, err
	}
	if len(lines) == 0 {
		return nil, &study.Refusal{File: file, Fault: "the table has no rows", Try: "write a row for each value"}
	}
	for _, l := range lines {
		place := study.Place{Coupon: l.Row.Coupon, Pull: l.Row.Pull}
		row := placing.Placing{MapRow: sheet.MapRow{Place: place}}
		if err := index.check(&sheet.Line[placing.Placing]{File: l.File, Number: l.Number, Row: row}); err != nil {
			return nil, err
		}
	}
	s := given[0].Export
	in, entry := &Measured{}, d.entry("measure", "")
	err = d.write(ctx, entry, func(tx *store.Tx) error {
		*in = Measured{Notes: notes}
		err := addLines(lines, func(m sheet.Measured) (bool, error) {
			picture, err := pictureOf(file, m)
			if err != nil {
				return false, err
			}
			added, err := tx.AddMeasurement(s, m.Measurement, picture)
			if added && picture != nil {
				in.Pictures++
			}
			return added, err
		}, &in.Rows)
		in.Files, in.Known = asCount(in.Rows > 0), len(lines)-in.Rows
		entry.Summary = fmt.Sprintf("took in %s with %s", amount(in.Rows, "measurement"), amount(in.Pictures, "picture"))
		if err != nil {
			return err
		}
		return given.keep(tx)
	})
	return in, err
}

// pictureOf reads the picture that a row of the table file names, nil for none. It
// is read within the transaction, so that one at a time is held.
func pictureOf(file string, m sheet.Measured) (*study.Export, error) {
	if m.Picture == "" {
		return nil, nil
	}
	folder := filepath.Dir(file)
	path := filepath.Join(folder, filepath.FromSlash(m.Picture))
	data, err := source.ReadPicture(folder, m.Picture)
	var r *study.Refusal
	if errors.As(err, &r) {
		return nil, r.At("", 0).About("picture " + study.Shown(path)) // the place becomes the row of the table
	}
	if err != nil {
		return nil, err
	}
	return &study.Export{Name: filepath.Base(path), SHA256: sha256.Sum256(data), Data: data}, nil
}
