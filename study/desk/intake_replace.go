package desk

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"maps"
	"slices"

	"wane/study"
	"wane/study/store"
)

// Replace reads exports that are in the study again, as a corrected map or profile places them, and puts the
// readings where they belong, for a reason that is not empty. What is different is superseded, columns that were
// not read before are added, and what says the same stays. All files are replaced in one transaction, or none. A
// column that the map has no row for stays as it is, with a note. The arguments are those of [Desk.Intake]; with
// preview nothing is kept. The readings of all files are in memory at once, packed.
func (d *Desk) Replace(ctx context.Context, mapFile string, paths []string, opt IntakeOptions, why string,
	preview bool) (out *Moved, err error) {
	if why, err = checkReason(why); err != nil {
		return nil, err
	}
	if opt.Workers, err = countWorkers(opt.Workers); err != nil {
		return nil, err
	}
	p, err := d.planIntake(ctx, mapFile, paths, opt)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, p.close()) }()
	p.replacing = true
	r := &replacer{plan: p, known: map[[sha256.Size]byte]bool{}}
	if err := r.gather(ctx, opt.Workers); err != nil {
		return nil, err
	}
	entry := d.entry("intake", "")
	entry.Why = why
	given, err := p.placement.givenMap(d.store)
	if err != nil {
		return nil, err
	}
	first := func(tx *store.Tx) (string, error) {
		if err := given.give(tx); err != nil {
			return "", err
		}
		words, err := r.keepProfile(tx)
		for _, f := range given {
			words += "; tables " + f.Name
		}
		return words, err
	}
	out, err = d.replaceReadings(ctx, entry, r.changes, first, preview)
	if errors.Is(err, errNothingMoves) {
		out, err = &Moved{}, nil
	}
	if out != nil {
		out.Same, out.Notes = len(r.changes)-len(out.Readings), r.notes
	}
	return out, err
}

// replacer gathers what the exports of a plan say now.
type replacer struct {
	plan    *intakePlan
	known   map[[sha256.Size]byte]bool // the exports of the study
	changes []readingChange
	notes   []Note
	refused study.Refusals
}

// gather reads the exports. Every fault of every file is in the error.
func (r *replacer) gather(ctx context.Context, workers int) error {
	p := r.plan
	err := p.desk.store.View(ctx, func(v *store.View) error {
		files, err := v.Files()
		for _, f := range files {
			r.known[f.Row.SHA256] = true
		}
		return err
	})
	if err != nil {
		return err
	}
	read := func(ctx context.Context, _ int, j *exportJob) (*exportJob, error) { return j, p.read(ctx, j) }
	add := func(j *exportJob) error {
		j.export.Data = nil
		var refused *study.Refusal
		switch {
		case errors.As(j.refused, &refused):
			r.refused = append(r.refused, refused)
			return nil
		case j.refused != nil:
			return j.refused
		case !r.known[j.export.SHA256]:
			r.refused = append(r.refused, &study.Refusal{File: j.path,
				Fault: "these bytes are not in the study, so nothing of them can be replaced",
				Try:   "take the file in first, without --replace"})
			return nil
		}
		return p.desk.store.View(ctx, func(v *store.View) error { return r.addExport(v, j) })
	}
	err = inOrder(ctx, workers, p.jobs(), read, add)
	if err == nil && len(r.refused) > 0 {
		err = r.refused
	}
	for _, n := range append(p.placement.notes(), p.skipped.notes(p.placement.describe())...) {
		r.notes = append(r.notes, Note{p.placement.name, n})
	}
	return err
}

// addExport adds what one export says now, beside what the study has of it.
func (r *replacer) addExport(v *store.View, j *exportJob) error {
	now := map[int]store.Kept[study.Reading]{} // by column
	err := v.ReadingsFrom(j.export.SHA256, func(k store.Kept[study.Reading]) error {
		now[k.Row.Column] = k
		return nil
	})
	if err != nil {
		return err
	}
	standings, err := v.Standings()
	if err != nil {
		return err
	}
	for i := range j.readings {
		is := &j.readings[i]
		pair := MovedPair{To: is.Place, ToSession: is.Session, ToMounting: max(1, is.Mounting), ToPosition: is.Position,
			Export: j.export.Name, Column: is.Column}
		if was, known := now[is.Column]; known {
			pair.Old, pair.From, pair.FromSession = was.Number, was.Row.Place, was.Row.Session
			pair.FromMounting, pair.FromPosition = max(1, was.Row.Mounting), was.Row.Position
			pair.ReadAgain, pair.Standing = !slices.Equal(is.Values, was.Row.Values), standings[was.Number].Standing
			delete(now, is.Column)
		}
		packed, err := r.plan.desk.store.PackAgain(j.export.Name, j.export.SHA256, j.readings[i:i+1])
		var refused *study.Refusal
		if errors.As(err, &refused) {
			r.refused = append(r.refused, refused)
			continue
		}
		if err != nil {
			return err
		}
		r.changes = append(r.changes, readingChange{pair, store.PendingExport{Packed: packed, How: j.how}})
	}
	for _, column := range slices.Sorted(maps.Keys(now)) {
		k := now[column]
		r.notes = append(r.notes, Note{j.path, fmt.Sprintf("%s has no row for column %d: reading %d, of %s, stays as it is; "+
			"`wane review %d --aside` takes it out of results", r.plan.placement.kind(), column, k.Number,
			describeUnit(unitOf(&k.Row.Place)), k.Number)})
	}
	return nil
}

// keepProfile stores the profile by which the changes are made, and returns what the log says of it.
func (r *replacer) keepProfile(tx *store.Tx) (words string, err error) {
	p := r.plan.placement.profile
	for i := range r.changes {
		how := &r.changes[i].pending.How
		if p == nil || how.Profile == "" || how.Version != 0 {
			continue
		}
		var added bool
		if how.Version, added, err = tx.AddProfile(p.Name, p.Text); err != nil {
			return "", err
		}
		if added {
			words = fmt.Sprintf("; kept version %d of profile %s", how.Version, p.Name)
		}
	}
	return words, nil
}
