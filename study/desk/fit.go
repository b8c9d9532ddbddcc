package desk

import (
	"context"
	"errors"
	"fmt"
	"slices"
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
	Looked  Looked  // what guards said of the readings first
	Refused []error // units whose readings could not be fitted, each a *study.Refusal

	// Sessions are what the sessions that were evaluated support, in sentences, where
	// the study corrects by sessions.
	Sessions []SessionSupport
}

// SessionSupport is what one session supports.
type SessionSupport struct {
	Session string
	Support []string
}

// FitOptions say how fits run.
type FitOptions struct {
	Workers  int // spots that are fitted at once; 0: one for each core
	Progress Progress
}

// Fit evaluates the units whose fit is missing or stale: new readings, a changed
// roster or register, a review, or a new version of the model; and those whose fit says
// that they could not be evaluated, though they can. A failure of the study ends it, and
// nothing that was not committed before is kept. Before, the guards look at
// what they have not seen, and after it at what was found. What the register says of a session
// holds for the units all of whose readings name it.
func (d *Desk) Fit(ctx context.Context, opt FitOptions) (*Fitted, error) {
	var err error
	if opt.Workers, err = countWorkers(opt.Workers); err != nil {
		return nil, err
	}
	looked, err := d.guard(ctx, 0)
	if err != nil {
		return nil, err
	}
	out, err := d.fitStale(ctx, opt)
	if err != nil {
		return out, err
	}
	out.Looked = *looked
	return out, d.lookAndFit(ctx, opt.Workers, out)
}

// fitStale evaluates the units whose fit is missing or stale.
func (d *Desk) fitStale(ctx context.Context, opt FitOptions) (*Fitted, error) {
	b, err := d.benchNow(ctx, opt.Workers)
	if err != nil {
		return nil, err
	}
	out := &Fitted{Current: len(b.units)}
	jobs := b.jobs()
	wrong, err := b.evaluable(ctx, opt.Workers, jobs)
	if err != nil {
		return nil, err
	}
	var stale []fitJob
	total := 0
	for _, job := range jobs {
		if job.stale() || job.holds(wrong) {
			stale = append(stale, job)
			total += len(job.units)
		}
	}
	out.Current -= total
	b.inside = max(1, opt.Workers/max(1, len(stale)))
	put := &putter{ctx: context.WithoutCancel(ctx), desk: d, out: out, total: total, progress: opt.Progress, since: time.Now()}
	err = finish(inOrder(ctx, opt.Workers, slices.Values(stale), b.fit, put.add), put.commit)
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
	units      []store.Unit // of the study
	counted    map[study.Unit]int
	coupons    map[string]*study.Coupon
	conditions map[string]evaluate.Conditions     // by session
	evaluators []map[setupKey]*evaluate.Evaluator // by worker
	inside     int                                // goroutines inside one job
	blanks     map[string]*sessionBlanks          // by session, where the study evaluates over the blank
	load       func(context.Context, study.Unit) ([]study.Reading, error)
}

// benchNow makes the bench of the study as it is at one moment.
func (d *Desk) benchNow(ctx context.Context, workers int) (b *bench, err error) {
	err = d.store.View(ctx, func(v *store.View) error {
		roster, err := v.Roster()
		if err != nil {
			return err
		}
		units, err := v.Units()
		if err == nil {
			b, err = d.newBench(roster, units, workers)
		}
		return err
	})
	return b, err
}

// newBench makes the bench of a study with these units. That a unit's coupon has no row is a
// [*study.Failure].
func (d *Desk) newBench(roster *study.Roster, units []store.Unit, workers int) (*bench, error) {
	b := &bench{desk: d, roster: roster, units: units, counted: map[study.Unit]int{}, coupons: couponsByCode(roster), conditions: evaluate.RegisteredConditions(roster), inside: 1, load: d.store.Readings}
	for range workers {
		b.evaluators = append(b.evaluators, map[setupKey]*evaluate.Evaluator{})
	}
	for i := range units {
		u := &units[i]
		if b.coupons[u.Coupon] == nil {
			return nil, d.noRow(u.Coupon)
		}
		b.counted[u.Unit] = u.Counted
	}
	b.seatBlanks()
	return b, nil
}

// noRow is the failure of a study that has readings of a coupon and no row of it.
func (d *Desk) noRow(coupon string) error {
	return d.store.Damaged("coupon", fmt.Sprintf("no row of %s is there, and readings of it are", coupon))
}

// setupKey is what makes two units need the same evaluator. The conditions of sessions of
// which nothing is registered are empty.
type setupKey struct {
	glass, back, mm, conditions string
}

// fitJob is what is evaluated at once: a unit, or, in a study that corrects by sessions,
// all units of a session.
type fitJob struct {
	session string // empty: the unit by itself
	units   []jobUnit
}

