package shown

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

// Compared is a pair of a comparison.
type Compared struct {
	Of   *difference.Comparison
	Pair *difference.Pair
}

func (r Compared) a() *difference.Group { return &r.Of.Groups[r.Pair.A] }

func (r Compared) b() *difference.Group { return &r.Of.Groups[r.Pair.B] }

// Compare is the columns of comparisons.
func Compare() List[Compared] {
	type row = Compared
	value := Value[row]
	num := func(name string, of func(row) float64) Column[row] {
		return value(name, func(r row) any { return OrNil(study.Num(of(r))) })
	}
	chance := func(of func(row) float64) func(row) string {
		return func(r row) string { return difference.Chance(of(r)) }
	}
	return List[row]{
		value("quantity", func(r row) any { return r.Of.Quantity.Name }),
		value("a", func(r row) any { return r.a().Name }).Ranked(1, "", nil).Folded(12),
		value("b", func(r row) any { return r.b().Name }).Ranked(1, "", nil).Folded(12),
		value("pull", func(r row) any { return pullOrNil(r.Of) }),
		num("dose", func(r row) float64 { return r.Of.Dose }),
		value("dose_unit", func(r row) any { return r.Of.DoseUnit }),
		num("difference", func(r row) float64 { return r.Pair.Difference }).Ranked(1, "a less b", func(r row) string {
			return Decimal(study.Num(r.Pair.Difference), r.places())
		}),
		num("u_difference", func(r row) float64 { return r.Pair.U }),
		num("lower", func(r row) float64 { return r.Pair.Lower }),
		num("upper", func(r row) float64 { return r.Pair.Upper }),
		Cell("interval", 1, "", row.interval),
		value("level", func(r row) any { return r.Of.Level }),
		num("df", func(r row) float64 { return r.Pair.DoF }).Ranked(4, "", func(r row) string {
			return Decimal(study.Num(r.Pair.DoF), 1)
		}),
		num("p", func(r row) float64 { return r.Pair.P }).Ranked(6, "", chance(func(r row) float64 { return r.Pair.P })),
		num("p_adjusted", func(r row) float64 { return r.Pair.PAdjusted }).Ranked(1, "adjusted p",
			chance(func(r row) float64 { return r.Pair.PAdjusted })),
		value("method", func(r row) any { return OrEmpty(r.Pair.Method) }),
		value("unit", func(r row) any { return r.Of.Unit }).Ranked(2, "", nil),
		value("n_a", func(r row) any { return r.a().Coupons }),
		value("n_b", func(r row) any { return r.b().Coupons }),
		value("lots_a", func(r row) any { return r.a().Lots }),
		value("lots_b", func(r row) any { return r.b().Lots }),
		value("ended_a", func(r row) any { return len(r.a().Ended) }),
		value("ended_b", func(r row) any { return len(r.b().Ended) }),
		value("flags", func(r row) any { return r.flags() }),
		value("exposure", func(r row) any { return r.Of.Exposure }),
		value("by", func(r row) any { return string(r.Of.By) }),
		value("verdict", func(r row) any { return string(r.Pair.Verdict) }).Ranked(3, "", nil),
		value("sentence", func(r row) any { return r.Of.Sentence(r.Pair) }),
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
		num("p_holm", func(r row) float64 { return r.Pair.PHolm }),
		num("p_permutation", func(r row) float64 { return r.Pair.Permutation.P }).Ranked(7, "permutation p",
			func(r row) string { return r.permutation() }),
		num("p_permutation_least", func(r row) float64 { return r.Pair.Permutation.Least }),
		num("least_detectable", func(r row) float64 { return r.Pair.LeastDetectable }).Ranked(5, "least detectable",
			func(r row) string { return Decimal(study.Num(r.Pair.LeastDetectable), r.places()) }),
		num("session_share", func(r row) float64 { return r.Pair.SessionShare }),
		value("margin", func(r row) any { return marginOrNil(r.Of) }),
		num("p_equivalence", func(r row) float64 { return r.Pair.PEquivalent }),
		num("p_equivalence_adjusted", func(r row) float64 { return r.Pair.PEquivalentAdjusted }),
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

func (r Compared) places() int { return difference.Decimals(r.Pair.U) }

// flags are those of the pair, with the reason where the data cannot tell.
func (r Compared) flags() []string {
	flags := []string{}
	if r.Pair.Why != nil {
		flags = append(flags, "cannot-tell:"+r.Pair.Why.Word)
	}
	return append(flags, r.Pair.Flags...)
}

func (r Compared) try() any {
	if r.Pair.Why == nil {
		return nil
	}
	return OrEmpty(r.Pair.Why.Try)
}

func (r Compared) interval() string {
	if math.IsNaN(r.Pair.Lower) {
		return "-"
	}
	return Decimal(study.Num(r.Pair.Lower), r.places()) + " to " + Decimal(study.Num(r.Pair.Upper), r.places())
}

func (r Compared) permutation() string {
	if math.IsNaN(r.Pair.Permutation.P) {
		return "-"
	}
	p := &r.Pair.Permutation
	return fmt.Sprintf("%s (least %s)", difference.Chance(p.P), difference.Chance(p.Least))
}

// MostSentences is the number of pairs up to which each has its sentence: those of eight groups.
const MostSentences = 28

// Equivalence says whether pairs are shown to be equivalent, for people.
func Equivalence(c *difference.Comparison) List[Compared] {
	margin := strconv.FormatFloat(c.Margin, 'g', -1, 64)
	return List[Compared]{
		Cell("equivalent", 1, "within ±"+margin, func(r Compared) string {
			switch {
			case r.Pair.Verdict == difference.CannotTell:
				return "-"
			case r.Pair.Verdict == difference.Equivalent || r.Pair.Verdict == difference.DifferentWithin:
				return "yes"
			}
			return "not shown"
		}),
		Cell("equivalent p", 1, "adjusted p of that", func(r Compared) string {
			return difference.Chance(r.Pair.PEquivalentAdjusted)
		}),
	}
}

// VerdictLines are the sentences of the pairs. Of many pairs those have one that differ, and the others are counted.
func VerdictLines(c *difference.Comparison) (lines []string) {
	others := 0
	for i := range c.Pairs {
		q := &c.Pairs[i]
		if len(c.Pairs) > MostSentences && q.Verdict != difference.Different && q.Verdict != difference.DifferentWithin {
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

// CompareHead says what the tables are of.
func CompareHead(c *difference.Comparison) string {
	unit := ""
	if c.Unit != "" {
		unit = " in " + c.Unit
	}
	where := fmt.Sprintf("at pull %d%s", c.Pull, doseRange(c))
	what := "change"
	if c.InRate {
		what, where = "rate", "by all pulls"
	}
	return fmt.Sprintf("%s of %s%s %s, exposure %s; intervals of %s %% together over %s", what, c.Quantity.Name, unit,
		where,
		study.Shown(c.Exposure), strconv.FormatFloat(100*c.Level, 'f', -1, 64), Count(len(c.Pairs), "pair"))
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

// ComparedGroups is the columns of the groups of a comparison.
func ComparedGroups(c *difference.Comparison) List[*difference.Group] {
	type group = difference.Group
	what, lost, places := "mean change", "not in it", 3
	if c.InRate {
		what, lost = "rate", "ended, or without a change"
	}
	for i := range c.Pairs {
		places = max(places, difference.Decimals(c.Pairs[i].U))
	}
	cells := List[*group]{
		Cell(string(c.By), 1, "", func(g *group) string { return study.Shown(g.Name) }).Folded(12),
		Cell("mean", 1, what, func(g *group) string { return Decimal(study.Num(g.Mean), places) }),
		Cell("sd", 2, "spread", func(g *group) string { return Decimal(study.Num(g.SD), places) }),
		Cell("coupons", 1, "", func(g *group) string { return strconv.Itoa(g.Coupons) }),
		Cell("lots", 1, "", func(g *group) string { return strconv.Itoa(g.Lots) }),
		Cell("counted", 2, "the unit is the", func(g *group) string { return string(g.Unit) }),
		Cell("without", 1, lost, func(g *group) string { return Dash(g.Lost()) }).Folded(16),
	}
	if c.InRate {
		cells = slices.DeleteFunc(cells, func(c Column[*group]) bool { return c.Name == "sd" })
	}
	return cells
}

// CompareRemarks are the lines below the tables.
func CompareRemarks(c *difference.Comparison) (lines []string) {
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
			if !slices.Contains(order, flag) {
				order = append(order, flag)
			}
		}
		share = max(share, c.Pairs[i].SessionShare)
	}
	for _, flag := range order {
		if pairs[flag] == 0 {
			continue
		}
		meaning := cmp.Or(meanings[flag], population.Reason(flag).Sentence(), FlagMeaning(flag))
		if flag == difference.FlagSessions && share > 0 {
			meaning += fmt.Sprintf(": %.0f %% of u² at most", 100*share)
		}
		lines = append(lines, fmt.Sprintf("%s (%s): %s", flag, Count(pairs[flag], "pair"), meaning))
	}
	lines = append(lines, "least detectable: the true difference that this comparison calls different in 80 % of "+
		"studies like this one")
	return lines
}
