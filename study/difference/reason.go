package difference

import (
	"fmt"
	"slices"
	"strings"

	"wane/study"
	"wane/study/population"
	"wane/study/series"
)

// Reason says why the data cannot tell a difference, and what to try. It is in words, as what follows "because".
type Reason struct{ Word, Because, Try string }

// The words of reasons at a pull. Those of rates are of package population.
const (
	OneUnit  = "one-coupon"
	Constant = "constant"
	Sessions = "session-is-group"
)

// The flags of pairs. Those of results that their coupons carry follow.
const (
	FlagTheseLots    = "these-lots"
	FlagSurvivors    = "survivors-only"
	FlagMissing      = "coupons-missing"
	FlagSessions     = "different-sessions"
	FlagDoses        = "doses-differ"
	FlagConstant     = "constant-group"
	FlagUnknown      = "errors-unknown"
	FlagDrawn        = "permutations-drawn"
	FlagWeighting    = "weighting-flips"
	FlagUncorrected  = "not-corrected"
	FlagBent         = "scatter"
	FlagAdjustments  = "adjustments-disagree"
	mostDoseDistance = 0.01 // of doses that are called equal, as a share of the larger one
)

// Flags explains the flags of pairs.
func Flags() []study.Term {
	return []study.Term{
		{Word: FlagTheseLots, Meaning: "what is said holds for these lots: the unit is the coupon",
			Limit:  "fewer than three lots of one of the groups",
			Remedy: "expose coupons of three lots or more, two of each"},
		{Word: FlagSurvivors, Meaning: "coupons were lost before; what is said is of those that were left",
			Remedy: "look at what ended them: wane results --by coating names them"},
		{Word: FlagMissing, Meaning: "coupons that go on have no value there", Remedy: "read them, and run wane fit"},
		{Word: FlagSessions, Meaning: "the groups were read in different sessions, and nothing corrects these; their " +
			"share of the uncertainty is stated",
			Remedy: "read all of a pull in one session, with controls: wane sheet EXPOSURE --pull N"},
		{Word: FlagDoses, Meaning: "the groups have different doses at this pull", Limit: "1 % of the larger one",
			Remedy: "compare rates: wane compare --rate"},
		{Word: FlagConstant, Meaning: "all values of one of the groups are equal, so its scatter counts as 0",
			Remedy: "look at whether the readings have enough digits"},
		{Word: FlagUnknown, Meaning: "the uncertainty of a value is not known; the scatter between coupons is all that " +
			"counts", Remedy: "state the uncertainty of measurements"},
		{Word: FlagUncorrected, Meaning: "the changes are not corrected by controls or sessions",
			Remedy: "read controls in each session: wane help corrections"},
		{Word: FlagDrawn, Meaning: "the permutations are drawn by chance, since there are too many",
			Limit: "more than 200,000", Remedy: "nothing: their p is good to 0.002"},
		{Word: FlagBent, Meaning: "the changes of one of the groups so far do not lie on a straight line: its rate is a mean " +
			"over what became faster or slower",
			Limit:  "chi-square of the mean path about a line above its 95 % quantile",
			Remedy: "compare at a pull, and see wane trend --shape all"},
		{Word: FlagAdjustments, Meaning: "the interval leaves out 0, but p after Holm is not small enough: the pair is not called " +
			"different", Remedy: "expose more coupons, above all of the group that scatters most"},
		{Word: FlagWeighting, Meaning: "the verdict by energy (solar_T) is another one than that by photons (cell_T)",
			Remedy: "decide which one counts for the modules in question, and name it"},
	}
}

// whyNot says why the difference of two groups at a pull cannot be told; nil: it can.
func whyNot(data *series.Data, a, b *Group) *Reason {
	for _, g := range []*Group{a, b} {
		if g.Units < 2 {
			return &Reason{OneUnit, fmt.Sprintf("%s has one %s only, and those of one group differ by more than their "+
				"readings do", study.Shown(g.Name), g.Unit), "expose two coupons or more of each group, better six"}
		}
	}
	if a.SD == 0 && b.SD == 0 {
		return &Reason{Constant, fmt.Sprintf("all values of %s are equal, and so are those of %s", study.Shown(a.Name),
			study.Shown(b.Name)), "look at whether the readings have enough digits, or compare another quantity"}
	}
	if data.Route != study.RouteNone || sharesSessions(data) && a.mean.Known && b.mean.Known {
		return nil
	}
	for _, at := range []struct {
		read string
		a, b []string
	}{{"was read", a.now, b.now}, {"had its baseline read", a.start, b.start}} {
		if !slices.ContainsFunc(at.a, func(s string) bool { return slices.Contains(at.b, s) }) {
			because := fmt.Sprintf("%s %s in %s, and %s in %s; nothing is known of what these sessions are off",
				study.Shown(a.Name), at.read, shownList(at.a), study.Shown(b.Name), shownList(at.b))
			return &Reason{Sessions, because, "read all groups of a pull in one session (wane sheet EXPOSURE --pull N), or " +
				"correct by controls (wane help corrections)"}
		}
	}
	return nil
}

