package desk

import (
	"slices"

	"wane/study"
	"wane/study/store"
)

// hangsNothing are tables whose rows enter no fit, so that nobody looks for fits that become stale.
var hangsNothing = map[string]bool{"exposure": true, "pull": true, "event": true, "measurement": true,
	"coupon_event": true, "dose_reading": true}

// stale returns the units whose fit was up to date before the corrections that were made, and is no more. Readings and
// fits are the same before and after.
func (c *correcting) stale() (stale []study.Unit, err error) {
	units, err := c.concerned()
	if err != nil || len(units) == 0 {
		return nil, err
	}
	upToDate := map[study.Unit]bool{}
	err = c.eachDigest(c.before, units, func(u *jobUnit) { upToDate[u.Unit] = u.digest == u.fit })
	if err != nil {
		return nil, err
	}
	after, err := c.tx.Roster()
	if err != nil {
		return nil, err
	}
	coupons := couponsByCode(after)
	units = slices.DeleteFunc(units, func(u store.Unit) bool { return coupons[u.Coupon] == nil })
	err = c.eachDigest(after, units, func(u *jobUnit) {
		if upToDate[u.Unit] && u.digest != u.fit {
			stale = append(stale, u.Unit)
		}
	})
	slices.SortFunc(stale, compareUnits)
	return stale, err
}

// concerned returns the units whose fits can depend on what was corrected.
func (c *correcting) concerned() ([]store.Unit, error) {
	v := c.tx.View()
	amended := map[string]bool{}
	for _, m := range c.made {
		switch {
		case hangsNothing[m.Of], m.Of == "coupon" && m.Field == "": // nothing is read of a coupon that goes
		case m.Field != "" && (m.Of == "coupon" || m.Of == "session" || m.Of == "standard_reading"):
			amended[m.Of] = true
		default: // a glass, a certificate, an instrument: of whatever coupon
			return v.Units()
		}
	}
	var coupons []string
	sessions := map[string]bool{}
	for _, l := range c.roster.Coupons {
		coupons = append(coupons, l.Row.Coupon)
	}
	for _, l := range c.roster.Sessions {
		sessions[l.Row.Session] = true
	}
	for _, l := range c.roster.Checks {
		sessions[l.Row.Session] = true
	}
	if len(amended) == 0 {
		return nil, nil
	}
	read, err := v.CouponsReadIn(sessions)
	if err != nil || len(coupons)+len(read) == 0 {
		return nil, err
	}
	return c.desk.unitsOf(v, append(coupons, read...))
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
