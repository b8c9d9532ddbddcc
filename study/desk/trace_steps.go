package desk

import (
	"encoding/hex"
	"slices"

	"wane/study"
	"wane/study/evaluate"
	"wane/study/store"
)

// TraceStep is one row of a trace. The kind says which of its fields apply; the others are empty, and
// their numbers null.
type TraceStep struct {
	Kind   string // fit, reading, blank, measurement, coupon, correction; of a file also file, result
	Status string
	study.Unit
	Number                     int64 // in the study
	AngleDeg                   study.Num
	Polarisation, Quantity     string
	Replicate, Mounting        int
	Value                      study.Measure
	ValueUnit, Method, Session string
	Instrument, Reference      string
	File, Picture              TracedFile
	Column                     int
	Heading                    string
	FirstLine, LastLine        int
	Standing                   study.Standing
	HeldFor                    string
	Reviewer, Why              string
	Profile, Stated            string
	ProfileVersion             int
	Certificate                string
	Points                     int
	FirstNM, LastNM            study.Num
	Geometry                   string
	HalfAngleDeg               study.Stated
	State                      study.State
	SolarT, Thickness          study.Measure
	Change, CorrectedChange    study.Measure
	Model, Digest              string
	Lossless                   bool // the film is taken as lossless in the result
	Flags                      []string
	SupersededBy               int64
	Before, After              *MovedReading // of a reading that was moved
	Knew                       []evaluate.Known
	UParts                     []study.UPart // of the uncertainty of solar_T, a fraction; the largest first
	Map                        TracedFile
	Protocol                   string        // the version that the pull remembers
	Origin                     *store.Origin // of a row that came with a merge
	Log                        study.Entry
}

// newTraceStep returns a step in which no number applies.
func newTraceStep(kind string, u study.Unit, log study.Entry) TraceStep {
	none, null := study.NoMeasure(), study.Null()
	return TraceStep{
		Kind: kind, Unit: u, Log: log, AngleDeg: null, Value: none, FirstNM: null, LastNM: null,
		SolarT: none, Thickness: none, Change: none, CorrectedChange: none,
	}
}

// OfPull reports whether the step belongs to a pull.
func (s *TraceStep) OfPull() bool {
	return s.Kind != "file" && s.Kind != "coupon" && s.Kind != "correction"
}

// row returns the row that a filter compares.
func (s *TraceStep) row() study.Row {
	row := study.Row{Coupon: s.Coupon, Spot: s.Spot, Pull: -1, Flags: s.Flags}
	if s.OfPull() {
		row.Pull = int64(s.Pull)
	}
	if s.Session != "" {
		row.Sessions = []string{s.Session}
	}
	return row
}

// row returns the row that a filter compares: the current fit and the sessions of the readings.
func (u *TracedUnit) row() study.Row {
	row := study.Row{Coupon: u.Coupon, Spot: u.Spot, Pull: int64(u.Pull)}
	for i := range u.Readings {
		if s := u.Readings[i].Session; s != "" && !slices.Contains(row.Sessions, s) {
			row.Sessions = append(row.Sessions, s)
		}
	}
	if len(u.Fits) > 0 {
		row.Flags = u.Fits[0].Result.Flags
	}
	return row
}

// Steps returns the steps behind the units, and the measurements, that a sieve lets pass. spots are those
// that the sieve wants, none for all: what was read of the coupon as a whole counts for each spot.
func (t *Traced) Steps(sieve *study.Sieve, spots []string) []TraceStep {
	var steps []TraceStep
	for i := range t.Units {
		u := &t.Units[i]
		if !sieve.Keep(u.row()) {
			continue
		}
		for k := range u.Fits {
			steps = append(steps, u.Fits[k].step())
		}
		for k := range u.Readings {
			steps = append(steps, u.Readings[k].step())
		}
	}
	for i := range t.Measurements {
		s := t.Measurements[i].step()
		row := s.row()
		if row.Spot == "" && len(spots) > 0 {
			row.Spot = spots[0]
		}
		if sieve.Keep(row) {
			steps = append(steps, s)
		}
	}
	if len(steps) == 0 {
		return nil
	}
	steps = append(steps, t.Coupon.step())
	for i := range t.Corrections {
		steps = append(steps, t.Corrections[i].step(t.Coupon.Coupon.Coupon))
	}
	return steps
}

// Steps returns the file, and the steps that came from it and that a sieve lets pass; nil lets all pass.
func (o *Origin) Steps(sieve *study.Sieve) []TraceStep {
	file := newTraceStep("file", study.Unit{}, o.Line)
	file.File = o.File
	var steps []TraceStep
	for _, use := range o.Uses {
		s := file
		s.Status, s.Log = use.Kind, use.Line
		steps = append(steps, s)
	}
	if len(o.Uses) == 0 || len(o.Readings) > 0 {
		steps = append([]TraceStep{file}, steps...)
	}
	for _, s := range o.steps() {
		if sieve == nil || sieve.Keep(s.row()) {
			steps = append(steps, s)
		}
	}
	return steps
}

