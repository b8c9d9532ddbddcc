package main

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"wane/study"
	"wane/study/ageing"
	"wane/study/desk"
	"wane/study/shown"
)

// routeColumns are the columns of results --routes.
func routeColumns() listing[*ageing.RouteRow] {
	type row = ageing.RouteRow
	value := valueColumn[*row]
	of := func(r *row) *study.Result { return r.By[0] }
	l := listing[*row]{
		value("coupon", func(r *row) any { return of(r).Coupon }).Ranked(1, "", nil),
		value("coating", func(r *row) any { return of(r).Coating }).Ranked(4, "", nil),
		value("lot", func(r *row) any { return orEmpty(of(r).Lot) }),
		value("exposure", func(r *row) any { return of(r).Exposure }),
		value("pull", func(r *row) any { return orNil(of(r).Pull) }).Ranked(1, "", nil),
		value("dose", func(r *row) any { return orNil(of(r).Dose) }),
		value("dose_unit", func(r *row) any { return orEmpty(of(r).DoseUnit) }),
		value("spot", func(r *row) any { return of(r).Spot }).Ranked(1, "", nil),
		value("condition", func(r *row) any { return orEmpty(of(r).Condition) }).Ranked(6, "", nil),
		value("session", func(r *row) any { return orEmpty(of(r).Session) }),
	}
	for _, route := range ageing.AllRoutes() {
		word := string(route)
		change := func(r *row) study.Measure { return r.Change(route) }
		l = append(l, value(word+"_pp", func(r *row) any { return orNil(change(r).Value) }).
			Ranked(1, word+" / pp", func(r *row) string { return plusMinus(change(r), 1, "") }),
			value("u_"+word+"_pp", func(r *row) any { return orNil(change(r).U) }))
		if route != study.RouteNone {
			l = append(l, value("n_controls_"+word, func(r *row) any { return orNil(r.Of(route).NControls) }))
		}
	}
	for i, pair := range ageing.RoutePairs() {
		l = append(l, pairColumns(i, fmt.Sprintf("%s_less_%s", pair.From, pair.Less))...)
	}
	l = append(l,
		cellColumn("n_controls", 3, "controls", controlCounts),
		value("differ", func(r *row) any { return differWords(r) }).Ranked(1, "", nil).Folded(16),
		value("missing", func(r *row) any { return missingWords(r) }).Ranked(2, "", nil).Folded(24))
	for _, route := range ageing.AllRoutes() {
		l = append(l, value("flags_"+string(route), func(r *row) any { return append([]string{}, r.Of(route).Flags...) }))
	}
	return append(l, value("lossless", func(r *row) any { return shown.Lossless(of(r)) }),
		cellColumn("flags", 5, "", routeFlagWords).Folded(24))
}

// pairColumns are those of the difference of two routes.
func pairColumns(i int, name string) listing[*ageing.RouteRow] {
	return listing[*ageing.RouteRow]{
		valueColumn(name+"_pp", func(r *ageing.RouteRow) any { return orNil(r.Pairs[i].Difference.Value) }),
		valueColumn("u_"+name+"_pp", func(r *ageing.RouteRow) any { return orNil(r.Pairs[i].Difference.U) }),
	}
}

// controlCounts are the numbers of controls by the routes that have them, once if they are equal.
func controlCounts(r *ageing.RouteRow) string {
	single := decimal(r.Of(study.RouteControls).NControls, 0)
	if joint := decimal(r.Of(study.RouteSession).NControls, 0); joint != single {
		return single + ", " + joint
	}
	return single
}

// differWords name the pairs of routes that do not agree.
func differWords(r *ageing.RouteRow) []string {
	words := []string{}
	for i := range r.Pairs {
		if p := &r.Pairs[i]; p.Disagrees() {
			words = append(words, fmt.Sprintf("%s/%s", p.From, p.Less))
		}
	}
	return words
}

// missingWords name the routes that state no change, and the flags that say why.
func missingWords(r *ageing.RouteRow) []string {
	words := []string{}
	for _, route := range ageing.AllRoutes() {
		if why := r.Missing(route); why != "" {
			words = append(words, string(route)+":"+why)
		}
	}
	return words
}

