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

// missing lists the coupons of a series without a value at some doses, each with these
// doses.
func (s *Series) missing() []string {
	var coupons []string // in the order in which they come first
	has := map[string]map[float64]bool{}
	var doses []float64
	for _, p := range s.Points {
		if !usable(p.Dose) || len(p.Coupons) == 0 {
			continue
		}
		doses = append(doses, p.Dose)
		for _, c := range p.Coupons {
			if has[c.Coupon] == nil {
				coupons, has[c.Coupon] = append(coupons, c.Coupon), map[float64]bool{}
			}
			has[c.Coupon][p.Dose] = usable(c.Change)
		}
	}
	var out []string
	for _, coupon := range coupons {
		var without []string
		for _, dose := range doses {
			if !has[coupon][dose] {
				without = append(without, fmt.Sprintf("%g", dose))
			}
		}
		if len(without) > 0 {
			out = append(out, fmt.Sprintf("%s (%s %s)", words(coupon), strings.Join(without, ", "), s.unit()))
		}
	}
	return out
}
