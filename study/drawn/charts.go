package drawn

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"wane/study/desk"
	"wane/study/guard"
	"wane/study/report"
)

// Chart is a figure of what was read of some standards, session by session.
type Chart struct {
	Labels string // of the standards
	Figure *report.Sessions
}

// Charts draws what was read of check standards and light traps, a few in each figure.
func Charts(sessions []desk.SessionCheck, traps []desk.TrapReading) (all []Chart) {
	trusted := make([]bool, len(sessions))
	for i := range sessions {
		trusted[i] = sessions[i].Trust
	}
	keys, charts := chartsOf(sessions, traps)
	for some := range slices.Chunk(keys, mostCharts) {
		f := &report.Sessions{Trusted: trusted,
			Caption: []string{"Sessions have the numbers of the table of sessions. Values are those of check standards and " +
				"light traps, not of coupons."}}
		for _, key := range some {
			f.Standards = append(f.Standards, report.StandardChart{Label: key.label(), Readings: charts[key]})
		}
		all = append(all, Chart{labelsOf(some), f})
	}
	return all
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
func chartsOf(sessions []desk.SessionCheck, traps []desk.TrapReading) (keys []chartKey,
	charts map[chartKey][]report.ChartReading) {
	charts = map[chartKey][]report.ChartReading{}
	numbers := map[string]int{}
	for i := range sessions {
		s := &sessions[i]
		numbers[s.Session.Session] = i + 1
		for k := range s.Checks {
			c := &s.Checks[k]
			key := chartKey{s.Instrument, c.Standard, c.AngleDeg, c.Polarisation, false}
			charts[key] = append(charts[key], report.ChartReading{Session: i + 1, Value: c.Value, Lower: float64(c.Lower),
				Upper: float64(c.Upper), Against: c.Verdict != guard.InControl})
		}
	}
	count := map[chartKey]int{}
	for i := range traps {
		t := &traps[i]
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

func labelsOf(keys []chartKey) string {
	labels := make([]string, len(keys))
	for i, key := range keys {
		labels[i] = key.label()
	}
	return strings.Join(labels, "; ")
}
