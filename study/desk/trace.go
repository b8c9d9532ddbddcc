package desk

import (
	"context"
	"encoding/hex"
	"fmt"
	"slices"

	"wane/study"
	"wane/study/ageing"
	"wane/study/evaluate"
	"wane/study/life"
	"wane/study/store"
)

// Traced is the origin of the numbers of a coupon.
type Traced struct {
	Coupon       TracedCoupon
	Units        []TracedUnit        // in the order of pull, spot and condition
	Measurements []TracedMeasurement // by other means, in that order too
	Corrections  []TracedCorrection  // of what is enrolled of the coupon, the first one first
}

// TracedUnit is the origin of the results of one unit.
type TracedUnit struct {
	study.Unit
	Fits     []TracedFit // the newest first, which is the current one; none: not fitted yet
	Readings []TracedReading
}

// TracedFit is a fit and its origin.
type TracedFit struct {
	*study.Fit
	Number       int64 // in the study
	SupersededBy int64 // the number of a newer fit; 0: this is the current one
	// Knew is what it knew beforehand: assumed, or stated by what. Nil where it is stale or superseded, and without values.
	Knew     []evaluate.Known
	Protocol string // that its pull remembers, as damp-heat@1; or empty
	Stale    bool   // the study now says something else than when it was made: to be fitted again
	Empty    bool   // all readings of its unit were moved, so it is not in results
	Line     study.Entry
}

// TracedReading is a reading and where it came from.
type TracedReading struct {
	study.Reading
	Number int64 // in the study
	File   TracedFile

	Standing study.Standing
	Holds    []study.Hold  // of guards
	Reviews  []JudgedBy    // by people, the last one last
	Taking   *study.Taking // how its export was taken in; nil: the study did not keep it then
	Origin   *store.Origin // where it was first, if it came with a merge
	Map      TracedFile    // that the intake was given; none: it was given none, or the study did not keep it then

	Certificate string // by which its values were made absolute, with the day it was issued; empty: none
	IsBlank     bool   // it is one of the blanks that the spot's readings are taken over

	// The reading of the same column that it stands instead of, and the one that stands instead of it; nil: none
	Before, After *MovedReading

	InFit                 bool   // it entered the current fit, which has values
	Instrument, Reference string // of its session; empty if that is not enrolled
	Protocol              string // as of a fit
	Line                  study.Entry
}

// MovedReading is the place of a reading before it was moved, or after.
type MovedReading struct {
	study.Place
	Number int64       // in the study
	Line   study.Entry // of the log, under which it was moved
}

// TracedMeasurement is a measurement and where it came from.
type TracedMeasurement struct {
	study.Measurement
	Number        int64 // in the study
	File, Picture TracedFile
	Protocol      string      // as of a fit
	Entry         study.Entry // the line of the log
}

// TracedFile is a file whose bytes the study keeps. Without a name it is none.
type TracedFile struct {
	Name, SHA256 string // the SHA-256 in hexadecimal
	Bytes        int64
}

// AllPulls stands for any pull in [Desk.Trace].
const AllPulls = -1

// Trace returns the origin of the numbers of a coupon: at one pull or at AllPulls, of one spot or, with an
// empty spot, of all. A coupon, pull or spot that is not there is refused.
func (d *Desk) Trace(ctx context.Context, coupon string, pull int, spot string) (*Traced, error) {
	var out *Traced
	err := d.store.View(ctx, func(v *store.View) error {
		t, err := d.newTracer(v)
		if err != nil {
			return err
		}
		if t.workspace.coupons[coupon] == nil {
			return notEnrolled(t.workspace.roster, coupon)
		}
		out, err = t.coupon(coupon, func(u study.Unit) bool {
			return (pull == AllPulls || u.Pull == pull) && (spot == "" || u.Spot == spot)
		})
		if err != nil {
			return err
		}
		out.Corrections, err = t.corrections(out)
		return err
	})
	if err != nil {
		return nil, err
	}
	if len(out.Units)+len(out.Measurements) == 0 {
		what := "coupon " + coupon
		if pull != AllPulls {
			what += fmt.Sprintf(" at pull %d", pull)
		}
		if spot != "" {
			what += ", spot " + spot
		}
		return nil, &study.Refusal{Fault: "nothing was read of " + what,
			Try: "take its exports in: wane intake --map map.csv"}
	}
	return out, nil
}

// tracer collects from one moment of the study, and keeps what several steps share.
type tracer struct {
	workspace *fitWorkspace
	lives     *life.Lives
	view      *store.View
	bridges   []ageing.Bridge // between instruments, for results
	units     map[study.Unit]jobUnit
	sessions  map[string]*study.Session
	files     map[string]store.Kept[store.KeptFile] // by SHA-256
	standings map[int64]store.Judged
	log       map[int64]study.Entry
	given     givenIndex
}

