package main

import (
	"fmt"

	"wane/study"
	"wane/study/desk"
	"wane/study/drawn"
	"wane/study/report/document"
	"wane/study/shown"
)

// sessionsPart shows whether the sessions can be trusted, with their control charts.
func sessionsPart(w *reporter) (document.Part, error) {
	p := document.Part{Name: "sessions", Title: "Sessions and control charts"}
	r := w.of
	if len(r.Sessions) == 0 {
		p.Blocks = []document.Block{document.Notice("No session is enrolled and no reading names one: whether the " +
			"instrument was in control cannot be told from these data, because no check standard was read. Next: enrol " +
			"sessions, standards and their readings with wane enrol.")}
		return p, nil
	}
	bad := 0
	for i := range r.Sessions {
		if !r.Sessions[i].Trust {
			bad++
		}
	}
	p.Blocks = append(p.Blocks, document.Text(fmt.Sprintf("%d of %s trusted. A session is trusted if a check standard "+
		"was read in it, all its values are in control, its reference has a valid certificate, and no guard holds one of "+
		"its readings. Rows that depend on a session that is not trusted are flagged; none is omitted for that.",
		len(r.Sessions)-bad, count(len(r.Sessions), "session")+isAre(len(r.Sessions)))))
	if said := shown.DistrustedWords(r.Groups); said != "" {
		p.Blocks = append(p.Blocks, document.Notice(said+"."))
	}
	verdicts := sessionNumbered(r.Sessions)
	t, err := tableOf("sessions", "Verdict on each session", verdicts, verdicts, onePerSession(r.Sessions))
	if err != nil {
		return p, err
	}
	figures, err := sessionFigures(r)
	if err != nil {
		return p, err
	}
	p.Blocks = append(append(p.Blocks, t), figures...)
	checks, err := tableOf("check-standards", "What was read of check standards: fractions; certified ± U (k = "+
		"2)", shown.CheckRead(),
		shown.Check(), shown.CheckedRows(r.Sessions))
	if err != nil {
		return p, err
	}
	p.Blocks = append(p.Blocks, checks)
	if len(r.Traps) == 0 {
		p.Blocks = append(p.Blocks, document.Text("No light trap was read: the zero of each session has the uncertainty "+
			"that is enrolled of its instrument, or the default."))
		return p, nil
	}
	traps, err := tableOf("light-traps", "What light traps read: fractions", trapColumns, trapColumns, pointers(r.Traps))
	p.Blocks = append(p.Blocks, traps)
	return p, err
}

func isAre(n int) string {
	if n == 1 {
		return " is"
	}
	return " are"
}

// onePerSession is a row for each session.
func onePerSession(sessions []desk.SessionCheck) (rows []shown.Checked) {
	for i := range sessions {
		rows = append(rows, shown.Checked{Session: &sessions[i]})
	}
	return rows
}

// sessionNumbered are the columns of the verdicts on sessions, with the number that a session has in figures.
func sessionNumbered(sessions []desk.SessionCheck) listing[shown.Checked] {
	numbers := map[*desk.SessionCheck]int{}
	for i := range sessions {
		numbers[&sessions[i]] = i + 1
	}
	number := valueColumn("number", func(r shown.Checked) any { return numbers[r.Session] })
	return append(listing[shown.Checked]{number}, shown.Check().Pick("session", "date", "instrument", "operator", "reference",
		"changes",
		"session_verdict", "session_why")...)
}

var trapColumns = listing[*desk.TrapReading]{
	valueColumn("session", func(t *desk.TrapReading) any { return t.Session.Session }),
	valueColumn("date", func(t *desk.TrapReading) any { return orEmpty(t.Session.Date) }),
	valueColumn("instrument", func(t *desk.TrapReading) any { return t.Session.Instrument }),
	valueColumn("standard", func(t *desk.TrapReading) any { return t.Standard }),
	valueColumn("angle_deg", func(t *desk.TrapReading) any { return t.AngleDeg }),
	valueColumn("polarisation", func(t *desk.TrapReading) any { return t.Polarisation }),
	valueColumn("replicate", func(t *desk.TrapReading) any { return t.Replicate }),
	valueColumn("value", func(t *desk.TrapReading) any { return t.Value }),
}

// sessionFigures draws the charts, a few in each figure.
func sessionFigures(r *desk.Report) (blocks []document.Block, err error) {
	for n, chart := range drawn.Charts(r.Sessions, r.Traps) {
		block, err := drawnBlock(fmt.Sprintf("chart-%d", n+1), "Standards, session by session: "+chart.Labels+".",
			"What was read of "+chart.Labels+" in each session, with its limits; below, whether the session is trusted. The "+
				"tables of sessions, check standards and light traps have the numbers.", chart.Figure)
		if err != nil {
			return nil, err
		}
		blocks = append(blocks, block)
	}
	return blocks, nil
}

// standingPart lists the readings that are held, set aside, or were judged.
func standingPart(w *reporter) (document.Part, error) {
	p := document.Part{Name: "aside", Title: "Readings held, set aside and judged"}
	counts := map[study.Standing]int{}
	for i := range w.of.Judged {
		counts[w.of.Judged[i].Standing]++
	}
	if len(w.of.Judged) == 0 {
		p.Blocks = []document.Block{document.Text("All readings enter results. No guard holds one, and nobody set one " +
			"aside or judged one.")}
		return p, nil
	}
	p.Blocks = append(p.Blocks, document.Text(fmt.Sprintf("%d held by guards, which enter no result until a person has "+
		"judged them; %d set aside by a person, which enter no result; %d that a person judged and that enter results. "+
		"Each stays in the study, with its reason.", counts[study.Held], counts[study.Aside], counts[study.Counted])))
	t, err := tableOf("judged-readings", "Readings that are held or were judged",
		shown.Judged().Pick("number", "standing", "coupon", "pull", "spot", "setting", "session", "held_for", "reviewer",
			"reviewed_at", "why"), shown.Judged(), pointers(w.of.Judged))
	p.Blocks = append(p.Blocks, t)
	return p, err
}
