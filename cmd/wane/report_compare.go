package main

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"wane/study/ageing"
	"wane/study/desk"
	"wane/study/difference"
	"wane/study/drawn"
	"wane/study/population"
	"wane/study/report/document"
	"wane/study/series"
	"wane/study/shape"
	"wane/study/shown"
)

// comparePart compares the groups in the quantity of the report, in each exposure: their changes at the last pull that
// most groups have, and their rates.
func comparePart(w *reporter) (document.Part, error) {
	p := document.Part{Name: "comparison", Title: "Comparison of " + fullName(w.o.quantity) + " by " + comparedBy(w.o.by)}
	if len(w.of.Roster.Exposures) == 0 {
		p.Blocks = append(p.Blocks, document.Notice("Nothing can be compared, because no exposure is enrolled. Next: enrol "+
			"exposures and coupons with wane enrol."))
		return p, nil
	}
	exposures := w.of.Roster.Exposures
	made, err := together(2*len(exposures), func(i int) ([]document.Block, error) {
		return w.compared(exposures[i/2].Exposure, i/2+1, i%2 == 1)
	})
	for i, blocks := range made {
		if i%2 == 0 && len(exposures) > 1 {
			p.Blocks = append(p.Blocks, document.Heading("Exposure "+exposures[i/2].Exposure))
		}
		p.Blocks = append(p.Blocks, blocks...)
	}
	return p, err
}

// fullName is the name of a quantity in a heading.
func fullName(quantity string) string {
	if q, _ := series.Find(quantity); q.Name == "solar_T" {
		return "solar transmittance"
	}
	return drawn.QuantityWords(quantity)
}

// comparedBy is the grouping of a comparison: exposures are compared by wane compare --exposures.
func comparedBy(by string) string {
	if ageing.By(by) == ageing.ByExposure {
		return string(ageing.ByCoating)
	}
	return by
}

// compared compares the groups in one exposure.
func (w *reporter) compared(exposure string, number int, rate bool) ([]document.Block, error) {
	opt := desk.CompareOptions{Quantities: []string{w.o.quantity}, Rate: rate, AsOf: w.of.Last.Number}
	opt.By, opt.Exposure, opt.Level = population.By(comparedBy(w.o.by)), exposure, 0.95
	what, name := "Changes", fmt.Sprintf("difference-%d", number)
	if rate {
		what, name = "Rates", fmt.Sprintf("rate-difference-%d", number)
	}
	all, err := w.d.Compare(w.ctx, opt)
	if err != nil {
		block, err := cannot(what+" cannot be compared", err)
		return []document.Block{block}, err
	}
	c := all[0]
	head := shown.CompareHead(c)
	blocks := []document.Block{document.Heading(what), document.Text(strings.ToUpper(head[:1]) + head[1:] + ".")}
	rows := make([]shown.Compared, len(c.Pairs))
	for i := range c.Pairs {
		rows[i] = shown.Compared{Of: c, Pair: &c.Pairs[i]}
	}
	full := shown.Compare()
	columns := full.Pick("a", "b", "difference", "interval", "df", "p_adjusted", "unit", "verdict",
		"least_detectable",
		"p_permutation")
	caption := what + " in " + exposure + ", pair by pair"
	if len(rows) > shown.MostSentences {
		columns, caption = nil, fmt.Sprintf("%s differ, of %d; the file has each pair with its sentence and its interval:",
			count(countDifferent(c), "pair"), len(rows))
	} else {
		blocks = append(blocks, sentencesOf(c))
		figure, err := differencesFigure(name, c)
		if err != nil {
			return nil, err
		}
		blocks = append(blocks, figure)
	}
	pairs, err := tableOf(name, caption, columns, full, rows)
	if err != nil {
		return nil, err
	}
	groups, err := tableOf(name+"-groups", what+" in "+exposure+" of each group", shown.ComparedGroups(c), nil, pointers(c.Groups))
	if err != nil {
		return nil, err
	}
	groups.CSV = nil // what is in it is in the columns of the pairs
	blocks = append(blocks, pairs, groups)
	if remarks := shown.CompareRemarks(c); len(remarks) > 0 {
		blocks = append(blocks, document.List(remarks))
	}
	return blocks, nil
}

// countDifferent counts the pairs that differ.
func countDifferent(c *difference.Comparison) (n int) {
	for i := range c.Pairs {
		if v := c.Pairs[i].Verdict; v == difference.Different || v == difference.DifferentWithin {
			n++
		}
	}
	return n
}

// differencesFigure draws the pairs; what the figure is of stands below it on the page.
func differencesFigure(name string, c *difference.Comparison) (document.Figure, error) {
	f := drawn.Differences(c)
	caption := f.Caption[0]
	f.Title, f.Caption = "", f.Caption[1:]
	return drawnBlock(name, caption, "Each pair of groups with its difference and its interval. The table below has the "+
		"numbers.", f)
}

