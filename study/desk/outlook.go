package desk

import (
	"context"
	"slices"

	"wane/study"
	"wane/study/store"
)

// Outlook counts what a study holds and what is to be done.
type Outlook struct {
	Coupons int // enrolled
	Spots   int // read, of a coupon at a pull in a condition
	ToFit   int // of these, those without a fit, or whose fit is stale
	Held    int // readings that guards hold, for a person to judge
}

// Outlook counts at one moment of the study.
func (d *Desk) Outlook(ctx context.Context) (*Outlook, error) {
	out := &Outlook{}
	err := d.store.View(ctx, func(v *store.View) error {
		roster, err := v.Roster()
		if err != nil {
			return err
		}
		units, err := v.Units()
		if err != nil {
			return err
		}
		said, err := v.Standings()
		if err != nil {
			return err
		}
		w, err := d.newWorkspace(roster, units, 1)
		if err != nil {
			return err
		}
		out.Coupons, out.Spots = len(roster.Coupons), len(units)
		for _, j := range w.jobs() {
			for i := range j.units {
				if j.units[i].digest != j.units[i].fit {
					out.ToFit++
				}
			}
		}
		for _, s := range said {
			if s.Standing == study.Held {
				out.Held++
			}
		}
		return nil
	})
	return out, err
}

// Codes are the codes by which the things of a study are called, each sorted.
type Codes struct{ Coupons, Coatings, Sessions, Standards, Profiles []string }

// Codes returns the codes that are enrolled, registered and kept.
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
	for _, codes := range []*[]string{&out.Coupons, &out.Coatings, &out.Sessions, &out.Standards, &out.Profiles} {
		slices.Sort(*codes)
		*codes = slices.Compact(*codes)
	}
	return out, err
}
