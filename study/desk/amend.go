package desk

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"wane/study"
	"wane/study/intake/sheet"
	"wane/study/store"
)

// Amended is what an amendment changed, or would change.
type Amended struct {
	Changes []Change
	Same    int          // rows of the tables that are so already
	Stale   []study.Unit // whose fit was up to date, and hangs on what changed
	Guards  GuardChanges // at the readings that this touches
	Notes   []string

	// Verdicts are what is said otherwise after the correction: what the check says of sessions and, of a preview, what
	// rules and rows of results say by the fits as they are. What fits say that are made again is not known before.
	Verdicts []Change
}

// Change is a cell that was amended, or a row that was withdrawn.
type Change struct {
	What         string // the row by its key, in words
	Field        string // the column; empty: the row was withdrawn
	Was, Becomes string // as a message has them
}

// errPreviewed undoes a transaction that was only to show what it would do.
var errPreviewed = errors.New("previewed")

// Amend makes rows that are enrolled or measured what tables say, for a reason, all or none. The rows are found by their
// keys; what a table does not give stays. The rows as they were stay in the study. The study is checked as a whole after the
// change, so that several rows may change together. With preview nothing changes.
func (d *Desk) Amend(ctx context.Context, files []string, why string, preview bool) (*Amended, error) {
	var tables sheet.Corrections
	var given givenFiles
	for _, name := range files {
		data, err := given.read(givenCorrections, name)
		if err != nil {
			return nil, err
		}
		if err := tables.Add(name, data); err != nil {
			return nil, err
		}
	}
	out, err := d.correct(ctx, why, preview, func(tx *store.Tx) (*correcting, error) {
		c, err := d.newCorrecting(tx)
		if err != nil {
			return nil, err
		}
		c.given, c.faults = slices.Clone(given), slices.Clone(tables.Faults)
		c.findAll(&tables)
		if err := c.checkNames(); err != nil {
			return nil, err
		}
		return c, c.faults.Err()
	})
	if err != nil {
		return nil, err
	}
	out.Notes = slices.Concat(tables.Notes, out.Notes)
	return out, nil
}

// Withdraw takes rows that should never have been enrolled out of the study, for a reason, all or none. Each is a kind and
// a key, as coupon:A01 or pull:roof/3. One that others name is refused. With preview nothing changes.
func (d *Desk) Withdraw(ctx context.Context, names []string, why string, preview bool) (*Amended, error) {
	return d.correct(ctx, why, preview, func(tx *store.Tx) (*correcting, error) {
		c, err := d.newCorrecting(tx)
		if err != nil {
			return nil, err
		}
		for _, name := range names {
			if err := c.findNamed(name); err != nil && !c.faults.Note(err) {
				return nil, err
			}
		}
		return c, c.faults.Err()
	})
}

// correct makes the corrections that find finds, in one transaction.
func (d *Desk) correct(ctx context.Context, why string, preview bool, find func(*store.Tx) (*correcting, error)) (
	*Amended, error) {
	if why = strings.TrimSpace(why); why == "" {
		return nil, &study.Refusal{Fault: "no reason is given", Try: "give the reason in a full sentence: --why TEXT"}
	}
	if fault, try := study.CheckWords(why); fault != "" {
		return nil, &study.Refusal{Fault: "the reason: " + fault, Try: try}
	}
	out, entry := &Amended{}, d.entry("amend", "")
	entry.Why = why
	var before *verdicts
	err := d.write(ctx, entry, func(tx *store.Tx) error {
		*out = Amended{}
		c, err := find(tx)
		if err != nil {
			return err
		}
		by, err := d.secondPerson(tx, "amend", c.touched...)
		if err != nil {
			return err
		}
		if before, err = d.verdicts(ctx, tx.View(), preview); err != nil {
			return err
		}
		if err := c.make(); err != nil {
			return err
		}
		if err := c.check(); err != nil {
			return err
		}
		if out.Stale, err = c.stale(); err != nil {
			return err
		}
		if out.Notes, err = c.notes(); err != nil {
			return err
		}
		out.Changes, out.Same = changesOf(c.made), c.same
		entry.Summary = summaryOf(out.Changes) + by
		if preview {
			return d.previewVerdicts(ctx, tx, before, out)
		}
		return c.given.keep(tx)
	})
	if errors.Is(err, errPreviewed) {
		return out, nil
	}
	if err != nil || len(out.Changes) == 0 {
		return out, err
	}
	changes, err := d.runGuards(ctx, 0)
	if err != nil {
		return nil, err
	}
	out.Guards = *changes
	err = d.store.View(ctx, func(v *store.View) error {
		now, err := d.verdicts(ctx, v, false)
		if err == nil {
			out.Verdicts = before.changesTo(now)
		}
		return err
	})
	return out, err
}

// previewVerdicts finds what guards would change after the transaction, and what would be said otherwise then, and undoes
// all.
func (d *Desk) previewVerdicts(ctx context.Context, tx *store.Tx, before *verdicts, out *Amended) error {
	g := &guardRun{tookIn: d.tookIn()}
	if err := g.checkEntered(tx.View()); err != nil {
		return err
	}
	if g.seen > 0 {
		if _, err := tx.Guard(g.toStore); err != nil {
			return err
		}
	}
	out.Guards = g.changes
	now, err := d.verdicts(ctx, tx.View(), true)
	if err != nil {
		return err
	}
	out.Verdicts = before.changesTo(now)
	return errPreviewed
}

// changesOf returns corrections as a person reads them. Of tables of numbers it says once that they are others.
func changesOf(made []store.Correction) (all []Change) {
	for _, c := range made {
		if c.Field == "done_by" {
			c.Field = "by" // as tables call it
		}
		change := Change{What: c.What, Field: c.Field, Was: cellWords(c.Was), Becomes: cellWords(c.Is)}
		if c.Field == "curves" || c.Field == "sha256" || slices.Contains(all, change) {
			continue
		}
		if _, packed := c.Is.([]byte); packed {
			change = Change{What: c.What, Field: "numbers", Was: "as before", Becomes: "others"}
		}
		if !slices.Contains(all, change) {
			all = append(all, change)
		}
	}
	return all
}

// cellWords writes a value of a row.
func cellWords(v any) string {
	switch v := v.(type) {
	case nil:
		return "empty"
	case string:
		return v
	case float64:
		return strconv.FormatFloat(v, 'g', -1, 64)
	}
	return fmt.Sprint(v)
}

// String is the change in words.
func (c Change) String() string {
	if c.Field == "" {
		return c.What + " withdrawn"
	}
	return fmt.Sprintf("%s: %s was %s, becomes %s", c.What, c.Field, c.Was, c.Becomes)
}

// mostChanges is how many changes the log names.
const mostChanges = 20

// summaryOf returns changes for the log, those of a row together.
func summaryOf(all []Change) string {
	var b strings.Builder
	for i, c := range all {
		switch {
		case i == mostChanges:
			fmt.Fprintf(&b, "; and %d more", len(all)-i)
			return b.String()
		case i > 0 && c.Field != "" && c.What == all[i-1].What:
			fmt.Fprintf(&b, ", %s was %s, becomes %s", c.Field, c.Was, c.Becomes)
			continue
		case i > 0:
			b.WriteString("; ")
		}
		b.WriteString(c.String())
	}
	return b.String()
}
