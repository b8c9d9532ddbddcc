package desk

import (
	"context"
	"encoding/hex"

	"wane/study"
	"wane/study/store"
)

// Spectra hands the readings of the study to yield, with how each stands and the export that it came
// from, in the order of coupon, pull, spot, condition, angle, polarisation, quantity and replicate; with
// names, those from the exports of these names or SHA-256, one export after the other. Readings may
// share their wavelengths: NM must not be changed.
//
// All are read twice, on one moment of the study: yield is first called when it is known that all
// can be read.
func (d *Desk) Spectra(
	ctx context.Context, names []string, yield func(*study.Reading, study.Standing, TracedFile) error,
) error {
	return d.fromFiles(ctx, names, func(v *store.View, files map[string]TracedFile, from []store.KeptFile) error {
		standings, err := v.Standings()
		if err != nil {
			return err
		}
		each := func(hand func(store.Kept[study.Reading]) error) error {
			if len(names) == 0 {
				return v.EachReading(hand)
			}
			for _, f := range from {
				if err := v.ReadingsFrom(f.SHA256, hand); err != nil {
					return err
				}
			}
			return nil
		}
		if err := each(func(store.Kept[study.Reading]) error { return ctx.Err() }); err != nil {
			return err
		}
		return each(func(k store.Kept[study.Reading]) error {
			return yield(&k.Row, standings[k.Number].Standing, files[k.Row.Export])
		})
	})
}

// Measurements hands the measurements of the study to yield, with the table that each
// came from and its picture, in the order of coupon, pull, spot, condition, quantity,
// method, date and replicate; with names, those from these tables or pictures, one
// after the other.
func (d *Desk) Measurements(
	ctx context.Context, names []string, yield func(m *study.Measurement, table, picture TracedFile) error,
) error {
	return d.fromFiles(ctx, names, func(v *store.View, files map[string]TracedFile, from []store.KeptFile) error {
		hand := func(m study.Measurement) error { return yield(&m, files[m.Sheet], files[m.Picture]) }
		if len(names) == 0 {
			return v.Measurements(hand)
		}
		for _, f := range from {
			handKept := func(k store.Kept[study.Measurement]) error { return hand(k.Row) }
			if err := v.MeasurementsFrom(f.SHA256, handKept); err != nil {
				return err
			}
		}
		return nil
	})
}

// fromFiles runs do on one moment of the study, with all its files by their SHA-256 and
// those that have one of the names.
func (d *Desk) fromFiles(
	ctx context.Context, names []string,
	do func(v *store.View, files map[string]TracedFile, from []store.KeptFile) error,
) error {
	return d.store.View(ctx, func(v *store.View) error {
		all, err := v.Files()
		if err != nil {
			return err
		}
		from, err := filesNamed(all, names)
		if err != nil {
			return err
		}
		files := map[string]TracedFile{}
		for _, f := range all {
			sum := hex.EncodeToString(f.Row.SHA256[:])
			files[sum] = TracedFile{f.Row.Name, sum, f.Row.Size}
		}
		return do(v, files, from)
	})
}

// filesNamed returns the files among all that have one of the names, or all without
// names.
func filesNamed(all []store.Kept[store.KeptFile], names []string) ([]store.KeptFile, error) {
	var files []store.KeptFile
	if len(names) == 0 {
		for _, f := range all {
			files = append(files, f.Row)
		}
	}
	given := map[int64]bool{}
	for _, name := range names {
		named := store.Named(all, name)
		if len(named) == 0 {
			return nil, noSuchFile(name)
		}
		for _, f := range named {
			if !given[f.Number] {
				given[f.Number] = true
				files = append(files, f.Row)
			}
		}
	}
	return files, nil
}
