package desk

import (
	"context"
	"fmt"

	"wane/fit/film"
	"wane/study"
	"wane/study/evaluate"
	"wane/study/store"
)

// fitWorkspace is what units are evaluated with: what the workers share, and the evaluators of
// each worker.
type fitWorkspace struct {
	desk            *Desk // nil: the readings are in no study file
	settings        study.Settings
	roster          *study.Roster
	units           []store.Unit // of the study
	countedReadings map[study.Unit]int
	coupons         map[string]*study.Coupon
	conditions      map[string]evaluate.Conditions         // by session
	geometries      map[study.Unit]string                  // as the readings state it
	throughs        map[study.Unit]int                     // readings of transmittance that are counted, where there are some
	evaluators      []map[evaluatorKey]*evaluate.Evaluator // by worker
	fitters         []*film.Fitters                        // of joint fits, by worker
	innerWorkers    int                                    // goroutines inside one job
	together        bool                                   // all units of a session are fitted together
	blanks          map[string]*sessionBlanks              // by session, where the study evaluates over the blank
	lost            map[study.Unit]error                   // that could not be evaluated; nil: an earlier fit says so
	loadReadings    func(context.Context, study.Unit) ([]study.Reading, error)
	light           *evaluate.Light // in which solar values are found; nil: at normal incidence
}

// currentWorkspace returns the workspace of the study as it is at one moment.
func (d *Desk) currentWorkspace(ctx context.Context, workers int) (w *fitWorkspace, err error) {
	err = d.store.View(ctx, func(v *store.View) (err error) {
		w, err = d.workspaceOf(v, workers)
		return err
	})
	return w, err
}

// workspaceOf returns the workspace of the study as a view has it.
func (d *Desk) workspaceOf(v *store.View, workers int) (*fitWorkspace, error) {
	roster, err := v.Roster()
	if err != nil {
		return nil, err
	}
	units, err := v.Units()
	if err != nil {
		return nil, err
	}
	return d.newWorkspace(roster, units, workers)
}

// newWorkspace returns the workspace of a study with these units. A unit whose coupon has no row
// is a [*study.Failure].
func (d *Desk) newWorkspace(roster *study.Roster, units []store.Unit, workers int) (*fitWorkspace, error) {
	w := workspaceWithout(d.Settings(), roster, units, workers)
	w.desk, w.loadReadings = d, d.store.Readings
	for i := range units {
		if w.coupons[units[i].Coupon] == nil {
			return nil, d.missingCoupon(units[i].Coupon)
		}
	}
	w.findBlanks()
	return w, nil
}

// workspaceWithout returns the workspace of units of a study with these settings, whose coupons are in the roster: without the way to
// their readings, and without the blanks that readings are divided by.
func workspaceWithout(settings study.Settings, roster *study.Roster, units []store.Unit, workers int) *fitWorkspace {
	w := &fitWorkspace{
		settings: settings, roster: roster, units: units, countedReadings: map[study.Unit]int{}, throughs: map[study.Unit]int{},
		geometries: map[study.Unit]string{},
		coupons:    couponsByCode(roster),
		conditions: evaluate.RegisteredConditions(roster), innerWorkers: 1,
		together: settings.Correction == study.RouteSession,
	}
	for range workers {
		w.evaluators = append(w.evaluators, map[evaluatorKey]*evaluate.Evaluator{})
		w.fitters = append(w.fitters, &film.Fitters{})
	}
	for i := range units {
		u := &units[i]
		w.countedReadings[u.Unit], w.geometries[u.Unit] = u.Counted, u.Geometry
		if u.Through > 0 {
			w.throughs[u.Unit] = u.Through
		}
	}
	return w
}

// missingCoupon is the failure of a study that has readings of a coupon and no row of it.
func (d *Desk) missingCoupon(coupon string) error {
	return d.store.Damaged("coupon", fmt.Sprintf("no row of %s is there, and readings of it are", coupon))
}

func couponsByCode(r *study.Roster) map[string]*study.Coupon {
	coupons := map[string]*study.Coupon{}
	for i := range r.Coupons {
		coupons[r.Coupons[i].Coupon] = &r.Coupons[i]
	}
	return coupons
}

