package desk

import (
	"context"
	"crypto/sha256"
	"errors"
	"slices"

	"wane/study"
	"wane/study/evaluate"
	"wane/study/store"
)

// fitJob is what one worker evaluates: a unit, or all units of a session if the study corrects by
// sessions.
type fitJob struct {
	session string // empty: the unit by itself
	units   []jobUnit
}

// describe names the job in a message.
func (j *fitJob) describe() string {
	if j.session != "" {
		return "session " + j.session
	}
	return describeUnit(j.units[0].Unit)
}

// stale reports whether one of the units has no fit, or one of other contents.
func (j *fitJob) stale() bool {
	return slices.ContainsFunc(j.units, func(u jobUnit) bool { return u.digest != u.fit })
}

// containsAny reports whether one of the units is of the job.
func (j *fitJob) containsAny(units []study.Unit) bool {
	return slices.ContainsFunc(j.units, func(u jobUnit) bool { return slices.Contains(units, u.Unit) })
}

// digestSession replaces the digest of each unit by one of all units of the session, since its fit depends
// on them.
func (j *fitJob) digestSession() {
	own := make([][32]byte, len(j.units))
	for i := range j.units {
		own[i] = j.units[i].digest
	}
	for i := range j.units {
		j.units[i].digest = evaluate.SessionDigest(own[i], own)
	}
}

// jobUnit is a unit with what decides whether and how it is fitted.
type jobUnit struct {
	study.Unit
	session         string // of its readings, empty if they name none or several
	severalSessions bool   // they come from several
	counted         int    // readings that enter the fit
	held, aside     int    // readings that do not
	overBlank       bool   // the readings are evaluated over those of the blanks
	evaluated       bool   // its fit has values

	before *jobUnit // of a dark blank in the fit of a session: its own baseline, in another session; nil: none

	digest [32]byte // of all that its fit depends on
	fit    [32]byte // the digest of the fit that it has; zero: it has none
}

// notEvaluated returns the fit of a unit that is not evaluated.
func (u *jobUnit) notEvaluated(role study.Role) *study.Fit {
	f := evaluate.NotEvaluated(role, u.Unit)
	if u.severalSessions {
		f.Result.Flags = append(f.Result.Flags, study.FlagSessions)
	} else {
		f.Session = u.session
	}
	return f
}

// jobs returns the jobs that the units make, in the order of their first units.
func (w *fitWorkspace) jobs() []fitJob {
	if w.together {
		return w.sessionJobs()
	}
	var jobs []fitJob
	for i := range w.units {
		jobs = append(jobs, fitJob{units: []jobUnit{w.jobUnit(&w.units[i])}})
	}
	return jobs
}

// sessionJobs returns a job for each session, and one for each unit that belongs to none.
func (w *fitWorkspace) sessionJobs() []fitJob {
	var jobs []fitJob
	bySession := map[string]int{}
	for i := range w.units {
		session := w.units[i].Session
		k, known := bySession[session]
		if session == "" || !known {
			k = len(jobs)
			bySession[session] = k
			jobs = append(jobs, fitJob{session: session})
		}
		jobs[k].units = append(jobs[k].units, w.jobUnit(&w.units[i]))
	}
	for k := range jobs {
		if jobs[k].session != "" {
			w.addBlanksBefore(&jobs[k])
		}
		jobs[k].digestSession()
	}
	return jobs
}

// addBlanksBefore finds, for each dark blank of a session, its own baseline in another one: the blank is judged by it, so that
// all fits of the session depend on it.
func (w *fitWorkspace) addBlanksBefore(job *fitJob) {
	for k := range job.units {
		u := &job.units[k]
		c := w.coupons[u.Coupon]
		if u.Pull <= c.BaselinePull || c.Role != study.Blank {
			continue
		}
		var first *store.Unit
		for i := range w.units {
			o := &w.units[i]
			if o.Coupon == u.Coupon && o.Spot == u.Spot && o.Pull == c.BaselinePull && o.Counted > 0 && !o.Mixed &&
				o.Session != job.session && (first == nil || o.Condition == u.Condition) {
				first = o
			}
		}
		if first != nil {
			before := w.jobUnit(first)
			u.before = &before
			u.digest = sha256.Sum256(append(u.digest[:], before.digest[:]...))
		}
	}
}

// blankBefore returns the reading of a dark blank at its own baseline; nil if it has none that can be evaluated.
func (w *fitWorkspace) blankBefore(worker int, u jobUnit,
	load func(study.Unit) ([]study.Reading, error)) (*evaluate.BlankBefore, error) {
	if u.before == nil {
		return nil, nil
	}
	readings, err := w.readingsToFit(u.before.Unit, u.before.session, load)
	var e *evaluate.Evaluator
	if err == nil && len(readings) > 0 {
		e, err = w.evaluator(worker, u.before.Unit, u.before.session)
	}
	var refused *study.Refusal
	if errors.As(err, &refused) || err == nil && e == nil {
		return nil, nil
	}
	return &evaluate.BlankBefore{Evaluator: e, Readings: readings}, err
}

