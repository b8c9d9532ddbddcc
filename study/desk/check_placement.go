package desk

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"wane/fit/film"
	"wane/study"
	"wane/study/evaluate"
	"wane/study/store"
)

// PlacementOptions name a series: a coupon that was set down again and again in a session.
type PlacementOptions struct{ Coupon, Session string }

// PlacementSeries is what a series says of the placements of one spot at an instrument.
type PlacementSeries struct {
	study.Unit
	Session study.Session // of one that is not enrolled only the name
	*evaluate.Placements
	NoiseFactor float64 // what the variance of the noise by second differences was multiplied by
	Estimates   []PriorEstimate
}

// PriorEstimate is an uncertainty of an instrument as readings show it.
type PriorEstimate struct {
	Name                string    // what it is called
	Unit                string    // of all numbers; 1 for fractions
	N                   int       // placements; sessions for the zero between them
	Value, Lower, Upper study.Num // lower 0: not distinguished from none
	Proposed            study.Num // to be taken for the instrument; null: none
	Why                 string
}

// PlacementLevel is the level of the intervals.
const PlacementLevel = 0.95

// Placement estimates how placements scatter at an instrument, for each spot of the coupon with at least three
// placements in the session, and how its zero scatters between sessions, if light traps were read in at least three. It
// proposes what to take for the instrument; nothing is changed.
func (d *Desk) Placement(ctx context.Context, opt PlacementOptions) (all []PlacementSeries, err error) {
	var w *fitWorkspace
	var readings map[study.Unit][]study.Reading
	err = d.store.View(ctx, func(v *store.View) error {
		roster, err := v.Roster()
		if err != nil {
			return err
		}
		units, err := v.Units()
		if err != nil {
			return err
		}
		if w, err = d.newWorkspace(roster, units, 1); err != nil {
			return err
		}
		readings, err = w.readingsInSession(v, opt)
		return err
	})
	if err != nil {
		return nil, err
	}
	most := 0
	for i := range w.units {
		u := w.units[i].Unit
		placements := evaluate.PlacementsOf(readings[u])
		if most = max(most, len(placements.Numbers)); len(placements.Numbers) < film.LeastPlacements {
			continue
		}
		conditions := w.conditionsOf(u, opt.Session)
		if err := conditions.CheckGeometry(readings[u]); err != nil {
			return nil, err
		}
		series, err := w.placementSeries(ctx, u, registeredSession(w.roster, opt.Session), placements)
		var refused *study.Refusal
		if errors.As(err, &refused) {
			return nil, refused.About(describeUnit(u))
		}
		if err != nil {
			return nil, err
		}
		all = append(all, *series)
	}
	if len(all) == 0 {
		return nil, tooFewMounts(opt, most)
	}
	return all, nil
}

// registeredSession returns the session as it is enrolled; if it is not, with its name alone.
func registeredSession(roster *study.Roster, name string) study.Session {
	for i := range roster.Sessions {
		if roster.Sessions[i].Session == name {
			return roster.Sessions[i]
		}
	}
	return study.Session{Session: name, HumidityPercent: study.Null(), TemperatureC: study.Null()}
}

// placementSeries estimates from the placements of one unit.
func (w *fitWorkspace) placementSeries(ctx context.Context, u study.Unit, session study.Session,
	placements *evaluate.Placements) (*PlacementSeries, error) {
	e, err := w.evaluator(0, u, session.Session)
	if err != nil {
		return nil, err
	}
	scatter, err := e.Placement(ctx, placements, PlacementLevel)
	if err != nil {
		return nil, err
	}
	s := &PlacementSeries{Unit: u, Session: session, Placements: placements, NoiseFactor: scatter.NoiseFactor}
	return s, s.estimate(w.roster, scatter)
}

// readingsInSession returns the readings of reflectance of the coupon in the session that are counted.
func (w *fitWorkspace) readingsInSession(v *store.View, opt PlacementOptions) (map[study.Unit][]study.Reading, error) {
	if w.coupons[opt.Coupon] == nil {
		return nil, notEnrolled(w.roster, opt.Coupon)
	}
	read, err := v.SessionsRead()
	if err != nil {
		return nil, err
	}
	if !slices.Contains(read, opt.Session) {
		return nil, notRead(opt.Session, read)
	}
	found := map[study.Unit][]study.Reading{}
	for i := range w.units {
		u := w.units[i].Unit
		if u.Coupon != opt.Coupon {
			continue
		}
		all, err := w.checkedReadings(u, v.Readings)
		if err != nil {
			return nil, err
		}
		for _, r := range all {
			if r.Session == opt.Session && r.Quantity == study.Reflectance {
				found[u] = append(found[u], r)
			}
		}
	}
	return found, nil
}

// notRead is the refusal of a session that no reading names; read are those that some do.
func notRead(session string, read []string) error {
	return &study.Refusal{Fault: fmt.Sprintf("no reading names a session %q", session),
		Try: tryCode(session, read, "name it in the column session of the map, and take the readings in")}
}

func tooFewMounts(opt PlacementOptions, most int) error {
	return &study.Refusal{
		Fault: fmt.Sprintf("no spot of coupon %s has %d complete placements in session %s; the most is %d", opt.Coupon,
			film.LeastPlacements, opt.Session, most),
		Try: "set the coupon down about ten times in one session, read all angles each time, and give each time a " +
			"mounting of its own in the map, and a replicate too",
	}
}

// estimate fills in the estimates and what is proposed.
func (s *PlacementSeries) estimate(roster *study.Roster, scatter *film.PlacementScatter) error {
	if s.Session.Instrument != "" {
		zero, err := evaluate.MeasureZero(roster, s.Session.Instrument, PlacementLevel)
		if err != nil {
			return err
		}
		if zero != nil {
			s.Estimates = append(s.Estimates, zeroEstimate(zero))
		}
	}
	for _, e := range []struct {
		name, unit string
		found      film.ScatterRange
	}{{"u_place", "1", scatter.Factor}, {"u_tilt", "degrees", scatter.Tilt}, {"u_place_zero", "1", scatter.Zero}} {
		s.Estimates = append(s.Estimates, priorEstimate(e.name, e.unit, scatter.Placements, e.found))
	}
	return nil
}

// priorEstimate proposes an estimate that the readings distinguish from none.
func priorEstimate(name, unit string, n int, found film.ScatterRange) PriorEstimate {
	e := PriorEstimate{Name: name, Unit: unit, N: n, Value: study.Num(found.SD), Lower: study.Num(found.Lower),
		Upper: study.Num(found.Upper), Proposed: study.Num(found.SD), Why: "estimated"}
	if found.Lower == 0 {
		e.Proposed, e.Why = study.Null(), "not distinguished from 0: keep the default"
	}
	return e
}

func zeroEstimate(z *evaluate.ZeroScatter) PriorEstimate {
	e := priorEstimate("u_zero", "1", z.Sessions, z.ScatterRange)
	u, biased := z.About()
	switch {
	case biased:
		e.Proposed = study.Num(u)
		e.Why = fmt.Sprintf("contains the mean reading of the light trap, %.2g as a fraction, which is not 0: find what adds light",
			float64(z.Mean.Value))
	case e.Proposed.Valid() && !z.Replicated:
		e.Why = "estimated, with the noise of single readings of the light trap"
	}
	return e
}
