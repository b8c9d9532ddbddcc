package desk

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"wane/study"
	"wane/study/evaluate"
	"wane/study/intake"
	"wane/study/intake/sheet"
	"wane/study/intake/text"
	"wane/study/store"
)

// rereadResult is the outcome of reading one original again.
type rereadResult struct {
	readings, measurements int      // that are the same as in the study
	placed, moved          int      // readings that stand where their map or profile says, or were moved from there
	unplaced               int      // readings of which nothing is kept that placed them
	differences            []string // the others, in words
	notReread              string   // why the readings could not be read again, where that is no fault
}

// rereadOriginals reads every original again, in the way in which it was taken in, and compares its
// numbers with those of the study.
func (d *Desk) rereadOriginals(ctx context.Context, workers int, out *Verified) error {
	var files []store.Kept[store.KeptFile]
	var roster *study.Roster
	err := d.store.View(ctx, func(v *store.View) (err error) {
		if files, err = v.Files(); err == nil {
			roster, err = v.Roster()
		}
		return err
	})
	if err != nil {
		return err
	}
	placers := newKeptPlacers()
	read := func(ctx context.Context, _ int, f store.Kept[store.KeptFile]) (*rereadResult, error) {
		r := &rereadResult{}
		return r, d.store.View(ctx, func(v *store.View) error { return r.rereadFile(v, roster, placers, f.Row) })
	}
	unread, unplaced := 0, 0
	err = inOrder(ctx, workers, slices.Values(files), read, func(r *rereadResult) error {
		out.Readings += r.readings
		out.Measurements += r.measurements
		out.Placed, out.Moved, unplaced = out.Placed+r.placed, out.Moved+r.moved, unplaced+r.unplaced
		for _, u := range r.differences {
			out.contradict(tryCompare, "%s", u)
		}
		if r.notReread != "" {
			if unread++; unread <= mostNamedFiles {
				out.Notes = append(out.Notes, r.notReread)
			}
		}
		return nil
	})
	if unread > mostNamedFiles {
		out.note("%d originals could not be read again, of which %d are reported", unread, mostNamedFiles)
	}
	if unplaced > 0 {
		out.note("of %s the study keeps no map or profile that names their file: their places are not compared",
			amount(unplaced, "reading"))
	}
	return err
}

const tryCompare = "keep the file as it is, go back to a verified backup, and compare the two"

// rereadFile reads one original again.
func (r *rereadResult) rereadFile(v *store.View, roster *study.Roster, placers *keptPlacers, f store.KeptFile) error {
	original, err := v.Original(f.SHA256)
	if err != nil {
		return err
	}
	exports := map[string]*intake.Export{} // by what was stated
	places := &placesAgain{result: r, view: v, placers: placers, file: f}
	err = v.AllReadingsFrom(f.SHA256, func(k store.KeptReading) error {
		how, err := v.TakingOf(k.Number)
		if err != nil {
			return err
		}
		if how == nil {
			r.notReread = f.Name + " was taken in by a wane that did not keep how; its readings are not compared"
			return nil
		}
		line, err := v.Line(how.Line)
		if err != nil {
			return err
		}
		x, known := exports[how.Row.Stated]
		if !known {
			var refused error
			if x, refused = readStated(original, how.Row.Stated); refused != nil {
				r.addUnreadable(line.Software, fmt.Sprintf("%s is refused now: %v", f.Name, refused))
			}
			exports[how.Row.Stated] = x
		}
		if x == nil {
			return nil
		}
		r.compare(k.Kept, x, roster, line.Software)
		return places.compare(k, &how.Row, x)
	})
	if err != nil {
		return err
	}
	places.compareMoved()
	return r.compareTable(v, f, original.Data)
}

// readStated reads an original with what was stated of it.
func readStated(original *study.Export, stated string) (*intake.Export, error) {
	s, err := text.ParseStated(stated)
	if err != nil {
		return nil, err
	}
	return intake.Read(original.Name, original.Data, s)
}

// addUnreadable notes that an original cannot be read. The version of the reader that took it in must be
// able to read it; another version need not.
func (r *rereadResult) addUnreadable(software, what string) {
	if slices.Contains(strings.Split(software, ", "), reader()) {
		r.addDifference("%s", what)
		return
	}
	r.notReread = what + ", by a newer reader than took it in; its readings are not compared"
}

// addDifference notes that an original says something else than the study.
func (r *rereadResult) addDifference(format string, args ...any) {
	r.differences = append(r.differences, fmt.Sprintf(format, args...))
}

// compare compares a reading with its column, read again.
func (r *rereadResult) compare(k store.Kept[study.Reading], x *intake.Export, roster *study.Roster, software string) {
	own := &k.Row
	i := slices.IndexFunc(x.Spectra, func(s study.Spectrum) bool { return s.Column == own.Column })
	if i < 0 {
		r.addUnreadable(software, fmt.Sprintf("reading %d: %s has no column %d now", k.Number, x.Name, own.Column))
		return
	}
	s := x.Spectra[i]
	values, err := s.Values, error(nil)
	if own.Reference != "" {
		s.AngleDeg, s.Polarisation = own.AngleDeg, own.Polarisation
		values, err = absoluteBy(roster, own.Reference, own.Issued, &s)
	}
	same := err == nil && own.Quantity == s.Quantity && slices.Equal(own.NM, s.NM) && slices.Equal(own.Values, values)
	if !same {
		r.addDifference("reading %d, of %s at %g degrees: column %d of its original %s has other numbers",
			k.Number, describeUnit(unitOf(&own.Place)), own.AngleDeg, own.Column, x.Name)
		return
	}
	r.readings++
}

// absoluteBy makes the values of a spectrum absolute by a certificate.
func absoluteBy(roster *study.Roster, reference, issued string, s *study.Spectrum) ([]float64, error) {
	for i := range roster.References {
		if c := &roster.References[i]; c.Reference == reference && c.Issued == issued {
			values, _, err := evaluate.Absolute(c, s)
			return values, err
		}
	}
	return nil, fmt.Errorf("there is no certificate of reference %s issued on %s", reference, issued)
}

// compareTable compares the measurements that a table holds with those of the study as they were before amendments.
func (r *rereadResult) compareTable(v *store.View, f store.KeptFile, data []byte) error {
	var kept []store.Kept[study.Measurement]
	err := v.MeasuredIn(f.SHA256, func(k store.Kept[study.Measurement]) error {
		kept = append(kept, k)
		return nil
	})
	if err != nil || len(kept) == 0 {
		return err
	}
	lines, refused := sheet.ReadEachMeasured(f.Name, data)
	if refused != nil {
		r.addDifference("%s is refused now: %v", f.Name, refused)
		return nil
	}
	for _, k := range kept {
		own := k.Row
		same := func(l sheet.Line[sheet.Measured]) bool {
			return l.Number == own.Line && fmt.Sprintf("%+v", l.Row.Measurement) == fmt.Sprintf("%+v", own)
		}
		if !slices.ContainsFunc(lines, same) {
			r.addDifference("measurement %d, of coupon %s at pull %d: line %d of its original %s says otherwise",
				k.Number, own.Coupon, own.Pull, own.Line, f.Name)
			continue
		}
		r.measurements++
	}
	return nil
}