// routeFlagWords are the flags of all routes, those that not all of them have with their routes.
func routeFlagWords(r *ageing.RouteRow) string {
	routesOf, all := map[string][]string{}, []string{}
	for _, route := range ageing.AllRoutes() {
		for _, flag := range r.Of(route).Flags {
			all = addOnce(all, flag)
			routesOf[flag] = addOnce(routesOf[flag], string(route))
		}
	}
	for i, flag := range all {
		if of := routesOf[flag]; len(of) < len(ageing.AllRoutes()) {
			all[i] = fmt.Sprintf("%s (%s)", flag, strings.Join(of, ", "))
		}
	}
	return strings.Join(all, " ")
}

// listRoutes prints what each route makes of each change, in any format, and warns of those on which they do not agree.
func listRoutes(cmd *cobra.Command, d *desk.Desk, o *resultsOptions, columns listing[*ageing.RouteRow]) error {
	p := pageOf(cmd)
	out := openRows(columns, p, o.list.format)
	var rows, differ, lossless int
	var worst ageing.RouteRow
	bar := newProgress(cmd, "spots fitted")
	opt := desk.RoutesOptions{Workers: o.workers, Progress: bar.to, Keep: o.options().Keep}
	err := d.Routes(cmd.Context(), opt, func(r *ageing.RouteRow) error {
		rows++
		if disagreement(r) > disagreement(&worst) {
			worst = *r
		}
		if len(differWords(r)) > 0 {
			differ++
		}
		if r.By[0].IsLossless() {
			lossless++
		}
		return out.write(r)
	})
	bar.end()
	if err != nil {
		return err
	}
	if err := out.end(); err != nil {
		return err
	}
	if differ > 0 {
		if err := printLine(cmd.ErrOrStderr(), "%s", differNote(rows, differ, &worst)); err != nil {
			return err
		}
	}
	switch missed, _ := o.sieve.Missed(); {
	case o.list.format != "table" || len(missed) > 0:
		return nil
	case rows == 0:
		return writeLine(p, "no change yet: take in the readings of a pull after pull 0, and run wane fit")
	}
	said := fmt.Sprintf("values ± U (k=2); the route of this study is %s", d.Settings().Correction)
	if err := writeLine(p, said); err != nil || lossless == 0 {
		return err
	}
	return writeLine(p, losslessWords)
}

// disagreement is the largest difference of two routes, in standard uncertainties.
func disagreement(r *ageing.RouteRow) (most float64) {
	for _, p := range r.Pairs {
		if p.Difference.U > 0 {
			most = max(most, math.Abs(float64(p.Difference.Value))/float64(p.Difference.U))
		}
	}
	return most
}

// differNote is the warning of rows on which routes do not agree; worst is the row with the largest difference.
func differNote(rows, differ int, worst *ageing.RouteRow) string {
	i := 0
	for k := range worst.Pairs {
		if p := worst.Pairs[k].Difference; p.U > 0 && math.Abs(float64(p.Value))/float64(p.U) == disagreement(worst) {
			i = k
		}
	}
	r, p := worst.By[0], worst.Pairs[i]
	return fmt.Sprintf("note the routes do not agree on %d of %s: two of them differ by more than %g standard uncertainties, "+
		"as about one in ten does by chance; most on coupon %s, pull %g, spot %s: %s less %s %s pp; see wane help routes",
		differ, count(rows, "change"),
		float64(ageing.RouteSigmas), r.Coupon, float64(r.Pull), r.Spot, p.From, p.Less, plusMinus(p.Difference, 1, ""))
}

// checkRoutes refuses flags that do not go with --routes.
func (o *resultsOptions) checkRoutes(cmd *cobra.Command) error {
	if !o.routes {
		if cmd.Flags().Changed("workers") {
			return usagef("add --routes, or leave --workers out", "--workers is for --routes, which is not given")
		}
		return nil
	}
	for _, other := range []string{"by", "joint", "independent", "figure"} {
		if cmd.Flags().Changed(other) {
			return usagef("leave one of them out", "--routes and --%s cannot be used together: --routes lists changes of spots, "+
				"each by the route none, controls and session", other)
		}
	}
	return checkWorkers(o.workers)
}

// routesLister returns what prints the rows of all routes.
func (o *resultsOptions) routesLister(cmd *cobra.Command) (func(*desk.Desk) error, error) {
	columns, err := routeColumns().Choose(o.list.format, slices.Clone(o.list.named))
	return func(d *desk.Desk) error { return listRoutes(cmd, d, o, columns) }, err
}
