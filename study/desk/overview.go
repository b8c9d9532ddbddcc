package desk

import (
	"context"
	"slices"

	"wane/study/store"
)

// Overview counts what a study holds and what is to be done.
type Overview struct {
	Coupons int // enrolled
	Spots   int // read, of a coupon at a pull in a condition
	Fits    FitsDue
	Held    int // readings that guards hold, for a person to judge
}

// FitsDue counts the spots, each at a pull, that the next fit evaluates.
type FitsDue struct {
	Stale   int // their fit was made from other readings or entries, or by another version of the model
	Missing int // they have no fit, or a review has made it invalid
}

// Spots is the number of all of them.
func (f FitsDue) Spots() int { return f.Stale + f.Missing }

// FitsDue counts at one moment of the study: as of a line of the log; 0: the last one.
func (d *Desk) FitsDue(ctx context.Context, asOf int64) (due FitsDue, err error) {
	err = d.view(ctx, asOf, func(v *store.View) error {
		survey, changed, err := d.surveyOf(v)
		if err != nil {
			return err
		}
		roster, err := v.Roster()
		if err != nil {
			return err
		}
		var units []store.Unit
		if survey == nil {
			units, err = v.Units()
		} else {
			units, err = v.UnitsOf(changed)
		}
		if err != nil {
			return err
		}
		w, err := d.newWorkspace(roster, units, 1)
		if err == nil {
			due = w.fitsDue()
		}
		return err
	})
	return due, err
}

// fitsDue counts the units whose fit is missing or stale.
func (w *fitWorkspace) fitsDue() (due FitsDue) {
	for _, job := range w.jobs() {
		for i := range job.units {
			switch job.units[i].fit {
			case job.units[i].digest:
			case [32]byte{}:
				due.Missing++
			default:
				due.Stale++
			}
		}
	}
	return due
}

// Codes are the codes by which the things of a study are called, each sorted.
type Codes struct{ Coupons, Coatings, Exposures, Sessions, Standards, Profiles []string }

// Codes returns the codes that are enrolled and kept.
func (d *Desk) Codes(ctx context.Context) (*Codes, error) {
	out := &Codes{}
	err := d.store.View(ctx, func(v *store.View) error {
		roster, err := v.Roster()
		if err != nil {
			return err
		}
		for i := range roster.Coupons {
			c := &roster.Coupons[i]
			out.Coupons = append(out.Coupons, c.Coupon)
			if c.Coating != "" {
				out.Coatings = append(out.Coatings, c.Coating)
			}
		}
		for i := range roster.Exposures {
			out.Exposures = append(out.Exposures, roster.Exposures[i].Exposure)
		}
		for i := range roster.Sessions {
			out.Sessions = append(out.Sessions, roster.Sessions[i].Session)
		}
		out.Standards = standardNames(roster)
		return nil
	})
	if err != nil {
		return nil, err
	}
	profiles, err := d.Profiles(ctx)
	for _, p := range profiles {
		out.Profiles = append(out.Profiles, p.Name)
	}
	for _, codes := range []*[]string{&out.Coupons, &out.Coatings, &out.Exposures, &out.Sessions, &out.Standards,
		&out.Profiles} {
		slices.Sort(*codes)
		*codes = slices.Compact(*codes)
	}
	return out, err
}
