package main

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"wane/study"
	"wane/study/desk"
	"wane/study/guard"
	"wane/study/report"
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
	if said := distrustedWords(r.Groups); said != "" {
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

// chartKey identifies a control chart, or the readings of a light trap.
type chartKey struct {
	instrument, standard string
	angleDeg             float64
	polarisation         string
	trap                 bool
}

func (k chartKey) compare(o chartKey) int {
	after := func(trap bool) int {
		if trap {
			return 1
		}
		return 0
	}
	return cmp.Or(strings.Compare(k.instrument, o.instrument), after(k.trap)-after(o.trap),
		strings.Compare(k.standard, o.standard), cmp.Compare(k.angleDeg, o.angleDeg), strings.Compare(k.polarisation,
			o.polarisation))
}

func (k chartKey) label() string {
	kind := "check standard"
	if k.trap {
		kind = "light trap"
	}
	label := fmt.Sprintf("%s %s at %g°, %s", kind, k.standard, k.angleDeg, k.polarisation)
	if k.instrument != "" {
		label += ", instrument " + k.instrument
	}
	return label
}

// chartsOf gathers what was read of each standard, session by session.
func chartsOf(r *desk.Report) (keys []chartKey, charts map[chartKey][]report.ChartReading) {
	charts = map[chartKey][]report.ChartReading{}
	numbers := map[string]int{}
	for i := range r.Sessions {
		s := &r.Sessions[i]
		numbers[s.Session.Session] = i + 1
		for k := range s.Checks {
			c := &s.Checks[k]
			key := chartKey{s.Instrument, c.Standard, c.AngleDeg, c.Polarisation, false}
			charts[key] = append(charts[key], report.ChartReading{Session: i + 1, Value: c.Value, Lower: float64(c.Lower),
				Upper: float64(c.Upper), Against: c.Verdict != guard.InControl})
		}
	}
	count := map[chartKey]int{}
	for i := range r.Traps {
		t := &r.Traps[i]
		key := chartKey{t.Session.Instrument, t.Standard, t.AngleDeg, t.Polarisation, true}
		number, of := numbers[t.Session.Session], charts[key]
		if n := len(of); n > 0 && of[n-1].Session == number { // the mean of what was read again
			count[key]++
			of[n-1].Value += (t.Value - of[n-1].Value) / float64(count[key])
			continue
		}
		count[key] = 1
		charts[key] = append(of, report.ChartReading{Session: number, Value: t.Value, Lower: math.NaN(), Upper: math.NaN()})
	}
	for key := range charts {
		keys = append(keys, key)
	}
	slices.SortFunc(keys, chartKey.compare)
	return keys, charts
}

// mostCharts is how many charts one figure has.
const mostCharts = 4

// sessionFigures draws the charts, a few in each figure.
func sessionFigures(r *desk.Report) (blocks []document.Block, err error) {
	trusted := make([]bool, len(r.Sessions))
	for i := range r.Sessions {
		trusted[i] = r.Sessions[i].Trust
	}
	keys, charts := chartsOf(r)
	for n, some := range slices.Collect(slices.Chunk(keys, mostCharts)) {
		f := &report.Sessions{Trusted: trusted,
			Caption: []string{"Sessions have the numbers of the table of sessions. Values are those of check standards and " +
				"light traps, not of coupons."}}
		for _, key := range some {
			f.Standards = append(f.Standards, report.StandardChart{Label: key.label(), Readings: charts[key]})
		}
		block, err := drawn(fmt.Sprintf("chart-%d", n+1), "Standards, session by session: "+labelsOf(some)+".",
			"What was read of "+labelsOf(some)+" in each session, with its limits; below, whether the session is trusted. The "+
				"tables of sessions, check standards and light traps have the numbers.", f)
		if err != nil {
			return nil, err
		}
		blocks = append(blocks, block)
	}
	return blocks, nil
}

func labelsOf(keys []chartKey) string {
	labels := make([]string, len(keys))
	for i, key := range keys {
		labels[i] = key.label()
	}
	return strings.Join(labels, "; ")
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
