package desk

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"

	"wane/study"
	"wane/study/guard"
	"wane/study/store"
)

// CheckOptions choose what of the check is returned. Empty fields choose all.
type CheckOptions struct{ Session, Standard string }

// SessionCheck is what the check standards say of one session.
type SessionCheck struct {
	study.Session        // a session that is not enrolled has only its name
	Registered    bool   // false: readings name it, and it is not enrolled
	Trust         bool   // no reason against it was found
	Why           string // the reasons against it, or what it was judged by
	Changes       []study.Event
	Checks        []StandardCheck
	Held          int // readings of the session that guards hold
}

// StandardCheck is one check standard at one angle and polarisation in a session.
type StandardCheck struct {
	Standard     string
	Quantity     string // R or T at WavelengthNM, solar_R or solar_T
	WavelengthNM study.Num
	AngleDeg     float64
	Polarisation string
	Readings     int     // replicates
	Value        float64 // their mean
	Certificate  string  // that was valid; empty: none was issued by then
	Expires      string
	Certified    study.Measure
	guard.Judged
}

// Check judges each session by its check standards and by the certificate of its reference. A check
// standard is judged by its certificates until there is a chart of the instrument, see
// [guard.JudgeChecks]. A chart restarts after an event of the instrument, with another reference, and with
// another certificate of the reference. An event on the day of a session counts as before the session. A
// session is not trusted if it has no reading of a check standard, if a reading is out of limits, if a
// certificate had expired or there was none, or if guards hold readings of it.
//
// Sessions are in the order of date and name, with the same verdict whatever options are given. Sessions
// that readings name and that are not enrolled are last.
func (d *Desk) Check(ctx context.Context, opt CheckOptions) ([]SessionCheck, error) {
	var roster *study.Roster
	var all []SessionCheck
	err := d.store.View(ctx, func(v *store.View) (err error) {
		if roster, err = v.Roster(); err == nil {
			all, err = sessionChecks(v, roster)
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	return selectChecks(all, roster, opt)
}

// sessionChecks judges all sessions at one moment of the study.
func sessionChecks(v *store.View, roster *study.Roster) ([]SessionCheck, error) {
	read, err := v.SessionsRead()
	if err != nil {
		return nil, err
	}
	held, err := v.HeldIn()
	return checkSessions(roster, read, held), err
}

// distrusted returns the sessions that are not trusted.
func distrusted(v *store.View, roster *study.Roster) (map[string]bool, error) {
	all, err := sessionChecks(v, roster)
	untrusted := map[string]bool{}
	for i := range all {
		if !all[i].Trust {
			untrusted[all[i].Session.Session] = true
		}
	}
	return untrusted, err
}

// checkKey identifies a chart.
type checkKey struct {
	instrument, standard string
	angleDeg             float64
	polarisation         string
}

func (k checkKey) compare(l checkKey) int {
	return cmp.Or(
		strings.Compare(k.instrument, l.instrument), strings.Compare(k.standard, l.standard),
		cmp.Compare(k.angleDeg, l.angleDeg), strings.Compare(k.polarisation, l.polarisation),
	)
}

// checkSessions judges all sessions of the roster, and those that only readings name.
func checkSessions(roster *study.Roster, read []string, held map[string]int) []SessionCheck {
	sessions := make([]SessionCheck, len(roster.Sessions))
	for i, s := range roster.Sessions {
		sessions[i] = SessionCheck{Session: s, Registered: true, Held: held[s.Session]}
	}
	slices.SortFunc(sessions, func(a, b SessionCheck) int {
		return cmp.Or(strings.Compare(a.Date, b.Date), strings.Compare(a.Session.Session, b.Session.Session))
	})
	at, last := map[string]int{}, map[string]string{} // by session; date of the last session by instrument
	for i := range sessions {
		s := &sessions[i]
		at[s.Session.Session] = i
		s.Changes = eventsBetween(roster, s.Instrument, last[s.Instrument], s.Date)
		last[s.Instrument] = s.Date
	}
	readings := map[checkKey]map[int][]float64{} // by session
	for _, c := range roster.Checks {
		i, known := at[c.Session]
		if !known || !roster.IsCheck(c.Standard) {
			continue // the one is for verify to report; the zero that the other shows enters the fits
		}
		key := checkKey{sessions[i].Instrument, c.Standard, c.AngleDeg, c.Polarisation}
		if readings[key] == nil {
			readings[key] = map[int][]float64{}
		}
		readings[key][i] = append(readings[key][i], c.Value)
	}
	keys := make([]checkKey, 0, len(readings))
	for k := range readings {
		keys = append(keys, k)
	}
	slices.SortFunc(keys, checkKey.compare)
	for _, k := range keys {
		judgeChart(roster, sessions, k, readings[k])
	}
	for i := range sessions {
		sessions[i].conclude(roster)
	}
	for _, name := range read {
		if _, known := at[name]; !known {
			unregistered := study.Session{Session: name, HumidityPercent: study.Null(), TemperatureC: study.Null()}
			sessions = append(sessions, SessionCheck{
				Session: unregistered, Why: "readings name it, and it is not enrolled", Held: held[name],
			})
		}
	}
	return sessions
}

// eventsBetween returns the events of an instrument after one date and up to another.
func eventsBetween(roster *study.Roster, instrument, after, upTo string) []study.Event {
	var found []study.Event
	for _, e := range roster.Events {
		if e.Instrument == instrument && e.Date > after && e.Date <= upTo {
			found = append(found, e)
		}
	}
	return found
}

// judgeChart adds the checks of one chart to the sessions in which the standard was read.
func judgeChart(roster *study.Roster, sessions []SessionCheck, key checkKey, values map[int][]float64) {
	order := make([]int, 0, len(values))
	for i := range values {
		order = append(order, i)
	}
	slices.Sort(order)
	points, checks := make([]guard.CheckPoint, len(order)), make([]StandardCheck, len(order))
	for n, i := range order {
		s := &sessions[i]
		mean := 0.0
		for _, v := range values[i] {
			mean += v / float64(len(values[i]))
		}
		c := StandardCheck{
			Standard: key.standard, WavelengthNM: study.Null(), AngleDeg: key.angleDeg, Polarisation: key.polarisation,
			Readings: len(values[i]), Value: mean, Certified: study.NoMeasure(),
		}
		if valid := roster.StandardOn(key.standard, key.angleDeg, key.polarisation, s.Date); valid != nil {
			c.Certificate, c.Expires = valid.Certificate, valid.Expires
			c.Certified = study.Measure{Value: study.Num(valid.Value), U: study.Num(valid.U)}
		}
		for k := range roster.Standards { // of one standard all alike
			if of := &roster.Standards[k]; of.Standard == key.standard {
				c.Quantity, c.WavelengthNM = of.Quantity, of.WavelengthNM
				break
			}
		}
		p := guard.CheckPoint{Value: mean, Certified: c.Certified, Expired: study.Expired(c.Expires, s.Date)}
		if n > 0 {
			before := &sessions[order[n-1]]
			p.Changed = len(eventsBetween(roster, key.instrument, before.Date, s.Date)) > 0 ||
				roster.ReferenceOn(before.Reference, before.Date) != roster.ReferenceOn(s.Reference, s.Date)
		}
		points[n], checks[n] = p, c
	}
	for n, j := range guard.JudgeChecks(points) {
		checks[n].Judged = j
		s := &sessions[order[n]]
		s.Checks = append(s.Checks, checks[n])
	}
}

// conclude says whether the session is trusted, and why.
func (s *SessionCheck) conclude(roster *study.Roster) {
	var against []string
	if len(s.Checks) == 0 {
		against = append(against, "no check standard was read")
	}
	for i := range s.Checks {
		c := &s.Checks[i]
		if c.Verdict != guard.InControl {
			why := c.Why
			if c.Verdict == guard.ExpiredCertificate {
				why = fmt.Sprintf("its certificate %s expired on %s", c.Certificate, c.Expires)
			}
			against = append(against, fmt.Sprintf("%s at %g degrees, %s: %s", c.Standard, c.AngleDeg, c.Polarisation, why))
		}
	}
	if s.Reference != "" {
		switch valid := roster.ReferenceOn(s.Reference, s.Date); {
		case valid == nil:
			against = append(against, fmt.Sprintf("reference %s: no certificate was issued by then", s.Reference))
		case study.Expired(valid.Expires, s.Date):
			against = append(against, fmt.Sprintf("reference %s: its certificate %s expired on %s",
				s.Reference, valid.Certificate, valid.Expires))
		}
	}
	if s.Held > 0 {
		against = append(against, countReadings(s.Held)+" held by guards: wane review --session "+s.Session.Session)
	}
	s.Trust = len(against) == 0
	if s.Trust {
		s.Why = "all check standards in control"
		if slices.ContainsFunc(s.Checks, func(c StandardCheck) bool { return c.Provisional }) {
			s.Why += fmt.Sprintf(", provisionally: a chart needs %d sessions", guard.ChartFrom)
		}
		return
	}
	s.Why = strings.Join(against, "; ")
}

// selectChecks returns the sessions and standards that opt chooses.
func selectChecks(all []SessionCheck, roster *study.Roster, opt CheckOptions) ([]SessionCheck, error) {
	if opt.Session != "" {
		i := slices.IndexFunc(all, func(s SessionCheck) bool { return s.Session.Session == opt.Session })
		if i < 0 {
			return nil, &study.Refusal{
				Fault: fmt.Sprintf("there is no session %q", opt.Session),
				Try:   tryCode(opt.Session, sessionNames(all), "enrol it first: wane enrol sessions.csv"),
			}
		}
		all = all[i : i+1]
	}
	if opt.Standard == "" {
		return all, nil
	}
	if !slices.ContainsFunc(roster.Standards, func(c study.Standard) bool { return c.Standard == opt.Standard }) {
		return nil, &study.Refusal{
			Fault: fmt.Sprintf("there is no check standard %q", opt.Standard),
			Try:   tryCode(opt.Standard, standardNames(roster), "enrol it first: wane enrol standards.csv"),
		}
	}
	for i := range all {
		all[i].Checks = slices.DeleteFunc(all[i].Checks, func(c StandardCheck) bool { return c.Standard != opt.Standard })
	}
	return all, nil
}

func sessionNames(all []SessionCheck) (names []string) {
	for i := range all {
		names = append(names, all[i].Session.Session)
	}
	return names
}

func standardNames(roster *study.Roster) (names []string) {
	for i := range roster.Standards {
		if name := roster.Standards[i].Standard; !slices.Contains(names, name) {
			names = append(names, name)
		}
	}
	return names
}
