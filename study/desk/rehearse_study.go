package desk

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"

	"wane/fit/film"
	"wane/study"
	"wane/study/ageing"
	"wane/study/evaluate"
	"wane/study/scenario"
	"wane/study/series"
	"wane/study/store"
)

// A made-up study of a plan goes one of two ways to the series of its changes. By its files: exports are written, the study is
// begun, enrolled, taken in, guarded and fitted by the verbs of the desk, in a folder that is removed. By its curves: the
// readings are evaluated as they are, by the same code from there on. The first studies of a plan go by their files, so that
// each verb is rehearsed too; the others spare the writing. Where no guard holds a reading, both ways give the same numbers.

// rehearsalSettings are those of the made-up studies of a plan.
func rehearsalSettings(p *scenario.Plan) study.Settings {
	return study.Settings{Correction: p.Route, Mixing: "bruggeman"}
}

// fitSpace is what one worker keeps from study to study: evaluators and fitters take longer to make than a fit.
type fitSpace struct {
	evaluators map[evaluatorKey]*evaluate.Evaluator
	fitters    *film.Fitters
}

// mostEvaluators is how many of them are kept. Studies whose sessions have light traps have one for each session.
const mostEvaluators = 64

// curvesToSeries evaluates the readings of a made-up study.
func curvesToSeries(ctx context.Context, p *scenario.Plan, m *scenario.Made, q series.Quantity, space *fitSpace) (*series.Data,
	error) {
	readings, units := unitsOfReadings(m.Readings)
	w := workspaceWithout(rehearsalSettings(p), m.Roster, units, 1)
	if space.fitters == nil || len(space.evaluators) > mostEvaluators {
		space.evaluators, space.fitters = w.evaluators[0], w.fitters[0]
	}
	w.evaluators[0], w.fitters[0] = space.evaluators, space.fitters
	w.loadReadings = func(_ context.Context, u study.Unit) ([]study.Reading, error) { return readings[u], nil }
	var fits []*study.Fit
	for _, job := range w.jobs() {
		out, err := w.fit(ctx, 0, job)
		if err != nil {
			return nil, err
		}
		fits = append(fits, out.fits...)
	}
	slices.SortFunc(fits, func(a, b *study.Fit) int { return compareUnits(a.Unit, b.Unit) })
	ownersOf := m.Roster.OwnersOf()
	for _, f := range fits {
		owners := ownersOf(f)
		f.Errors.NameOwners(&owners)
	}
	return fitsToSeries(m.Roster, p.Route, q, fits), nil
}

// fitsToSeries gathers a quantity from the fits of all coupons, those of a coupon one after the other.
func fitsToSeries(roster *study.Roster, route study.Route, q series.Quantity, fits []*study.Fit) *series.Data {
	changes, b := ageing.NewChanges(roster, route), series.NewBuilder(q, roster, route, false)
	changes.Follow(q.Followed)
	coupons, of := couponsByCode(roster), [][]*study.Fit{}
	for i, f := range fits {
		if i == 0 || fits[i-1].Coupon != f.Coupon {
			of = append(of, nil)
		}
		of[len(of)-1] = append(of[len(of)-1], f)
	}
	for _, own := range of {
		if coupons[own[0].Coupon].Role == study.Control {
			changes.AddControl(own)
		}
	}
	for _, own := range of {
		b.Take(b.Prepare(changes.Rows(own)))
	}
	return b.Data()
}

// unitsOfReadings returns readings by their units, and the units in the order of coupon, pull and spot.
func unitsOfReadings(readings []study.Reading) (map[study.Unit][]study.Reading, []store.Unit) {
	of, units := map[study.Unit][]study.Reading{}, []store.Unit{}
	for i := range readings {
		r := &readings[i]
		u := study.Unit{Coupon: r.Coupon, Pull: r.Pull, Spot: r.Spot, Condition: r.Condition}
		if of[u] == nil {
			units = append(units, store.Unit{Unit: u, Session: r.Session})
		}
		of[u] = append(of[u], *r)
	}
	for i := range units {
		units[i].Counted = len(of[units[i].Unit])
	}
	slices.SortFunc(units, func(a, b store.Unit) int { return compareUnits(a.Unit, b.Unit) })
	return of, units
}

// filesToSeries takes a made-up study through the verbs of the desk, in a folder that must not exist and that it removes. It
// also returns how many readings the guards held.
func filesToSeries(ctx context.Context, p *scenario.Plan, m *scenario.Made, q series.Quantity, folder string) (
	data *series.Data, held int, err error) {
	if err = os.Mkdir(folder, 0o700); err != nil {
		return nil, 0, scratchRefusal(folder, err)
	}
	defer func() { err = errors.Join(err, os.RemoveAll(folder)) }()
	var tables []string
	for _, f := range m.Tables() {
		tables = append(tables, filepath.Join(folder, f.Name))
	}
	for _, f := range append(m.Tables(), m.Exports()...) {
		if err := writeScratch(folder, f); err != nil {
			return nil, 0, err
		}
	}
	d, err := New(ctx, filepath.Join(folder, "study.wane"), rehearsalSettings(p), rehearser())
	if err != nil {
		return nil, 0, err
	}
	defer func() { err = errors.Join(err, d.Close()) }()
	if _, err = d.Enrol(ctx, tables); err != nil {
		return nil, 0, err
	}
	taken, err := d.Intake(ctx, filepath.Join(folder, scenario.MapName), nil, IntakeOptions{Workers: 1})
	if err == nil && len(taken.Refused) > 0 {
		err = taken.Refused[0]
	}
	if err != nil {
		return nil, 0, err
	}
	if _, err = d.Fit(ctx, FitOptions{Workers: 1}); err != nil {
		return nil, 0, err
	}
	units, err := d.store.Units(ctx)
	for i := range units {
		held += units[i].Held
	}
	if err != nil {
		return nil, 0, err
	}
	data, err = d.Series(ctx, q.Name, SeriesOptions{Workers: 1})
	return data, held, err
}

// writeScratch writes a file of a made-up study.
func writeScratch(folder string, f scenario.File) error {
	path := filepath.Join(folder, filepath.FromSlash(f.Name))
	err := os.MkdirAll(filepath.Dir(path), 0o700)
	if err == nil {
		err = os.WriteFile(path, []byte(f.Text), 0o600)
	}
	if err != nil {
		return scratchRefusal(folder, err)
	}
	return nil
}

func scratchRefusal(folder string, cause error) error {
	return &study.Refusal{File: folder, Fault: "could not write the files of a made-up study",
		Try: fmt.Sprintf("check the room on the disk, or set TMPDIR to a folder that can be written, not %s",
			filepath.Dir(folder)), Cause: cause}
}
