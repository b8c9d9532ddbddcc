package report

import (
	"fmt"
	"strings"
)

// maxMissing is the largest number of coupons that the note names. It counts the others.
const maxMissing = 12

// missingCoupons returns a note of the coupons that have no value at a dose where others of
// their group have one, with these doses. It is empty if all have one. The note matters
// because a mean over other coupons than before may change without a change of the coating.
func missingCoupons(series []Series) string {
	var names []string
	for i := range series {
		names = append(names, series[i].missing()...)
	}
	if len(names) == 0 {
		return ""
	}
	more := ""
	if len(names) > maxMissing {
		more = fmt.Sprintf(" and %d more", len(names)-maxMissing)
		names = names[:maxMissing]
	}
	return "Coupons without a value at a dose: " + strings.Join(names, ", ") + more + "."
}

// missing lists the coupons of a series without a value at some doses of their history, each with these doses. What
// changed since the start has no start of its own: a dose of 0 is in all histories.
func (s *Series) missing() []string {
	var coupons []string // in the order in which they come first
	has := map[string]map[float64]bool{}
	starts := map[string]map[int]bool{}
	var points []*Point
	for i := range s.Points {
		p := &s.Points[i]
		if !usable(p.Dose) || len(p.Coupons) == 0 {
			continue
		}
		points = append(points, p)
		for _, c := range p.Coupons {
			if has[c.Coupon] == nil {
				coupons, has[c.Coupon], starts[c.Coupon] = append(coupons, c.Coupon), map[float64]bool{}, map[int]bool{}
			}
			has[c.Coupon][p.Dose] = usable(c.Change)
			if p.Dose != 0 {
				starts[c.Coupon][p.Start] = true
			}
		}
	}
	var out []string
	for _, coupon := range coupons {
		var without []string
		for _, p := range points {
			expected := p.Dose == 0 || len(starts[coupon]) == 0 || starts[coupon][p.Start]
			if expected && !has[coupon][p.Dose] {
				without = append(without, fmt.Sprintf("%g", p.Dose))
			}
		}
		if len(without) > 0 {
			out = append(out, fmt.Sprintf("%s (%s %s)", words(coupon), strings.Join(without, ", "), s.unit()))
		}
	}
	return out
}
