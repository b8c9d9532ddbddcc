package main

import (
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"wane/study"
	"wane/study/desk"
	"wane/study/guard"
)

const checkLong = `Check whether each session can be trusted, by the check standards that were read in it. There
is one row for each standard, angle and polarisation, and then a verdict on each session.

Until an instrument has 20 sessions in control, a value must lie within 2u of its certificate
of that day; these verdicts are provisional. The values of the 20 sessions then make a chart
of individuals (sigma is the mean moving range divided by 1.128), and later values must lie
within its limits; so must their EWMA (weight 0.2). Later sessions do not change the limits
or earlier verdicts. The limits are so wide that an instrument that does not change is called
out of control in 5 % of runs of 20 sessions. A chart belongs to one instrument. It starts
again when the lamp or the detector is changed, after a service, and with another reference
or another certificate of the reference.

The verdicts on a value are: in control, out of limits, expired certificate, no certificate,
no reading. A session is trusted if it has a reading, all its values are in control, its
reference has a valid certificate, and no guard holds one of its readings. CSV and JSON have
all columns, with the verdict on the session in each row. A session that is not trusted is a
finding, not a failure: the exit code is 0.

--session and --flagged (sessions that are not trusted) choose sessions. --standard chooses
rows. --coupon is only for --placement and --gauge: a check standard is not a coupon.
`

type checkOptions struct {
	study  studyOptions
	want   desk.CheckOptions
	list   listOptions
	filter filterOptions
	all    int // sessions of the study, or of --session

	placement placementOptions
	gauge     gaugeOptions
}

func newCheckCommand() *cobra.Command {
	o := &checkOptions{}
	cmd := &cobra.Command{
		Use: "check", Short: "whether sessions can be trusted, by their check standards",
		Long: checkLong + checkPlacementLong + checkGaugeLong + columnsHelp(checkColumns) + exitCodes,
		Example: "  wane check\n  wane check --session 2031-05-a\n  wane check --standard TILE-550 --format csv\n" +
			"  wane check --placement --coupon B1 --session 2031-05-a\n  wane check --gauge --coupon B1 --coupon E1",
		Args: exactly(0, "wane check looks at the whole study; --session and --standard narrow it"),
		RunE: func(cmd *cobra.Command, args []string) error { return runCheck(cmd, o) },
	}
	o.study.bind(cmd)
	bindListing(cmd, &o.list, checkColumns)
	o.filter.bind(cmd, &o.study, "sessions", "session", "flagged")
	cmd.Flags().Lookup("session").Usage = "only this session; repeatable"
	cmd.Flags().Lookup("flagged").Usage = "only sessions that are not trusted"
	cmd.Flags().StringVar(&o.want.Standard, "standard", "",
		"only rows of this check standard; the verdict on the session still counts all")
	o.study.completeFlag(cmd, "standard", func(c *desk.Codes) []string { return c.Standards })
	o.placement.bind(cmd, &o.study)
	o.gauge.bind(cmd)
	return cmd
}

func runCheck(cmd *cobra.Command, o *checkOptions) error {
	if err := o.list.check(cmd); err != nil {
		return err
	}
	if err := o.filter.check(cmd); err != nil {
		return err
	}
	if err := o.placement.check(cmd, o.filter.of.Sessions); err != nil {
		return err
	}
	if err := o.gauge.check(cmd, o.placement.coupons); err != nil {
		return err
	}
	if o.gauge.asked {
		return runGauge(cmd, o)
	}
	if o.placement.asked {
		return runPlacement(cmd, o)
	}
	columns, err := checkColumns.Choose(o.list.format, o.list.named)
	if err != nil {
		return err
	}
	return o.study.reading(cmd.Context(), func(d *desk.Desk) error {
		sessions, err := o.sessions(cmd, d)
		if err != nil {
			return err
		}
		if o.list.format == "table" && len(o.list.named) == 0 && (len(sessions) > 0 || o.all == 0) {
			return checkTables(pageOf(cmd), sessions)
		}
		out := openRows(columns, pageOf(cmd), o.list.format)
		for _, r := range checkRows(sessions) {
			if err := out.write(r); err != nil {
				return err
			}
		}
		return out.end()
	})
}

