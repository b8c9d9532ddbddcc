// Package desk holds the operations on a study: one file for each verb. Commands
// and pages call these and print what they return, so both do the same thing.
//
// A [Desk] is an open study, the person who works at it and a clock. Each operation completes in
// atomic units, each with its line in the study's log: enrol and new are one transaction, intake
// commits export by export and fit unit by unit, both in batches. If an operation is cut off,
// the finished units stay; run again, it does the rest. Results do not depend on the number of workers.
//
// Some operations need no study: [NewQuick], [Plan] and [CheckProfile].
//
// An error that a person can do something about is a [*study.Refusal]; a [*UsageError] if what was asked
// for cannot be, whatever the files hold; a [*study.Failure] if the study file itself failed. A failure is
// no answer and ends every operation.
package desk

import (
	"context"
	"errors"
	"path/filepath"
	"time"

	"wane/study"
	"wane/study/store"
)

// Desk is an open study.
type Desk struct {
	store *store.Store
	who   string
	now   func() time.Time
}

// Person is who works at the desk.
type Person struct {
	Name    string
	Now     func() time.Time  // the clock; nil: that of the machine
	Witness string            // the file to which the hash of each commit is appended; empty: none
	Waits   func(what string) // is told, in a goroutine of its own, what a writer waits for; nil: nobody is
}

func (p Person) clock() func() time.Time {
	if p.Now == nil {
		return time.Now
	}
	return p.Now
}

// Check refuses a name that would not show in full in the log.
func (p Person) Check() error {
	if fault, _ := study.CheckCode(p.Name); fault != "" {
		return &study.Refusal{
			Fault: "the name of the operator: " + fault,
			Try:   "set WANE_OPERATOR to a name in one line, typed again without that character",
		}
	}
	return nil
}

// New starts a study in a file that must not exist.
func New(ctx context.Context, path string, settings study.Settings, who Person) (*Desk, error) {
	return NewPlanned(ctx, path, settings, &PlannedExposures{}, who)
}

// NewPlanned is [New] for a study that begins with planned exposures.
func NewPlanned(ctx context.Context, path string, settings study.Settings, plan *PlannedExposures, who Person) (
	*Desk, error) {
	if settings.OverBlank && settings.Correction == study.RouteSession {
		return nil, usagef("choose one of them", "--over-blank and --correction session correct the same error twice")
	}
	if err := checkNew(path, who); err != nil {
		return nil, err
	}
	d := &Desk{who: who.Name, now: who.clock()}
	settings.Created = d.at()
	started := "started a study, correction by " + string(settings.Correction) + ", mixing rule " + settings.Mixing
	if settings.TwoPeople {
		started += ", judged and corrected by a second person"
	}
	entry := d.entry("new", started)
	var err error
	d.store, err = store.CreateWith(ctx, path, settings, entry, func(tx *store.Tx) error {
		planned, err := plan.enrol(tx)
		entry.Summary = started + planned
		return err
	})
	if err != nil {
		return nil, err
	}
	return d.witnessed(ctx, who)
}

// checkNew refuses a name of a new study, a person or a witness that cannot be one.
func checkNew(path string, who Person) error {
	if err := who.Check(); err != nil {
		return err
	}
	if fault, _ := study.CheckCode(filepath.Base(path)); fault != "" {
		return &study.Refusal{
			File: path, Fault: "the name of the study: " + fault, Try: "choose a name in one line, without that character",
		}
	}
	return store.WitnessReady(path, who.Witness)
}

// witnessed appends the head of a new study to its witness.
func (d *Desk) witnessed(ctx context.Context, who Person) (*Desk, error) {
	d.store.SetWitness(who.Witness)
	if err := d.store.WitnessHead(ctx); err != nil {
		return nil, errors.Join(err, d.Close())
	}
	return d, nil
}

// Open opens a study to read and to write it. A witness that cannot be one is refused first.
func Open(ctx context.Context, path string, who Person) (*Desk, error) {
	if err := store.CheckWitness(path, who.Witness); err != nil {
		return nil, err
	}
	return openAs(ctx, store.Open, path, who)
}

// OpenToRead opens a study to read it only. The file may be one that cannot be written.
func OpenToRead(ctx context.Context, path string, who Person) (*Desk, error) {
	return openAs(ctx, store.OpenToRead, path, who)
}

// OpenToTry opens a study for [Desk.Preview]. The file may be one that cannot be written.
func OpenToTry(ctx context.Context, path string, who Person) (*Desk, error) {
	return openAs(ctx, store.OpenToTry, path, who)
}

// opener is one of the ways to open a study.
type opener = func(context.Context, string) (*store.Store, error)

func openAs(ctx context.Context, how opener, path string, who Person) (*Desk, error) {
	if err := who.Check(); err != nil {
		return nil, err
	}
	s, err := how(ctx, path)
	if err != nil {
		return nil, err
	}
	s.SetWitness(who.Witness)
	s.SetWaiting(who.Waits)
	return &Desk{store: s, who: who.Name, now: who.clock()}, nil
}

// As returns the same desk at which another person works. A name that would not show in full in the log is refused.
func (d *Desk) As(name string) (*Desk, error) {
	if err := (Person{Name: name}).Check(); err != nil {
		return nil, err
	}
	other := *d
	other.who = name
	return &other, nil
}

// Who returns the name of who works at the desk.
func (d *Desk) Who() string { return d.who }

// Name returns the name of the study file, without its folder.
func (d *Desk) Name() string { return d.store.Name() }

// Head returns the last line of the log: as long as it is the same, so is the study.
func (d *Desk) Head(ctx context.Context) (head study.Entry, err error) {
	err = d.store.View(ctx, func(v *store.View) error {
		last, err := v.LastLine()
		if err == nil {
			head, err = v.Line(last)
		}
		return err
	})
	return head, err
}

// InPlace fails if the study is not any more where it was opened, as when another file has taken its place.
func (d *Desk) InPlace() error { return d.store.InPlace() }

// Close closes the study. After that it is one file.
func (d *Desk) Close() error { return d.store.Close() }

// Notes returns what a person should know about the opening of the study, a line each.
func (d *Desk) Notes() []string { return d.store.Notes() }

// Settings returns what was chosen when the study was made.
func (d *Desk) Settings() study.Settings { return d.store.Settings() }

// Log hands the lines of the log to yield, the oldest first.
func (d *Desk) Log(ctx context.Context, yield func(study.Entry) error) error {
	return d.store.Log(ctx, yield)
}

// Complete fails if a row is missing that the log counts.
func (d *Desk) Complete(ctx context.Context) error { return d.store.Complete(ctx) }

func (d *Desk) at() string { return d.now().UTC().Format(time.RFC3339) }

func (d *Desk) entry(verb, summary string) *study.Entry {
	return &study.Entry{At: d.at(), Who: d.who, Verb: verb, Summary: summary, Software: Software()}
}

// mostLines is how many lines of the log [Desk.LinesAfter] returns.
const mostLines = 200

// LinesAfter returns the lines of the log after one; of many the last ones.
func (d *Desk) LinesAfter(ctx context.Context, line int64) (lines []study.Entry, err error) {
	err = d.store.View(ctx, func(v *store.View) error {
		last, err := v.LastLine()
		for n := max(line+1, last-mostLines+1, 1); n <= last && err == nil; n++ {
			var e study.Entry
			e, err = v.Line(n)
			lines = append(lines, e)
		}
		return err
	})
	return lines, err
}
