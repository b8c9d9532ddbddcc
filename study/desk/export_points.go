package desk

import (
	"context"
	"encoding/hex"
	"slices"

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
	ctx context.Context, names []string, yield func(*Spectrum) error,
) error {
	return d.store.View(ctx, func(v *store.View) error { return spectraOf(ctx, v, names, false, yield) })
}

// spectraOf is [Desk.Spectra] of the moment of a view; with history also those that were moved, where no names are given.
func spectraOf(ctx context.Context, v *store.View, names []string, history bool, yield func(*Spectrum) error) error {
	return fromFiles(v, names, func(files map[string]TracedFile, from []store.KeptFile) error {
		standings, err := v.Standings()
		if err != nil {
			return err
		}
		each := func(hand func(store.KeptReading) error) error {
			current := func(k store.Kept[study.Reading]) error { return hand(store.KeptReading{Kept: k}) }
			switch {
			case len(names) == 0 && history:
				return v.EveryReading(hand)
			case len(names) == 0:
				return v.EachReading(current)
			}
			for _, f := range from {
				if err := v.ReadingsFrom(f.SHA256, current); err != nil {
					return err
				}
			}
			return nil
		}
		if err := each(func(store.KeptReading) error { return ctx.Err() }); err != nil {
			return err
		}
		return each(func(k store.KeptReading) error {
			return yield(&Spectrum{k, standings[k.Number].Standing, files[k.Row.Export]})
		})
	})
}

// Spectrum is a reading with how it stands and the export that it came from.
type Spectrum struct {
	store.KeptReading
	Standing study.Standing
	From     TracedFile
}

// SpectrumColumn is a column of the table of spectra.
type SpectrumColumn struct {
	study.Field
	Cell func(*Spectrum) any
}

