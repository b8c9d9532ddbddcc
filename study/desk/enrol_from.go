package desk

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"

	"wane/study"
	"wane/study/evaluate"
	"wane/study/intake/sheet"
	"wane/study/store"
)

// Merged is what became of another study that was merged into this one.
type Merged struct {
	Coupons, Exports, Readings, Measurements int    // new here
	Rows                                     int64  // that were added, in all tables
	Head                                     string // the hash of the last line of the other log
	Guards                                   GuardChanges
	Notes                                    []string
}

// EnrolFrom merges another study into this one, all or nothing: its rosters, register, lives of coupons, protocols and
// profiles, its current readings with their exports, its measurements, and the tables that it was given. It is opened
// only to be read, and may lie where nothing can be written. What is equal adds nothing. What differs under one code or
// one place is a conflict: the error lists all conflicts, as [study.Refusals]. Fits are made here.
func (d *Desk) EnrolFrom(ctx context.Context, path string) (out *Merged, err error) {
	if d.store.IsAt(path) {
		return nil, &study.Refusal{File: path, Fault: "this is the study itself", Try: "name the study of another laboratory"}
	}
	other, err := store.OpenUntouched(ctx, path)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, other.Close()) }()
	out = &Merged{Notes: append(other.Notes(), notesOfSettings(d.Settings(), other.Settings())...)}
	entry, name := d.entry("enrol", ""), filepath.Base(path)
	err = other.View(ctx, func(v *store.View) error {
		return d.write(ctx, entry, func(tx *store.Tx) error {
			in, err := tx.Merge(v, name)
			if err != nil {
				return err
			}
			if len(in.Conflicts) > 0 {
				return conflictsOf(path, in)
			}
			if in.Unplanned > 0 {
				out.Notes = append(out.Notes, fmt.Sprintf("%d readings of coupons or pulls that were withdrawn in %s do not come along",
					in.Unplanned, study.Shown(name)))
			}
			if err := d.checkMerged(tx, v, path); err != nil || !tx.Adds() {
				return err
			}
			entry.Summary = fmt.Sprintf("merged study %s up to its line %d, of which the hash is %x", name, in.Head.Number, in.Head.Hash)
			return out.count(tx, in)
		})
	})
	if err != nil {
		return nil, err
	}
	changes, err := d.runGuards(ctx, 0)
	if err != nil {
		return nil, err
	}
	out.Guards = *changes
	return out, nil
}

// count counts what the transaction added.
func (m *Merged) count(tx *store.Tx, in *store.Merged) error {
	deed, err := tx.Deed()
	if err != nil {
		return err
	}
	m.Exports, m.Rows, m.Head = deed.Exports, 0, fmt.Sprintf("%x", in.Head.Hash)
	for _, a := range deed.Added {
		m.Rows += a.Rows
		switch a.Table {
		case "coupon":
			m.Coupons = int(a.Rows)
		case "reading":
			m.Readings = int(a.Rows)
		case "measurement":
			m.Measurements = int(a.Rows)
		}
	}
	return nil
}

// conflictsOf returns the conflicts of a merge, each with what to do.
func conflictsOf(path string, in *store.Merged) error {
	var all study.Refusals
	for _, c := range in.Conflicts {
		r := c.At(path, 0)
		if c.File != "" {
			r = r.About(study.Shown(c.File))
		}
		r.Try = "find out which of the two is right, and correct the other with `wane amend` or `wane move` in its own study; " +
			"nothing was merged"
		all = append(all, r)
	}
	if in.More > 0 {
		all = append(all, &study.Refusal{File: path, Fault: fmt.Sprintf("%d more conflicts", in.More),
			Try: "settle those that are listed, and run it again"})
	}
	return all
}

// checkMerged checks what rows of the two studies say of one another, as enrolment does.
func (d *Desk) checkMerged(tx *store.Tx, other *store.View, path string) error {
	whole, err := tx.Roster()
	if err != nil {
		return err
	}
	theirs, err := other.Roster()
	if err != nil {
		return err
	}
	var added sheet.Roster
	for _, p := range theirs.Pulls {
		added.Pulls = append(added.Pulls, sheet.Line[study.Pull]{File: path, Row: p})
	}
	for _, c := range theirs.Coupons {
		added.Coupons = append(added.Coupons, sheet.Line[study.Coupon]{File: path, Row: c})
	}
	if err := d.checkResolved(whole, &added); err != nil {
		return err
	}
	return evaluate.CheckStandards(whole)
}

// notesOfSettings says in what the other study was evaluated otherwise.
func notesOfSettings(own, other study.Settings) (notes []string) {
	if own.Correction != other.Correction {
		notes = append(notes, fmt.Sprintf("changes are corrected by %s here, and by %s in the other study", own.Correction,
			other.Correction))
	}
	if own.Mixing != other.Mixing {
		notes = append(notes, fmt.Sprintf("the mixing rule is %s here, and %s in the other study", own.Mixing, other.Mixing))
	}
	if own.OverBlank != other.OverBlank {
		notes = append(notes, "only one of the two studies divides its readings by those of the dark blank")
	}
	return notes
}
