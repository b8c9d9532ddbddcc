package main

import (
	"bytes"
	"fmt"
	"slices"
	"strings"

	"wane/study"
	"wane/study/ageing"
	"wane/study/desk"
	"wane/study/drawn"
	"wane/study/report/document"
	"wane/study/shown"
)

// changesPart shows the changes of the groups at each pull.
func changesPart(w *reporter) (document.Part, error) {
	p := document.Part{Name: "changes", Title: "Change of solar transmittance by " + w.o.by}
	r := w.of
	curves := ageing.Curves(r.Groups)
	if len(curves) == 0 {
		p.Blocks = append(p.Blocks, document.Notice("Changes cannot be told from these data, because no exposed coupon has "+
			"a dose and a change yet. Next: take more pulls in and run wane fit."))
	} else {
		figure, err := w.changesFigure(curves)
		if err != nil {
			return p, err
		}
		p.Blocks = append(p.Blocks, figure)
	}
	all := shown.Groups(ageing.By(w.o.by))
	shown, where := reportedGroups(all, r.Groups)
	groups, err := tableOf("groups", "Mean change at each pull"+where+" with its 95 % interval (a t interval between "+
		"coupons), its standard error se and its degrees of freedom df", shown, all, pointers(r.Groups))
	if err != nil {
		return p, err
	}
	p.Blocks = append(p.Blocks, groups)
	for _, said := range []string{endedWords(r.Groups), plannedOf(r.Groups), misfitWords(r.Groups)} {
		if said != "" {
			p.Blocks = append(p.Blocks, document.Text(strings.ToUpper(said[:1])+said[1:]+"."))
		}
	}
	results, err := w.resultsTable()
	p.Blocks = append(p.Blocks, results)
	return p, err
}

// reportedGroups are the columns of groups that a page shows. Exposure and condition, if they are those of all groups,
// are in words instead.
func reportedGroups(all listing[*ageing.Group], groups []ageing.Group) (shown listing[*ageing.Group], where string) {
	names := []string{all[0].Name}
	for _, by := range []struct {
		name, words string
		of          func(*ageing.Group) string
	}{
		{"exposure", " of exposure ", func(g *ageing.Group) string { return g.Exposure }},
		{"condition", ", ", func(g *ageing.Group) string { return g.Condition }},
	} {
		differ := slices.ContainsFunc(groups, func(g ageing.Group) bool { return by.of(&g) != by.of(&groups[0]) })
		switch {
		case by.name == all[0].Name:
		case differ:
			names = append(names, by.name)
		case len(groups) > 0 && by.of(&groups[0]) != "":
			where += by.words + by.of(&groups[0])
		}
	}
	shown = all.Pick(append(names, "pull", "dose", "coupons", "mean_change_pp", "se", "df", "interval", "mean_gain_kept",
		"mean_solid_nm", "spots")...)
	measured := func(of func(*ageing.Group) string) func(*ageing.Group) string {
		return func(g *ageing.Group) string {
			if !(g.U > 0) { // the baseline is without error: there is no interval to show
				return "-"
			}
			return of(g)
		}
	}
	for i := range shown {
		switch shown[i].Name {
		case "se":
			shown[i].Cell = measured(func(g *ageing.Group) string { return decimal(g.U, 4) })
		case "df":
			shown[i].Cell = measured(func(g *ageing.Group) string { return decimal(g.DoF, 1) })
		case "interval":
			shown[i].Cell = measured(shown[i].Cell)
		}
	}
	return shown, where
}

// changesFigure draws the changes of groups against the dose.
func (w *reporter) changesFigure(curves []ageing.Curve) (document.Figure, error) {
	f := drawn.Changes(ageing.By(w.o.by), w.of.Settings.Correction, curves, w.of.Groups)
	f.Title = "" // the page has it
	names := make([]string, len(curves))
	for i := range curves {
		names[i] = curves[i].Name
	}
	return drawnBlock("change", "Change of solar transmittance against the dose, by "+w.o.by+".",
		"Change of solar transmittance in pp against the dose for "+strings.Join(names, ", ")+": means with their 95 % "+
			"intervals, and faintly each coupon. The table of groups has the numbers.", f)
}

// resultsTable is the table of all results, which stands beside the page.
func (w *reporter) resultsTable() (document.Table, error) {
	var out bytes.Buffer
	rows := newRowWriter(&out, "csv", study.Columns())
	n := 0
	err := w.d.Results(w.ctx, desk.ResultsOptions{AsOf: w.of.Last.Number}, func(r *study.Result) error {
		n++
		return rows.write(r)
	})
	if err == nil {
		err = rows.end()
	}
	return document.Table{Name: "results", CSV: out.Bytes(), Hidden: true,
		Caption: fmt.Sprintf("%s of results, one for each coupon, pull and spot:", count(n, "row"))}, err
}
