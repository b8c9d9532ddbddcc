package main

import (
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"wane/study"
	"wane/study/desk"
	"wane/study/guard"
)

const checkLong = `Say of each session whether it can be trusted, by the check standards that were read
in it and the certificates that held on its day: one row for each standard, angle and
polarisation, then the verdict on each session.

A value is held against its certificate, certified ± 2u, until 20 sessions in control
exist; until then verdicts are provisional. Their values make an individuals chart
(sigma the mean moving range over 1.128), against which the later ones are held,
together with their EWMA (weight 0.2). Limits stand: later sessions change no verdict.
They stand so far out that an instrument that nothing has moved is called out of
control in 5 % of runs of 20 sessions. A chart is of
one instrument, and restarts when its lamp or detector is changed or it is serviced,
and when sessions go over to another reference or certificate of it.

Verdicts are in control, out of limits, expired certificate, no certificate and no
reading. A session is trusted if it has a reading, all are in control, its reference
has a certificate that holds, and no guard holds a reading of it. CSV and JSON carry every column, with the session's verdict
in each row. A session that is not trusted is a finding, not a failure: the exit code
stays 0.
` + exitCodes

type checkOptions struct {
	study  studyOptions
	want   desk.CheckOptions
	format string
}

func newCheckCommand() *cobra.Command {
	o := &checkOptions{}
	cmd := &cobra.Command{
		Use: "check", Short: "whether sessions can be trusted, by their check standards", Long: checkLong,
		Example: "  wane check\n  wane check --session 2031-05-a\n  wane check --standard TILE-550 --format csv",
		Args:    exactly(0, "wane check looks at the whole study; --session and --standard narrow it"),
		RunE:    func(cmd *cobra.Command, args []string) error { return runCheck(cmd, o) },
	}
	o.study.bind(cmd)
	bindFormat(cmd, &o.format)
	cmd.Flags().StringVar(&o.want.Session, "session", "", "only this session")
	cmd.Flags().StringVar(&o.want.Standard, "standard", "", "only the rows of this check standard; the verdict on a session stays that of all")
	return cmd
}

func runCheck(cmd *cobra.Command, o *checkOptions) error {
	if err := oneOf("format", o.format, formats); err != nil {
		return err
	}
	return o.study.reading(cmd.Context(), func(d *desk.Desk) error {
		sessions, err := d.Check(cmd.Context(), o.want)
		if err != nil {
			return err
		}
		if o.format == "table" {
			return checkTables(cmd.OutOrStdout(), sessions)
		}
		return checkRecords(cmd.OutOrStdout(), o.format, sessions)
	})
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
		return "trust"
	}
	return "do not trust"
}

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

// checkTables is the listing for people: what was read, and what it says of each session.
func checkTables(w io.Writer, sessions []desk.SessionCheck) error {
	if len(sessions) == 0 {
		_, err := fmt.Fprintln(w, "there is no session yet: register sessions and readings of check standards with wane enrol")
		return err
	}
	read := newColumnWriter(w, "session", "date", "standard", "setting", "value", "certified", "limits", "by", "EWMA", "its limits", "verdict")
	rows := 0
	for i := range sessions {
		s := &sessions[i]
		for _, c := range s.Checks {
			rows++
			err := read.row(s.Session.Session, s.Date, c.Standard, fmt.Sprintf("%g° %s", c.AngleDeg, c.Polarisation), decimal(study.Num(c.Value), 5), plusMinus(c.Certified, 1, ""),
				interval(c.Lower, c.Upper), ruleWords(&c), decimal(c.EWMA, 5), interval(c.EWMALower, c.EWMAUpper), string(c.Verdict))
			if err != nil {
				return err
			}
		}
	}
	if rows > 0 {
		if err := read.flush(); err != nil {
			return err
		}
		if _, err := fmt.Fprint(w, "fractions; certified ± U (k=2)\n\n"); err != nil {
			return err
		}
	}
	said := newColumnWriter(w, "session", "date", "instrument", "reference", "changed since the last", "verdict", "why")
	for i := range sessions {
		s := &sessions[i]
		if err := said.row(s.Session.Session, dash(s.Date), dash(s.Instrument), dash(s.Reference), dash(changeWords(s.Changes)), trustWords(s), s.Why); err != nil {
			return err
		}
	}
	return said.flush()
}

func interval(lower, upper study.Num) string {
	if !lower.Valid() {
		return "-"
	}
	return decimal(lower, 5) + " to " + decimal(upper, 5)
}

var checkColumns = []string{"session", "date", "instrument", "operator", "reference", "humidity_percent", "temperature_c", "changes", "session_verdict", "session_why",
	"standard", "quantity", "wavelength_nm", "angle_deg", "polarisation", "readings", "value", "certificate", "expires", "certified", "u_certified",
	"rule", "centre", "lower", "upper", "ewma", "ewma_lower", "ewma_upper", "verdict", "why", "held", "provisional"}

// checkRecords writes one row for each standard of a session, and one for a session in
// which none was read.
func checkRecords(w io.Writer, format string, sessions []desk.SessionCheck) error {
	out := newRecords(w, format, checkColumns)
	for i := range sessions {
		s := &sessions[i]
		head := []any{s.Session.Session, orEmpty(s.Date), orEmpty(s.Instrument), orEmpty(s.Operator), orEmpty(s.Reference), orNil(s.HumidityPercent), orNil(s.TemperatureC),
			orEmpty(changeWords(s.Changes)), trustWords(s), s.Why}
		for _, c := range s.Checks {
			cells := append(head[:len(head):len(head)], c.Standard, c.Quantity, orNil(c.WavelengthNM), c.AngleDeg, c.Polarisation, c.Readings, c.Value,
				orEmpty(c.Certificate), orEmpty(c.Expires), orNil(c.Certified.Value), orNil(c.Certified.U),
				orEmpty(c.Rule), orNil(c.Centre), orNil(c.Lower), orNil(c.Upper), orNil(c.EWMA), orNil(c.EWMALower), orNil(c.EWMAUpper), string(c.Verdict), c.Why, s.Held, c.Provisional)
			if err := out.write(cells...); err != nil {
				return err
			}
		}
		if len(s.Checks) == 0 {
			cells := make([]any, len(checkColumns))
			copy(cells, head)
			cells[len(cells)-4], cells[len(cells)-2] = string(guard.NoReading), s.Held
			if err := out.write(cells...); err != nil {
				return err
			}
		}
	}
	return out.end()
}