// jobUnit returns a unit with its digest.
func (w *fitWorkspace) jobUnit(u *store.Unit) jobUnit {
	digest := evaluate.Digest(w.coupons[u.Coupon], w.settings.Mixing, u.Readings, w.roster)
	if c := w.conditionsOf(u.Unit, u.Session); c.Key() != (evaluate.Conditions{}).Key() {
		digest = c.Digest(digest)
	}
	unit := jobUnit{
		Unit: u.Unit, session: u.Session, severalSessions: u.Mixed, counted: u.Counted, held: u.Held, aside: u.Aside,
		overBlank: w.isOverBlank(u.Coupon), evaluated: u.Evaluated, digest: digest, fit: u.Fit,
	}
	unit.digest = w.blankDigest(&unit)
	unit.digest = w.paneDigest(&unit)
	return unit
}

// findEvaluable returns the units of jobs whose fit is up to date and says that the readings could
// not be evaluated, though they can: an earlier version may have noted a read error as a refusal.
func (w *fitWorkspace) findEvaluable(ctx context.Context, workers int, jobs []fitJob) (units []study.Unit, err error) {
	var doubtful []jobUnit
	for _, j := range jobs {
		for _, u := range j.units {
			if u.digest == u.fit && !u.evaluated && u.counted > 0 {
				doubtful = append(doubtful, u)
			}
		}
	}
	try := func(ctx context.Context, worker int, u jobUnit) (can bool, err error) {
		defer study.Catch(describeUnit(u.Unit), &err)
		var refused *study.Refusal
		readings, e, err := w.prepare(ctx, worker, u)
		if err == nil {
			_, err = e.Unit(ctx, w.coupons[u.Coupon].Role, u.Unit, readings)
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

// fitOutcome is the outcome of a job.
type fitOutcome struct {
	fits    []*study.Fit
	refused []error            // of units whose readings could not be fitted
	lost    []study.Unit       // these units
	session string             // that was fitted; empty: none
	results []evaluate.Support // of the session
	notes   []string           // on it
}

// fit evaluates one job. A unit that cannot be fitted has a fit that says so.
func (w *fitWorkspace) fit(ctx context.Context, worker int, job fitJob) (out fitOutcome, err error) {
	defer study.Catch(job.describe(), &err)
	var sessionUnits []evaluate.SessionUnit
	var inSession []jobUnit // in the order of sessionUnits
	for _, u := range job.units {
		coupon := w.coupons[u.Coupon]
		var f *study.Fit
		var readings []study.Reading
		var e *evaluate.Evaluator
		if u.counted > 0 {
			readings, e, err = w.prepare(ctx, worker, u)
		}
		switch {
		case u.counted == 0 || err != nil:
			f = u.notEvaluated(coupon.Role)
		case job.session != "":
			before, err := w.blankBefore(worker, u, func(of study.Unit) ([]study.Reading, error) { return w.loadReadings(ctx, of) })
			if err != nil {
				return out, err
			}
			sessionUnit := evaluate.SessionUnit{Evaluator: e, Coupon: coupon, Unit: u.Unit, Readings: readings,
				Before: before, Standards: w.conditions[job.session].Standards}
			sessionUnits, inSession = append(sessionUnits, sessionUnit), append(inSession, u)
			continue
		default:
			if f, err = e.Unit(ctx, coupon.Role, u.Unit, readings); f != nil && w.together {
				f.Result.Flags = append(f.Result.Flags, study.FlagNoSession)
			}
		}
		if err = out.add(u, f, err); err != nil {
			return out, err
		}
	}
	if len(sessionUnits) == 0 {
		return out, nil
	}
	err = w.fitSession(ctx, worker, job.session, sessionUnits, inSession, &out)
	return out, err
}

// fitSession evaluates the units of a session together.
func (w *fitWorkspace) fitSession(
	ctx context.Context, worker int, session string, sessionUnits []evaluate.SessionUnit, units []jobUnit, out *fitOutcome,
) error {
	done, err := evaluate.Session(ctx, session, sessionUnits, w.fitters[worker], w.innerWorkers)
	if err != nil {
		return err
	}
	out.session, out.results, out.notes = session, done.Support, done.Notes
	for i, f := range done.Fits {
		if err := out.add(units[i], f, done.Refused[i]); err != nil {
			return err
		}
	}
	return nil
}

// add adds the fit of a unit, and the flags that only the desk knows. err is what the fit ended
// with: a refusal of its readings goes to the outcome, any other error is returned.
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
		o.refused, o.lost = append(o.refused, refused.About(describeUnit(u.Unit))), append(o.lost, u.Unit)
	}
	return nil
}
