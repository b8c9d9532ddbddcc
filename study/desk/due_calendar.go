package desk

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"strings"
	"time"

	"wane/study/intake/text"
)

// CalendarDay is a planned day of a study that is not done yet.
type CalendarDay struct {
	ID            string // the same each time, of the same day of the same study
	Day           time.Time
	Summary, What string
}

// Calendar returns the pulls that coupons are still to be read at, one for each exposure and pull with
// a day, and the days on which the last certificates expire; and the time at which it was made.
func (d *Desk) Calendar(ctx context.Context) (days []CalendarDay, at time.Time, err error) {
	s, err := d.standing(ctx, Moment{})
	if err != nil {
		return nil, at, err
	}
	add := func(date, summary, what string) {
		day, err := time.Parse(time.DateOnly, date)
		if err != nil {
			return // no day is planned
		}
		sum := sha256.Sum256([]byte(d.Settings().Created + "\x00" + summary))
		days = append(days, CalendarDay{ID: hex.EncodeToString(sum[:12]), Day: day, Summary: summary, What: what})
	}
	for _, p := range s.openPulls() {
		add(p.date, p.name(), strings.Join(p.coupons, ", "))
	}
	expiries := s.expiries()
	for _, e := range expiries {
		add(e.date, e.what+" expires", "renew the certificate")
	}
	return days, d.now().UTC(), nil
}

// openPull is a pull at which coupons of an exposure are still to be read.
type openPull struct {
	exposure, date, dose string
	pull                 int
	coupons              []string
}

func (p *openPull) name() string {
	name := fmt.Sprintf("pull %d", p.pull)
	if p.exposure != "" {
		name += " of " + p.exposure
	}
	return name + p.dose
}

// openPulls returns them in the order of exposures and pulls.
func (s *standing) openPulls() (open []*openPull) {
	known := map[string]*openPull{}
	for i := range s.rows {
		row := &s.rows[i]
		if row.State != PullPlanned && row.State != PullMissing {
			continue
		}
		key := fmt.Sprintf("%d\x00%s", row.Pull, row.Exposure)
		p := known[key]
		if p == nil {
			p = &openPull{exposure: row.Exposure, date: row.Date, pull: row.Pull}
			known[key], open = p, append(open, p)
		}
		if p.dose == "" {
			p.dose = doseWords(row)
		}
		p.coupons = append(p.coupons, row.Coupon)
	}
	return open
}

// nextPull says which pull is planned next, after the day of s; empty: none with a day.
func (s *standing) nextPull() string {
	var next *openPull
	for _, p := range s.openPulls() {
		if p.date > s.day && (next == nil || p.date < next.date || p.date == next.date && next.exposure == "") {
			next = p
		}
	}
	if next == nil {
		return ""
	}
	return fmt.Sprintf("%s on %s", next.name(), next.date)
}

// Day reads a day as a table may write it, and returns it as ISO 8601.
func Day(words string) (string, error) {
	day, doubt := text.DayIn(words)
	switch {
	case doubt != "":
		return "", fmt.Errorf("%q is %s", words, doubt)
	case day == "":
		return "", fmt.Errorf("%q is no day", words)
	}
	return day, nil
}
