package desk

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"wane/fit/film"
	"wane/study"
	"wane/study/evaluate"
	"wane/study/gauge"
	"wane/study/store"
)

// GaugeOptions name what a gauge study is of.
type GaugeOptions struct {
	Coupons  []string // that were read again and again; one at least
	Sessions []string // in which; none: all
}

// GaugeStudy says how far readings of coupons that did not change differ.
type GaugeStudy struct {
	Units       []study.Unit // what was read, each at one pull
	Sessions    []study.Session
	Sets        int // complete sets of curves, each evaluated by itself
	Incomplete  int // placements that lack a curve
	Quantities  []GaugeQuantity
	Remountings []PlacementOptions // series that [Desk.Placement] can be asked for
}

// GaugeQuantity is a quantity with its scatter, in Unit.
type GaugeQuantity struct {
	Name, Unit string
	*gauge.Gauge

	// Stated are the standard deviations by the uncertainties of the fits: of what belongs to one reading or placement
	// alone, and of what the session shares.
	StatedWithin, StatedSession study.Num
}

// GaugeLevel is the level of the intervals of a gauge study, and of the test that a least detectable change is of,
// GaugePower its power.
const GaugeLevel, GaugePower = 0.95, 0.8

// gaugeQuantities are those of a gauge study.
var gaugeQuantities = []struct {
	name, unit string
	out        study.Output
	factor     float64
	of         func(*study.Result) study.Num
}{
	{"solar_T", "pp", study.OutSolarT, 100, func(r *study.Result) study.Num { return r.SolarT.Value }},
	{"thickness_nm", "nm", study.OutThickness, 1, func(r *study.Result) study.Num { return r.Thickness.Value }},
	{"solid_nm", "nm", study.OutSolid, 1, func(r *study.Result) study.Num { return r.Solid.Value }},
}

// Gauge evaluates each complete set of curves of the coupons by itself, and divides the scatter of the results among
// repeats, placements and sessions. Different pulls of a coupon are different things. Nothing is changed.
func (d *Desk) Gauge(ctx context.Context, opt GaugeOptions) (*GaugeStudy, error) {
	if d.Settings().OverBlank {
		return nil, &study.Refusal{Fault: "this study evaluates readings over those of dark blanks, and a gauge study is " +
			"of single readings",
			Try: "take the series into a study of its own: wane new gauge.wane"}
	}
	var w *fitWorkspace
	readings := map[study.Unit][]study.Reading{}
	err := d.store.View(ctx, func(v *store.View) (err error) {
		if w, err = d.workspaceOf(v, 1); err != nil {
			return err
		}
		sessions, err := v.SessionsRead()
		if err != nil {
			return err
		}
		for _, s := range opt.Sessions {
			if !slices.Contains(sessions, s) {
				return notRead(s, sessions)
			}
		}
		return w.gaugeReadings(v, opt, readings)
	})
	if err != nil {
		return nil, err
	}
	g := &gathering{workspace: w, study: &GaugeStudy{}, readings: make([][]gauge.Reading, len(gaugeQuantities)),
		within: make([]float64, len(gaugeQuantities)), session: make([]float64, len(gaugeQuantities))}
	for i := range w.units {
		if u := w.units[i].Unit; len(readings[u]) > 0 {
			if err := g.unit(ctx, u, readings[u]); err != nil {
				return nil, err
			}
		}
	}
	return g.result(opt)
}

// gaugeReadings loads the readings of reflectance of the coupons in the sessions that are counted.
func (w *fitWorkspace) gaugeReadings(v *store.View, opt GaugeOptions, to map[study.Unit][]study.Reading) error {
	for _, c := range opt.Coupons {
		if w.coupons[c] == nil {
			return notEnrolled(w.roster, c)
		}
	}
	for i := range w.units {
		u := w.units[i].Unit
		if !slices.Contains(opt.Coupons, u.Coupon) {
			continue
		}
		all, err := w.checkedReadings(u, v.Readings)
		if err != nil {
			return err
		}
		for _, r := range all {
			if r.Quantity == study.Reflectance && (len(opt.Sessions) == 0 || slices.Contains(opt.Sessions, r.Session)) {
				to[u] = append(to[u], r)
			}
		}
	}
	return nil
}

// gathering collects the values of a gauge study.
type gathering struct {
	workspace       *fitWorkspace
	study           *GaugeStudy
	readings        [][]gauge.Reading // by quantity
	within, session []float64         // sums of variances, by quantity
}

