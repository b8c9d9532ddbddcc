package desk

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"

	"wane/study"
)

// demoMark is the file by which a folder is known as one that Demo made.
const demoMark = "made-up-by-wane-demo.txt"

// demoNote is what it says.
const demoNote = `Everything in this folder is made up: the makers, the site, the coupons and the
readings. wane demo wrote it and replaces it as a whole when it is run again.
`

// Demo is a made-up study, taken through the whole job.
type Demo struct {
	Folder, Study string // paths
	Enrolled      *Enrolled
	TakenIn       *TakenIn
	Fitted        *Fitted
	Truth         Truth
}

// RunDemo writes rosters, a map and exports of a made-up study into folder, and
// takes them through new, enrol, intake and fit. An existing folder is replaced
// only if an earlier demo made it. The study stays open at the desk returned.
func RunDemo(ctx context.Context, folder string, workers int, who Person) (*Demo, *Desk, error) {
	if err := clearDemo(folder); err != nil {
		return nil, nil, err
	}
	s := newScenario()
	if err := s.write(folder); err != nil {
		return nil, nil, err
	}
	out := &Demo{Folder: folder, Study: filepath.Join(folder, "demo.wane"), Truth: s.truth}
	d, err := New(ctx, out.Study, study.Settings{Correction: study.RouteControls, Mixing: "bruggeman"}, who)
	if err != nil {
		return nil, nil, err
	}
	if err := out.run(ctx, d, workers); err != nil {
		return nil, nil, errors.Join(err, d.Close())
	}
	return out, d, nil
}

func (out *Demo) run(ctx context.Context, d *Desk, workers int) (err error) {
	in := func(name string) string { return filepath.Join(out.Folder, name) }
	if out.Enrolled, err = d.Enrol(ctx, []string{in("exposures.csv"), in("pulls.csv"), in("coupons.csv")}); err != nil {
		return err
	}
	if out.TakenIn, err = d.Intake(ctx, in("map.csv"), nil, IntakeOptions{Workers: workers}); err != nil {
		return err
	}
	if len(out.TakenIn.Refused) > 0 {
		return out.TakenIn.Refused[0]
	}
	out.Fitted, err = d.Fit(ctx, FitOptions{Workers: workers})
	return err
}

// clearDemo removes a folder that an earlier demo made; another is refused.
func clearDemo(folder string) error {
	entries, err := os.ReadDir(folder)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil
	case err != nil:
		return &study.Refusal{File: folder, Fault: "could not look into the folder", Try: "name another folder", Cause: err}
	case len(entries) == 0:
		return nil
	}
	if _, err := os.Stat(filepath.Join(folder, demoMark)); err != nil {
		return &study.Refusal{File: folder, Fault: "the folder is there, and no demo made it", Try: "name another folder: wane demo NAME"}
	}
	if err := os.RemoveAll(folder); err != nil {
		return &study.Refusal{File: folder, Fault: "could not replace the folder", Try: "close what uses it, or name another folder", Cause: err}
	}
	return nil
}
