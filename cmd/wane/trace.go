package main

import (
	"encoding/hex"
	"fmt"

	"github.com/spf13/cobra"

	"wane/study"
	"wane/study/desk"
)

const traceLong = `Say what stands behind the numbers of a coupon: each fit, current or superseded, and
each spectrum that went into it, with the export, its SHA-256, column and lines, what
was stated of it and by which profile, the line of the log under which it came, when, by
whom and by which program, what guards and reviewers say of it; and what other
instruments read.

With --export, the other way round: all that came from an export, a table of
measurements or a picture, named as it was taken in or by eight digits or more of its
SHA-256: spectra, measurements, coupons, fits, and the rows of results that would be
otherwise without it, so also those compared with it or corrected by it.
`

type traceOptions struct {
	study  studyOptions
	list   listOptions
	filter filterOptions
	export string
}

func newTraceCommand() *cobra.Command {
	o := &traceOptions{}
	cmd := &cobra.Command{
		Use: "trace [COUPON]", Short: "what stands behind a number, or what came from an export", Long: traceLong + columnsHelp(stepColumns) + exitCodes,
		Example: "  wane trace A01 --pull 1 --spot 1\n  wane trace --export A01-pull1.csv --format json",
		Args:    cobra.ArbitraryArgs,
		RunE:    func(cmd *cobra.Command, args []string) error { return runTrace(cmd, o, args) },
	}
	o.study.bind(cmd)
	bindListing(cmd, &o.list, stepColumns)
	f := cmd.Flags()
	o.filter.bind(cmd, &o.study, "rows", "coupon", "pull", "spot", "session", "flagged")
	f.Lookup("coupon").Usage = "with --export: only rows of this coupon; repeatable"
	o.study.completeArg(cmd, func(c *desk.Codes) []string { return c.Coupons })
	f.StringVar(&o.export, "export", "", "what came from this file: its name, or the beginning of its SHA-256")
	return cmd
}

func (o *traceOptions) check(cmd *cobra.Command, args []string) error {
	if err := o.list.check(cmd); err != nil {
		return err
	}
	flags := cmd.Flags()
	switch {
	case flags.Changed("export"):
		if len(args) > 0 {
			return usagef("write the coupon as --coupon, or leave --export out", "--export traces a file, and no coupon can be given with it")
		}
	case len(args) != 1:
		return usagef("name one: wane trace A01 --pull 1, or a file: wane trace --export A01-pull1.csv", "wane trace takes one coupon, not %d", len(args))
	case flags.Changed("coupon"):
		return usagef("leave --coupon out: wane trace "+quotedWord(args[0]), "--coupon is for --export, and the coupon is named already")
	}
	return o.filter.check(cmd)
}

func runTrace(cmd *cobra.Command, o *traceOptions, args []string) error {
	if err := o.check(cmd, args); err != nil {
		return err
	}
	columns, err := stepColumns.choose(o.list.format, o.list.named)
	if err != nil {
		return err
	}
	return o.study.reading(cmd.Context(), func(d *desk.Desk) error {
		sieve := study.NewSieve(o.filter.of)
		steps, err := o.steps(cmd, d, args, sieve)
		if err != nil {
			return err
		}
		out := columns.open(pageOf(cmd), o.list.format)
		for i := range steps {
			if err := out.write(&steps[i]); err != nil {
				return err
			}
		}
		if err := out.end(); err != nil {
			return err
		}
		return sayMissed(cmd.ErrOrStderr(), sieve)
	})
}

// steps are the rows that a sieve lets pass.
func (o *traceOptions) steps(cmd *cobra.Command, d *desk.Desk, args []string, sieve *study.Sieve) (steps []step, err error) {
	if o.export == "" {
		traced, err := d.Trace(cmd.Context(), args[0], desk.AllPulls, "")
		if err != nil {
			return nil, err
		}
		steps = stepsOfTraced(traced, sieve, o.filter.of.Spots)
		if fault, there := missedWords(sieve); fault != "" {
			return nil, &study.Refusal{Fault: fmt.Sprintf("coupon %s: %s", study.Shown(args[0]), fault), Try: there}
		}
		return steps, nil
	}
	origins, err := d.TraceFile(cmd.Context(), o.export)
	for i := range origins {
		all := stepsOfOrigin(&origins[i])
		steps = append(steps, all[0]) // the file itself
		for _, s := range all[1:] {
			if o.filter.of.IsZero() || sieve.Keep(s.row()) {
				steps = append(steps, s)
			}
		}
	}
	return steps, err
}

// row is what a filter looks at of a step.
func (s *step) row() study.Row {
	row := study.Row{Coupon: s.Coupon, Spot: s.Spot, Pull: -1, Flags: s.flags}
	if s.ofPull() {
		row.Pull = int64(s.Pull)
	}
	if s.session != "" {
		row.Sessions = []string{s.session}
	}
	return row
}

// rowOfUnit is what a filter looks at of a unit: its current fit and the sessions of its readings.
func rowOfUnit(u *desk.TracedUnit) study.Row {
	row := study.Row{Coupon: u.Coupon, Spot: u.Spot, Pull: int64(u.Pull)}
	for i := range u.Readings {
		if s := u.Readings[i].Session; s != "" {
			row.Sessions = addOnce(row.Sessions, s)
		}
	}
	if len(u.Fits) > 0 {
		row.Flags = u.Fits[0].Result.Flags
	}
	return row
}

