package desk

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"wane/study"
	"wane/study/evaluate"
	"wane/study/store"
)

// hangsNothing are tables whose rows enter no fit, so that nobody looks for fits that become stale.
var hangsNothing = map[string]bool{"exposure": true, "pull": true, "event": true, "measurement": true,
	"coupon_event": true, "dose_reading": true}

// fitsBefore are the units of a study and those of them whose fit is up to date.
type fitsBefore struct {
	units    []store.Unit
	upToDate map[study.Unit]bool
}

// upToDate returns the units whose fit is up to date, before anything is corrected. It is nil if no fit can hang on what is
// to be corrected.
func (c *correcting) upToDate() (*fitsBefore, error) {
	if !slices.ContainsFunc(c.touched, func(t touched) bool { return !hangsNothing[t.table] }) {
		return nil, nil
	}
	v := c.tx.View()
	roster, err := v.Roster()
	if err != nil {
		return nil, err
	}
	b := &fitsBefore{upToDate: map[study.Unit]bool{}}
	if b.units, err = v.Units(); err != nil {
		return nil, err
	}
	err = c.eachDigest(roster, b.units, func(u *jobUnit) { b.upToDate[u.Unit] = u.digest == u.fit })
	return b, err
}

// stale returns those of the units whose fit is up to date no more.
func (c *correcting) stale(before *fitsBefore) (stale []study.Unit, err error) {
	if before == nil || len(c.made) == 0 {
		return nil, nil
	}
	roster, err := c.tx.Roster()
	if err != nil {
		return nil, err
	}
	coupons := couponsByCode(roster)
	units := slices.DeleteFunc(slices.Clone(before.units), func(u store.Unit) bool { return coupons[u.Coupon] == nil })
	err = c.eachDigest(roster, units, func(u *jobUnit) {
		if before.upToDate[u.Unit] && u.digest != u.fit {
			stale = append(stale, u.Unit)
		}
	})
	return stale, err
}

// eachDigest hands the units with the digests of what their fits hang on to see.
func (c *correcting) eachDigest(roster *study.Roster, units []store.Unit, see func(*jobUnit)) error {
	w, err := c.desk.newWorkspace(roster, units, 1)
	if err != nil {
		return err
	}
	for _, job := range w.jobs() {
		for i := range job.units {
			see(&job.units[i])
		}
	}
	return nil
}

// check checks the study as a whole after the corrections.
func (c *correcting) check() error {
	whole, err := c.tx.Roster()
	if err != nil {
		return err
	}
	for _, l := range c.roster.Batches {
		if err := withPlace(l, evaluate.CheckBatch(&l.Row)); err != nil {
			return err
		}
	}
	for _, l := range c.roster.Instruments {
		if err := withPlace(l, evaluate.CheckInstrument(&l.Row)); err != nil {
			return err
		}
	}
	for _, check := range []func() error{
		func() error { return exposuresKnown(whole, &c.roster) },
		func() error { return namesKnown(whole, &c.roster) },
		func() error { return checksKnown(whole, &c.roster) },
		func() error { return evaluate.CheckStandards(whole) },
		func() error { return c.desk.checkResolved(whole, &c.roster) },
		func() error { return c.checkCoupons(whole) },
		func() error { return c.checkDates(whole) },
		c.checkPlans,
	} {
		if err := check(); err != nil {
			return c.placed(err)
		}
	}
	return nil
}

// placed adds to a refusal that names no line that it comes of the correction.
func (c *correcting) placed(err error) error {
	var r *study.Refusal
	if errors.As(err, &r) && r.File == "" && r.Line == 0 {
		return &study.Refusal{Fault: "after this correction: " + r.Fault, Try: r.Try, Cause: r}
	}
	return err
}

// checkCoupons checks that the optics of every coupon are known where a batch, a table of a glass or a return spectrum was
// corrected.
func (c *correcting) checkCoupons(whole *study.Roster) error {
	of := func(m store.Correction) bool {
		return m.Of == "glass" || m.Of == "glass_batch" || m.Of == "return_spectrum"
	}
	if !slices.ContainsFunc(c.made, of) {
		return nil
	}
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
		if err != nil {
			return err
		}
	}
	return nil
}

// checkDates refuses dates of pulls that fall from one pull to the next, of the exposures whose pulls were corrected.
func (c *correcting) checkDates(whole *study.Roster) error {
	for _, l := range c.roster.Pulls {
		last := study.Pull{}
		for _, p := range whole.Pulls { // in the order of their numbers
			if p.Exposure != l.Row.Exposure || p.Date == "" {
				continue
			}
			if last.Date > p.Date {
				return l.Refuse("correct the dates of both pulls in one table, if both are wrong",
					"exposure %s: the date %s of pull %d lies before the %s of pull %d", p.Exposure, p.Date, p.Pull, last.Date, last.Pull)
			}
			last = p
		}
	}
	return nil
}

// checkPlans refuses a correction after which nobody plans a pull at which something was read.
func (c *correcting) checkPlans() error {
	if !slices.ContainsFunc(c.made, func(m store.Correction) bool {
		return m.Of == "coupon" || m.Of == "pull" || m.Of == "exposure" || m.Of == "coupon_event"
	}) {
		return nil
	}
	readings, measurements, err := c.tx.Unplanned()
	if err != nil || len(readings)+len(measurements) == 0 {
		return err
	}
	var words []string
	if len(readings) > 0 {
		words = append(words, fmt.Sprintf("readings %s", numbersUpTo(readings)))
	}
	if len(measurements) > 0 {
		words = append(words, fmt.Sprintf("measurements %s", numbersUpTo(measurements)))
	}
	return &study.Refusal{
		Fault: "nobody would plan the pull of " + strings.Join(words, " and ") + " any more",
		Try:   "enrol these pulls for the exposure that the coupon is to have, then amend again",
	}
}

// numbersUpTo lists the first numbers, and says how many more there are.
func numbersUpTo(numbers []int64) string {
	var words []string
	for _, n := range numbers {
		words = append(words, fmt.Sprint(n))
	}
	return namesUpTo(words, mostNamed)
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