func (d *Desk) newTracer(v *store.View) (*tracer, error) {
	roster, err := v.Roster()
	if err != nil {
		return nil, err
	}
	units, err := v.Units()
	if err != nil {
		return nil, err
	}
	files, err := v.Files()
	if err != nil {
		return nil, err
	}
	standings, err := v.Standings()
	if err != nil {
		return nil, err
	}
	w, err := d.newWorkspace(roster, units, 1)
	if err != nil {
		return nil, err
	}
	t := &tracer{
		standings: standings, workspace: w, lives: life.New(roster), view: v, units: map[study.Unit]jobUnit{},
		sessions: map[string]*study.Session{},
		files:    map[string]store.Kept[store.KeptFile]{}, log: map[int64]study.Entry{},
	}
	for _, j := range t.workspace.jobs() {
		for _, u := range j.units {
			t.units[u.Unit] = u
		}
	}
	for i := range roster.Sessions {
		t.sessions[roster.Sessions[i].Session] = &roster.Sessions[i]
	}
	for _, f := range files {
		t.files[hex.EncodeToString(f.Row.SHA256[:])] = f
	}
	return t, nil
}

// coupon collects the wanted units of a coupon. A measurement of the coupon as a whole belongs to each of
// its spots.
func (t *tracer) coupon(code string, wanted func(study.Unit) bool) (*Traced, error) {
	enrolled, err := t.enrolment(code)
	if err != nil {
		return nil, err
	}
	out, at := &Traced{Coupon: enrolled}, map[study.Unit]int{}
	unit := func(u study.Unit) *TracedUnit {
		i, known := at[u]
		if !known {
			i = len(out.Units)
			at[u] = i
			out.Units = append(out.Units, TracedUnit{Unit: u})
		}
		return &out.Units[i]
	}
	err = t.view.AllFitsOf(code, func(k store.KeptFit) error {
		if !wanted(k.Row.Unit) {
			return nil
		}
		f, err := t.fit(k)
		u := unit(k.Row.Unit)
		u.Fits = append(u.Fits, f)
		return err
	})
	if err != nil {
		return nil, err
	}
	err = t.view.AllReadingsOf(code, func(k store.KeptReading) error {
		of := unitOf(&k.Row.Place)
		if !wanted(of) {
			return nil
		}
		r, err := t.reading(k)
		u := unit(of)
		if len(u.Fits) > 0 {
			r.InFit = r.isInFit(&u.Fits[0])
		}
		u.Readings = append(u.Readings, r)
		return err
	})
	if err != nil {
		return nil, err
	}
	sortUnits(out.Units)
	for i := range out.Units {
		if err := t.addBlanks(&out.Units[i]); err != nil {
			return nil, err
		}
	}
	return out, t.view.MeasurementsOf(code, func(k store.Kept[study.Measurement]) error {
		of := study.Unit{Coupon: code, Pull: k.Row.Pull, Spot: k.Row.Spot, Condition: k.Row.Condition}
		whole := false
		if of.Spot == "" {
			for _, u := range out.Units {
				whole = whole || u.Pull == of.Pull
			}
		}
		if !wanted(of) && !whole {
			return nil
		}
		m, err := t.measurement(k)
		out.Measurements = append(out.Measurements, m)
		return err
	})
}

// isInFit reports whether the reading entered a fit that is the current one and has values.
func (r *TracedReading) isInFit(f *TracedFit) bool {
	return f.SupersededBy == 0 && r.After == nil && !slices.Contains(f.Result.Flags, study.FlagNotEvaluated) && r.countedBy(f.Line.Number)
}

// countedBy reports whether the reading counted under a line of the log, and does so now.
func (r *TracedReading) countedBy(line int64) bool {
	n := len(r.Reviews)
	return r.Standing == study.Counted && r.Line.Number < line && (n == 0 || r.Reviews[n-1].Line.Number < line)
}

// addBlanks adds the blanks that the readings of a unit are taken over, if they are.
func (t *tracer) addBlanks(u *TracedUnit) error {
	of := t.units[u.Unit]
	s := t.workspace.blanks[of.session]
	if !of.overBlank || s == nil {
		return nil
	}
	var own []study.Reading
	for i := range u.Readings {
		own = append(own, u.Readings[i].Reading)
	}
	for _, blank := range s.units {
		err := t.view.ReadingsOf(blank.Coupon, func(k store.Kept[study.Reading]) error {
			if unitOf(&k.Row.Place) != blank || !slices.ContainsFunc(own, func(r study.Reading) bool {
				return r.AngleDeg == k.Row.AngleDeg && r.Polarisation == k.Row.Polarisation
			}) {
				return nil
			}
			r, err := t.reading(store.KeptReading{Kept: k})
			r.IsBlank = true
			r.InFit = len(u.Fits) > 0 && r.isInFit(&u.Fits[0])
			u.Readings = append(u.Readings, r)
			return err
		})
		if err != nil {
			return err
		}
	}
	return nil
}

