package shown

import (
	"fmt"
	"strings"

	"wane/study"
	"wane/study/desk"
	"wane/study/guard"
)

// ruleWords says what a reading was held against.
func ruleWords(c *desk.StandardCheck) string {
	if c.Provisional {
		return c.Rule + ", provisional"
	}
	return Dash(c.Rule)
}

// TrustWords says whether a session can be trusted.
func TrustWords(s *desk.SessionCheck) string {
	if s.Trust {
		return Trusted
	}
	return NotToTrust
}

// The verdicts on a session.
const Trusted, NotToTrust = "trust", "do not trust"

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

// Checked is a check standard in a session; without a standard, a session in which none
// was read.
type Checked struct {
	Session  *desk.SessionCheck
	Standard *desk.StandardCheck
}

// CheckedRows lists the standards of each session, and once each session in which none was read.
func CheckedRows(sessions []desk.SessionCheck) (rows []Checked) {
	for i := range sessions {
		s := &sessions[i]
		for k := range s.Checks {
			rows = append(rows, Checked{s, &s.Checks[k]})
		}
		if len(s.Checks) == 0 {
			rows = append(rows, Checked{s, nil})
		}
	}
	return rows
}

// sessionColumn is a column of what is known of a session.
func sessionColumn(name string, of func(*desk.SessionCheck) any) Column[Checked] {
	return Value(name, func(r Checked) any { return of(r.Session) })
}

// standardColumn is a column of a check standard, null where none was read.
func standardColumn(name string, of func(*desk.StandardCheck) any) Column[Checked] {
	return Value(name, func(r Checked) any {
		if r.Standard == nil {
			return nil
		}
		return of(r.Standard)
	})
}

// standardCell is a cell of a check standard, "-" where none was read.
func standardCell(of func(*desk.StandardCheck) string) func(Checked) string {
	return func(r Checked) string {
		if r.Standard == nil {
			return "-"
		}
		return of(r.Standard)
	}
}

// Check is the columns of a check. A table shows them in two: what was read
// ([CheckRead]), and what that says of each session ([CheckVerdicts]).
func Check() List[Checked] {
	return List[Checked]{
		sessionColumn("session", func(s *desk.SessionCheck) any { return s.Session.Session }).Ranked(1, "", nil).Folded(20),
		sessionColumn("date", func(s *desk.SessionCheck) any { return OrEmpty(s.Date) }).Ranked(4, "", nil),
		sessionColumn("instrument", func(s *desk.SessionCheck) any { return OrEmpty(s.Instrument) }).Ranked(3, "", nil),
		sessionColumn("operator", func(s *desk.SessionCheck) any { return OrEmpty(s.Operator) }),
		sessionColumn("reference", func(s *desk.SessionCheck) any { return OrEmpty(s.Reference) }).Ranked(3, "", nil),
		sessionColumn("humidity_percent", func(s *desk.SessionCheck) any { return OrNil(s.HumidityPercent) }),
		sessionColumn("temperature_c", func(s *desk.SessionCheck) any { return OrNil(s.TemperatureC) }),
		sessionColumn("changes", func(s *desk.SessionCheck) any { return OrEmpty(changeWords(s.Changes)) }).
			Ranked(2, "changed since the last", nil).Folded(16),
		sessionColumn("session_verdict", func(s *desk.SessionCheck) any { return TrustWords(s) }).Ranked(1, "verdict",
			nil).OfStates(),
		sessionColumn("session_why", func(s *desk.SessionCheck) any { return s.Why }).Ranked(1, "why", nil).Folded(30),
		standardColumn("standard", func(c *desk.StandardCheck) any { return c.Standard }).Ranked(1, "", nil),
		standardColumn("quantity", func(c *desk.StandardCheck) any { return c.Quantity }),
		standardColumn("wavelength_nm", func(c *desk.StandardCheck) any { return OrNil(c.WavelengthNM) }),
		standardColumn("angle_deg", func(c *desk.StandardCheck) any { return c.AngleDeg }),
		standardColumn("polarisation", func(c *desk.StandardCheck) any { return c.Polarisation }),
		Cell("setting", 2, "", standardCell(func(c *desk.StandardCheck) string {
			return fmt.Sprintf("%g° %s", c.AngleDeg, c.Polarisation)
		})),
		standardColumn("readings", func(c *desk.StandardCheck) any { return c.Readings }),
		standardColumn("value", func(c *desk.StandardCheck) any { return c.Value }).
			Ranked(1, "", standardCell(func(c *desk.StandardCheck) string { return Decimal(study.Num(c.Value), 5) })),
		standardColumn("certificate", func(c *desk.StandardCheck) any { return OrEmpty(c.Certificate) }),
		standardColumn("expires", func(c *desk.StandardCheck) any { return OrEmpty(c.Expires) }),
		standardColumn("certified", func(c *desk.StandardCheck) any { return OrNil(c.Certified.Value) }).
			Ranked(5, "", standardCell(func(c *desk.StandardCheck) string { return PlusMinus(c.Certified, 1, "") })),
		standardColumn("u_certified", func(c *desk.StandardCheck) any { return OrNil(c.Certified.U) }),
		Cell("limits", 1, "", standardCell(func(c *desk.StandardCheck) string { return interval(c.Lower, c.Upper) })),
		standardColumn("rule", func(c *desk.StandardCheck) any { return OrEmpty(c.Rule) }).
			Ranked(6, "by", standardCell(ruleWords)).Folded(12),
		standardColumn("centre", func(c *desk.StandardCheck) any { return OrNil(c.Centre) }),
		standardColumn("lower", func(c *desk.StandardCheck) any { return OrNil(c.Lower) }),
		standardColumn("upper", func(c *desk.StandardCheck) any { return OrNil(c.Upper) }),
		standardColumn("ewma", func(c *desk.StandardCheck) any { return OrNil(c.EWMA) }).
			Ranked(7, "EWMA", standardCell(func(c *desk.StandardCheck) string { return Decimal(c.EWMA, 5) })),
		standardColumn("ewma_lower", func(c *desk.StandardCheck) any { return OrNil(c.EWMALower) }),
		standardColumn("ewma_upper", func(c *desk.StandardCheck) any { return OrNil(c.EWMAUpper) }),
		Cell("ewma_limits", 8, "EWMA limits", standardCell(func(c *desk.StandardCheck) string {
			return interval(c.EWMALower, c.EWMAUpper)
		})),
		Value("verdict", func(r Checked) any { return string(r.verdict()) }).Ranked(1, "", nil).OfStates(),
		standardColumn("why", func(c *desk.StandardCheck) any { return c.Why }),
		sessionColumn("held", func(s *desk.SessionCheck) any { return s.Held }),
		standardColumn("provisional", func(c *desk.StandardCheck) any { return c.Provisional }),
	}
}

// verdict is that on the standard.
func (r Checked) verdict() guard.CheckVerdict {
	if r.Standard == nil {
		return guard.NoReading
	}
	return r.Standard.Verdict
}

// interval writes limits.
func interval(lower, upper study.Num) string {
	if !lower.Valid() {
		return "-"
	}
	return Decimal(lower, 5) + " to " + Decimal(upper, 5)
}

// CheckRead is the columns of what was read of check standards.
func CheckRead() List[Checked] {
	return Check().Pick("session", "date", "standard", "setting", "value", "certified", "limits", "rule",
		"ewma", "ewma_limits", "verdict")
}

// CheckVerdicts is the columns of what that says of each session.
func CheckVerdicts() List[Checked] {
	return Check().Pick("session", "date", "instrument", "reference", "changes", "session_verdict", "session_why")
}
