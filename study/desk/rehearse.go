package desk

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"time"

	"wane/study/intake/source"
	"wane/study/scenario"
	"wane/study/series"
)

// A rehearsal makes a planned study up many times, takes each through the pipeline as if it were real, and counts what is said of
// it. Several scenes are rehearsed: the plan as it is; the same with coatings that lose alike, of which each difference is
// falsely called; the same with a product that is just not good enough, of which each acceptance is false; and the plan with
// one means more at a time.
//
// What a made-up study gave is one line of a file beside the plan, and is not made again. Each study follows from the plan, its
// scene and its number alone, so that nothing depends on the number of workers.

// throughFiles is how many studies of the plan as it is go through exports, intake and store.
const throughFiles = 20

// RehearseOptions say how a rehearsal runs.
type RehearseOptions struct {
	Workers  int // studies that are made at once; 0: one for each core
	Progress Progress
}

// rehearser is the person of made-up studies, whose clock stands still after the last pull of any plan.
func rehearser() Person {
	return Person{Name: "rehearsal", Now: func() time.Time { return time.Date(2099, 1, 1, 12, 0, 0, 0, time.UTC) }}
}

// scene is one of the plans that are rehearsed.
type scene struct {
	name    string
	plan    *scenario.Plan
	studies int
	files   int // of them, those that go by their files
}

// The names of scenes in the file of a rehearsal. Those of improvements follow scenePlanned and a slash.
const (
	scenePlanned = "planned"
	sceneAlike   = "alike"
	sceneUnfit   = "unfit"
	sceneTry     = "try/"
)

// ReadPlan reads the plan of a rehearsal from a file. Faults of it are [study.Refusals], each with its line.
func ReadPlan(path string) (*scenario.Plan, error) {
	text, err := source.ReadFile(path)
	if err != nil {
		return nil, err
	}
	p, err := scenario.ReadPlan(text)
	return p, protocolRefusals(path, err)
}

// Rehearse rehearses the plan in a file. What was finished before, by the same plan and the same model, is taken from the file beside
// it. Cancelling keeps what is finished.
func Rehearse(ctx context.Context, path string, opt RehearseOptions) (*Rehearsal, error) {
	return rehearse(ctx, path, throughFiles, opt)
}

// rehearse is Rehearse with so many studies that go through exports, intake and store.
func rehearse(ctx context.Context, path string, files int, opt RehearseOptions) (*Rehearsal, error) {
	p, err := ReadPlan(path)
	if err != nil {
		return nil, err
	}
	if opt.Workers, err = countWorkers(opt.Workers); err != nil {
		return nil, err
	}
	scratch, err := os.MkdirTemp("", "wane-rehearsal-")
	if err != nil {
		return nil, scratchRefusal(os.TempDir(), err)
	}
	defer os.RemoveAll(scratch)
	kept, err := openRehearsed(path+rehearsedSuffix, p)
	if err != nil {
		return nil, err
	}
	r := &rehearsal{plan: p, scenes: scenesOf(p, files), kept: kept, scratch: scratch}
	if r.quantity, err = FindQuantity(rehearsedQuantity); err == nil {
		err = r.run(ctx, opt)
	}
	if err = errors.Join(err, kept.close()); err != nil {
		return nil, err
	}
	return r.sum(), nil
}

// rehearsedQuantity is what plans are about.
const rehearsedQuantity = "solar_T"

// scenesOf returns the scenes of a plan, of which so many studies go by their files as it is planned.
func scenesOf(p *scenario.Plan, files int) []scene {
	all := []scene{{scenePlanned, p, p.Studies, files}}
	if p.Compare != nil {
		alike := p.Alike()
		alike.Rule = nil // the question is another one
		all = append(all, scene{sceneAlike, alike, p.Studies, 0})
	}
	if p.Rule != nil {
		if unfit := p.Unfit(); unfit != nil {
			unfit.Compare = nil
			all = append(all, scene{sceneUnfit, unfit, p.Studies, 0})
		}
	}
	if p.Tries > 0 {
		for _, i := range p.Improvements() {
			with, _ := p.With(i)
			all = append(all, scene{sceneTry + string(i), with, p.Tries, 0})
		}
	}
	return all
}

// rehearsal is the work on one plan.
type rehearsal struct {
	plan     *scenario.Plan
	scenes   []scene
	kept     *rehearsed
	scratch  string
	quantity series.Quantity
}

// task is one study to be made.
type task struct {
	scene  *scene
	number int
}

// tasks are the studies that are not kept as the work begins, and total how many there are with those. They are all
// found first: what is kept grows while others are made.
func (r *rehearsal) tasks() (tasks []task, total int) {
	for i := range r.scenes {
		s := &r.scenes[i]
		total += s.studies
		for n := range s.studies {
			if r.kept.of(s.name, n) == nil {
				tasks = append(tasks, task{s, n})
			}
		}
	}
	return tasks, total
}

// run makes the studies that are not kept.
func (r *rehearsal) run(ctx context.Context, opt RehearseOptions) error {
	tasks, total := r.tasks()
	done := r.kept.found
	if opt.Progress != nil {
		opt.Progress(done, total)
	}
	spaces := make([]fitSpace, opt.Workers)
	do := func(ctx context.Context, worker int, t task) (*madeStudy, error) {
		made, err := r.study(ctx, &spaces[worker], t)
		if err != nil && ctx.Err() == nil {
			err = fmt.Errorf("study %d of the scene %s: %w", t.number, t.scene.name, err)
		}
		return made, err
	}
	return inOrder(ctx, opt.Workers, slices.Values(tasks), do, func(m *madeStudy) error {
		done++
		if opt.Progress != nil {
			opt.Progress(done, total)
		}
		return r.kept.add(m)
	})
}

// study makes one study and says what is said of it.
func (r *rehearsal) study(ctx context.Context, space *fitSpace, t task) (*madeStudy, error) {
	made, err := t.scene.plan.Make(t.number)
	if err != nil {
		return nil, err
	}
	out := &madeStudy{Scene: t.scene.name, Number: t.number, Files: t.number < t.scene.files, Lost: made.Lost, Capped: made.Capped,
		Soiled: made.Soiled, Faulty: len(made.Faulty)}
	var data *series.Data
	if out.Files {
		folder := filepath.Join(r.scratch, fmt.Sprint(t.number))
		data, out.Held, err = filesToSeries(ctx, t.scene.plan, made, r.quantity, folder)
	} else {
		data, err = curvesToSeries(ctx, t.scene.plan, made, r.quantity, space)
	}
	if err != nil {
		return nil, err
	}
	return out, out.judge(ctx, t.scene.plan, data)
}