// sentencesOf are the verdicts on pairs: each is the one sentence of it that may be quoted.
func sentencesOf(c *difference.Comparison) document.List {
	lines := shown.VerdictLines(c)
	for i := range lines {
		if try, is := strings.CutPrefix(lines[i], "  try: "); is {
			lines[i] = "Next: " + try + "."
		}
	}
	return lines
}

// trendPart says how fast the groups change, and along which shape.
func trendPart(w *reporter) (document.Part, error) {
	o := &trendOptions{quantity: w.o.quantity, by: comparedBy(w.o.by), shape: allShapes, in: string(shape.InDose),
		limit: math.NaN()}
	p := document.Part{Name: "trend", Title: "Trajectories and rates of " + fullName(w.o.quantity) + " by " + o.by}
	t, err := w.d.Trend(w.ctx, o.options(desk.Moment{Line: w.of.Last.Number}))
	if err != nil {
		block, err := cannot("How it changes cannot be told from these data", err)
		p.Blocks = append(p.Blocks, block)
		return p, err
	}
	f, err := drawn.Trend(t, o.drawing(w.of.Settings.Correction))
	if err == nil {
		f.Title = ""
		figure, err := drawnBlock("trend", "Change of "+fullName(w.o.quantity)+" against the dose, with the shape that fits "+
			"each group best.",
			"Means of each group with their intervals, each coupon faintly, and a fitted line. The table below has the "+
				"parameters.", f)
		if err != nil {
			return p, err
		}
		p.Blocks = append(p.Blocks, figure)
	} else {
		block, err := cannot("The figure cannot be drawn", err)
		if err != nil {
			return p, err
		}
		p.Blocks = append(p.Blocks, block)
	}
	rows := t.Rows()
	columns := trendColumns()
	all, err := tableOf("trend", "", nil, columns, pointers(rows))
	if err != nil {
		return p, err
	}
	said := slices.DeleteFunc(pointers(rows), func(r *desk.TrendRow) bool { return math.IsNaN(r.Value) })
	table, err := tableOf("trend", "Parameters with their 95 % intervals, degrees of freedom and method; shapes by "+
		"their AICc",
		columns.Pick("group", "exposure", "shape", "parameter", "value", "interval", "df", "n", "method", "aicc_difference",
			"flags"),
		columns, said)
	if err != nil {
		return p, err
	}
	table.CSV = all.CSV
	words := trendWords(t, w.of.Settings.Correction)
	p.Blocks = append(p.Blocks, table, document.Text(strings.ToUpper(words[:1])+words[1:]+"."))
	if untold := untoldLines(rows); len(untold) > 0 {
		p.Blocks = append(p.Blocks, document.Heading("What cannot be told"), document.List(untold))
	}
	return p, nil
}

// mostExposurePairs is how many pairs of exposures a report compares.
const mostExposurePairs = 6

// exposuresPart says how one exposure stands for another. A study with one exposure has no such part.
func exposuresPart(w *reporter) (p document.Part, err error) {
	exposures := w.of.Roster.Exposures
	var pairs [][2]string
	for i := range exposures {
		for _, other := range exposures[i+1:] {
			pairs = append(pairs, [2]string{exposures[i].Exposure, other.Exposure})
		}
	}
	if len(pairs) == 0 {
		return p, nil
	}
	p.Name, p.Title = "exposures", "One exposure against another"
	if len(pairs) > mostExposurePairs {
		p.Blocks = append(p.Blocks, document.Text(fmt.Sprintf("Of %d pairs of exposures the first %d are here; wane "+
			"compare --exposures A,B compares any other.", len(pairs), mostExposurePairs)))
		pairs = pairs[:mostExposurePairs]
	}
	made, err := together(len(pairs), func(i int) ([]document.Block, error) { return w.transferred(pairs[i], i+1) })
	for _, blocks := range made {
		p.Blocks = append(p.Blocks, blocks...)
	}
	return p, err
}

// transferred compares two exposures.
func (w *reporter) transferred(pair [2]string, number int) ([]document.Block, error) {
	what := pair[0] + " (A) against " + pair[1] + " (B)"
	t, err := w.d.Transfer(w.ctx, desk.TransferOptions{Exposures: pair, Quantity: w.o.quantity, AsOf: w.of.Last.Number})
	if err != nil {
		block, err := cannot(what+" cannot be told from these data", err)
		return []document.Block{block}, err
	}
	rows := make([]transferRow, len(t.Coatings))
	for i := range t.Coatings {
		rows[i] = transferRow{t, &t.Coatings[i]}
	}
	shown := transferColumns.Pick("coating", "rate_a", "n_a", "rate_b", "n_b", "factor", "lower", "upper", "df", "why")
	table, err := tableOf(fmt.Sprintf("transfer-%d", number), "How many times faster coatings age in A, with a 95 % "+
		"interval", shown,
		transferColumns, rows)
	if err != nil {
		return nil, err
	}
	return []document.Block{document.Heading(what), table, document.List(transferWords(t))}, nil
}
