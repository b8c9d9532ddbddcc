package desk

import (
	"crypto/sha256"
	"fmt"
	"strings"
	"sync"

	"wane/study"
	"wane/study/intake"
	"wane/study/intake/placing"
	"wane/study/intake/workbook"
	"wane/study/store"
)

// keptPlacers are the maps and profiles of the study, as far as they were needed. It is safe for concurrent use.
type keptPlacers struct {
	guard    sync.Mutex
	maps     map[[sha256.Size]byte][]*placing.Rules // of a workbook, one for each sheet that is a map
	profiles map[string]*placing.Rules
}

func newKeptPlacers() *keptPlacers {
	return &keptPlacers{maps: map[[sha256.Size]byte][]*placing.Rules{}, profiles: map[string]*placing.Rules{}}
}

// of returns what placed the readings of a line of the log that were taken in in this way, in the order in which it
// counts.
func (p *keptPlacers) of(v *store.View, line int64, how *study.Taking) (all []*placing.Rules, err error) {
	given, err := v.GivenUnder(line)
	if err != nil {
		return nil, err
	}
	p.guard.Lock()
	defer p.guard.Unlock()
	for _, g := range given {
		if g.Row.Kind != givenMap {
			continue
		}
		rules, known := p.maps[g.Row.SHA256]
		if !known {
			original, err := v.Original(g.Row.SHA256)
			if err != nil {
				return nil, err
			}
			rules = readKeptMap(g.Row.Name, original.Data)
			p.maps[g.Row.SHA256] = rules
		}
		all = append(all, rules...)
	}
	if how.Profile == "" {
		return all, nil
	}
	name := fmt.Sprintf("%s@%d", how.Profile, how.Version)
	rules, known := p.profiles[name]
	if !known {
		kept, err := v.Profile(how.Profile, how.Version)
		if err != nil || kept == nil {
			return all, err
		}
		if read, err := placing.ReadProfile("profile "+name, []byte(kept.Text)); err == nil {
			rules = read.Rules()
		}
		p.profiles[name] = rules
	}
	if rules != nil {
		all = append(all, rules)
	}
	return all, nil
}

// readKeptMap reads a map that was kept. One that this version of the program refuses has no rules.
func readKeptMap(name string, data []byte) (all []*placing.Rules) {
	tables := []string{name}
	if workbook.Is(data) {
		sheets, err := workbook.Sheets(name, data)
		if err != nil {
			return nil
		}
		tables = nil
		for _, sheet := range sheets {
			tables = append(tables, name+"#"+sheet)
		}
	}
	for _, table := range tables {
		if rules, err := placing.KeptMap(table, data); err == nil {
			all = append(all, rules)
		}
	}
	return all
}

// placesAgain places the curves of an original again, as its readings were placed.
type placesAgain struct {
	result  *rereadResult
	view    *store.View
	placers *keptPlacers
	file    store.KeptFile

	found  map[placedBy][]map[int]*placing.Placed // by column, of each file that may be this one
	before map[int64]int                          // columns of readings that were superseded, by the numbers of their successors
	moved  []store.Kept[study.Reading]            // without their values
}

// placedBy is what decides where the curves of an original go.
type placedBy struct {
	line            int64
	profile, stated string
	version         int
}

// compare compares the place of a reading with what placed it, or notes what there is to see that it was moved.
func (a *placesAgain) compare(k store.KeptReading, how *study.Taking, x *intake.Export) error {
	if k.SupersededBy != 0 {
		if a.before == nil {
			a.before = map[int64]int{}
		}
		a.before[k.SupersededBy] = k.Row.Column
	}
	entry, err := a.view.Line(k.Line)
	if err != nil {
		return err
	}
	origin, err := a.view.Origin("reading", k.Number)
	if err != nil {
		return err
	}
	switch {
	case origin != nil && origin.Verb == "move":
		a.result.unplaced++ // the place before stayed in the other study
		return nil
	case entry.Verb == "move":
		k.Row.NM, k.Row.Values = nil, nil
		a.moved = append(a.moved, k.Kept)
		return nil
	}
	files, err := a.placed(placedBy{k.Line, how.Profile, how.Stated, how.Version}, how, x)
	if err != nil {
		return err
	}
	var others []string
	for _, columns := range files {
		at, known := columns[k.Row.Column]
		switch {
		case !known:
			continue
		case at.Row.Place == k.Row.Place && at.Row.Session == k.Row.Session &&
			max(1, at.Row.Mounting) == max(1, k.Row.Mounting):
			a.result.placed++
			return nil
		}
		others = append(others, fmt.Sprintf("line %d of %s puts it at %s", at.Number, at.File,
			placeInWords(&at.Row.Place, at.Row.Session)))
	}
	switch {
	case len(others) > 0:
		a.result.addDifference("reading %d, column %d of %s, stands at %s, but %s", k.Number, k.Row.Column, a.file.Name,
			placeInWords(&k.Row.Place, k.Row.Session), strings.Join(others, ", and "))
	case len(files) > 0:
		a.result.addDifference("reading %d, column %d of %s: what placed the curves of this file has no row for this column",
			k.Number, k.Row.Column, a.file.Name)
	default:
		a.result.unplaced++
	}
	return nil
}

// placeInWords names a place in full.
func placeInWords(p *study.Place, session string) string {
	words := fmt.Sprintf("%s at %g degrees, polarisation %s, replicate %d", describeUnit(study.Unit{Coupon: p.Coupon,
		Pull: p.Pull, Spot: p.Spot}), p.AngleDeg, p.Polarisation, p.Replicate)
	for _, more := range []string{p.Condition, session} {
		if more != "" {
			words += ", " + study.Shown(more)
		}
	}
	return words
}

// placed places the curves of the original by each of the files in maps and profiles that may be this one: the study
// knows the last name of its path. A file by which they cannot be placed is not this one.
func (a *placesAgain) placed(by placedBy, how *study.Taking, x *intake.Export) ([]map[int]*placing.Placed, error) {
	if files, known := a.found[by]; known {
		return files, nil
	}
	rules, err := a.placers.of(a.view, by.line, how)
	if err != nil {
		return nil, err
	}
	var all []map[int]*placing.Placed
	for _, r := range rules {
		files, err := r.ForName(a.file.Name)
		if err != nil {
			continue
		}
		for _, lines := range files {
			if lines, err = placing.WithHeader(lines, x.Header); err != nil {
				continue
			}
			curves, _, err := placing.Place(lines, x.Spectra, x.Skipped)
			if err != nil {
				continue
			}
			columns := map[int]*placing.Placed{}
			for i := range curves {
				columns[curves[i].Spectrum.Column] = &curves[i]
			}
			all = append(all, columns)
		}
	}
	if a.found == nil {
		a.found = map[placedBy][]map[int]*placing.Placed{}
	}
	a.found[by] = all
	return all, nil
}

// compareMoved looks that each reading that was moved stands instead of one of the same column.
func (a *placesAgain) compareMoved() {
	for i := range a.moved {
		k := &a.moved[i]
		switch column, known := a.before[k.Number]; {
		case !known:
			a.result.addDifference("reading %d, of %s, was moved, but no reading of %s is kept that it stands instead of",
				k.Number, describeUnit(unitOf(&k.Row.Place)), a.file.Name)
		case column != k.Row.Column:
			a.result.addDifference("reading %d, of %s, is of column %d of %s, but stands instead of one of column %d", k.Number,
				describeUnit(unitOf(&k.Row.Place)), k.Row.Column, a.file.Name, column)
		default:
			a.result.moved++
		}
	}
}