// pairFlags are the flags of a pair at a pull.
func (c *Comparison) pairFlags(data *series.Data, p *Pair) []string {
	a, b := &c.Groups[p.A], &c.Groups[p.B]
	flags := c.groupFlags(a, b)
	add := func(flag string, is bool) {
		if is {
			flags = append(flags, flag)
		}
	}
	add(FlagTheseLots, c.By != population.ByLot && (a.Unit != population.UnitLot || b.Unit != population.UnitLot))
	apart := !slices.Equal(a.now, b.now) || !slices.Equal(a.start, b.start)
	add(FlagSessions, data.Route == study.RouteNone && apart)
	add(FlagUncorrected, data.Route == study.RouteNone)
	larger := max(a.HiDose, b.HiDose)
	add(FlagDoses, larger-min(a.LoDose, b.LoDose) > mostDoseDistance*larger)
	add(FlagConstant, a.Units > 1 && a.SD == 0 || b.Units > 1 && b.SD == 0)
	add(FlagUnknown, !a.mean.Known || !b.mean.Known)
	add(FlagDrawn, p.Permutation.Drawn)
	for _, flag := range pointFlags {
		add(flag, slices.Contains(a.Flags, flag) || slices.Contains(b.Flags, flag))
	}
	return flags
}

// groupFlags are the flags of pairs at a pull and in rate.
func (c *Comparison) groupFlags(a, b *Group) (flags []string) {
	if len(a.Ended)+len(b.Ended) > 0 {
		flags = append(flags, FlagSurvivors)
	}
	if len(a.Missing)+len(b.Missing) > 0 {
		flags = append(flags, FlagMissing)
	}
	return flags
}

// rateFlags are the flags of a pair in rate: the remarks of the population are among them.
func (c *Comparison) rateFlags(p *Pair, a, b []population.Reason) []string {
	flags := c.groupFlags(&c.Groups[p.A], &c.Groups[p.B])
	for _, r := range slices.Concat(a, b) {
		if flag := string(r); r != population.EndedBefore && !slices.Contains(flags, flag) {
			flags = append(flags, flag)
		}
	}
	return flags
}

// MarkFlips marks the pairs of which another comparison of the same groups, in another weighting of light, says
// otherwise: another verdict, or the other sign of a difference that is told. It reports whether there is one.
func (c *Comparison) MarkFlips(other *Comparison) (flips bool) {
	for i := range c.Pairs {
		p := &c.Pairs[i]
		for k := range other.Pairs {
			q := &other.Pairs[k]
			same := c.Groups[p.A].Name == other.Groups[q.A].Name && c.Groups[p.B].Name == other.Groups[q.B].Name
			if !same || p.Verdict == CannotTell || q.Verdict == CannotTell {
				continue
			}
			if p.Verdict != q.Verdict || p.isDifferent() && p.Difference*q.Difference < 0 {
				p.Flags, flips = append(p.Flags, FlagWeighting), true
			}
		}
	}
	return flips
}

// MarkBent marks the pairs in rate of which one group has one of these coupons: those of groups whose changes do not lie
// on a straight line, by their codes.
func (c *Comparison) MarkBent(coupons map[string]bool) {
	bent := func(g *Group) bool {
		return slices.ContainsFunc(g.members, func(code string) bool { return coupons[code] })
	}
	for i := range c.Pairs {
		if p := &c.Pairs[i]; bent(&c.Groups[p.A]) || bent(&c.Groups[p.B]) {
			p.Flags = append(p.Flags, FlagBent)
		}
	}
}

func (p *Pair) isDifferent() bool { return p.Verdict == Different || p.Verdict == DifferentWithin }

// Is reports whether a pair carries a flag.
func (p *Pair) Is(flag string) bool {
	return slices.ContainsFunc(p.Flags, func(f string) bool { return f == flag || strings.HasPrefix(f, flag+":") })
}
