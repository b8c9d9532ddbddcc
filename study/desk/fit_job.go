package desk

import (
	"context"
	"errors"
	"slices"

	"wane/study"
	"wane/study/evaluate"
)

// fitJob is what is evaluated at once: a unit, or, in a study that corrects by sessions,
// all units of a session.
type fitJob struct {
	session string // empty: the unit by itself
	units   []jobUnit
}

// name names the job in a message.
func (j *fitJob) describe() string {
	if j.session != "" {
		return "session " + j.session
	}
	return describeUnit(j.units[0].Unit)
}

func (j *fitJob) stale() bool {
	return slices.ContainsFunc(j.units, func(u jobUnit) bool { return u.digest != u.fit })
}

// holds reports whether one of the units is of the job.
func (j *fitJob) containsAny(units []study.Unit) bool {
	return len(units) > 0 && slices.ContainsFunc(j.units, func(u jobUnit) bool { return slices.Contains(units, u.Unit) })
}

// digestTogether makes the digest of each unit one of all that the session's fits depend
// on.
func (j *fitJob) digestSession() {
	own := make([][32]byte, len(j.units))
	for i := range j.units {
		own[i] = j.units[i].digest
	}
	for i := range j.units {
		j.units[i].digest = evaluate.SessionDigest(own[i], own)
	}
}

// jobUnit is a unit with the digest that its fit will have and that of the fit it has.
type jobUnit struct {
	study.Unit
	session         string // of its readings, empty if they name none or several
	severalSessions bool   // they come from several
	counted         int    // readings that enter the fit
	held, aside     int    // readings that do not
	overBlank       bool   // the readings are taken over those of the blanks
	evaluated       bool   // the fit it has holds values
	digest, fit     [32]byte
}

// notEvaluated is the fit of the unit if it is not evaluated.
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
func (b *fitWorkspace) jobs() []fitJob {
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
			jobs[k].digestSession()
		}
	}
	return jobs
}

// evaluable returns the units of jobs whose fit is up to date and says that the readings
// could not be evaluated, though they can: a read error may have been taken for that.
func (b *fitWorkspace) findEvaluable(ctx context.Context, workers int, jobs []fitJob) (units []study.Unit, err error) {
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

// fitOutcome is what a job came to: its fits, and what could not be done about them.
type fitOutcome struct {
	fits    []*study.Fit
	refused []error
	session *SessionSupport
}

// fit evaluates one job. A unit that cannot be fitted has a fit that says so.
func (b *fitWorkspace) fit(ctx context.Context, worker int, job fitJob) (out fitOutcome, err error) {
	defer study.Catch(job.describe(), &err)
	together := b.desk.Settings().Correction == study.RouteSession
	var sittings []evaluate.SessionUnit
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
			sittings, seated = append(sittings, evaluate.SessionUnit{Evaluator: e, Coupon: coupon, Unit: u.Unit, Readings: readings}), append(seated, u)
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
	done, err := evaluate.Session(ctx, job.session, sittings, b.innerWorkers)
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
		o.refused = append(o.refused, refused.About(describeUnit(u.Unit)))
	}
	return nil
}
