package desk

import (
	"context"
	"errors"
	"iter"

	"wane/study"
	"wane/study/guard"
	"wane/study/intake"
	"wane/study/intake/source"
	"wane/study/intake/text"
	"wane/study/store"
)

// intakePlan is what an intake will do: the files to take in, the placement of their curves, and what they
// are checked against.
type intakePlan struct {
	desk      *Desk
	files     *source.Files
	placement *placement
	index     *rosterIndex
	guard     *guard.Guard
	known     store.KnownExports
	parser    func(name string, data []byte, stated text.Stated) (*intake.Export, error) // intake.Read
	// of the log, up to which index and guard know the roster
	line int64

	found       []source.Found // by paths; nil: all files that the map names
	named       map[string]bool
	total       int
	replacing   bool                   // readings of known exports are made again, and nothing is packed
	previewOnly bool                   // the parsed exports are kept to be shown, and nothing is taken in
	placesShown map[study.Place]string // the file of each place, among those that are shown
	skipped     skippedFiles
	spots       map[string][]string // of coupons, read before; those that were named as new are added
}

func (d *Desk) planIntake(ctx context.Context, mapFile string, paths []string, opt IntakeOptions) (p *intakePlan,
	err error) {
	p = &intakePlan{desk: d, files: &source.Files{}, parser: intake.Read}
	defer func() {
		if err != nil {
			err = errors.Join(err, p.close())
		}
	}()
	type answer struct {
		known store.KnownExports
		err   error
	}
	known := make(chan answer, 1)
	go func() { // this takes about as long as reading the map
		var a answer
		defer func() { known <- a }()
		defer study.Catch("", &a.err)
		a.known, a.err = d.store.KnownExports(ctx)
	}()
	if p.placement, err = d.placement(ctx, mapFile, opt); err != nil {
		return p, err
	}
	if err = p.chooseFiles(mapFile, paths); err != nil {
		return p, err
	}
	var roster *study.Roster
	err = d.store.View(ctx, func(v *store.View) (err error) {
		if _, _, p.line, err = v.Guarded(); err == nil {
			roster, err = v.Roster()
		}
		return err
	})
	if err != nil {
		return p, err
	}
	p.index, p.guard = newRosterIndex(roster), guard.New(roster)
	a := <-known
	p.known = a.known
	return p, a.err
}

func (p *intakePlan) close() error { return errors.Join(p.placement.close(), p.files.Close()) }

// jobs are the files to take in, in their order.
func (p *intakePlan) jobs() iter.Seq[*exportJob] {
	return func(yield func(*exportJob) bool) {
		n := 0
		for j := range p.exportJobs() {
			j.number = n
			if n++; !yield(j) {
				return
			}
		}
	}
}
