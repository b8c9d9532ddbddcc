package shown

import (
	"fmt"
	"slices"
	"strings"

	"wane/study/desk"
)

// Status is the columns of status. Outside programs rely on names and order.
func Status() List[*desk.CouponPull] {
	return List[*desk.CouponPull]{
		Value("coupon", func(r *desk.CouponPull) any { return r.Coupon }).Ranked(1, "", nil),
		Value("role", func(r *desk.CouponPull) any { return string(r.Role) }),
		Value("coating", func(r *desk.CouponPull) any { return OrEmpty(r.Coating) }).Ranked(4, "", nil),
		Value("exposure", func(r *desk.CouponPull) any { return OrEmpty(r.Exposure) }).Ranked(5, "", nil),
		Value("pull", func(r *desk.CouponPull) any { return r.Pull }).Ranked(1, "", nil),
		Value("dose", func(r *desk.CouponPull) any { return OrNil(r.Dose) }),
		Value("dose_unit", func(r *desk.CouponPull) any { return OrEmpty(r.DoseUnit) }),
		Value("date", func(r *desk.CouponPull) any { return OrEmpty(r.Date) }),
		Value("spots_read", func(r *desk.CouponPull) any { return r.SpotsRead }),
		Value("spots_expected", func(r *desk.CouponPull) any {
			if r.SpotsExpected == 0 {
				return nil
			}
			return r.SpotsExpected
		}),
		Value("angles_read", func(r *desk.CouponPull) any { return r.AnglesRead }),
		Value("held", func(r *desk.CouponPull) any { return r.Held }),
		Value("aside", func(r *desk.CouponPull) any { return r.Aside }),
		Value("fits", func(r *desk.CouponPull) any { return r.Fits }),
		Value("stale", func(r *desk.CouponPull) any { return r.Stale }),
		Value("ended", func(r *desk.CouponPull) any { return OrEmpty(r.Ended) }),
		Value("attention", func(r *desk.CouponPull) any { return append([]string{}, r.Attention...) }).
			Ranked(1, "", nil).Folded(24),
		Value("state", func(r *desk.CouponPull) any { return string(r.State) }).Ranked(1, "", nil),
	}
}

// PullWords says how a coupon stands at a pull.
func PullWords(r *desk.CouponPull) string {
	words := string(r.State)
	switch r.State {
	case desk.PullPlanned:
		words = "."
	case desk.PullEnded:
		words = r.Ended
	case desk.PullPartly:
		if r.SpotsRead < r.SpotsExpected {
			words = fmt.Sprintf("%d of %d spots", r.SpotsRead, r.SpotsExpected)
		} else {
			words = "angles missing"
		}
	}
	if r.Held > 0 {
		words += fmt.Sprintf(", %d held", r.Held)
	}
	if r.Unfitted > 0 {
		words += ", not fitted"
	}
	if r.Stale > 0 {
		words += ", stale"
	}
	return words
}

// StatusGroup counts the coupons of an exposure at a pull.
type StatusGroup struct {
	Exposure, Date        string
	Pull, Coupons         int
	States                map[desk.PullState]int
	Held, Stale, Unfitted int
	Missing               []string // codes of coupons that are not read as expected
}

// mostNamed is how many coupons a line names.
const mostNamed = 6

// GroupStatus gathers rows by exposure and pull.
func GroupStatus(rows []desk.CouponPull) (groups []*StatusGroup) {
	type key struct {
		exposure string
		pull     int
	}
	known := map[key]*StatusGroup{}
	for i := range rows {
		r := &rows[i]
		g := known[key{r.Exposure, r.Pull}]
		if g == nil {
			g = &StatusGroup{Exposure: r.Exposure, Pull: r.Pull, Date: r.Date, States: map[desk.PullState]int{}}
			known[key{r.Exposure, r.Pull}] = g
			groups = append(groups, g)
		}
		g.Coupons++
		g.States[r.State]++
		g.Held, g.Stale, g.Unfitted = g.Held+r.Held, g.Stale+r.Stale, g.Unfitted+r.Unfitted
		if r.State == desk.PullMissing || r.State == desk.PullPartly || r.State == desk.PullMissed {
			g.Missing = append(g.Missing, r.Coupon)
		}
	}
	slices.SortStableFunc(groups, func(a, b *StatusGroup) int {
		if c := strings.Compare(a.Exposure, b.Exposure); c != 0 {
			return c
		}
		return a.Pull - b.Pull
	})
	return groups
}

// CountCoupons counts the coupons of rows, which are in the order of coupons.
func CountCoupons(rows []desk.CouponPull) (n int) {
	for i := range rows {
		if i == 0 || rows[i].Coupon != rows[i-1].Coupon {
			n++
		}
	}
	return n
}

// StatusGroups is the columns of a table of exposures and pulls.
func StatusGroups() List[*StatusGroup] {
	type group = *StatusGroup
	of := func(state desk.PullState, rank int) Column[group] {
		return Cell(string(state), rank, "", func(g group) string { return OrDash(g.States[state]) })
	}
	return List[group]{
		Cell("exposure", 1, "", func(g group) string { return Dash(g.Exposure) }),
		Cell("pull", 1, "", func(g group) string { return fmt.Sprint(g.Pull) }),
		Cell("date", 4, "", func(g group) string { return Dash(g.Date) }),
		Cell("coupons", 2, "", func(g group) string { return fmt.Sprint(g.Coupons) }),
		of(desk.PullRead, 1), of(desk.PullPartly, 1), of(desk.PullMissing, 1), of(desk.PullMissed, 1),
		of(desk.PullPlanned, 3), of(desk.PullEnded, 3),
		Cell("held", 2, "", func(g group) string { return OrDash(g.Held) }),
		Cell("to fit", 2, "", func(g group) string { return OrDash(g.Stale + g.Unfitted) }),
		Cell("which are missing", 5, "", func(g group) string { return Dash(FirstOf(g.Missing, mostNamed)) }).Folded(24),
	}
}

// RuleLines says which verdicts that were issued are others now, and which rules are after the fact.
func RuleLines(rules []desk.RuleState) (lines []string) {
	for i := range rules {
		s := &rules[i]
		if s.AfterTheFact {
			lines = append(lines, fmt.Sprintf("rule %s is after the fact: it is younger than the first exposed reading", s.Name))
		}
		for k := range s.Now {
			if changed := s.Now[k].Changed(); changed != "" {
				lines = append(lines, fmt.Sprintf("rule %s, %s: %s: wane rule judge %s", s.Name, s.Now[k].Group, changed, s.Name))
			}
		}
	}
	return lines
}
