package ageing

import (
	"slices"

	"wane/study"
)

// Routes computes the rows of all routes side by side, whichever route the study has. Call [Routes.AddControl] once
// for each control, then [Routes.Rows] once for each coupon.
type Routes struct {
	changes  [3]*Changes // in the order of routes
	controls twins       // their fits
}

// routes are all routes, in the order of rows.
var routes = [3]study.Route{study.RouteNone, study.RouteControls, study.RouteSession}

// AllRoutes returns all routes, in the order in which rows hold them.
func AllRoutes() []study.Route { return routes[:] }

// RouteRow holds the rows of one spot at one pull by the routes none, controls and session, in this order.
type RouteRow struct {
	By    [3]*study.Result
	Pairs [3]RouteDifference // in the order of [RoutePairs]
}

// RoutePairs returns the pairs of routes: controls less none, session less none, session less controls.
func RoutePairs() (pairs [3]RouteDifference) {
	n := 0
	for i := range routes {
		for k := range i {
			pairs[n] = RouteDifference{routes[k], routes[i], study.NoMeasure()}
			n++
		}
	}
	return pairs
}

// RouteDifference is the difference of two routes.
type RouteDifference struct {
	Less, From study.Route
	Difference study.Measure // the change by From less that by Less, pp; null if one of them states none
}

// RouteSigmas is the largest difference of two routes that agree, in standard uncertainties of the difference. Common
// practice, no source.
const RouteSigmas = 2

// Disagrees reports whether the difference is above [RouteSigmas] of its standard uncertainties.
func (d *RouteDifference) Disagrees() bool {
	return d.Difference.U > 0 && max(d.Difference.Value, -d.Difference.Value) > RouteSigmas*d.Difference.U
}

// Change returns the change that a route states, in pp: the corrected one, by the route none that as measured. It is
// null if the route states none: see [RouteRow.Missing].
func (r *RouteRow) Change(route study.Route) study.Measure {
	change, _ := answer(r.Of(route))
	return change
}

// Missing returns the flag that says why a route states no change; empty if it states one.
func (r *RouteRow) Missing(route study.Route) string {
	row := r.Of(route)
	if r.Change(route).Value.Valid() {
		return ""
	}
	words := []string{study.FlagNotEvaluated, study.FlagNoBaseline, study.FlagNoControl}
	if route == study.RouteSession {
		words = []string{study.FlagNotEvaluated, study.FlagNoBaseline, study.FlagOverBlank, study.FlagNoSession}
	}
	for _, word := range words {
		if slices.Contains(row.Flags, word) {
			return word
		}
	}
	return study.FlagNotEvaluated // of pull 0, too, there is no solar value
}

// Of returns the row by a route.
func (r *RouteRow) Of(route study.Route) *study.Result { return r.By[slices.Index(routes[:], route)] }

// NewRoutes returns routes for the roster of a study, without controls.
func NewRoutes(roster *study.Roster) *Routes {
	r := &Routes{controls: twins{}}
	for i, route := range routes {
		r.changes[i] = NewChanges(roster, route)
		r.changes[i].keepsFits = true
	}
	return r
}

// DistrustSessions is [Changes.DistrustSessions] for all routes.
func (r *Routes) DistrustSessions(sessions map[string]bool) {
	for _, c := range r.changes {
		c.DistrustSessions(sessions)
	}
}

// SetBridges is [Changes.SetBridges] for all routes.
func (r *Routes) SetBridges(bridges []Bridge) {
	for _, c := range r.changes {
		c.SetBridges(bridges)
	}
}

// AddControl adds a control. The arguments hold all of its fits: those of single spots, and those of the joint fits
// of sessions, which must be of the same units in the same order. It panics if they are not.
func (r *Routes) AddControl(single, joint []*study.Fit) {
	r.controls.add(single, joint)
	for i, c := range r.changes {
		c.AddControl(fitsOf(routes[i], single, joint))
	}
}

// fitsOf returns the fits that a route uses.
func fitsOf(route study.Route, single, joint []*study.Fit) []*study.Fit {
	if route == study.RouteSession {
		return joint
	}
	return single
}

// Rows returns the rows of one coupon from all its fits, those of single spots and those of the joint fits of
// sessions, which must be of the same units in the same order. It panics if they are not.
//
// The uncertainty of a difference counts what both routes have in common once: see [pairing.covariance]. A difference from
// the route none also contains what the controls truly changed.
func (r *Routes) Rows(single, joint []*study.Fit) []RouteRow {
	if len(single) != len(joint) {
		panic("ageing: fits of different units")
	}
	rows, with := make([]RouteRow, len(single)), pairing{twins{}, r.controls}
	with.coupon.add(single, joint)
	for i, c := range r.changes {
		for k, row := range c.Rows(fitsOf(routes[i], single, joint)) {
			rows[k].By[i] = row
		}
	}
	for k := range rows {
		var sums [3]routeSum
		for i, route := range routes {
			sums[i] = r.sumOf(route, rows[k].By[i], fitsOf(route, single, joint), k)
		}
		rows[k].Pairs = RoutePairs()
		n := 0
		for i, route := range routes {
			for less := range i {
				rows[k].Pairs[n].Difference = with.difference(&sums[i], &sums[less], route == study.RouteSession)
				n++
			}
		}
	}
	return rows
}