// step is one row of a trace. Which of its fields apply depends on the kind; the others
// are zero, and numbers null.
type step struct {
	kind, status string
	study.Unit
	number                           int64
	angle                            study.Num
	polarisation, quantity           string
	replicate                        int
	value                            study.Measure
	unit, method, session            string
	instrument, reference            string
	file, picture                    desk.TracedFile
	column                           int
	heading                          string
	line, lastLine                   int
	standing, reason                 string
	reviewer, why                    string
	profile, stated                  string
	version                          int
	certificate                      string
	points                           int
	firstNM, lastNM                  study.Num
	geometry                         string
	state                            study.State
	solarT, change, corrected, thick study.Measure
	model, digest                    string
	flags                            []string
	superseded                       int64
	log                              study.Entry
}

// newStep returns a step in which no number applies yet.
func newStep(kind string, u study.Unit, log study.Entry) step {
	none, null := study.NoMeasure(), study.Null()
	return step{kind: kind, Unit: u, log: log, angle: null, value: none, firstNM: null, lastNM: null, solarT: none, change: none, corrected: none, thick: none}
}

// stepsOfTraced are the steps behind the units, and of the measurements, that a sieve lets pass;
// spots are those that it wants, none for all.
func stepsOfTraced(t *desk.Traced, sieve *study.Sieve, spots []string) []step {
	var steps []step
	for i := range t.Units {
		u := &t.Units[i]
		if !sieve.Keep(rowOfUnit(u)) {
			continue
		}
		for k := range u.Fits {
			steps = append(steps, stepOfFit(&u.Fits[k]))
		}
		for k := range u.Readings {
			steps = append(steps, stepOfReading(&u.Readings[k]))
		}
	}
	for i := range t.Measurements {
		s := stepOfMeasurement(&t.Measurements[i])
		row := s.row()
		if row.Spot == "" && len(spots) > 0 { // what was read of the coupon as a whole is of each spot
			row.Spot = spots[0]
		}
		if sieve.Keep(row) {
			steps = append(steps, s)
		}
	}
	return steps
}

func stepsOfOrigin(o *desk.Origin) []step {
	first := newStep("file", study.Unit{}, o.Line)
	first.file = o.File
	steps := []step{first}
	for i := range o.Readings {
		steps = append(steps, stepOfReading(&o.Readings[i]))
	}
	for i := range o.Measurements {
		steps = append(steps, stepOfMeasurement(&o.Measurements[i]))
	}
	for _, c := range o.Coupons {
		s := newStep("coupon", study.Unit{Coupon: c.Coupon.Coupon}, c.Line)
		s.status = string(c.Role)
		steps = append(steps, s)
	}
	for i := range o.Fits {
		steps = append(steps, stepOfFit(&o.Fits[i]))
	}
	for _, r := range o.Results {
		s := newStep("result", study.Unit{Coupon: r.Coupon, Pull: int(r.Pull), Spot: r.Spot, Condition: r.Condition}, study.Entry{})
		s.session, s.state, s.solarT, s.change, s.corrected, s.thick, s.model = r.Session, r.State, r.SolarT, r.Change, r.CorrectedChange, r.Thickness, r.Model
		steps = append(steps, s)
	}
	return steps
}

func stepOfFit(f *desk.TracedFit) step {
	s := newStep("fit", f.Unit, f.Line)
	switch s.status = "current"; {
	case f.SupersededBy != 0:
		s.status = "superseded"
	case f.Stale:
		s.status = "stale"
	}
	r := &f.Result
	s.number, s.superseded, s.session, s.digest = f.Number, f.SupersededBy, f.Session, hex.EncodeToString(f.Digest[:])
	s.state, s.solarT, s.thick, s.model, s.flags = r.State, r.SolarT, r.Thickness, r.Model, r.Flags
	return s
}

func stepOfReading(r *desk.TracedReading) step {
	s := newStep("reading", study.Unit{Coupon: r.Coupon, Pull: r.Pull, Spot: r.Spot, Condition: r.Condition}, r.Line)
	if s.status = "not fitted"; r.InFit {
		s.status = "fitted"
	}
	s.number, s.angle, s.polarisation, s.quantity, s.replicate = r.Number, study.Num(r.AngleDeg), r.Polarisation, string(r.Quantity), r.Replicate
	s.session, s.instrument, s.reference, s.geometry = r.Session, r.Instrument, r.Reference, r.Geometry
	s.file, s.column, s.heading, s.line, s.lastLine = r.File, r.Column, r.Heading, r.FirstLine, r.LastLine
	s.standing, s.reason = string(r.Standing), reasonWords(r.Holds)
	if r.IsBlank {
		s.kind = "blank"
	}
	if r.Standing != study.Counted {
		s.status = standingWord(r.Standing)
	}
	if n := len(r.Reviews); n > 0 {
		s.reviewer, s.why = r.Reviews[n-1].Line.Who, r.Reviews[n-1].Why
	}
	if r.Taking != nil {
		s.profile, s.version, s.stated = r.Taking.Profile, r.Taking.Version, r.Taking.Stated
	}
	if r.Reading.Reference != "" {
		s.reference, s.certificate = r.Reading.Reference, r.Certificate
	}
	s.points, s.firstNM, s.lastNM = len(r.NM), study.Num(r.NM[0]), study.Num(r.NM[len(r.NM)-1])
	return s
}

func stepOfMeasurement(m *desk.TracedMeasurement) step {
	s := newStep("measurement", study.Unit{Coupon: m.Coupon, Pull: m.Pull, Spot: m.Spot, Condition: m.Condition}, m.Entry)
	s.number, s.quantity, s.replicate, s.method = m.Number, m.Quantity, m.Replicate, m.Method
	s.value, s.unit = study.Measure{Value: m.Value, U: m.U}, m.Unit()
	s.file, s.line, s.lastLine, s.picture = m.File, m.Line, m.Line, m.Picture
	return s
}