// prepare returns the readings of a unit and its evaluator.
func (w *fitWorkspace) prepare(
	ctx context.Context, worker int, u jobUnit,
) ([]study.Reading, *evaluate.Evaluator, error) {
	load := func(of study.Unit) ([]study.Reading, error) { return w.loadReadings(ctx, of) }
	readings, err := w.readingsToFit(u.Unit, u.session, load)
	if err != nil {
		return nil, nil, err
	}
	if len(readings) == 0 { // they counted when the work began
		fault := describeUnit(u.Unit) + ": another process has just set its readings aside"
		return nil, nil, &study.Failure{Fault: fault, Try: tryRunAgain}
	}
	e, err := w.paneEvaluator(ctx, u.Unit, u.session, readings)
	if e == nil && err == nil {
		e, err = w.evaluator(worker, u.Unit, u.session)
	}
	return readings, e, err
}

const tryRunAgain = "run it again: what was finished is kept"

// evaluatorKey is what makes two units need the same evaluator.
type evaluatorKey struct {
	glass, back, mm, conditions, stated string
	overBlank                           bool
}

// conditionsOf returns the conditions of a unit whose readings are of a session.
func (w *fitWorkspace) conditionsOf(of study.Unit, session string) evaluate.Conditions {
	c := w.conditions[session].In(w.geometries[of])
	if w.isOverBlank(of.Coupon) {
		c = c.OverBlank()
	}
	if coupon := w.coupons[of.Coupon]; coupon.WaterRepellent || !coupon.Role.Coated() {
		return c.Dry()
	}
	return c
}

// evaluator returns the evaluator of a worker for a unit whose readings are of a session.
func (w *fitWorkspace) evaluator(worker int, of study.Unit, session string) (*evaluate.Evaluator, error) {
	return w.evaluatorUnder(worker, w.coupons[of.Coupon], w.conditionsOf(of, session))
}

// evaluatorUnder returns the evaluator of a worker for a coupon under conditions.
func (w *fitWorkspace) evaluatorUnder(worker int, c *study.Coupon, conditions evaluate.Conditions) (*evaluate.Evaluator,
	error) {
	key := evaluatorKey{glass: c.Glass, back: c.Back, mm: fmt.Sprint(c.GlassMM),
		stated: evaluate.KeyOfCoupon(c, w.roster), conditions: conditions.Key(), overBlank: w.isOverBlank(c.Coupon)}
	if e := w.evaluators[worker][key]; e != nil {
		return e, nil
	}
	setup, err := w.setup(c, conditions)
	if err != nil {
		return nil, err
	}
	e, err := evaluate.NewEvaluatorIn(setup, w.light)
	if err != nil {
		return nil, err
	}
	w.evaluators[worker][key] = e
	return e, nil
}

// setup returns the setup of a coupon under conditions, as its readings are evaluated.
func (w *fitWorkspace) setup(c *study.Coupon, conditions evaluate.Conditions) (evaluate.Setup, error) {
	setup, err := evaluate.CouponSetup(c, w.settings.Mixing, w.roster)
	if err != nil {
		return setup, err
	}
	setup = conditions.Under(setup)
	if w.isOverBlank(c.Coupon) {
		setup = evaluate.OverBlank(setup)
	}
	return setup, nil
}

// knowledge says what a fit of a unit knows beforehand: see [evaluate.Knowledge].
func (w *fitWorkspace) knowledge(of study.Unit, session string) ([]evaluate.Known, error) {
	c, conditions := w.coupons[of.Coupon], w.conditionsOf(of, session)
	setup, err := w.setup(c, conditions)
	if err != nil {
		return nil, err
	}
	known := evaluate.Knowledge(setup, conditions.All(c, w.roster))
	return append(known, evaluate.GivenOfCoupon(c, w.roster)...), nil
}

// describeUnit names a unit in a message.
func describeUnit(u study.Unit) string {
	return fmt.Sprintf("coupon %s, pull %d, spot %s", u.Coupon, u.Pull, u.Spot)
}
