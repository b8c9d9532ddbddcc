package desk

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"wane/study"
)

// Task is something that a study is waiting for.
type Task struct {
	Task             TaskKind
	Coupon, Exposure string // empty: it is of none
	Pull             study.Num
	Date             string // on which it is due, or a certificate expires; empty: none is planned
	OverdueDays      int    // since that day; 0 without one
	What             string // in words
}

// TaskKind is the kind of a task.
type TaskKind string

// The kinds of tasks.
const (
	TaskPull        TaskKind = "pull"        // take a coupon out of its exposure, and measure it
	TaskMeasure     TaskKind = "measure"     // measure what is at hand
	TaskTakeIn      TaskKind = "take-in"     // take the exports of a session in
	TaskJudge       TaskKind = "judge"       // judge readings that are held
	TaskFit         TaskKind = "fit"         // evaluate
	TaskCertificate TaskKind = "certificate" // renew it
)

// TaskKinds returns the kinds of tasks, the most urgent first of those that are overdue alike.
func TaskKinds() []TaskKind {
	return []TaskKind{TaskPull, TaskMeasure, TaskCertificate, TaskTakeIn, TaskJudge, TaskFit}
}

// ExpiryNotice is how many days before a certificate expires its renewal is a task.
const ExpiryNotice = 30

// tasks returns what is due.
func (s *standing) tasks() (all []Task) {
	for i := range s.rows {
		all = append(all, s.tasksOf(&s.rows[i])...)
	}
	all = append(all, s.sessionsToTakeIn()...)
	all = append(all, s.certificates()...)
	kinds := TaskKinds()
	slices.SortStableFunc(all, func(a, b Task) int {
		return cmp.Or(cmp.Compare(b.OverdueDays, a.OverdueDays),
			cmp.Compare(slices.Index(kinds, a.Task), slices.Index(kinds, b.Task)),
			cmp.Compare(a.Exposure, b.Exposure))
	})
	return all
}

// task returns a task about a row.
func (s *standing) task(row *CouponPull, kind TaskKind, date, what string) Task {
	return Task{Task: kind, Coupon: row.Coupon, Exposure: row.Exposure, Pull: study.Num(row.Pull), Date: date,
		OverdueDays: s.daysSince(date), What: what}
}

// tasksOf returns the tasks of a coupon at a pull.
func (s *standing) tasksOf(row *CouponPull) (tasks []Task) {
	switch {
	case row.State == PullMissing && s.isOut(row):
		tasks = append(tasks, s.task(row, TaskPull, row.Date, "take it out"+doseWords(row)+" and measure "+s.wanted(row)))
	case row.State == PullMissing:
		tasks = append(tasks, s.task(row, TaskMeasure, row.Date, "measure "+s.wanted(row)))
	case row.State == PullPartly && !row.passed:
		tasks = append(tasks, s.task(row, TaskMeasure, row.Date, "measure what is missing: "+gapWords(row.Attention)))
	}
	if row.Held > 0 {
		tasks = append(tasks, s.task(row, TaskJudge, "", "judge "+countReadings(row.Held)+", which guards hold"))
	}
	if n := row.Stale + row.Unfitted; n > 0 {
		tasks = append(tasks, s.task(row, TaskFit, "", "evaluate "+countSpots(n)))
	}
	return tasks
}

// isOut reports whether a coupon is at its exposure, and is to be taken out.
func (s *standing) isOut(row *CouponPull) bool {
	return row.Pull > s.coupons[row.Coupon].BaselinePull && s.lives.Of(row.Coupon).IsOut(row.Pull)
}

func doseWords(row *CouponPull) string {
	if !row.Dose.Valid() {
		return ""
	}
	return fmt.Sprintf(" at %g %s", float64(row.Dose), row.DoseUnit)
}

// wanted says in words what is to be measured of a coupon of which nothing is read.
func (s *standing) wanted(row *CouponPull) string {
	c := s.coupons[row.Coupon]
	spots := s.expect.spots(c, row.Pull)
	if len(spots) == 0 {
		return "its spots"
	}
	words := "spots " + strings.Join(spots, ", ")
	if len(spots) == 1 {
		words = "spot " + spots[0]
	}
	var angles []string
	for _, kind := range s.expect.kinds(c, row.Pull, spots[0]) {
		angles = append(angles, angleWords(kind))
	}
	if len(angles) > 0 {
		words += " at " + strings.Join(angles, ", ") + " degrees"
	}
	return words
}

// gapWords writes the words of attention for gaps as a person says them.
func gapWords(attention []string) string {
	var gaps []string
	for _, word := range attention {
		if spot, is := strings.CutPrefix(word, AttentionSpot); is {
			gaps = append(gaps, "spot "+spot)
		}
		if place, is := strings.CutPrefix(word, AttentionAngle); is {
			k := strings.LastIndexByte(place, '@')
			gaps = append(gaps, fmt.Sprintf("spot %s at %s degrees", place[:k], place[k+1:]))
		}
	}
	return strings.Join(gaps, ", ")
}

func countSpots(n int) string {
	if n == 1 {
		return "1 spot"
	}
	return fmt.Sprintf("%d spots", n)
}

// daysSince returns the days from a date to the day of s, 0 if it is none or later.
func (s *standing) daysSince(date string) int {
	from, err := time.Parse(time.DateOnly, date)
	to, wrong := time.Parse(time.DateOnly, s.day)
	if err != nil || wrong != nil {
		return 0
	}
	return max(0, int(to.Sub(from).Hours()/24))
}

// sessionsToTakeIn returns a task for each session that was held and that no reading names.
func (s *standing) sessionsToTakeIn() (tasks []Task) {
	for i := range s.roster.Sessions {
		session := &s.roster.Sessions[i]
		if s.sessions[session.Session] || session.Date > s.day {
			continue
		}
		tasks = append(tasks, Task{Task: TaskTakeIn, Pull: study.Null(), Date: session.Date,
			OverdueDays: s.daysSince(session.Date), What: "take the exports of session " + session.Session + " in: no reading names it"})
	}
	return tasks
}

// expiry is the day on which the last certificate of something expires.
type expiry struct{ what, date string }

// expiries returns them for each reference and check standard whose last certificate expires, in the
// order of their names.
func (s *standing) expiries() (all []expiry) {
	last := map[string]string{}
	for i := range s.roster.References { // in the order of names and days of issue
		r := &s.roster.References[i]
		last["reference "+r.Reference] = r.Expires
	}
	for i := range s.roster.Standards {
		c := &s.roster.Standards[i]
		last["check standard "+c.Standard] = c.Expires
	}
	for _, what := range slices.Sorted(maps.Keys(last)) {
		if last[what] != "" {
			all = append(all, expiry{what, last[what]})
		}
	}
	return all
}

// certificates returns a task for each certificate that has expired or expires within
// [ExpiryNotice] days.
func (s *standing) certificates() (tasks []Task) {
	notice := s.day
	if day, err := time.Parse(time.DateOnly, s.day); err == nil {
		notice = day.AddDate(0, 0, ExpiryNotice).Format(time.DateOnly)
	}
	for _, e := range s.expiries() {
		if e.date > notice {
			continue
		}
		words := "renew the certificate of " + e.what + ": it expires on " + e.date
		if e.date < s.day {
			words = "renew the certificate of " + e.what + ": it expired on " + e.date
		}
		tasks = append(tasks, Task{Task: TaskCertificate, Pull: study.Null(), Date: e.date,
			OverdueDays: s.daysSince(e.date), What: words})
	}
	return tasks
}
