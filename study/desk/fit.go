package desk

import (
	"context"
	"errors"
	"fmt"
	"time"

	"wane/study"
	"wane/study/evaluate"
	"wane/study/store"
)

// Fits are committed together, batchFits at a time or what is there after
// batchTime.
const (
	batchFits = 500
	batchTime = time.Second
)

// Fitted is what fit did.
type Fitted struct {
	Fits    int     // new
	Current int     // units whose fit was up to date
	Refused []error // units whose readings could not be fitted, each a *study.Refusal
}

// FitOptions say how fits run.
type FitOptions struct {
	Workers  int // at least 1
	Progress Progress
}

// Fit evaluates the units whose fit is missing or stale: new readings, a changed
// roster or a new version of the model.
func (d *Desk) Fit(ctx context.Context, opt FitOptions) (*Fitted, error) {
	roster, err := d.store.Roster(ctx)
	if err != nil {
		return nil, err
	}
	units, err := d.store.Units(ctx)
	if err != nil {
		return nil, err
	}
	b := d.newBench(roster, opt.Workers)
	var stale []fitJob
	for i := range units {
		if job := b.job(&units[i]); job.digest != units[i].Fit {
			stale = append(stale, job)
		}
	}
	out := &Fitted{Current: len(units) - len(stale)}
	put := &putter{ctx: context.WithoutCancel(ctx), desk: d, out: out, total: len(stale), progress: opt.Progress, since: time.Now()}
	err = finish(inOrder(ctx, opt.Workers, stale, b.fit, put.add), put.commit)
	return out, err
}

func couponsByCode(r *study.Roster) map[string]*study.Coupon {
	coupons := map[string]*study.Coupon{}
	for i := range r.Coupons {
		coupons[r.Coupons[i].Coupon] = &r.Coupons[i]
	}
	return coupons
}

// bench is where units are evaluated: what the workers share, and each worker's
// evaluators.
type bench struct {
	desk       *Desk
	roster     *study.Roster
	coupons    map[string]*study.Coupon
	evaluators []map[setupKey]*evaluate.Evaluator // by worker
}

func (d *Desk) newBench(roster *study.Roster, workers int) *bench {
	b := &bench{desk: d, roster: roster, coupons: couponsByCode(roster)}
	for range workers {
		b.evaluators = append(b.evaluators, map[setupKey]*evaluate.Evaluator{})
	}
	return b
}

// setupKey is what makes two coupons need the same evaluator.
type setupKey struct {
	glass, back, mm string
}

// fitJob is a unit to be evaluated, and the digest that its fit will have.
type fitJob struct {
	unit   study.Unit
	digest [32]byte
}

func (b *bench) job(u *store.Unit) fitJob {
	return fitJob{u.Unit, evaluate.Digest(b.coupons[u.Coupon], b.desk.Settings().Mixing, u.Readings, b.roster.Glasses)}
}

// fitOutcome is a fit with what could not be done about it.
type fitOutcome struct {
	fit     *study.Fit
	refused error
}

// fit evaluates one unit. A unit that cannot be fitted has a fit that says so.
func (b *bench) fit(ctx context.Context, worker int, job fitJob) (fitOutcome, error) {
	coupon := b.coupons[job.unit.Coupon]
	readings, err := b.desk.store.Readings(ctx, job.unit)
	if err != nil {
		return fitOutcome{}, err
	}
	var f *study.Fit
	e, err := b.evaluator(worker, coupon)
	if err == nil {
		f, err = e.Unit(ctx, coupon.Role, job.unit, readings)
	} else {
		f = evaluate.NotEvaluated(coupon.Role, job.unit)
	}
	var refused *study.Refusal
	if err != nil && !errors.As(err, &refused) {
		return fitOutcome{}, err
	}
	f.Digest = job.digest
	if refused != nil {
		u := job.unit
		refused.Fault = fmt.Sprintf("coupon %s, pull %d, spot %s: %s", u.Coupon, u.Pull, u.Spot, refused.Fault)
		return fitOutcome{f, refused}, nil
	}
	return fitOutcome{f, nil}, nil
}

func (b *bench) evaluator(worker int, c *study.Coupon) (*evaluate.Evaluator, error) {
	key := setupKey{c.Glass, c.Back, fmt.Sprint(c.GlassMM)}
	if e := b.evaluators[worker][key]; e != nil {
		return e, nil
	}
	setup, err := evaluate.CouponSetup(c, b.desk.Settings().Mixing, b.roster.Glasses)
	if err != nil {
		return nil, err
	}
	e, err := evaluate.NewEvaluator(setup)
	if err != nil {
		return nil, err
	}
	b.evaluators[worker][key] = e
	return e, nil
}

// putter commits fits in batches.
type putter struct {
	ctx      context.Context
	desk     *Desk
	out      *Fitted
	batch    []fitOutcome
	since    time.Time
	total    int
	progress Progress
}

func (p *putter) add(o fitOutcome) error {
	p.batch = append(p.batch, o)
	if len(p.batch) < batchFits && time.Since(p.since) < batchTime {
		return nil
	}
	return p.commit()
}

func (p *putter) commit() error {
	entry := p.desk.entry("fit", fmt.Sprintf("evaluated %d spots", len(p.batch)))
	err := p.desk.store.Write(p.ctx, entry, func(tx *store.Tx) error {
		for _, o := range p.batch {
			if err := tx.PutFit(o.fit); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	for _, o := range p.batch {
		p.out.Fits++
		if o.refused != nil {
			p.out.Refused = append(p.out.Refused, o.refused)
		}
	}
	p.batch, p.since = p.batch[:0], time.Now()
	if p.progress != nil {
		p.progress(p.out.Fits, p.total)
	}
	return nil
}
