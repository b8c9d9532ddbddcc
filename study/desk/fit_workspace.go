package desk

import (
	"context"
	"fmt"

	"wane/study"
	"wane/study/evaluate"
	"wane/study/store"
)

// bench is where units are evaluated: what the workers share, and each worker's
// evaluators.
type fitWorkspace struct {
	desk            *Desk
	roster          *study.Roster
	units           []store.Unit // of the study
	countedReadings map[study.Unit]int
	coupons         map[string]*study.Coupon
	conditions      map[string]evaluate.Conditions         // by session
	evaluators      []map[evaluatorKey]*evaluate.Evaluator // by worker
	innerWorkers    int                                    // goroutines inside one job
	blanks          map[string]*sessionBlanks              // by session, where the study evaluates over the blank
	loadReadings    func(context.Context, study.Unit) ([]study.Reading, error)
}

// benchNow makes the bench of the study as it is at one moment.
func (d *Desk) currentWorkspace(ctx context.Context, workers int) (b *fitWorkspace, err error) {
	err = d.store.View(ctx, func(v *store.View) error {
		roster, err := v.Roster()
		if err != nil {
			return err
		}
		units, err := v.Units()
		if err == nil {
			b, err = d.newWorkspace(roster, units, workers)
		}
		return err
	})
	return b, err
}

// newBench makes the bench of a study with these units. That a unit's coupon has no row is a
// [*study.Failure].
func (d *Desk) newWorkspace(roster *study.Roster, units []store.Unit, workers int) (*fitWorkspace, error) {
	b := &fitWorkspace{desk: d, roster: roster, units: units, countedReadings: map[study.Unit]int{}, coupons: couponsByCode(roster), conditions: evaluate.RegisteredConditions(roster), innerWorkers: 1, loadReadings: d.store.Readings}
	for range workers {
		b.evaluators = append(b.evaluators, map[evaluatorKey]*evaluate.Evaluator{})
	}
	for i := range units {
		u := &units[i]
		if b.coupons[u.Coupon] == nil {
			return nil, d.missingCoupon(u.Coupon)
		}
		b.countedReadings[u.Unit] = u.Counted
	}
	b.findBlanks()
	return b, nil
}

// noRow is the failure of a study that has readings of a coupon and no row of it.
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

// prepare returns what a unit is fitted from: its readings and its evaluator.
func (b *fitWorkspace) prepare(ctx context.Context, worker int, u jobUnit) ([]study.Reading, *evaluate.Evaluator, error) {
	readings, err := b.readingsToFit(u.Unit, u.session, func(of study.Unit) ([]study.Reading, error) { return b.loadReadings(ctx, of) })
	if err != nil {
		return nil, nil, err
	}
	if len(readings) == 0 { // counted when the work began
		return nil, nil, &study.Failure{Fault: describeUnit(u.Unit) + ": another process has just set its readings aside", Try: tryRunAgain}
	}
	e, err := b.evaluator(worker, b.coupons[u.Coupon], u.session)
	return readings, e, err
}

const tryRunAgain = "run it again: what was finished is kept"

// setupKey is what makes two units need the same evaluator. The conditions of sessions of
// which nothing is registered are empty.
type evaluatorKey struct {
	glass, back, mm, conditions string
}

func (b *fitWorkspace) evaluator(worker int, c *study.Coupon, session string) (*evaluate.Evaluator, error) {
	conditions, known := b.conditions[session]
	key := evaluatorKey{glass: c.Glass, back: c.Back, mm: fmt.Sprint(c.GlassMM)}
	if known {
		key.conditions = conditions.Key()
	}
	if e := b.evaluators[worker][key]; e != nil {
		return e, nil
	}
	setup, err := evaluate.CouponSetup(c, b.desk.Settings().Mixing, b.roster.Glasses)
	if err != nil {
		return nil, err
	}
	if known {
		setup = conditions.Under(setup)
	}
	e, err := evaluate.NewEvaluator(setup)
	if err != nil {
		return nil, err
	}
	b.evaluators[worker][key] = e
	return e, nil
}

// inWords names a unit.
func describeUnit(u study.Unit) string {
	return fmt.Sprintf("coupon %s, pull %d, spot %s", u.Coupon, u.Pull, u.Spot)
}
