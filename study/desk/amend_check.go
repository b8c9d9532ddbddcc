package desk

import (
	"fmt"
	"slices"
	"strings"

	"wane/study"
	"wane/study/evaluate"
	"wane/study/intake/sheet"
	"wane/study/store"
)

// checkNames notes the rows that name what is not enrolled.
func (c *correcting) checkNames() error {
	namesOfLives(c.before, c.roster.Lives, &c.faults)
	for _, err := range []error{exposuresKnown(c.before, &c.roster), namesKnown(c.before, &c.roster)} {
		if err != nil && !c.faults.Note(err) {
			return err
		}
	}
	return nil
}

// check checks the study as a whole after the corrections. The error has every fault, but those that were there before.
func (c *correcting) check() error {
	whole, err := c.tx.Roster()
	if err != nil {
		return err
	}
	var faults study.Refusals
	for _, check := range []func() error{
		func() error { return batchesPossible(&c.roster) },
		func() error { return instrumentsPossible(&c.roster) },
		func() error { return quantitiesAgree(whole, &c.roster) },
		func() error { return checksKnown(whole, &c.roster) },
		func() error { return evaluate.CheckStandards(whole) },
		func() error { return c.desk.checkResolved(whole, &c.roster) },
		func() error { return c.checkCoupons(whole) },
		func() error { return checkDates(whole, &c.roster) },
		func() error { return c.checkLives(whole) },
		c.checkPlans,
	} {
		if err := check(); err != nil && !faults.Note(err) {
			return err
		}
	}
	return placed(faults).Err()
}

// mostConsequences is how many faults are said that are in no line of a table.
const mostConsequences = 10

// placed returns first the refusals of lines, then the first of the others, which come of the correction.
func placed(faults study.Refusals) (lines study.Refusals) {
	var others study.Refusals
	for _, r := range faults {
		if r.File != "" || r.Line != 0 {
			lines = append(lines, r)
		} else {
			others = append(others, consequence(r))
		}
	}
	if more := len(others) - mostConsequences; more > 1 {
		others = append(others[:mostConsequences], &study.Refusal{
			Fault: fmt.Sprintf("after this correction: %d more faults like these", more), Try: "begin with those above"})
	}
	return append(lines, others...)
}

// consequence says of a refusal that it comes of the correction.
func consequence(r *study.Refusal) *study.Refusal {
	return &study.Refusal{Fault: "after this correction: " + r.Fault,
		Try: r.Try + "; what changes together goes into one command, which takes several tables", Cause: r}
}

// isMade reports whether a cell of one of these tables was corrected, or a row withdrawn.
func (c *correcting) isMade(tables ...string) bool {
	return slices.ContainsFunc(c.made, func(m store.Correction) bool { return slices.Contains(tables, m.Of) })
}

// checkCoupons checks that the optics of every coupon are known where a batch, a table of a glass or a return spectrum was
// corrected.
func (c *correcting) checkCoupons(whole *study.Roster) error {
	if !c.isMade("glass", "glass_batch", "return_spectrum") {
		return nil
	}
	var faults study.Refusals
	checked := map[string]bool{}
	for i := range whole.Coupons {
		p := &whole.Coupons[i]
		key := p.Glass + "\x00" + evaluate.KeyOfCoupon(p, whole)
		if checked[key] {
			continue
		}
		checked[key] = true
		setup, err := evaluate.CouponSetup(p, c.desk.Settings().Mixing, whole)
		if err == nil {
			_, err = evaluate.NewEvaluator(setup)
		}
		if err != nil && !faults.Note(err) {
			return err
		}
	}
	return faults.Err()
}

// checkDates refuses dates of pulls that were corrected and fall from one pull to the next.
func checkDates(whole *study.Roster, roster *sheet.Roster) error {
	last := map[string]study.Pull{} // with a date, by exposure
	var faults study.Refusals
	for _, p := range whole.Pulls { // in the order of their numbers
		if p.Date == "" {
			continue
		}
		if before, is := last[p.Exposure]; is && before.Date > p.Date {
			if l := lineOfPulls(roster, before, p); l != nil {
				faults.Note(l.Refuse("correct the dates of both pulls in one table, if both are wrong",
					"exposure %s: the date %s of pull %d lies before the %s of pull %d", p.Exposure, p.Date, p.Pull, before.Date, before.Pull))
			}
		}
		last[p.Exposure] = p
	}
	return faults.Err()
}

// checkLives checks what happened to coupons, and the unit of doses.
func (c *correcting) checkLives(whole *study.Roster) error {
	if !c.isMade("coupon", "exposure", "pull", "coupon_event", "dose_reading") {
		return nil
	}
	var faults study.Refusals
	dosesKnown(whole, c.roster.Doses, &faults)
	if err := c.checkUnits(whole); err != nil && !faults.Note(err) {
		return err
	}
	after, err := faultsOfLives(whole, c.tx.PullsRead, c.roster.Lives)
	if err != nil {
		return err
	}
	if len(after) > 0 {
		var lines []sheet.Line[study.CouponEvent] // with which doubts of events count as faults, too
		for _, e := range c.before.Lives {
			lines = append(lines, sheet.Line[study.CouponEvent]{Row: e})
		}
		before, err := faultsOfLives(c.before, c.tx.PullsRead, lines)
		if err != nil {
			return err
		}
		after = slices.DeleteFunc(after, func(r *study.Refusal) bool {
			return slices.ContainsFunc(before, func(b *study.Refusal) bool { return b.Fault == r.Fault })
		})
	}
	faults = append(faults, after...)
	if err := c.checkBaselinesRead(); err != nil && !faults.Note(err) {
		return err
	}
	return faults.Err()
}