// SpectrumColumns returns the columns of the table of spectra in their order, which outside programs rely on.
func SpectrumColumns() []SpectrumColumn {
	text := func(name, about string, of func(*Spectrum) string) SpectrumColumn {
		return SpectrumColumn{study.Field{Name: name, About: about}, func(s *Spectrum) any { return orNull(of(s)) }}
	}
	whole := func(name, about string, of func(*Spectrum) int) SpectrumColumn {
		return SpectrumColumn{study.Field{Name: name, Kind: study.KindWhole, About: about},
			func(s *Spectrum) any { return int64(of(s)) }}
	}
	degrees := func(name, about string, of func(*Spectrum) study.Num) SpectrumColumn {
		return SpectrumColumn{study.Field{Name: name, Kind: study.KindReal, Unit: "degrees", About: about},
			func(s *Spectrum) any {
				if v := of(s); v.Valid() {
					return float64(v)
				}
				return nil
			}}
	}
	points := func(name, unit, about string, of func(*Spectrum) []float64) SpectrumColumn {
		return SpectrumColumn{study.Field{Name: name, Kind: study.KindPoints, Unit: unit, About: about},
			func(s *Spectrum) any { return of(s) }}
	}
	return []SpectrumColumn{
		text("coupon", "code of the coupon", func(s *Spectrum) string { return s.Row.Coupon }),
		whole("pull", "number of the pull; 0 is the baseline before exposure", func(s *Spectrum) int { return s.Row.Pull }),
		text("spot", "marked place on the coupon", func(s *Spectrum) string { return s.Row.Spot }),
		text("condition", "as_found, rinsed or cleaned; null: not stated",
			func(s *Spectrum) string { return s.Row.Condition }),
		degrees("angle_deg", "angle of incidence from the normal, in air",
			func(s *Spectrum) study.Num { return study.Num(s.Row.AngleDeg) }),
		text("polarisation", "s, p, u (the mean of both) or n (the instrument's native beam)",
			func(s *Spectrum) string { return s.Row.Polarisation }),
		text("quantity", "R (reflectance) or T (transmittance)", func(s *Spectrum) string { return string(s.Row.Quantity) }),
		whole("replicate", "number of the repeated reading, from 1", func(s *Spectrum) int { return s.Row.Replicate }),
		text("session", "sitting at the instrument; null: none is named", func(s *Spectrum) string { return s.Row.Session }),
		text("operator", "who read it; null: not stated", func(s *Spectrum) string { return s.Row.Operator }),
		text("geometry", "how the light was collected; null: not stated", func(s *Spectrum) string { return s.Row.Geometry }),
		degrees("orientation_deg", "how the coupon was turned; null: not stated",
			func(s *Spectrum) study.Num { return s.Row.OrientationDeg }),
		text("export", "name of the export", func(s *Spectrum) string { return s.From.Name }),
		text("export_sha256", "its SHA-256, in hexadecimal digits", func(s *Spectrum) string { return s.From.SHA256 }),
		whole("column", "column of the export; that of the wavelengths is 1", func(s *Spectrum) int { return s.Row.Column }),
		points("wavelength_nm", "nm", "wavelengths, as the export has them", func(s *Spectrum) []float64 { return s.Row.NM }),
		points("value", "fraction", "reflectance or transmittance at each wavelength",
			func(s *Spectrum) []float64 { return s.Row.Values }),
		text("standing", "counted; held by a guard or set aside by a person, which enter no result",
			func(s *Spectrum) string { return s.Standing.Words() }),
		whole("mounting", "the coupon was set down for the first, second, ... time",
			func(s *Spectrum) int { return max(1, s.Row.Mounting) }),
		degrees("half_angle_deg", "of a mixed geometry: within which light is collected; null of others",
			func(s *Spectrum) study.Num {
				if h := s.Row.HalfAngleDeg; h.Is {
					return study.Num(h.Value)
				}
				return study.Null()
			}),
		whole("reading", "number of the reading in the study, from 1", func(s *Spectrum) int { return int(s.Number) }),
		whole("log", "line of the log under which it was taken in", func(s *Spectrum) int { return int(s.Line) }),
		text("position", "where the spot lies on the coupon, in the words of the laboratory; null: not stated",
			func(s *Spectrum) string { return s.Row.Position }),
		{study.Field{Name: "superseded_by", Kind: study.KindWhole,
			About: "number of the reading that took the place of this one; null: this one is current"},
			func(s *Spectrum) any {
				if s.SupersededBy == 0 {
					return nil
				}
				return s.SupersededBy
			}},
	}
}

func orNull(text string) any {
	if text == "" {
		return nil
	}
	return text
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
		return fromFiles(v, names, func(files map[string]TracedFile, from []store.KeptFile) error {
			return do(v, files, from)
		})
	})
}

// fromFiles is [Desk.fromFiles] of the moment of a view.
func fromFiles(
	v *store.View, names []string, do func(files map[string]TracedFile, from []store.KeptFile) error,
) error {
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
	return do(files, from)
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

// SpectraOf returns the readings of a coupon with how each stands, in the order of [Desk.Spectra]. Of the export each
// knows the SHA-256 alone. A coupon that is not enrolled is refused.
func (d *Desk) SpectraOf(ctx context.Context, coupon string) (all []Spectrum, err error) {
	err = d.store.View(ctx, func(v *store.View) error {
		roster, err := v.Roster()
		if err != nil {
			return err
		}
		if !slices.ContainsFunc(roster.Coupons, func(c study.Coupon) bool { return c.Coupon == coupon }) {
			return notEnrolled(roster, coupon)
		}
		standings, err := v.Standings()
		if err != nil {
			return err
		}
		return v.ReadingsOf(coupon, func(k store.Kept[study.Reading]) error {
			all = append(all, Spectrum{KeptReading: store.KeptReading{Kept: k}, Standing: standings[k.Number].Standing,
				From: TracedFile{SHA256: k.Row.Export}})
			return nil
		})
	})
	return all, err
}
