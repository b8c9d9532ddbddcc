package ageing_test

import (
	"context"
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"sync"
	"sync/atomic"

	"gonum.org/v1/gonum/stat/distuv"

	"wane/fit/film"
	"wane/study"
	"wane/study/ageing"
	"wane/study/evaluate"
	"wane/testdata/foreign"
)

// claim is one 95 % interval of one study: the error of its value in standard uncertainties, and both. That of a t
// interval is in deviations of a normal distribution that are as likely. A flag says that something is wrong with the
// readings, or with their session.
type claim struct {
	z, off, u float64
	flagged   bool
}

// claimOf is the claim of a value and its standard uncertainty, by a row with flags; it is none where the row has no
// value.
func (o *outcome) claimOf(what string, m study.Measure, truth float64, flags []string) {
	if !m.Value.Valid() {
		return
	}
	off := float64(m.Value) - truth
	o.claims[what] = claim{off / float64(m.U), off, float64(m.U), slices.ContainsFunc(flags, isFault)}
}

// claimOfGroup is that of the mean of a group.
func (o *outcome) claimOfGroup(what string, g *ageing.Group, truth float64) {
	off := float64(g.Change) - truth
	t := distuv.StudentsT{Sigma: 1, Nu: float64(g.DoF)}
	z := distuv.UnitNormal.Quantile(t.CDF(-math.Abs(off) / float64(g.U)))
	o.claims[what] = claim{z: math.Copysign(z, off), off: off, u: float64(g.U), flagged: g.Flags[film.FlagMisfit] > 0}
}

// isFault reports whether a flag warns that the readings are not those of the law.
func isFault(flag string) bool {
	return flag == film.FlagMisfit || flag == "poor-fit" || strings.HasPrefix(flag, "unlikely:") ||
		flag == study.FlagNoSession || flag == study.FlagNoAnchor
}

// outcome is what one study gave: claims by quantity, and whether the routes disagree on one of them.
type outcome struct {
	claims map[string]claim
	differ bool
}

// lab evaluates studies as the desk does, without a study file. Use one per goroutine.
type lab struct {
	evaluators map[string]*evaluate.Evaluator
	fitters    film.Fitters
}

// day is that of every session.
const day = "2031-05-12"

// rosterOf is what the lab registers of a study.
func rosterOf(k *scene, s *foreign.Study, rng *rand.Rand) *study.Roster {
	r := &study.Roster{Exposures: []study.Exposure{{Exposure: "roof", DoseUnit: "days"}}}
	for pull := range s.Plan.Pulls + 1 {
		r.Pulls = append(r.Pulls, study.Pull{Exposure: "roof", Pull: pull, Dose: float64(90 * pull)})
	}
	for _, c := range s.Coupons {
		coupon := study.Coupon{Coupon: c.Code, Role: study.Role(c.Role), Supplier: c.Supplier, Coating: c.Coating, Lot: c.Lot,
			Glass: c.Glass, GlassMM: study.Null(), Back: c.Back, Batch: c.GlassBatch}
		if k.noBatch {
			coupon.Batch = ""
		}
		if coupon.Role == study.Exposed {
			coupon.Exposure = "roof"
		}
		r.Coupons = append(r.Coupons, coupon)
	}
	for _, run := range s.Sessions {
		if run.LightTrap == nil {
			continue
		}
		r.Sessions = append(r.Sessions, study.Session{Session: run.Code, Instrument: "bench", Date: day})
		off := study.UTrap * rng.NormFloat64() // the trap is no darker than its certificate says
		for _, c := range run.LightTrap {
			mean := 0.0
			for _, v := range c.Reflectance {
				mean += v / float64(len(c.Reflectance))
			}
			r.Checks = append(r.Checks, study.StandardReading{Session: run.Code, Standard: "trap", AngleDeg: c.AngleDeg,
				Polarisation: "u", Replicate: 1, Value: mean + off})
		}
	}
	for _, angle := range s.Plan.Setup.AnglesDeg {
		r.Standards = append(r.Standards, study.Standard{Standard: "trap", Issued: "2031-01-01", AngleDeg: angle,
			Polarisation: "u", Quantity: study.Zero, WavelengthNM: study.Null(), U: study.UTrap})
	}
	return r
}