// checkUnits refuses units of exposures in which their rows of doses are not.
func (c *correcting) checkUnits(whole *study.Roster) error {
	var faults study.Refusals
	for _, l := range c.roster.Exposures {
		other := func(d study.DoseReading) bool { return d.Exposure == l.Row.Exposure && d.Unit != l.Row.DoseUnit }
		if i := slices.IndexFunc(whole.Doses, other); i >= 0 {
			faults.Note(l.Refuse("amend value and unit of these rows in the same command, or leave the unit",
				"exposure %s: its doses would be in %s, and its row of doses of %s is in %s", l.Row.Exposure, l.Row.DoseUnit,
				whole.Doses[i].Date, whole.Doses[i].Unit))
		}
	}
	return faults.Err()
}

// checkBaselinesRead refuses a baseline pull after which a coupon begins, but was read before.
func (c *correcting) checkBaselinesRead() error {
	var faults study.Refusals
	for _, l := range c.roster.Coupons {
		if l.Row.BaselinePull == 0 {
			continue
		}
		pulls, err := c.tx.PullsRead(l.Row.Coupon)
		if err != nil {
			return err
		}
		if len(pulls) > 0 && pulls[0] < l.Row.BaselinePull {
			faults.Note(l.Refuse("put these readings where they belong with `wane move`, or set them aside with `wane review "+
				"--aside`; or correct baseline_pull", "coupon %s: it was read at pull %d, before its baseline pull %d", l.Row.Coupon,
				pulls[0], l.Row.BaselinePull))
		}
	}
	return faults.Err()
}

// checkPlans refuses a correction after which nobody plans a pull at which something was read.
func (c *correcting) checkPlans() error {
	if !c.isMade("coupon", "coupon_event") {
		return nil
	}
	coupons := slices.Clone(c.coupons)
	for _, l := range c.roster.Coupons {
		coupons = append(coupons, l.Row.Coupon)
	}
	for _, l := range c.roster.Lives {
		coupons = append(coupons, l.Row.Coupon)
	}
	slices.Sort(coupons)
	var faults study.Refusals
	for _, coupon := range slices.Compact(coupons) {
		readings, measurements, err := c.tx.Unplanned(coupon)
		if err != nil {
			return err
		}
		var words []string
		if len(readings) > 0 {
			words = append(words, countedReadings(readings))
		}
		if len(measurements) > 0 {
			words = append(words, fmt.Sprintf("measurements %s", numbersUpTo(measurements)))
		}
		if len(words) > 0 {
			faults.Note(c.lineOfCoupon(coupon).Refuse("enrol these pulls for the exposure that the coupon is to have, then amend again",
				"coupon %s: nobody would plan the pull of %s any more", coupon, strings.Join(words, " and ")))
		}
	}
	return faults.Err()
}

// lineOfCoupon returns the line that corrects a coupon or an event of it; without a File: there is none.
func (c *correcting) lineOfCoupon(coupon string) sheet.Line[string] {
	for _, l := range c.roster.Coupons {
		if l.Row.Coupon == coupon {
			return sheet.Line[string]{File: l.File, Number: l.Number}
		}
	}
	for _, l := range c.roster.Lives {
		if l.Row.Coupon == coupon {
			return sheet.Line[string]{File: l.File, Number: l.Number}
		}
	}
	return sheet.Line[string]{}
}

// numbersUpTo lists the first numbers, and says how many more there are.
func numbersUpTo(numbers []int64) string {
	var words []string
	for _, n := range numbers {
		words = append(words, fmt.Sprint(n))
	}
	return namesUpTo(words, mostNamed)
}

// notes says what else comes of the corrections.
func (c *correcting) notes() ([]string, error) {
	notes, err := c.notesOfValues()
	for _, m := range c.made {
		if err != nil || m.Field != "" {
			continue
		}
		var readings, fits int
		if readings, fits, err = c.tx.GoneWith(m); readings+fits == 0 {
			continue
		}
		if m.Of == "coupon" {
			notes = append(notes, fmt.Sprintf("%s: also taken out: %s, set aside, and %s of results", m.What,
				amount(readings, "reading"), amount(fits, "row")))
		} else {
			notes = append(notes, fmt.Sprintf("%s: set aside for good: %s; without a dose: %s of results", m.What,
				amount(readings, "reading"), amount(fits, "row")))
		}
	}
	return notes, err
}

// notesOfValues says which readings were made absolute by values of a certificate that are others now.
func (c *correcting) notesOfValues() (notes []string, err error) {
	for _, l := range c.roster.References {
		if len(l.Row.Curves) == 0 || len(c.made) == 0 {
			continue
		}
		numbers, err := c.tx.ReadAgainst(l.Row.Reference, l.Row.Issued)
		if err != nil {
			return nil, err
		}
		if len(numbers) > 0 {
			notes = append(notes, fmt.Sprintf("readings %s were made absolute by the values of reference %s as they were, and stay "+
				"so; take their exports in again with wane intake --replace", numbersUpTo(numbers), l.Row.Reference))
		}
	}
	return notes, nil
}
