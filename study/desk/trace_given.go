package desk

import (
	"crypto/sha256"

	"wane/study"
	"wane/study/intake/sheet"
	"wane/study/store"
)

// TracedUse is one use of a file as a map, a roster or another table.
type TracedUse struct {
	Kind string
	Line study.Entry
}

// givenIndex keeps what was found of the files that lines of the log were given.
type givenIndex struct {
	maps    map[int64]TracedFile           // by line
	rosters map[int64]map[string]rosterRow // by line and coupon
}

// rosterRow is where the row of a coupon stands in a roster.
type rosterRow struct {
	file TracedFile
	row  int // from 1
}

// mapOf returns the map that a line of the log was given, none if it was given none.
func (g *givenIndex) mapOf(v *store.View, line int64) (TracedFile, error) {
	if f, known := g.maps[line]; known {
		return f, nil
	}
	given, err := v.GivenUnder(line)
	if err != nil {
		return TracedFile{}, err
	}
	if g.maps == nil {
		g.maps = map[int64]TracedFile{}
	}
	g.maps[line] = TracedFile{}
	for _, k := range given {
		if k.Row.Kind == givenMap {
			g.maps[line] = givenTableOf(k.Row).TracedFile
		}
	}
	return g.maps[line], nil
}

// rowsUnder returns where the coupons stand in the rosters that a line of the log was given.
func (g *givenIndex) rowsUnder(v *store.View, line int64) (map[string]rosterRow, error) {
	if rows, known := g.rosters[line]; known {
		return rows, nil
	}
	given, err := v.GivenUnder(line)
	if err != nil {
		return nil, err
	}
	rows := map[string]rosterRow{}
	for _, k := range given {
		if k.Row.Kind != givenRoster {
			continue
		}
		original, err := v.Original(k.Row.SHA256)
		if err != nil {
			return nil, err
		}
		var roster sheet.Roster
		if roster.Add(k.Row.Name, original.Data) != nil {
			continue // it was a roster to the wane that took it, and its bytes are kept all the same
		}
		for _, l := range roster.Coupons {
			rows[l.Row.Coupon] = rosterRow{givenTableOf(k.Row).TracedFile, l.Number}
		}
	}
	if g.rosters == nil {
		g.rosters = map[int64]map[string]rosterRow{}
	}
	g.rosters[line] = rows
	return rows, nil
}

// enrolment returns a coupon with its enrolment.
func (t *tracer) enrolment(code string) (TracedCoupon, error) {
	row, number, err := t.view.Enrolment(code)
	if err != nil {
		return TracedCoupon{}, err
	}
	origin, err := t.view.Origin("coupon", row)
	if err != nil {
		return TracedCoupon{}, err
	}
	line, err := t.line(number)
	if err != nil {
		return TracedCoupon{}, err
	}
	rows, err := t.given.rowsUnder(t.view, number)
	if err != nil {
		return TracedCoupon{}, err
	}
	return TracedCoupon{*t.workspace.coupons[code], line, rows[code].file, rows[code].row, origin}, nil
}

// usesOf returns the uses of the file with this SHA-256.
func (t *tracer) usesOf(sum [sha256.Size]byte) (uses []TracedUse, err error) {
	kept, err := t.view.UsesOf(sum)
	if err != nil {
		return nil, err
	}
	for _, k := range kept {
		line, err := t.line(k.Line)
		if err != nil {
			return nil, err
		}
		uses = append(uses, TracedUse{k.Row.Kind, line})
	}
	return uses, nil
}

// enrolledFrom returns the codes of the coupons that the file enrolled as a roster.
func (t *tracer) enrolledFrom(o *Origin) (codes []string, err error) {
	for _, use := range o.Uses {
		if use.Kind != givenRoster {
			continue
		}
		rows, err := t.given.rowsUnder(t.view, use.Line.Number)
		if err != nil {
			return nil, err
		}
		for code, r := range rows {
			_, under, err := t.view.Enrolment(code)
			if err != nil {
				return nil, err
			}
			if r.file.SHA256 == o.File.SHA256 && under == use.Line.Number {
				codes = append(codes, code)
			}
		}
	}
	return codes, nil
}

// MergeOrigin is where a row was before its study was merged into this one: the study and the line of its log.
type MergeOrigin = store.Origin

// MergedFrom returns where the step was before its study was merged into this one; without a study it was never there.
func (s *TraceStep) MergedFrom() MergeOrigin {
	if s.Origin == nil {
		return MergeOrigin{}
	}
	return *s.Origin
}