// readingsOf returns the curves of a reading as a study has them.
func readingsOf(r *foreign.Reading) (readings []study.Reading) {
	for _, c := range r.Curves {
		place := study.Place{Coupon: r.Coupon, Pull: r.Pull, Spot: r.Spot, AngleDeg: c.AngleDeg, Polarisation: c.Polarisation,
			Quantity: study.Reflectance, Replicate: 1}
		readings = append(readings, study.Reading{Place: place, Session: r.Session, NM: c.WavelengthNM,
			Values: c.Reflectance})
	}
	return readings
}

// evaluator returns that of a coupon in a session.
func (l *lab) evaluator(k *scene, roster *study.Roster, of map[string]evaluate.Conditions, c *study.Coupon,
	session string) (*evaluate.Evaluator, error) {
	conditions, known := of[session]
	divided := k.overBlank && c.Role != study.Blank
	key := fmt.Sprint(c.Glass, c.Back, divided, conditions.Key())
	if e := l.evaluators[key]; e != nil {
		return e, nil
	}
	setup, err := evaluate.CouponSetup(c, "bruggeman", roster)
	if err != nil {
		return nil, err
	}
	if known {
		setup = conditions.Under(setup)
	}
	if divided {
		setup = evaluate.OverBlank(setup)
	}
	if known { // of this study alone
		l.evaluators = map[string]*evaluate.Evaluator{}
	}
	l.evaluators[key], err = evaluate.NewEvaluator(setup)
	return l.evaluators[key], err
}

// units returns the units of a session with their readings.
func (l *lab) units(k *scene, roster *study.Roster, s *foreign.Study, session string,
	blanks map[string]*evaluate.BlankBefore) (units []evaluate.SessionUnit, err error) {
	coupons, conditions := map[string]*study.Coupon{}, evaluate.RegisteredConditions(roster)
	for i := range roster.Coupons {
		coupons[roster.Coupons[i].Coupon] = &roster.Coupons[i]
	}
	for i := range s.Readings {
		r := &s.Readings[i]
		if r.Session != session {
			continue
		}
		c := coupons[r.Coupon]
		e, err := l.evaluator(k, roster, conditions, c, session)
		if err != nil {
			return nil, err
		}
		unit := evaluate.SessionUnit{Evaluator: e, Coupon: c,
			Unit: study.Unit{Coupon: r.Coupon, Pull: r.Pull, Spot: r.Spot}, Readings: readingsOf(r)}
		if c.Role == study.Blank && r.Pull > 0 {
			unit.Before = blanks[r.Coupon]
		}
		if c.Role == study.Blank && r.Pull == 0 {
			blanks[r.Coupon] = &evaluate.BlankBefore{Evaluator: unit.Evaluator, Readings: unit.Readings}
		}
		units = append(units, unit)
	}
	if k.overBlank {
		err = overBlank(units)
	}
	return units, err
}

// overBlank divides the readings of a session by those of its dark blanks.
func overBlank(units []evaluate.SessionUnit) (err error) {
	var blanks []evaluate.Blank
	for _, u := range units {
		if u.Coupon.Role != study.Blank {
			continue
		}
		setup, err := evaluate.CouponSetup(u.Coupon, "bruggeman", nil)
		if err != nil {
			return err
		}
		for i := range u.Readings {
			blanks = append(blanks, evaluate.NewBlank(&setup, &u.Readings[i]))
		}
	}
	for i := range units {
		if units[i].Coupon.Role == study.Blank {
			continue
		}
		if units[i].Readings, err = evaluate.DivideByBlanks(units[i].Readings, blanks); err != nil {
			return err
		}
	}
	return nil
}