// jobUnit is a unit with the digest that its fit will have and that of the fit it has.
type jobUnit struct {
	study.Unit
	session     string // of its readings, empty if they name none or several
	mixed       bool   // they come from several
	counted     int    // readings that enter the fit
	held, aside int    // readings that do not
	overBlank   bool   // the readings are taken over those of the blanks
	evaluated   bool   // the fit it has holds values
	digest, fit [32]byte
}

// notEvaluated is the fit of the unit if it is not evaluated.
func (u *jobUnit) notEvaluated(role study.Role) *study.Fit {
	f := evaluate.NotEvaluated(role, u.Unit)
	if u.mixed {
		f.Result.Flags = append(f.Result.Flags, study.FlagSessions)
	} else {
		f.Session = u.session
	}
	return f
}

// name names the job in a message.
func (j *fitJob) name() string {
	if j.session != "" {
		return "session " + j.session
	}
	return inWords(j.units[0].Unit)
}

func (j *fitJob) stale() bool {
	return slices.ContainsFunc(j.units, func(u jobUnit) bool { return u.digest != u.fit })
}

// holds reports whether one of the units is of the job.
func (j *fitJob) holds(units []study.Unit) bool {
	return len(units) > 0 && slices.ContainsFunc(j.units, func(u jobUnit) bool { return slices.Contains(units, u.Unit) })
}

// evaluable returns the units of jobs whose fit is up to date and says that the readings
// could not be evaluated, though they can: a read error may have been taken for that.
func (b *bench) evaluable(ctx context.Context, workers int, jobs []fitJob) (units []study.Unit, err error) {
	var doubtful []jobUnit
	for _, j := range jobs {
		for _, u := range j.units {
			if u.digest == u.fit && !u.evaluated && u.counted > 0 {
				doubtful = append(doubtful, u)
			}
		}
	}
	try := func(ctx context.Context, worker int, u jobUnit) (can bool, err error) {
		defer study.Catch(inWords(u.Unit), &err)
		var refused *study.Refusal
		readings, e, err := b.prepare(ctx, worker, u)
		if err == nil {
			_, err = e.Unit(ctx, b.coupons[u.Coupon].Role, u.Unit, readings)
		}
		if errors.As(err, &refused) {
			return false, nil
		}
		return err == nil, err
	}
	k := 0
	err = inOrder(ctx, workers, slices.Values(doubtful), try, func(can bool) error {
		if can {
			units = append(units, doubtful[k].Unit)
		}
		k++
		return nil
	})
	return units, err
}

// jobs returns the jobs that the units make, in the order of their first units.
func (b *bench) jobs() []fitJob {
	var jobs []fitJob
	settings, of := b.desk.Settings(), map[string]int{}
	for i := range b.units {
		u := &b.units[i]
		unit := jobUnit{u.Unit, u.Session, u.Mixed, u.Counted, u.Held, u.Aside, b.isOverBlank(u.Coupon), u.Evaluated,
			evaluate.Digest(b.coupons[u.Coupon], settings.Mixing, u.Readings, b.roster.Glasses), u.Fit}
		if c, known := b.conditions[u.Session]; known {
			unit.digest = c.Digest(unit.digest)
		}
		unit.digest = b.blankDigest(&unit)
		if settings.Correction != study.RouteSession {
			jobs = append(jobs, fitJob{units: []jobUnit{unit}})
			continue
		}
		k, known := of[u.Session]
		if u.Session == "" || !known {
			k = len(jobs)
			of[u.Session] = k
			jobs = append(jobs, fitJob{session: u.Session})
		}
		jobs[k].units = append(jobs[k].units, unit)
	}
	if settings.Correction == study.RouteSession {
		for k := range jobs {
			jobs[k].digestTogether()
		}
	}
	return jobs
}

// digestTogether makes the digest of each unit one of all that the session's fits depend
// on.
func (j *fitJob) digestTogether() {
	own := make([][32]byte, len(j.units))
	for i := range j.units {
		own[i] = j.units[i].digest
	}
	for i := range j.units {
		j.units[i].digest = evaluate.SessionDigest(own[i], own)
	}
}

// fitOutcome is what a job came to: its fits, and what could not be done about them.
type fitOutcome struct {
	fits    []*study.Fit
	refused []error
	session *SessionSupport
}