// unit adds the sets of one unit, where there are two at least.
func (g *gathering) unit(ctx context.Context, u study.Unit, readings []study.Reading) error {
	sets, incomplete := evaluate.Repeats(readings)
	g.study.Incomplete += incomplete
	if len(sets) < 2 {
		return nil
	}
	g.study.Units = append(g.study.Units, u)
	placements := map[string]map[int]bool{}
	for _, set := range sets {
		if placements[set.Session] == nil {
			placements[set.Session] = map[int]bool{}
		}
		placements[set.Session][set.Placement] = true
		if err := g.set(ctx, u, &set); err != nil {
			return err
		}
	}
	for _, s := range slices.Sorted(maps.Keys(placements)) {
		if !slices.ContainsFunc(g.study.Sessions, func(k study.Session) bool { return k.Session == s }) {
			g.study.Sessions = append(g.study.Sessions, registeredSession(g.workspace.roster, s))
		}
		series := PlacementOptions{u.Coupon, s}
		if len(placements[s]) >= film.LeastPlacements && !slices.Contains(g.study.Remountings, series) {
			g.study.Remountings = append(g.study.Remountings, series)
		}
	}
	return nil
}

// set evaluates one set of curves and adds its values.
func (g *gathering) set(ctx context.Context, u study.Unit, set *evaluate.Repeat) error {
	w := g.workspace
	conditions := w.conditionsOf(u, set.Session)
	if err := conditions.CheckGeometry(set.Readings); err != nil {
		return err
	}
	e, err := w.evaluator(0, u, set.Session)
	if err != nil {
		return err
	}
	fit, err := e.Unit(ctx, w.coupons[u.Coupon].Role, u, set.Readings)
	var refused *study.Refusal
	if errors.As(err, &refused) {
		return refused.About(fmt.Sprintf("%s, session %s, placement %d", describeUnit(u), set.Session, set.Placement))
	}
	if err != nil {
		return err
	}
	g.study.Sets++
	for k, q := range gaugeQuantities {
		value := q.of(&fit.Result)
		if !value.Valid() {
			continue
		}
		g.readings[k] = append(g.readings[k], gauge.Reading{Of: describeUnit(u) + " " + u.Condition, Session: set.Session,
			Operator: registeredSession(w.roster, set.Session).Operator, Placement: fmt.Sprint(set.Placement), Value: q.factor * float64(value)})
		g.within[k] += q.factor * q.factor * fit.Errors.OwnOf(q.out, q.out)
		for i := range fit.Errors.Shared {
			switch s := &fit.Errors.Shared[i]; s.Owner {
			case study.OwnerSession:
				g.session[k] += math.Pow(q.factor*s.By[q.out], 2)
			case study.OwnerPlacement, study.OwnerReading:
				g.within[k] += math.Pow(q.factor*s.By[q.out], 2)
			}
		}
	}
	return nil
}

// result estimates the components of each quantity of which there are values for all sets.
func (g *gathering) result(opt GaugeOptions) (*GaugeStudy, error) {
	for k, q := range gaugeQuantities {
		n := float64(len(g.readings[k]))
		if len(g.readings[k]) < g.study.Sets || n == 0 {
			continue
		}
		found, err := gauge.Estimate(g.readings[k], GaugeLevel)
		var input *gauge.InputError
		if errors.As(err, &input) {
			continue // such as the thickness of glass without a film, which is 0 throughout
		}
		if err != nil {
			return nil, err
		}
		g.study.Quantities = append(g.study.Quantities, GaugeQuantity{Name: q.name, Unit: q.unit, Gauge: found,
			StatedWithin: study.Num(math.Sqrt(g.within[k] / n)), StatedSession: study.Num(math.Sqrt(g.session[k] / n))})
	}
	if len(g.study.Quantities) == 0 {
		return nil, &study.Refusal{Fault: fmt.Sprintf("no spot of %s was read twice at one pull, with all its angles "+
			"each time",
			couponsInWords(opt.Coupons)),
			Try: "set a coupon down about ten times in a session, and in three sessions or more, and give each time a " +
				"mounting of its own in the map, and a replicate too"}
	}
	return g.study, nil
}

// couponsInWords names coupons in a message.
func couponsInWords(codes []string) string {
	shown := make([]string, len(codes))
	for i, c := range codes {
		shown[i] = study.Shown(c)
	}
	if len(shown) == 1 {
		return "coupon " + shown[0]
	}
	return "coupons " + strings.Join(shown, ", ")
}
