package desk

import (
	"maps"
	"slices"

	"wane/study"
	"wane/study/store"
)

// TouchedFits are fits that a correction touches, each by its unit, in the order of the study.
type TouchedFits struct {
	Stale   []study.Unit // to be made again, which they were not to be before
	Missing []study.Unit // of units that have no fit yet
	Empty   []study.Unit // of units that have no reading any more: they are in results no longer
}

// fitStates are the units that have readings: whether they have a fit, and whether that is stale.
type fitStates map[study.Unit]fitState

type fitState struct{ fitted, stale bool }

// fitStates returns the states of the units of some coupons, and where fits depend on other coupons of their session, of
// all.
func (d *Desk) fitStates(v *store.View, coupons []string) (fitStates, error) {
	roster, err := v.Roster()
	if err != nil {
		return nil, err
	}
	units, err := d.unitsOf(v, coupons)
	if err != nil {
		return nil, err
	}
	w, err := d.newWorkspace(roster, units, 1)
	if err != nil {
		return nil, err
	}
	states := fitStates{}
	for _, job := range w.jobs() {
		for i := range job.units {
			u := &job.units[i]
			states[u.Unit] = fitState{fitted: u.fit != [32]byte{}, stale: u.fit != u.digest}
		}
	}
	return states, nil
}

// unitsOf returns the units of coupons, and where fits depend on other coupons of their session, all units.
func (d *Desk) unitsOf(v *store.View, coupons []string) ([]store.Unit, error) {
	if sharesSessions(d.Settings()) {
		return v.Units()
	}
	coupons = slices.Clone(coupons)
	slices.Sort(coupons)
	return v.UnitsOf(slices.Compact(coupons))
}

// touched returns what a correction touched, of which after are the states.
func (before fitStates) touched(after fitStates) (out TouchedFits) {
	for _, u := range slices.SortedFunc(maps.Keys(after), compareUnits) {
		was, is := before[u], after[u]
		switch {
		case is.stale && !is.fitted && !was.stale:
			out.Missing = append(out.Missing, u)
		case is.stale && is.fitted && !was.stale:
			out.Stale = append(out.Stale, u)
		}
	}
	for _, u := range slices.SortedFunc(maps.Keys(before), compareUnits) {
		if _, read := after[u]; !read && before[u].fitted {
			out.Empty = append(out.Empty, u)
		}
	}
	return out
}
