// Package demo takes a made-up study through the whole job, by the verbs of desk.
package demo

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"wane/study"
	"wane/study/desk"
	"wane/study/intake"
	"wane/study/scenario"
)

// demoMark is the file by which a folder is known as one that a demo made. It lists
// the files that are the demo's own.
const demoMark = "made-up-by-wane-demo.txt"

// demoNote is what it begins with.
const demoNote = `Everything that wane demo wrote into this folder is made up: the makers, the site,
the coupons and the readings. When it is run again it replaces these files, and
refuses if there are others:
`

// What a demo writes besides the files that are listed in its mark.
const (
	demoStudy  = "demo.wane"
	DemoFigure = "change.svg" // written by the command
)

// Demo is a made-up study, taken through the whole job.
type Demo struct {
	Folder, Study string // paths
	Enrolled      *desk.Enrolled
	TakenIn       *desk.TakenIn
	Fitted        *desk.Fitted
	Truth         scenario.Truth
}

// RunDemo writes rosters, a map and exports of a made-up study into folder, and
// takes them through new, enrol, intake and fit. An existing folder is replaced
// only if an earlier demo made it. The study stays open at the desk returned.
func RunDemo(ctx context.Context, folder string, workers int, who desk.Person) (*Demo, *desk.Desk, error) {
	if err := who.Check(); err != nil {
		return nil, nil, err
	}
	if err := clearDemo(folder); err != nil {
		return nil, nil, err
	}
	s := scenario.NewScenario()
	truth, err := writeDemo(folder, s)
	if err != nil {
		return nil, nil, err
	}
	out := &Demo{Folder: folder, Study: filepath.Join(folder, demoStudy), Truth: truth}
	d, err := desk.New(ctx, out.Study, study.Settings{Correction: study.RouteControls, Mixing: "bruggeman"}, who)
	if err != nil {
		return nil, nil, err
	}
	if err := out.run(ctx, d, s, workers); err != nil {
		return nil, nil, errors.Join(err, d.Close())
	}
	return out, d, nil
}

func (out *Demo) run(ctx context.Context, d *desk.Desk, s *scenario.Scenario, workers int) (err error) {
	in := func(name string) string { return filepath.Join(out.Folder, name) }
	var tables []string
	for _, name := range s.Tables() {
		tables = append(tables, in(name))
	}
	if out.Enrolled, err = d.Enrol(ctx, tables); err != nil {
		return err
	}
	if out.TakenIn, err = d.Intake(ctx, in(scenario.MapName), nil, desk.IntakeOptions{Workers: workers}); err != nil {
		return err
	}
	if len(out.TakenIn.Refused) > 0 {
		return out.TakenIn.Refused[0]
	}
	out.Fitted, err = d.Fit(ctx, desk.FitOptions{Workers: workers})
	return err
}

// writeDemo writes the files of the scenario into folder, the mark first: it lists what a
// later demo may replace.
func writeDemo(folder string, s *scenario.Scenario) (scenario.Truth, error) {
	if err := put(folder, demoMark, demoNote+strings.Join(s.Files(), "\n")+"\n"); err != nil {
		return nil, err
	}
	return s.Write(func(name, text string) error { return put(folder, name, text) })
}

// put writes a file of the folder, and the folders that it needs.
func put(folder, name, text string) error {
	path := filepath.Join(folder, name)
	err := os.MkdirAll(filepath.Dir(path), 0o755)
	if err == nil {
		err = os.WriteFile(path, []byte(text), 0o644)
	}
	if err != nil {
		return &study.Refusal{File: folder, Fault: "could not write " + name, Try: "check the folder and the room on the disk, or name another folder", Cause: err}
	}
	return nil
}

// clearDemo removes what an earlier demo wrote into folder. A folder that holds
// anything else is refused.
func clearDemo(folder string) error {
	desk.Sweep(folder) // an earlier demo may have been killed
	entries, err := os.ReadDir(folder)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil
	case err != nil:
		return &study.Refusal{File: folder, Fault: "could not look into the folder", Try: "name another folder", Cause: err}
	case len(entries) == 0:
		return nil
	}
	mark, err := intake.ReadFile(filepath.Join(folder, demoMark))
	if err != nil {
		return &study.Refusal{File: folder, Fault: "the folder is there, and no demo made it", Try: "name another folder: wane demo NAME"}
	}
	if foreign, err := notListed(folder, string(mark)); err != nil || foreign != "" {
		return &study.Refusal{File: folder, Fault: fmt.Sprintf("the folder holds %s, which no demo wrote", foreign), Try: "move it elsewhere, or name another folder: wane demo NAME", Cause: err}
	}
	for _, e := range entries { // the mark last: a demo that is killed here can be run again
		if e.Name() != demoMark {
			err = errors.Join(err, os.RemoveAll(filepath.Join(folder, e.Name())))
		}
	}
	if err = errors.Join(err, os.Remove(filepath.Join(folder, demoMark))); err != nil {
		return &study.Refusal{File: folder, Fault: "could not replace the folder", Try: "close what uses it, or name another folder", Cause: err}
	}
	return nil
}

// notListed returns the first file below folder that is none of the demo's.
func notListed(folder, mark string) (foreign string, err error) {
	own := map[string]bool{demoMark: true, DemoFigure: true, demoStudy: true, demoStudy + "-wal": true, demoStudy + "-shm": true}
	for _, line := range strings.Split(mark, "\n") {
		own[line] = true
	}
	err = filepath.WalkDir(folder, func(path string, entry fs.DirEntry, err error) error {
		if err != nil || entry.IsDir() {
			return err
		}
		name, err := filepath.Rel(folder, path)
		if err == nil && !own[filepath.ToSlash(name)] && foreign == "" {
			foreign = name
		}
		return err
	})
	return foreign, err
}
