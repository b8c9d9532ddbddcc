package shown

import (
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"

	"wane/study"
	"wane/study/ageing"
)

// Groups is the columns of groups.
func Groups(by ageing.By) List[*ageing.Group] {
	first := string(by)
	if by == ageing.ByExposure {
		first = "group" // exposure is a column of its own
	}
	type group = ageing.Group
	value := Value[*group]
	three := func(of func(*group) study.Num) func(*group) string {
		return func(g *group) string { return Decimal(of(g), 3) }
	}
	columns := List[*group]{
		value(first, func(g *group) any { return g.Group }).Ranked(1, string(by), nil).Folded(12),
		value("exposure", func(g *group) any { return g.Exposure }).Ranked(4, "", nil),
		value("condition", func(g *group) any { return OrEmpty(g.Condition) }).Ranked(5, "", nil),
		value("pull", func(g *group) any { return g.Pull }).Ranked(1, "", nil),
		value("dose", func(g *group) any { return OrNil(g.Dose) }).Ranked(2, "", DoseWords),
		value("dose_unit", func(g *group) any { return g.DoseUnit }),
		value("coupons", func(g *group) any { return g.Coupons }).Ranked(1, "", couponCount),
		value("coupons_with_change", func(g *group) any { return g.Changed }),
		value("change_kind", func(g *group) any { return g.Changes }),
		value("mean_change_pp", func(g *group) any { return OrNil(g.Change) }).
			Ranked(1, "mean change / pp", three(func(g *group) study.Num { return g.Change })),
		value("lo95_change_pp", func(g *group) any { return OrNil(g.Lo) }),
		value("hi95_change_pp", func(g *group) any { return OrNil(g.Hi) }),
		Cell("interval", 1, "95 % interval", intervalWords95),
		value("sd_between_coupons_pp", func(g *group) any { return OrNil(g.Spread) }).
			Ranked(6, "spread", three(func(g *group) study.Num { return g.Spread })),
		value("mean_gain_kept", func(g *group) any { return OrNil(g.GainKept) }).
			Ranked(2, "gain kept", three(func(g *group) study.Num { return g.GainKept })),
		value("mean_solid_nm", func(g *group) any { return OrNil(g.Solid) }).
			Ranked(3, "material left / nm", func(g *group) string { return Decimal(g.Solid, 1) }),
		Cell("spots", 1, "", StateWords).Folded(12),
	}
	for _, s := range study.States() {
		columns = append(columns, value("spots_"+string(s), func(g *group) any { return g.States[s] }))
	}
	return append(columns,
		value("spots_without_state", func(g *group) any { return g.States[""] }),
		value("spots_session_not_trusted",
			func(g *group) any { return g.Flags[study.FlagSessionNotTrusted] }).Ranked(7, "not trusted", nil),
		value("spots_baseline_not_trusted", func(g *group) any { return g.Flags[study.FlagBaselineNotTrusted] }).
			Ranked(8, "baseline not trusted", nil),
		value("spots_lossless", func(g *group) any { return g.Clear }),
		value("lo_dose", func(g *group) any { return OrNil(g.LoDose) }),
		value("hi_dose", func(g *group) any { return OrNil(g.HiDose) }),
		value("spots_dose_planned", func(g *group) any { return g.Flags[study.FlagDosePlanned] }),
		value("n", func(g *group) any { return g.Changed }),
		value("mean", func(g *group) any { return OrNil(g.Change) }),
		value("se", func(g *group) any { return OrNil(g.U) }),
		value("df", func(g *group) any { return OrNil(g.DoF) }),
		value("lower", func(g *group) any { return OrNil(g.Lo) }),
		value("upper", func(g *group) any { return OrNil(g.Hi) }),
		value("method", intervalMethod),
		value("ended", func(g *group) any { return len(g.Ended) }),
		value("flags", func(g *group) any { return flagCounts(g.Flags) }),
	)
}

// flagCounts says how many spots of a group have each flag: misfit=3.
func flagCounts(flags map[string]int) []string {
	said := []string{}
	for _, flag := range slices.Sorted(maps.Keys(flags)) {
		said = append(said, fmt.Sprintf("%s=%d", flag, flags[flag]))
	}
	return said
}

// intervalMethod says how the interval of a group was made.
func intervalMethod(g *ageing.Group) any {
	if !g.Lo.Valid() {
		return nil
	}
	return "t-interval-between-coupons"
}

// DoseWords says at which dose a group was.
func DoseWords(g *ageing.Group) string {
	if !g.Dose.Valid() {
		return "-"
	}
	if g.LoDose < g.HiDose {
		return fmt.Sprintf("%.4g to %.4g %s", float64(g.LoDose), float64(g.HiDose), g.DoseUnit)
	}
	return fmt.Sprintf("%.6g %s", float64(g.Dose), g.DoseUnit)
}

// intervalWords95 is the interval of a group.
func intervalWords95(g *ageing.Group) string {
	if !g.Lo.Valid() {
		return "-"
	}
	return fmt.Sprintf("%s to %s", Decimal(g.Lo, 3), Decimal(g.Hi, 3))
}

// couponCount says how many coupons there are, and of how many of them a change is
// known if not of all. Those whose history has ended count among all.
func couponCount(g *ageing.Group) string {
	all := g.Coupons + len(g.Ended)
	if g.Changed == all {
		return strconv.Itoa(all)
	}
	return fmt.Sprintf("%d of %d", g.Changed, all)
}

// StateWords says how many spots of a group are in each state.
func StateWords(g *ageing.Group) string {
	var words []string
	for _, c := range g.CountStates() {
		words = append(words, fmt.Sprintf("%d %s", c.Spots, Dash(string(c.State))))
	}
	return strings.Join(words, ", ")
}
