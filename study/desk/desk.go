// Package desk holds the operations on a study: one file for each verb. Commands
// and pages call these and print what they return, so both do the same thing.
//
// A [Desk] is a study that is open, the person at it and a clock. Each operation
// completes in atomic units, each with its line in the study's log: enrol and new
// are one transaction, intake commits export by export and fit unit by unit, both
// in batches. An operation that is cut off leaves the finished units; run again,
// it does the rest. Results do not depend on the number of workers.
//
// Errors that a person can do something about are a [*study.Refusal], or a [*study.Failure]
// if the study file itself failed: a failure is no answer and ends every operation.
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

// Person says who works at the desk and what time it is; a nil clock is that of
// the machine. Witness is the file to which the head of each commit is appended; empty: none.
type Person struct {
	Name    string
	Now     func() time.Time
	Witness string
}

func (p Person) clock() func() time.Time {
	if p.Now == nil {
		return time.Now
	}
	return p.Now
}

// Check refuses a name that would hide something in the log.
func (p Person) Check() error {
	if fault, _ := study.CheckCode(p.Name); fault != "" {
		return &study.Refusal{Fault: "the name of the operator: " + fault, Try: "set WANE_OPERATOR to a name in one line, typed again without that character"}
	}
	return nil
}

// New starts a study in a file that must not exist.
func New(ctx context.Context, path string, settings study.Settings, who Person) (*Desk, error) {
	if err := who.Check(); err != nil {
		return nil, err
	}
	if fault, _ := study.CheckCode(filepath.Base(path)); fault != "" {
		return nil, &study.Refusal{File: path, Fault: "the name of the study: " + fault, Try: "choose a name in one line, without that character"}
	}
	if err := store.WitnessReady(path, who.Witness); err != nil {
		return nil, err
	}
	d := &Desk{who: who.Name, now: who.clock()}
	settings.Created = d.at()
	entry := d.entry("new", "started a study, correction by "+string(settings.Correction)+", mixing rule "+settings.Mixing)
	var err error
	d.store, err = store.Create(ctx, path, settings, entry)
	if err != nil {
		return nil, err
	}
	d.store.SetWitness(who.Witness)
	if err := d.store.TestifyHead(ctx); err != nil {
		return nil, errors.Join(err, d.Close())
	}
	return d, nil
}

// Open opens a study to read and to write it. A file that cannot be its witness is refused
// before.
func Open(ctx context.Context, path string, who Person) (*Desk, error) {
	if err := store.CheckWitness(path, who.Witness); err != nil {
		return nil, err
	}
	return openAs(ctx, store.Open, path, who)
}

// OpenToRead opens a study for what only reads, also one that cannot be written.
func OpenToRead(ctx context.Context, path string, who Person) (*Desk, error) {
	return openAs(ctx, store.OpenToRead, path, who)
}

// OpenToTry opens a study for [Desk.Preview], also one that cannot be written.
func OpenToTry(ctx context.Context, path string, who Person) (*Desk, error) {
	return openAs(ctx, store.OpenToTry, path, who)
}

// opener is one of the ways to open a file.
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
	return &Desk{store: s, who: who.Name, now: who.clock()}, nil
}

// Close closes the study and leaves one file.
func (d *Desk) Close() error { return d.store.Close() }

// Notes says what a person should know of how the study was opened, a line each.
func (d *Desk) Notes() []string { return d.store.Notes() }

// Settings returns what was chosen when the study was made.
func (d *Desk) Settings() study.Settings { return d.store.Settings() }

// Log hands the lines of the log to yield, oldest first.
func (d *Desk) Log(ctx context.Context, yield func(study.Entry) error) error {
	return d.store.Log(ctx, yield)
}

// Complete makes sure that no row is missing of those that the log counts.
func (d *Desk) Complete(ctx context.Context) error { return d.store.Complete(ctx) }

func (d *Desk) at() string { return d.now().UTC().Format(time.RFC3339) }

func (d *Desk) entry(verb, summary string) *study.Entry {
	return &study.Entry{At: d.at(), Who: d.who, Verb: verb, Summary: summary, Software: Software()}
}
