package main

import (
	"encoding/hex"

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
	pull   int
	spot   string
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
	f.IntVar(&o.pull, "pull", desk.AllPulls, "the pull")
	f.Lookup("pull").DefValue = "all" // as help shows it
	f.StringVar(&o.spot, "spot", "", "the spot (default all)")
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
		if len(args) > 0 || flags.Changed("pull") || flags.Changed("spot") {
			return usagef("leave the coupon, --pull and --spot out, or --export", "--export traces a file, and no coupon can be given with it")
		}
	case len(args) != 1:
		return usagef("name one: wane trace A01 --pull 1, or a file: wane trace --export A01-pull1.csv", "wane trace takes one coupon, not %d", len(args))
	case flags.Changed("pull") && o.pull < 0:
		return usagef("write a pull, counting from 0", "--pull %d is no pull", o.pull)
	}
	return nil
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
		var steps []step
		if o.export != "" {
			origins, err := d.TraceFile(cmd.Context(), o.export)
			if err != nil {
				return err
			}
			for i := range origins {
				steps = append(steps, stepsOfOrigin(&origins[i])...)
			}
		} else {
			traced, err := d.Trace(cmd.Context(), args[0], o.pull, o.spot)
			if err != nil {
				return err
			}
			steps = stepsOfTraced(traced)
		}
		out := columns.open(pageOf(cmd), o.list.format)
		for i := range steps {
			if err := out.write(&steps[i]); err != nil {
				return err
			}
		}
		return out.end()
	})
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

func stepsOfTraced(t *desk.Traced) []step {
	var steps []step
	for i := range t.Units {
		u := &t.Units[i]
		for k := range u.Fits {
			steps = append(steps, stepOfFit(&u.Fits[k]))
		}
		for k := range u.Readings {
			steps = append(steps, stepOfReading(&u.Readings[k]))
		}
	}
	for i := range t.Measurements {
		steps = append(steps, stepOfMeasurement(&t.Measurements[i]))
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
