package desk

import (
	"context"
	"slices"

	"wane/study"
)

// Fitted is what fit did.
type Fitted struct {
	Fits    int          // new
	Failed  int          // of these, those that say that the readings could not be evaluated
	Current int          // units whose fit was up to date
	Guards  GuardChanges // what the guards held and released, before and after
	Refused []error      // units whose readings could not be fitted, each a *study.Refusal

	Sessions []SessionSupport // those of the new fits, in the order of their names

	lost map[study.Unit]error // units that could not be evaluated; nil: an earlier fit says so
}

// FitOptions say how fits run.
type FitOptions struct {
	Workers  int // spots that are fitted at once; 0: one for each core
	Progress Progress
}

// Fit evaluates the units whose fit is missing or stale: there are new readings, a changed roster
// or register, a review, or a new version of the model. It also evaluates those whose fit says
// that they could not be evaluated, though they can. The guards check first what is new, and
// then what was found. What the register says of a session is valid for the units all of whose
// readings name it.
//
// A failure of the study ends the work. What was committed before is kept.
func (d *Desk) Fit(ctx context.Context, opt FitOptions) (*Fitted, error) {
	var err error
	if opt.Workers, err = countWorkers(opt.Workers); err != nil {
		return nil, err
	}
	changes, err := d.runGuards(ctx, 0)
	if err != nil {
		return nil, err
	}
	out, err := d.fitStale(ctx, opt)
	if err != nil {
		return out, err
	}
	out.Guards = *changes
	if err := d.guardAndRefit(ctx, opt.Workers, out); err != nil {
		return out, err
	}
	return out, d.survey(ctx)
}

// fitStale evaluates the units whose fit is missing or stale.
func (d *Desk) fitStale(ctx context.Context, opt FitOptions) (*Fitted, error) {
	w, err := d.currentWorkspace(ctx, opt.Workers)
	if err != nil {
		return nil, err
	}
	out := &Fitted{Current: len(w.units), lost: map[study.Unit]error{}}
	jobs := w.jobs()
	evaluable, err := w.findEvaluable(ctx, opt.Workers, jobs)
	if err != nil {
		return nil, err
	}
	var stale []fitJob
	total, sessions := 0, map[string]bool{}
	for _, job := range jobs {
		if job.stale() || job.containsAny(evaluable) {
			stale = append(stale, job)
			total += len(job.units)
			for i := range job.units {
				sessions[job.units[i].session] = true
			}
			continue
		}
		for i := range job.units {
			if !job.units[i].evaluated {
				out.lost[job.units[i].Unit] = nil
			}
		}
	}
	out.Sessions = w.supportOf(sessions)
	out.Current -= total
	w.innerWorkers = max(1, opt.Workers/max(1, len(stale)))
	fits := d.newFitBatch(ctx, out, total, opt.Progress)
	err = fits.finish(inOrder(ctx, opt.Workers, slices.Values(stale), w.fit, fits.add))
	out.evaluatedOnly(w, sessions)
	return out, err
}