// steps returns what came from the file.
func (o *Origin) steps() []TraceStep {
	var steps []TraceStep
	for i := range o.Readings {
		steps = append(steps, o.Readings[i].step())
	}
	for i := range o.Measurements {
		steps = append(steps, o.Measurements[i].step())
	}
	for i := range o.Coupons {
		steps = append(steps, o.Coupons[i].step())
	}
	for i := range o.Fits {
		steps = append(steps, o.Fits[i].step())
	}
	for _, r := range o.Results {
		unit := study.Unit{Coupon: r.Coupon, Pull: int(r.Pull), Spot: r.Spot, Condition: r.Condition}
		s := newTraceStep("result", unit, study.Entry{})
		s.Session, s.State, s.Model = r.Session, r.State, r.Model
		s.SolarT, s.Thickness, s.Change, s.CorrectedChange = r.SolarT, r.Thickness, r.Change, r.CorrectedChange
		s.Lossless = r.IsLossless()
		steps = append(steps, s)
	}
	return steps
}

func (c *TracedCoupon) step() TraceStep {
	s := newTraceStep("coupon", study.Unit{Coupon: c.Coupon.Coupon}, c.Line)
	s.Status, s.File, s.FirstLine, s.LastLine = string(c.Role), c.Roster, c.Row, c.Row
	s.Origin = c.Origin
	return s
}

// CountStale counts the steps that are fits which are out of date.
func CountStale(steps []TraceStep) (n int) {
	for i := range steps {
		if steps[i].Status == staleFit {
			n++
		}
	}
	return n
}

// staleFit is the status of a fit that the next fit replaces.
const staleFit = "stale"

func (f *TracedFit) step() TraceStep {
	s := newTraceStep("fit", f.Unit, f.Line)
	switch {
	case f.SupersededBy != 0:
		s.Status = "superseded"
	case f.Empty:
		s.Status = "no readings"
	case f.Stale:
		s.Status = staleFit
	default:
		s.Status = "current"
	}
	r := &f.Result
	s.Knew, s.UParts = f.Knew, f.Errors.Parts(study.OutSolarT)
	s.Number, s.SupersededBy, s.Session, s.Digest = f.Number, f.SupersededBy, f.Session, hex.EncodeToString(f.Digest[:])
	s.State, s.SolarT, s.Thickness, s.Model, s.Flags = r.State, r.SolarT, r.Thickness, r.Model, r.Flags
	s.Lossless, s.Protocol = r.IsLossless(), f.Protocol
	return s
}

func (r *TracedReading) step() TraceStep {
	s := newTraceStep("reading", unitOf(&r.Place), r.Line)
	if r.IsBlank {
		s.Kind = "blank"
	}
	s.Before = r.Before
	if s.After = r.After; r.After != nil {
		s.SupersededBy = r.After.Number
	}
	switch {
	case r.After != nil:
		s.Status = "superseded"
	case r.Standing != study.Counted:
		s.Status = r.Standing.Words()
	case r.InFit:
		s.Status = "fitted"
	default:
		s.Status = "not fitted"
	}
	s.Number, s.AngleDeg, s.Polarisation = r.Number, study.Num(r.AngleDeg), r.Polarisation
	s.Quantity, s.Replicate, s.Mounting = string(r.Quantity), r.Replicate, max(1, r.Mounting)
	s.Session, s.Instrument, s.Reference = r.Session, r.Instrument, r.Reference
	s.Geometry, s.HalfAngleDeg = r.Geometry, r.HalfAngleDeg
	s.File, s.Column, s.Heading, s.FirstLine, s.LastLine = r.File, r.Column, r.Heading, r.FirstLine, r.LastLine
	s.Standing, s.HeldFor = r.Standing, study.HoldWords(r.Holds)
	if n := len(r.Reviews); n > 0 {
		s.Reviewer, s.Why = r.Reviews[n-1].Line.Who, r.Reviews[n-1].Why
	}
	if r.Taking != nil {
		s.Profile, s.ProfileVersion, s.Stated = r.Taking.Profile, r.Taking.Version, r.Taking.Stated
		s.Map = r.Map
	}
	s.Origin, s.Protocol = r.Origin, r.Protocol
	if r.Reading.Reference != "" {
		s.Reference, s.Certificate = r.Reading.Reference, r.Certificate
	}
	s.Points, s.FirstNM, s.LastNM = len(r.NM), study.Num(r.NM[0]), study.Num(r.NM[len(r.NM)-1])
	return s
}

func (m *TracedMeasurement) step() TraceStep {
	unit := study.Unit{Coupon: m.Coupon, Pull: m.Pull, Spot: m.Spot, Condition: m.Condition}
	s := newTraceStep("measurement", unit, m.Entry)
	s.Number, s.Quantity, s.Replicate, s.Method = m.Number, m.Quantity, m.Replicate, m.Method
	s.Value, s.ValueUnit = study.Measure{Value: m.Value, U: m.U}, m.Unit()
	s.File, s.FirstLine, s.LastLine, s.Picture = m.File, m.Line, m.Line, m.Picture
	s.Protocol = m.Protocol
	return s
}