// fits are those of one coupon by both ways, in the same order.
type fits struct{ single, joint []*study.Fit }

// fitsOf evaluates a study: each spot by itself, and each session together.
func (l *lab) fitsOf(k *scene, roster *study.Roster, s *foreign.Study) (map[string]*fits, error) {
	return l.someFits(k, roster, s, true, true)
}

// someFits evaluates a study in one of the ways of fitsOf, or in both.
func (l *lab) someFits(k *scene, roster *study.Roster, s *foreign.Study, singly, jointly bool) (map[string]*fits, error) {
	ctx, of, ownersOf := context.Background(), map[string]*fits{}, roster.OwnersOf()
	blanks := map[string]*evaluate.BlankBefore{} // by coupon, at pull 0
	named := func(f *study.Fit) *study.Fit {
		owners := ownersOf(f)
		f.Errors.NameOwners(&owners)
		return f
	}
	for _, run := range s.Sessions {
		units, err := l.units(k, roster, s, run.Code, blanks)
		if err != nil {
			return nil, err
		}
		joint := &evaluate.SessionResult{}
		if jointly {
			if joint, err = evaluate.Session(ctx, run.Code, units, &l.fitters, 1); err != nil {
				return nil, err
			}
		}
		for i, u := range units {
			f := of[u.Unit.Coupon]
			if f == nil {
				f = &fits{}
				of[u.Unit.Coupon] = f
			}
			if singly {
				single, err := u.Evaluator.Unit(ctx, u.Coupon.Role, u.Unit, u.Readings)
				if err != nil {
					return nil, err
				}
				f.single = append(f.single, named(single))
			}
			if jointly {
				f.joint = append(f.joint, named(joint.Fits[i]))
			}
		}
	}
	return of, nil
}

// run makes one study and says what each route claims: of the first spot, and of the group.
func (l *lab) run(k *scene, seed, n uint64) (outcome, error) {
	s := k.plan.Run(k.law, seed, n)
	roster := rosterOf(k, &s, rand.New(rand.NewPCG(seed, n)))
	of, err := l.fitsOf(k, roster, &s)
	if err != nil {
		return outcome{}, err
	}
	routes := ageing.NewRoutes(roster)
	for _, c := range s.Coupons {
		if c.Role == "control" {
			routes.AddControl(of[c.Code].single, of[c.Code].joint)
		}
	}
	o, first := outcome{claims: map[string]claim{}}, true
	var groups [3]*ageing.Grouper
	for i := range groups {
		groups[i] = ageing.NewGrouper(ageing.ByCoating)
	}
	for _, c := range s.Coupons {
		if c.Role != "exposed" {
			continue
		}
		for j, row := range routes.Rows(of[c.Code].single, of[c.Code].joint) {
			for i := range groups {
				groups[i].Add(row.By[i])
			}
			if int(row.By[0].Pull) == s.Plan.Pulls && first {
				first = false
				truth := changeOf(&s, row.By[0])
				o.addSpot(&row, truth, s.Plan.Controls > 0)
				o.addMaterial(of[c.Code], j, truth.MaterialNM)
			}
		}
	}
	for i, route := range ageing.AllRoutes() {
		o.addGroup(string(route), groups[i].Groups(), &s)
	}
	if k.overBlank { // such a study has no route session
		maps.DeleteFunc(o.claims, func(what string, _ claim) bool { return strings.Contains(what, "session") })
		o.differ = false
	}
	return o, nil
}

// changeOf is the true change of the spot of a row.
func changeOf(s *foreign.Study, r *study.Result) *foreign.Change {
	for i := range s.Changes {
		if c := &s.Changes[i]; c.Coupon == r.Coupon && c.Spot == r.Spot && float64(c.Pull) == float64(r.Pull) {
			return c
		}
	}
	panic("no such change")
}

