package desk

import (
	"context"
	"errors"
	"slices"

	"wane/study/intake/text"
)

// Progress gets the number of finished units after each commit.
type Progress func(done, total int)

// TakenIn is what became of the files of an intake.
type TakenIn struct {
	Files, Curves int      // files with something new; the new curves
	Known         int      // files that were in the study already
	Skipped       int      // files found in folders, zip files and by patterns that nothing places
	Held          []Judged // readings that a guard holds since this intake
	Released      []Judged // readings that no guard holds any more since this intake
	Waiting       []int64  // see [GuardChanges]
	HeldBefore    int      // others that were held before it
	Refused       []error  // each a *study.Refusal, or a *study.Fault; the files that are not in
	Notes         []string // on the map or the profile, and on files that were skipped
	FileNotes     []Note   // on the files that are in
}

// Note is what a person should know of a file that was taken in.
type Note struct{ File, Text string }

func (n Note) String() string { return n.File + ": " + n.Text }

// IntakeOptions say how an intake runs.
type IntakeOptions struct {
	Workers  int // exports that are read at once; 0: one for each core
	Progress Progress
	Stated   text.Stated // of all exports, beside what map and profile state

	// Profile is the path of a profile, which the study then keeps, or the name of one
	// that it keeps. It answers for the exports it is for, and places those that the map
	// does not.
	Profile string
}

// Intake takes exports in. The map and the profile say which column of which file belongs where. paths
// lead to files, see [source.Files.Find]; without paths, all files that the map names are taken in. A file
// that is given by its name and that nothing places is refused. A file that is found in a folder, in a zip
// file or by a pattern and that nothing places is skipped. An export is taken in as a whole or not at all.
// mapFile is empty if the profile places all curves.
func (d *Desk) Intake(ctx context.Context, mapFile string, paths []string, opt IntakeOptions) (out *TakenIn,
	err error) {
	if opt.Workers, err = countWorkers(opt.Workers); err != nil {
		return nil, err
	}
	p, err := d.planIntake(ctx, mapFile, paths, opt)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, p.close()) }()
	return p.takeIn(ctx, opt)
}

// takeIn takes in what is planned.
func (p *intakePlan) takeIn(ctx context.Context, opt IntakeOptions) (*TakenIn, error) {
	d := p.desk
	before, err := d.held(ctx)
	if err != nil {
		return nil, err
	}
	out := &TakenIn{HeldBefore: len(before), Notes: p.placement.notes()}
	memory := newPendingMemory(mostPendingBytes)
	exports := p.newBatch(ctx, out, opt.Progress)
	read := func(ctx context.Context, _ int, j *exportJob) (*exportJob, error) {
		if err := memory.acquire(ctx, j.number, p.files.Size(j.path)); err != nil {
			return nil, err
		}
		return j, p.read(ctx, j)
	}
	add := func(j *exportJob) error {
		if err := p.noteNewSpots(ctx, j); err != nil {
			return err
		}
		j.export.Data, j.readings = nil, nil // packed, known or refused
		number := j.number
		err := exports.add(j)
		memory.release(number) // after it has been committed, if it is large
		return err
	}
	err = exports.finish(inOrder(ctx, opt.Workers, p.jobs(), read, add))
	out.Skipped = p.skipped.n
	out.Notes = append(out.Notes, p.skipped.notes(p.placement.describe())...)
	if err == nil {
		var changes *GuardChanges
		if changes, err = d.runGuards(ctx, p.line); err == nil {
			out.Released, out.Waiting = changes.Released, changes.Waiting
			out.Held, err = d.held(ctx)
		}
	}
	known := map[int64]bool{}
	for i := range before {
		known[before[i].Number] = true
	}
	out.Held = slices.DeleteFunc(out.Held, func(j Judged) bool { return known[j.Number] })
	return out, err
}
