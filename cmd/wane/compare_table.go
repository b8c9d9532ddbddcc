package main

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"

	"wane/study"
	"wane/study/difference"
	"wane/study/population"
)

// compareRow is a pair of a comparison.
type compareRow struct {
	of   *difference.Comparison
	pair *difference.Pair
}

func (r compareRow) a() *difference.Group { return &r.of.Groups[r.pair.A] }
func (r compareRow) b() *difference.Group { return &r.of.Groups[r.pair.B] }

// compareColumns are the columns of comparisons.
var compareColumns = makeCompareColumns()

func makeCompareColumns() listing[compareRow] {
	type row = compareRow
	value := valueColumn[row]
	num := func(name string, of func(row) float64) column[row] {
		return value(name, func(r row) any { return orNil(study.Num(of(r))) })
	}
	chance := func(of func(row) float64) func(row) string {
		return func(r row) string { return difference.Chance(of(r)) }
	}
	return listing[row]{
		value("quantity", func(r row) any { return r.of.Quantity.Name }),
		value("a", func(r row) any { return r.a().Name }).Ranked(1, "", nil).Folded(12),
		value("b", func(r row) any { return r.b().Name }).Ranked(1, "", nil).Folded(12),
		value("pull", func(r row) any { return pullOrNil(r.of) }),
		num("dose", func(r row) float64 { return r.of.Dose }),
		value("dose_unit", func(r row) any { return r.of.DoseUnit }),
		num("difference", func(r row) float64 { return r.pair.Difference }).Ranked(1, "a less b", func(r row) string {
			return decimal(study.Num(r.pair.Difference), r.places())
		}),
		num("u_difference", func(r row) float64 { return r.pair.U }),
		num("lower", func(r row) float64 { return r.pair.Lower }),
		num("upper", func(r row) float64 { return r.pair.Upper }),
		cellColumn("interval", 1, "", row.interval),
		value("level", func(r row) any { return r.of.Level }),
		num("df", func(r row) float64 { return r.pair.DoF }).Ranked(4, "", func(r row) string {
			return decimal(study.Num(r.pair.DoF), 1)
		}),
		num("p", func(r row) float64 { return r.pair.P }).Ranked(6, "", chance(func(r row) float64 { return r.pair.P })),
		num("p_adjusted", func(r row) float64 { return r.pair.PAdjusted }).Ranked(1, "adjusted p",
			chance(func(r row) float64 { return r.pair.PAdjusted })),
		value("method", func(r row) any { return orEmpty(r.pair.Method) }),
		value("unit", func(r row) any { return r.of.Unit }).Ranked(2, "", nil),
		value("n_a", func(r row) any { return r.a().Coupons }),
		value("n_b", func(r row) any { return r.b().Coupons }),
		value("lots_a", func(r row) any { return r.a().Lots }),
		value("lots_b", func(r row) any { return r.b().Lots }),
		value("ended_a", func(r row) any { return len(r.a().Ended) }),
		value("ended_b", func(r row) any { return len(r.b().Ended) }),
		value("flags", func(r row) any { return r.flags() }),
		value("exposure", func(r row) any { return r.of.Exposure }),
		value("by", func(r row) any { return string(r.of.By) }),
		value("verdict", func(r row) any { return string(r.pair.Verdict) }).Ranked(3, "", nil),
		value("sentence", func(r row) any { return r.of.Sentence(r.pair) }),
		value("try", func(r row) any { return r.try() }),
		num("mean_a", func(r row) float64 { return r.a().Mean }),
		num("mean_b", func(r row) float64 { return r.b().Mean }),
		num("sd_a", func(r row) float64 { return r.a().SD }),
		num("sd_b", func(r row) float64 { return r.b().SD }),
		value("units_a", func(r row) any { return r.a().Units }),
		value("units_b", func(r row) any { return r.b().Units }),
		value("counted_a", func(r row) any { return string(r.a().Unit) }),
		value("counted_b", func(r row) any { return string(r.b().Unit) }),
		value("missing_a", func(r row) any { return len(r.a().Missing) }),
		value("missing_b", func(r row) any { return len(r.b().Missing) }),
		num("p_holm", func(r row) float64 { return r.pair.PHolm }),
		num("p_permutation", func(r row) float64 { return r.pair.Permutation.P }).Ranked(7, "permutation p",
			func(r row) string { return r.permutation() }),
		num("p_permutation_least", func(r row) float64 { return r.pair.Permutation.Least }),
		num("least_detectable", func(r row) float64 { return r.pair.LeastDetectable }).Ranked(5, "least detectable",
			func(r row) string { return decimal(study.Num(r.pair.LeastDetectable), r.places()) }),
		num("session_share", func(r row) float64 { return r.pair.SessionShare }),
		value("margin", func(r row) any { return marginOrNil(r.of) }),
		num("p_equivalence", func(r row) float64 { return r.pair.PEquivalent }),
		num("p_equivalence_adjusted", func(r row) float64 { return r.pair.PEquivalentAdjusted }),
	}
}