// addSpot adds the claims of one spot.
func (o *outcome) addSpot(row *ageing.RouteRow, truth *foreign.Change, controls bool) {
	none, single, joint := row.By[0], row.By[1], row.By[2]
	o.claimOf("change, none", none.Change, truth.ChangePP, none.Flags)
	o.claimOf("gain kept, none", none.GainKept, truth.GainKept, none.Flags)
	o.claimOf("change, session", joint.Change, truth.ChangePP, joint.Flags)
	o.claimOf("gain kept, session", joint.GainKept, truth.GainKept, joint.Flags)
	if controls {
		o.claimOf("corrected, controls", single.CorrectedChange, truth.CorrectedPP, single.Flags)
		if !slices.Contains(joint.Flags, study.FlagNoSession) {
			o.claimOf("corrected, session", joint.CorrectedChange, truth.CorrectedPP, joint.Flags)
		}
	}
	for i := range row.Pairs {
		p := &row.Pairs[i]
		o.claimOf(pairName(p), p.Difference, ofRoute(truth, p.From)-ofRoute(truth, p.Less), row.Of(p.From).Flags)
		o.differ = o.differ || p.Disagrees()
	}
}

// pairName is that of two routes.
func pairName(p *ageing.RouteDifference) string { return fmt.Sprintf("%s less %s", p.From, p.Less) }

// ofRoute is what a route should state.
func ofRoute(truth *foreign.Change, route study.Route) float64 {
	if route == study.RouteNone {
		return truth.ChangePP
	}
	return truth.CorrectedPP
}

// addMaterial adds the claims of the change of material left of fit number i of a coupon since pull 0.
func (o *outcome) addMaterial(of *fits, i int, truth float64) {
	for what, list := range map[string][]*study.Fit{"material, none": of.single, "material, session": of.joint} {
		for _, base := range list {
			if f := list[i]; base.Pull == 0 && base.Spot == f.Spot {
				u := study.Uncertainty([]study.Weighted{{Errors: &f.Errors, Output: study.OutSolid, Weight: 1},
					{Errors: &base.Errors, Output: study.OutSolid, Weight: -1}})
				o.claimOf(what, study.Measure{Value: f.Result.Solid.Value - base.Result.Solid.Value, U: study.Num(u)}, truth,
					f.Result.Flags)
			}
		}
	}
}

// addGroup adds the claim of the mean of the coating at the last pull, over all coupons that might be.
func (o *outcome) addGroup(route string, groups []ageing.Group, s *foreign.Study) {
	for i := range groups {
		g := &groups[i]
		if g.Pull != s.Plan.Pulls || !g.Lo.Valid() {
			continue
		}
		for _, truth := range s.Groups {
			if g.Group != truth.Coating || g.Pull != truth.Pull {
				continue
			}
			mean := truth.PopulationPP
			if g.Changes == "corrected" {
				mean -= truth.ControlsPP
			}
			o.claimOfGroup("group, "+route, g, mean)
		}
	}
}

// simulate makes n studies on two goroutines. Studies do not hang on who makes them.
func simulate(k *scene, seed uint64, n int) ([]outcome, error) {
	return manyStudies(n, func(l *lab, i uint64) (outcome, error) { return l.run(k, seed, i) })
}

// manyStudies makes n studies of any kind as simulate does.
func manyStudies[Outcome any](n int, run func(l *lab, i uint64) (Outcome, error)) ([]Outcome, error) {
	out, faults := make([]Outcome, n), make([]error, n)
	var next atomic.Int64
	var wait sync.WaitGroup
	for range 2 {
		wait.Go(func() {
			l := &lab{evaluators: map[string]*evaluate.Evaluator{}}
			for i := int(next.Add(1)) - 1; i < n; i = int(next.Add(1)) - 1 {
				out[i], faults[i] = run(l, uint64(i))
			}
		})
	}
	wait.Wait()
	for i, err := range faults {
		if err != nil {
			return nil, fmt.Errorf("study %d: %w", i, err)
		}
	}
	return out, nil
}