// sessions are those that are asked for.
func (o *checkOptions) sessions(cmd *cobra.Command, d *desk.Desk) ([]desk.SessionCheck, error) {
	want := o.want
	if err := d.CheckCodes(cmd.Context(), o.filter.of, desk.Moment{}); err != nil {
		return nil, err
	}
	if len(o.filter.of.Sessions) == 1 {
		want.Session = o.filter.of.Sessions[0]
	}
	all, err := d.Check(cmd.Context(), want)
	o.all = len(all)
	if err != nil || o.filter.of.IsZero() {
		return all, err
	}
	sieve := study.NewSieve(o.filter.of)
	kept := slices.DeleteFunc(all, func(s desk.SessionCheck) bool {
		row := study.Row{Pull: -1, Sessions: []string{s.Session.Session}}
		if !s.Trust {
			row.Flags = []string{study.FlagSessionNotTrusted}
		}
		return !sieve.Keep(row)
	})
	return kept, sayMissed(cmd.ErrOrStderr(), sieve)
}

// ruleWords says what a reading was held against.
func ruleWords(c *desk.StandardCheck) string {
	if c.Provisional {
		return c.Rule + ", provisional"
	}
	return dash(c.Rule)
}

func trustWords(s *desk.SessionCheck) string {
	if s.Trust {
		return trusted
	}
	return notToTrust
}

// The verdicts on a session.
const trusted, notToTrust = "trust", "do not trust"

// changeWords says what happened to the instrument since the session before.
func changeWords(events []study.Event) string {
	var words []string
	for _, e := range events {
		word := e.Event + " on " + e.Date
		if e.Note != "" {
			word += " (" + e.Note + ")"
		}
		words = append(words, word)
	}
	return strings.Join(words, ", ")
}

// checkRow is a check standard in a session; without a standard, a session in which none
// was read.
type checkRow struct {
	session  *desk.SessionCheck
	standard *desk.StandardCheck
}

// checkRows lists the standards of each session, and once each session in which none was read.
func checkRows(sessions []desk.SessionCheck) (rows []checkRow) {
	for i := range sessions {
		s := &sessions[i]
		for k := range s.Checks {
			rows = append(rows, checkRow{s, &s.Checks[k]})
		}
		if len(s.Checks) == 0 {
			rows = append(rows, checkRow{s, nil})
		}
	}
	return rows
}

// sessionColumn is a column of what is known of a session.
func sessionColumn(name string, of func(*desk.SessionCheck) any) column[checkRow] {
	return valueColumn(name, func(r checkRow) any { return of(r.session) })
}

// standardColumn is a column of a check standard, null where none was read.
func standardColumn(name string, of func(*desk.StandardCheck) any) column[checkRow] {
	return valueColumn(name, func(r checkRow) any {
		if r.standard == nil {
			return nil
		}
		return of(r.standard)
	})
}

// standardCell is a cell of a check standard, "-" where none was read.
func standardCell(of func(*desk.StandardCheck) string) func(checkRow) string {
	return func(r checkRow) string {
		if r.standard == nil {
			return "-"
		}
		return of(r.standard)
	}
}