func unitOf(p *study.Place) study.Unit {
	return study.Unit{Coupon: p.Coupon, Pull: p.Pull, Spot: p.Spot, Condition: p.Condition}
}

func (t *tracer) fit(k store.KeptFit) (TracedFit, error) {
	line, err := t.line(k.Line)
	u, read := t.units[k.Row.Unit]
	f := TracedFit{Fit: k.Row, Number: k.Number, SupersededBy: k.SupersededBy, Line: line,
		Protocol: t.protocolAt(k.Row.Coupon, k.Row.Pull), Empty: !read && k.SupersededBy == 0,
		Stale: read && k.SupersededBy == 0 && u.digest != k.Row.Digest}
	evaluated := !slices.Contains(k.Row.Result.Flags, study.FlagNotEvaluated)
	if err != nil || k.SupersededBy != 0 || f.Stale || f.Empty || !evaluated {
		return f, err
	}
	f.Knew, err = t.workspace.knowledge(k.Row.Unit, u.session)
	return f, err
}

func (t *tracer) reading(k store.KeptReading) (TracedReading, error) {
	out := TracedReading{Reading: k.Row, Number: k.Number, File: t.file(k.Row.Export),
		Protocol: t.protocolAt(k.Row.Coupon, k.Row.Pull)}
	if s := t.sessions[k.Row.Session]; s != nil {
		out.Instrument, out.Reference = s.Instrument, s.Reference
	}
	judged := t.standings[k.Number]
	reviews, err := reviewsOf(judged, t.line)
	if err != nil {
		return out, err
	}
	out.Standing, out.Holds, out.Reviews = judged.Standing, holdsOf(judged), reviews
	taking, err := t.view.TakingOf(k.Number)
	if err != nil {
		return out, err
	}
	if taking != nil {
		out.Taking = &taking.Row
		if out.Map, err = t.given.mapOf(t.view, taking.Line); err != nil {
			return out, err
		}
	}
	if r := t.workspace.roster.ReferenceOn(k.Row.Reference, k.Row.Issued); r != nil {
		out.Certificate = r.Certificate + ", issued " + r.Issued
	}
	if out.Line, err = t.line(k.Line); err != nil {
		return out, err
	}
	if out.Origin, err = t.view.Origin("reading", k.Number); err != nil {
		return out, err
	}
	return out, t.addMoves(&out, k.SupersededBy)
}

// addMoves adds where a reading was before, and where it is instead.
func (t *tracer) addMoves(r *TracedReading, supersededBy int64) error {
	before, err := t.view.InsteadOf(r.Number)
	if err != nil {
		return err
	}
	if before != nil {
		r.Before = &MovedReading{before.Row, before.Number, r.Line}
	}
	if supersededBy == 0 {
		return nil
	}
	after, err := t.view.Instead(r.Number)
	if err != nil || after == nil {
		return err
	}
	r.After = &MovedReading{Place: after.Row, Number: after.Number}
	r.After.Line, err = t.line(after.Line)
	return err
}

func (t *tracer) measurement(k store.Kept[study.Measurement]) (TracedMeasurement, error) {
	line, err := t.line(k.Line)
	return TracedMeasurement{
		Measurement: k.Row, Number: k.Number, File: t.file(k.Row.Sheet), Picture: t.file(k.Row.Picture), Entry: line,
		Protocol: t.protocolAt(k.Row.Coupon, k.Row.Pull),
	}, err
}

// protocolAt returns the version of the protocol that a pull of a coupon remembers; empty: none.
func (t *tracer) protocolAt(coupon string, pull int) string {
	if l := t.lives.Of(coupon); l != nil {
		for _, p := range l.Plan() {
			if p.Pull == pull {
				return p.Protocol
			}
		}
	}
	return ""
}

// file returns the file with this SHA-256, none if it is empty.
func (t *tracer) file(sum string) TracedFile {
	if sum == "" {
		return TracedFile{}
	}
	f := t.files[sum].Row
	return TracedFile{f.Name, sum, f.Size}
}

func (t *tracer) line(number int64) (study.Entry, error) {
	if e, known := t.log[number]; known {
		return e, nil
	}
	e, err := t.view.Line(number)
	if err == nil {
		t.log[number] = e
	}
	return e, err
}
