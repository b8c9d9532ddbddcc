package ageing

import "wane/study"

// Routes computes the rows of all routes side by side, whichever route the study has. Call [Routes.AddControl] once
// for each control, then [Routes.Rows] once for each coupon.
type Routes struct {
	changes [3]*Changes // in the order of routes
}

// routes are all routes, in the order of rows.
var routes = [3]study.Route{study.RouteNone, study.RouteControls, study.RouteSession}

// RouteRow holds the rows of one spot at one pull by the routes none, controls and session, in this order.
type RouteRow struct {
	By     [3]*study.Result
	Differ []RouteDifference // the pairs of routes that do not agree
}

// RouteDifference is a difference of two routes that is above [RouteSigmas] of its standard uncertainties.
type RouteDifference struct {
	Less, From study.Route
	Difference study.Measure // the change by From less that by Less, pp
}

// RouteSigmas is the largest difference of two routes that agree, in standard uncertainties of the difference. Common
// practice, no source.
const RouteSigmas = 2

// NewRoutes returns routes for the roster of a study, without controls.
func NewRoutes(roster *study.Roster) *Routes {
	r := &Routes{}
	for i, route := range routes {
		r.changes[i] = NewChanges(roster, route)
	}
	return r
}

// DistrustSessions is [Changes.DistrustSessions] for all routes.
func (r *Routes) DistrustSessions(sessions map[string]bool) {
	for _, c := range r.changes {
		c.DistrustSessions(sessions)
	}
}

// AddControl adds a control. The arguments hold all of its fits: those of single spots, and those of the joint fits
// of sessions.
func (r *Routes) AddControl(single, joint []*study.Fit) {
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
// The uncertainty of a difference is [study.Uncertainty]. It is a little too large for a difference from the route
// session: the noise of a reading, and the errors of its session, are in both fits, but count as independent. A
// difference from the route none also contains what the controls truly changed.
func (r *Routes) Rows(single, joint []*study.Fit) []RouteRow {
	if len(single) != len(joint) {
		panic("ageing: fits of different units")
	}
	rows := make([]RouteRow, len(single))
	for i, c := range r.changes {
		for k, row := range c.Rows(fitsOf(routes[i], single, joint)) {
			if single[k].Unit != joint[k].Unit {
				panic("ageing: fits of different units")
			}
			rows[k].By[i] = row
		}
	}
	for k := range rows {
		rows[k].compare()
	}
	return rows
}

// compare fills Differ.
func (r *RouteRow) compare() {
	for i := range r.By {
		for k := range i {
			d := differenceOf(r.By[i], r.By[k])
			if d.U > 0 && max(d.Value, -d.Value) > RouteSigmas*d.U {
				r.Differ = append(r.Differ, RouteDifference{Less: routes[k], From: routes[i], Difference: d})
			}
		}
	}
}

// differenceOf returns the change that one row states less that of another, null where either is.
func differenceOf(from, less *study.Result) study.Measure {
	a, of := answer(from)
	b, minus := answer(less)
	return measured(a.Value-b.Value, append(scaled(1, of), scaled(-1, minus)...))
}
