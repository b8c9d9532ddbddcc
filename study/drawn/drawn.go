// Package drawn makes figures of what the desk returns: for commands, which write them into files, and for pages. Each
// function returns a figure of study/report without its stamp, which the caller sets.
//
// Of groups there are [Changes], [GroupsLeft], [Trend], [Differences] and [Budget]; of sessions [Charts]; of a rule
// [Characteristic]. Of a coupon there are [Pulls] (all its curves), [Fit] (those of one pull, with residuals),
// [MaterialLeft] and [Structure] (its film against the dose), [Sunlight] (where in the solar spectrum it lost) and
// [CouponBudget] (whose errors its uncertainty comes from).
package drawn

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"wane/study"
	"wane/study/acceptance"
	"wane/study/ageing"
	"wane/study/report"
)

// nothing says why there is no figure.
func nothing(try, format string, args ...any) error {
	return &study.Refusal{Fault: fmt.Sprintf(format, args...), Try: try}
}

// doseWords are a dose with its unit, as figures write it; empty: not known.
func doseWords(r *study.Result) string {
	if !r.Dose.Valid() || r.DoseUnit == "" {
		return ""
	}
	return strconv.FormatFloat(float64(r.Dose), 'g', 6, 64) + " " + strings.ReplaceAll(r.DoseUnit, "/m2", "/m²")
}

// QuantityWords is the name of a quantity as a figure writes it.
func QuantityWords(name string) string {
	switch name {
	case "cell_T":
		return "cell transmittance"
	case "solar_T":
		return "solar transmittance"
	case "solid":
		return "material left"
	}
	return strings.ReplaceAll(name, "_", " ")
}

// read is one reading of a coupon: a pull, in a condition where it was read in several.
type read struct {
	pull      study.Num
	condition string
}

func readOf(r *study.Result) read { return read{r.Pull, r.Condition} }

// reads returns the readings of rows in the order of their doses, with their names; that of a pull without a dose is in
// the order of pulls.
func reads(rows []*study.Result) (all []read, names map[read]string) {
	sorted := slices.Clone(rows)
	slices.SortStableFunc(sorted, func(a, b *study.Result) int {
		if a.Dose.Valid() && b.Dose.Valid() && a.Dose != b.Dose {
			if a.Dose < b.Dose {
				return -1
			}
			return 1
		}
		return int(a.Pull) - int(b.Pull)
	})
	conditions := map[study.Num]map[string]bool{}
	for _, r := range sorted {
		if at := readOf(r); !slices.Contains(all, at) {
			all = append(all, at)
		}
		if conditions[r.Pull] == nil {
			conditions[r.Pull] = map[string]bool{}
		}
		conditions[r.Pull][r.Condition] = true
	}
	names = map[read]string{}
	for _, at := range all {
		names[at] = fmt.Sprintf("pull %g", at.pull)
		if len(conditions[at.pull]) > 1 && at.condition != "" {
			names[at] += ", " + conditionWords(at.condition)
		}
	}
	return all, names
}

// conditionWords are a condition as people write it.
func conditionWords(condition string) string { return strings.ReplaceAll(condition, "_", " ") }

// spotsOf are the spots of rows, each once, in their order.
func spotsOf(rows []*study.Result) (spots []string) {
	for _, r := range rows {
		if !slices.Contains(spots, r.Spot) {
			spots = append(spots, r.Spot)
		}
	}
	return spots
}

// Series hands curves of change to a figure.
func Series(curves []ageing.Curve) (all []report.Series) {
	for _, c := range curves {
		s := report.Series{Name: c.Name, DoseUnit: c.DoseUnit}
		for i := range c.Points {
			g := &c.Points[i]
			p := report.Point{Dose: float64(g.Dose), Mean: float64(g.Change), Lo: float64(g.Lo), Hi: float64(g.Hi)}
			for _, coupon := range g.Coupon {
				p.Coupons = append(p.Coupons, report.CouponChange(coupon))
			}
			s.Points = append(s.Points, p)
		}
		all = append(all, s)
	}
	return all
}

// Characteristic returns the figure of the operating characteristic of a rule.
func Characteristic(r *acceptance.Rule) *report.Characteristic {
	const steps = 200
	shares := make([]float64, steps+1)
	for i := range shares {
		shares[i] = float64(i) / steps
	}
	out := &report.Characteristic{Rule: r.Name, Coupons: r.Coupons, Failures: r.Failures, Share: r.Share}
	for _, c := range r.Curve(shares) {
		out.Points = append(out.Points, report.CharacteristicPoint{Share: c.Conforming, Accepted: c.Accepted,
			Certain: c.Certain})
	}
	return out
}