// checkColumns are the columns of a check. A table shows them in two: what was read
// (readColumns), and what that says of each session (verdictColumns).
var checkColumns = listing[checkRow]{
	sessionColumn("session", func(s *desk.SessionCheck) any { return s.Session.Session }).Ranked(1, "", nil).Folded(20),
	sessionColumn("date", func(s *desk.SessionCheck) any { return orEmpty(s.Date) }).Ranked(4, "", nil),
	sessionColumn("instrument", func(s *desk.SessionCheck) any { return orEmpty(s.Instrument) }).Ranked(3, "", nil),
	sessionColumn("operator", func(s *desk.SessionCheck) any { return orEmpty(s.Operator) }),
	sessionColumn("reference", func(s *desk.SessionCheck) any { return orEmpty(s.Reference) }).Ranked(3, "", nil),
	sessionColumn("humidity_percent", func(s *desk.SessionCheck) any { return orNil(s.HumidityPercent) }),
	sessionColumn("temperature_c", func(s *desk.SessionCheck) any { return orNil(s.TemperatureC) }),
	sessionColumn("changes", func(s *desk.SessionCheck) any { return orEmpty(changeWords(s.Changes)) }).
		Ranked(2, "changed since the last", nil).Folded(16),
	sessionColumn("session_verdict", func(s *desk.SessionCheck) any { return trustWords(s) }).Ranked(1, "verdict",
		nil).OfStates(),
	sessionColumn("session_why", func(s *desk.SessionCheck) any { return s.Why }).Ranked(1, "why", nil).Folded(30),
	standardColumn("standard", func(c *desk.StandardCheck) any { return c.Standard }).Ranked(1, "", nil),
	standardColumn("quantity", func(c *desk.StandardCheck) any { return c.Quantity }),
	standardColumn("wavelength_nm", func(c *desk.StandardCheck) any { return orNil(c.WavelengthNM) }),
	standardColumn("angle_deg", func(c *desk.StandardCheck) any { return c.AngleDeg }),
	standardColumn("polarisation", func(c *desk.StandardCheck) any { return c.Polarisation }),
	cellColumn("setting", 2, "", standardCell(func(c *desk.StandardCheck) string {
		return fmt.Sprintf("%g° %s", c.AngleDeg, c.Polarisation)
	})),
	standardColumn("readings", func(c *desk.StandardCheck) any { return c.Readings }),
	standardColumn("value", func(c *desk.StandardCheck) any { return c.Value }).
		Ranked(1, "", standardCell(func(c *desk.StandardCheck) string { return decimal(study.Num(c.Value), 5) })),
	standardColumn("certificate", func(c *desk.StandardCheck) any { return orEmpty(c.Certificate) }),
	standardColumn("expires", func(c *desk.StandardCheck) any { return orEmpty(c.Expires) }),
	standardColumn("certified", func(c *desk.StandardCheck) any { return orNil(c.Certified.Value) }).
		Ranked(5, "", standardCell(func(c *desk.StandardCheck) string { return plusMinus(c.Certified, 1, "") })),
	standardColumn("u_certified", func(c *desk.StandardCheck) any { return orNil(c.Certified.U) }),
	cellColumn("limits", 1, "", standardCell(func(c *desk.StandardCheck) string { return interval(c.Lower, c.Upper) })),
	standardColumn("rule", func(c *desk.StandardCheck) any { return orEmpty(c.Rule) }).
		Ranked(6, "by", standardCell(ruleWords)).Folded(12),
	standardColumn("centre", func(c *desk.StandardCheck) any { return orNil(c.Centre) }),
	standardColumn("lower", func(c *desk.StandardCheck) any { return orNil(c.Lower) }),
	standardColumn("upper", func(c *desk.StandardCheck) any { return orNil(c.Upper) }),
	standardColumn("ewma", func(c *desk.StandardCheck) any { return orNil(c.EWMA) }).
		Ranked(7, "EWMA", standardCell(func(c *desk.StandardCheck) string { return decimal(c.EWMA, 5) })),
	standardColumn("ewma_lower", func(c *desk.StandardCheck) any { return orNil(c.EWMALower) }),
	standardColumn("ewma_upper", func(c *desk.StandardCheck) any { return orNil(c.EWMAUpper) }),
	cellColumn("ewma_limits", 8, "EWMA limits", standardCell(func(c *desk.StandardCheck) string {
		return interval(c.EWMALower, c.EWMAUpper)
	})),
	valueColumn("verdict", func(r checkRow) any { return string(r.verdict()) }).Ranked(1, "", nil).OfStates(),
	standardColumn("why", func(c *desk.StandardCheck) any { return c.Why }),
	sessionColumn("held", func(s *desk.SessionCheck) any { return s.Held }),
	standardColumn("provisional", func(c *desk.StandardCheck) any { return c.Provisional }),
}

// verdict is that on the standard.
func (r checkRow) verdict() guard.CheckVerdict {
	if r.standard == nil {
		return guard.NoReading
	}
	return r.standard.Verdict
}

var (
	readColumns = checkColumns.Pick("session", "date", "standard", "setting", "value", "certified", "limits", "rule",
		"ewma", "ewma_limits", "verdict")
	verdictColumns = checkColumns.Pick("session", "date", "instrument", "reference", "changes", "session_verdict",
		"session_why")
)

// checkTables is the listing for people: what was read, and what it says of each session.
func checkTables(p page, sessions []desk.SessionCheck) error {
	if len(sessions) == 0 {
		return writeLine(p, "no session yet; enrol sessions and readings of check standards with wane enrol")
	}
	read := openRows(readColumns, p, "table")
	rows := 0
	for _, r := range checkRows(sessions) {
		if r.standard == nil {
			continue
		}
		rows++
		if err := read.write(r); err != nil {
			return err
		}
	}
	if rows > 0 {
		if err := read.end(); err != nil {
			return err
		}
		if err := writeLine(p, "fractions; certified ± U (k=2)\n"); err != nil {
			return err
		}
	}
	verdicts := openRows(verdictColumns, p, "table")
	for i := range sessions {
		if err := verdicts.write(checkRow{session: &sessions[i]}); err != nil {
			return err
		}
	}
	return verdicts.end()
}

func interval(lower, upper study.Num) string {
	if !lower.Valid() {
		return "-"
	}
	return decimal(lower, 5) + " to " + decimal(upper, 5)
}