func pullOrNil(c *difference.Comparison) any {
	if c.InRate {
		return nil
	}
	return c.Pull
}

func marginOrNil(c *difference.Comparison) any {
	if c.Margin == 0 {
		return nil
	}
	return c.Margin
}

func (r compareRow) places() int { return difference.Decimals(r.pair.U) }

// flags are those of the pair, with the reason where the data cannot tell.
func (r compareRow) flags() []string {
	flags := []string{}
	if r.pair.Why != nil {
		flags = append(flags, "cannot-tell:"+r.pair.Why.Word)
	}
	return append(flags, r.pair.Flags...)
}

func (r compareRow) try() any {
	if r.pair.Why == nil {
		return nil
	}
	return orEmpty(r.pair.Why.Try)
}

func (r compareRow) interval() string {
	if math.IsNaN(r.pair.Lower) {
		return "-"
	}
	return decimal(study.Num(r.pair.Lower), r.places()) + " to " + decimal(study.Num(r.pair.Upper), r.places())
}

func (r compareRow) permutation() string {
	if math.IsNaN(r.pair.Permutation.P) {
		return "-"
	}
	p := &r.pair.Permutation
	return fmt.Sprintf("%s (least %s)", difference.Chance(p.P), difference.Chance(p.Least))
}

// mostSentences is the number of pairs up to which each has its sentence: those of eight groups.
const mostSentences = 28

// compareTable is the listing for people: the verdicts, the pairs, the groups, and what must be said of them.
func compareTable(p page, columns listing[compareRow], c *difference.Comparison) error {
	if err := writeLines(p, verdictLines(c)...); err != nil {
		return err
	}
	if _, err := fmt.Fprintf(p, "\n%s\n", compareHead(c)); err != nil {
		return err
	}
	if c.Margin > 0 {
		columns = append(slices.Clone(columns), equivalenceColumns(c)...)
	}
	out := openRows(columns, p, "table")
	if err := writePairs(out, c); err != nil {
		return err
	}
	if err := out.end(); err != nil {
		return err
	}
	if err := writeLine(p, ""); err != nil {
		return err
	}
	groups := comparedGroups(c)
	list := openRows(groups, p, "table")
	for i := range c.Groups {
		if err := list.write(&c.Groups[i]); err != nil {
			return err
		}
	}
	if err := list.end(); err != nil {
		return err
	}
	if err := writeLine(p, ""); err != nil {
		return err
	}
	return writeLines(p, compareRemarks(c)...)
}

// equivalenceColumns say whether pairs are shown to be equivalent, for people.
func equivalenceColumns(c *difference.Comparison) listing[compareRow] {
	margin := strconv.FormatFloat(c.Margin, 'g', -1, 64)
	return listing[compareRow]{
		cellColumn("equivalent", 1, "within ±"+margin, func(r compareRow) string {
			switch {
			case r.pair.Verdict == difference.CannotTell:
				return "-"
			case r.pair.Verdict == difference.Equivalent || r.pair.Verdict == difference.DifferentWithin:
				return "yes"
			}
			return "not shown"
		}),
		cellColumn("equivalent p", 1, "adjusted p of that", func(r compareRow) string {
			return difference.Chance(r.pair.PEquivalentAdjusted)
		}),
	}
}