// fit evaluates one job. A unit that cannot be fitted has a fit that says so.
func (b *bench) fit(ctx context.Context, worker int, job fitJob) (out fitOutcome, err error) {
	defer study.Catch(job.name(), &err)
	together := b.desk.Settings().Correction == study.RouteSession
	var sittings []evaluate.Sitting
	var seated []jobUnit
	for _, u := range job.units {
		coupon := b.coupons[u.Coupon]
		if u.counted == 0 {
			if err := out.add(u, u.notEvaluated(coupon.Role), nil); err != nil {
				return out, err
			}
			continue
		}
		readings, e, err := b.prepare(ctx, worker, u)
		switch {
		case err != nil:
			if err := out.add(u, u.notEvaluated(coupon.Role), err); err != nil {
				return out, err
			}
		case together && job.session != "":
			sittings, seated = append(sittings, evaluate.Sitting{Evaluator: e, Coupon: coupon, Unit: u.Unit, Readings: readings}), append(seated, u)
		default:
			f, err := e.Unit(ctx, coupon.Role, u.Unit, readings)
			if f != nil && together {
				f.Result.Flags = append(f.Result.Flags, study.FlagNoSession)
			}
			if err := out.add(u, f, err); err != nil {
				return out, err
			}
		}
	}
	if len(sittings) == 0 {
		return out, nil
	}
	done, err := evaluate.Session(ctx, job.session, sittings, b.inside)
	if err != nil {
		return out, err
	}
	out.session = &SessionSupport{job.session, done.Support}
	for i, f := range done.Fits {
		if err := out.add(seated[i], f, done.Refused[i]); err != nil {
			return out, err
		}
	}
	return out, nil
}

// add takes in the fit of a unit. refused is a refusal of its readings, which stays with
// the outcome; any other error is returned.
func (o *fitOutcome) add(u jobUnit, f *study.Fit, err error) error {
	var refused *study.Refusal
	if err != nil && !errors.As(err, &refused) {
		return err
	}
	f.Digest = u.digest
	if u.overBlank && u.counted > 0 {
		f.Result.Flags = append(f.Result.Flags, study.FlagOverBlank)
	}
	var geometry *evaluate.GeometryError
	if errors.As(err, &geometry) {
		f.Result.Flags = append(f.Result.Flags, study.FlagGeometry+geometry.Geometry)
	}
	if u.held > 0 {
		f.Result.Flags = append(f.Result.Flags, study.FlagHeld)
	}
	if u.aside > 0 {
		f.Result.Flags = append(f.Result.Flags, study.FlagAside)
	}
	o.fits = append(o.fits, f)
	if refused != nil {
		o.refused = append(o.refused, refused.About(inWords(u.Unit)))
	}
	return nil
}

// inWords names a unit.
func inWords(u study.Unit) string {
	return fmt.Sprintf("coupon %s, pull %d, spot %s", u.Coupon, u.Pull, u.Spot)
}

// prepare returns what a unit is fitted from: its readings and its evaluator.
func (b *bench) prepare(ctx context.Context, worker int, u jobUnit) ([]study.Reading, *evaluate.Evaluator, error) {
	readings, err := b.readings(u.Unit, u.session, func(of study.Unit) ([]study.Reading, error) { return b.load(ctx, of) })
	if err != nil {
		return nil, nil, err
	}
	if len(readings) == 0 { // counted when the work began
		return nil, nil, &study.Failure{Fault: inWords(u.Unit) + ": another process has just set its readings aside", Try: tryAgain}
	}
	e, err := b.evaluator(worker, b.coupons[u.Coupon], u.session)
	return readings, e, err
}

const tryAgain = "run it again: what was finished is kept"

func (b *bench) evaluator(worker int, c *study.Coupon, session string) (*evaluate.Evaluator, error) {
	conditions, known := b.conditions[session]
	key := setupKey{glass: c.Glass, back: c.Back, mm: fmt.Sprint(c.GlassMM)}
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

// putter commits fits in batches.
type putter struct {
	ctx      context.Context
	desk     *Desk
	out      *Fitted
	batch    []fitOutcome
	fits     int // in batch
	since    time.Time
	done     int
	total    int
	progress Progress
}

func (p *putter) add(o fitOutcome) error {
	p.batch, p.fits = append(p.batch, o), p.fits+len(o.fits)
	if p.fits < batchFits && time.Since(p.since) < batchTime {
		return nil
	}
	return p.commit()
}

func (p *putter) commit() error {
	entry, stored := p.desk.entry("fit", ""), 0
	err := p.desk.store.Write(p.ctx, entry, func(tx *store.Tx) error {
		for _, o := range p.batch {
			for _, f := range o.fits {
				if err := tx.PutFit(f); err != nil {
					return err
				}
			}
		}
		stored = tx.Fits()
		entry.Summary = fmt.Sprintf("evaluated %d spots", stored)
		return nil
	})
	if err != nil {
		return err
	}
	p.out.Fits += stored
	p.out.Current += p.fits - stored // another process has just evaluated them
	p.done += p.fits
	for _, o := range p.batch {
		p.out.Refused = append(p.out.Refused, o.refused...)
		if o.session != nil {
			p.out.Sessions = append(p.out.Sessions, *o.session)
		}
	}
	p.batch, p.fits, p.since = p.batch[:0], 0, time.Now()
	if p.progress != nil {
		p.progress(p.done, p.total)
	}
	return nil
}
