package desk

import (
	"context"
	"errors"
	"slices"

	"wane/study"
	"wane/study/ageing"
	"wane/study/evaluate"
	"wane/study/store"
)

// Bridges returns the offsets between instruments that results take off changes across them, as of a line of the log;
// 0: the last one.
func (d *Desk) Bridges(ctx context.Context, asOf int64) (bridges []ageing.Bridge, err error) {
	err = d.view(ctx, asOf, func(v *store.View) error {
		roster, err := v.Roster()
		if err == nil {
			bridges, err = d.bridgesOf(ctx, v, roster, study.FollowedSolarT())
		}
		return err
	})
	return bridges, err
}

// bridgesOf returns the offsets of a quantity between instruments, by the spots that were read on two of them at one pull; none where
// all sessions are of one instrument, and in a study whose readings are taken over the blank.
func (d *Desk) bridgesOf(ctx context.Context, v *store.View, roster *study.Roster, q study.Followed) ([]ageing.Bridge,
	error) {
	instruments := map[string]string{} // by session
	several := false
	for _, s := range roster.Sessions {
		instruments[s.Session] = s.Instrument
		several = several || s.Instrument != roster.Sessions[0].Instrument
	}
	if !several || d.Settings().OverBlank {
		return nil, nil
	}
	mixed, err := v.SessionsMixed()
	if err != nil || !mixed {
		return nil, err
	}
	units, err := v.Units()
	if err != nil {
		return nil, err
	}
	w, err := d.newWorkspace(roster, units, 1)
	if err != nil {
		return nil, err
	}
	var pairs []ageing.BridgePair
	for i := range units {
		if !units[i].Mixed || units[i].Counted == 0 {
			continue
		}
		fits, err := w.fitsBySession(ctx, v, units[i].Unit)
		if err != nil {
			return nil, err
		}
		for k, b := range fits {
			for _, a := range fits[:k] {
				if from, to := instruments[a.Session], instruments[b.Session]; from != "" && to != "" {
					pairs = append(pairs, ageing.BridgePair{From: from, To: to, A: a, B: b})
				}
			}
		}
	}
	return ageing.NewBridges(q, pairs), nil
}

// fitsBySession returns the fits of the readings of a unit in each of its sessions by themselves, as far as these can
// be fitted.
func (w *fitWorkspace) fitsBySession(ctx context.Context, v *store.View, unit study.Unit) (fits []*study.Fit,
	err error) {
	readings, err := w.checkedReadings(unit, v.Readings)
	if err != nil {
		return nil, err
	}
	bySession, names := map[string][]study.Reading{}, []string{}
	for _, r := range readings {
		if bySession[r.Session] == nil {
			names = append(names, r.Session)
		}
		bySession[r.Session] = append(bySession[r.Session], r)
	}
	slices.Sort(names)
	coupon, ownersOf := w.coupons[unit.Coupon], w.roster.OwnersOf()
	for _, session := range names {
		conditions := w.conditions[session].In(bySession[session][0].Geometry)
		err := conditions.CheckGeometry(bySession[session])
		var e *evaluate.Evaluator
		if err == nil {
			e, err = w.evaluatorUnder(0, coupon, conditions)
		}
		var f *study.Fit
		if err == nil {
			f, err = e.Unit(ctx, coupon.Role, unit, bySession[session])
		}
		var refused *study.Refusal
		if errors.As(err, &refused) {
			continue
		}
		if err != nil {
			return nil, err
		}
		owners := ownersOf(f)
		f.Errors.NameOwners(&owners)
		fits = append(fits, f)
	}
	return fits, nil
}