// verdictLines are the sentences of the pairs. Of many pairs those have one that differ, and the others are counted.
func verdictLines(c *difference.Comparison) (lines []string) {
	others := 0
	for i := range c.Pairs {
		q := &c.Pairs[i]
		if len(c.Pairs) > mostSentences && q.Verdict != difference.Different && q.Verdict != difference.DifferentWithin {
			others++
			continue
		}
		lines = append(lines, c.Sentence(q)+".")
		if q.Why != nil && q.Why.Try != "" {
			lines = append(lines, "  try: "+q.Why.Try)
		}
	}
	if others > 0 {
		lines = append(lines, fmt.Sprintf("%d other pairs are in the table.", others))
	}
	return lines
}

// compareHead says what the tables are of.
func compareHead(c *difference.Comparison) string {
	unit := ""
	if c.Unit != "" {
		unit = " in " + c.Unit
	}
	where := fmt.Sprintf("at pull %d%s", c.Pull, doseRange(c))
	what := "change"
	if c.InRate {
		what, where = "rate", "by all pulls"
	}
	return fmt.Sprintf("%s of %s%s %s, exposure %s; intervals of %s %% together over %s", what, c.Quantity.Name, unit, where,
		study.Shown(c.Exposure), strconv.FormatFloat(100*c.Level, 'f', -1, 64), count(len(c.Pairs), "pair"))
}

// doseRange says the doses of all coupons, if they are known.
func doseRange(c *difference.Comparison) string {
	lo, hi := math.Inf(1), math.Inf(-1)
	for i := range c.Groups {
		lo, hi = min(lo, c.Groups[i].LoDose), max(hi, c.Groups[i].HiDose)
	}
	switch {
	case math.IsNaN(lo) || lo > hi:
		return ""
	case lo < hi:
		return fmt.Sprintf(" (%.4g to %.4g %s)", lo, hi, c.DoseUnit)
	}
	return fmt.Sprintf(" (%.4g %s)", lo, c.DoseUnit)
}

// comparedGroups are the columns of the groups of a comparison.
func comparedGroups(c *difference.Comparison) listing[*difference.Group] {
	type group = difference.Group
	what, lost, places := "mean change", "not in it", 3
	if c.InRate {
		what, lost = "rate", "ended, or without a change"
	}
	for i := range c.Pairs {
		places = max(places, difference.Decimals(c.Pairs[i].U))
	}
	cells := listing[*group]{
		cellColumn(string(c.By), 1, "", func(g *group) string { return study.Shown(g.Name) }).Folded(12),
		cellColumn("mean", 1, what, func(g *group) string { return decimal(study.Num(g.Mean), places) }),
		cellColumn("sd", 2, "spread", func(g *group) string { return decimal(study.Num(g.SD), places) }),
		cellColumn("coupons", 1, "", func(g *group) string { return strconv.Itoa(g.Coupons) }),
		cellColumn("lots", 1, "", func(g *group) string { return strconv.Itoa(g.Lots) }),
		cellColumn("counted", 2, "the unit is the", func(g *group) string { return string(g.Unit) }),
		cellColumn("without", 1, lost, func(g *group) string { return dash(g.Lost()) }).Folded(16),
	}
	if c.InRate {
		cells = slices.DeleteFunc(cells, func(c column[*group]) bool { return c.Name == "sd" })
	}
	return cells
}

// compareRemarks are the lines below the tables.
func compareRemarks(c *difference.Comparison) (lines []string) {
	for _, l := range c.LeftOut {
		lines = append(lines, fmt.Sprintf("%s is not compared: %s", study.Shown(l.Group), l.Why))
	}
	meanings, order := map[string]string{}, []string{}
	for _, term := range difference.Flags() {
		meanings[term.Word], order = term.Meaning, append(order, term.Word)
	}
	pairs, share := map[string]int{}, 0.0
	for i := range c.Pairs {
		for _, flag := range c.Pairs[i].Flags {
			pairs[flag]++
			order = addOnce(order, flag)
		}
		share = max(share, c.Pairs[i].SessionShare)
	}
	for _, flag := range order {
		if pairs[flag] == 0 {
			continue
		}
		meaning := cmp.Or(meanings[flag], population.Reason(flag).Sentence(), flagMeaning(flag))
		if flag == difference.FlagSessions && share > 0 {
			meaning += fmt.Sprintf(": %.0f %% of u² at most", 100*share)
		}
		lines = append(lines, fmt.Sprintf("%s (%s): %s", flag, count(pairs[flag], "pair"), meaning))
	}
	lines = append(lines, "least detectable: the true difference that this comparison calls different in 80 % of "+
		"studies like this one")
	return lines
}
