package drawn

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"wane/study"
	"wane/study/report"
	"wane/study/series"
)

// OwnerNames say whose errors the parts of a budget are.
var OwnerNames = map[study.Owner]string{
	study.OwnerSession:    "session",
	study.OwnerPlacement:  "how coupons lay",
	study.OwnerCoupon:     "glass of the coupon",
	study.OwnerBatch:      "batch of the glass",
	study.OwnerCoating:    "index of the coating",
	study.OwnerSpot:       "structure of the spot",
	study.OwnerReading:    "reading of a spot",
	study.OwnerInstrument: "instrument",
	study.OwnerJoint:      "joint fit of sessions",
	study.OwnerBridge:     "offset between instruments",
	study.OwnerControls:   "controls, their own part",
	"":                    "own noise and the rest",
}

// Owners are those of some budgets, the one that adds most in all first.
func Owners(budgets [][]series.Part) (owners []study.Owner) {
	sums := map[study.Owner]float64{}
	for _, parts := range budgets {
		for _, part := range parts {
			if sums[part.Owner] += part.Variance; !slices.Contains(owners, part.Owner) {
				owners = append(owners, part.Owner)
			}
		}
	}
	slices.SortFunc(owners, func(a, b study.Owner) int {
		return cmp.Or(cmp.Compare(sums[b], sums[a]), strings.Compare(string(a), string(b)))
	})
	return owners
}

// Budget draws the budgets of the mean changes of groups. several: the name of a group is not enough without its
// exposure.
func Budget(budgets []series.MeanBudget, unit string, several bool) *report.Budget {
	f := &report.Budget{Unit: unit}
	var parts [][]series.Part
	for i := range budgets {
		parts = append(parts, budgets[i].Parts)
	}
	owners := Owners(parts)
	for _, owner := range owners {
		f.Owners = append(f.Owners, OwnerNames[owner])
	}
	for i := range budgets {
		m := report.BudgetMean{Name: budgets[i].Group, Coupons: budgets[i].Coupons}
		if several {
			m.Name += " in " + budgets[i].Exposure
		}
		for _, owner := range owners {
			m.U = append(m.U, budgets[i].U(owner))
		}
		f.Means = append(f.Means, m)
	}
	return f
}

// CouponBudget draws what the uncertainty of the change of a coupon at each of its pulls comes from. A coupon without a
// change whose errors are known is refused.
func CouponBudget(data *series.Data, coupon string) (*report.Budget, error) {
	f := &report.Budget{Title: fmt.Sprintf("Coupon %s: where the uncertainty of its change comes from", coupon),
		Unit: data.Quantity.Unit, What: "change", Head: "Change at",
		Caption: []string{fmt.Sprintf("Change of %s since the baseline, corrected as in results; the mean of the spots of "+
			"the coupon.",
			QuantityWords(data.Quantity.Name))}}
	var budgets [][]series.Part
	var at []*series.Point
	coated := false
	for i := range data.Coupons {
		c := &data.Coupons[i]
		if c.Coupon != coupon {
			continue
		}
		coated = true
		for k := range c.Points {
			p := &c.Points[k]
			if p.Baseline || math.IsNaN(p.Change.Value) || !p.Change.Known {
				continue
			}
			budgets, at = append(budgets, data.Budget([]*series.Errors{&p.Change.Errors})), append(at, p)
		}
	}
	if !coated {
		return nil, nothing("name an exposed coupon or a control: they are followed, blanks are not",
			"coupon %s has no change whose errors are known", coupon)
	}
	if len(at) == 0 {
		return nil, nothing("take in a pull after its baseline, and run wane fit; wane results "+coupon+" has what there is",
			"coupon %s has no change whose errors are known", coupon)
	}
	f.Count = fmt.Sprintf("1 coupon, %d changes", len(at))
	if len(at) == 1 {
		f.Count = "1 coupon, 1 change"
	}
	owners := Owners(budgets)
	for _, owner := range owners {
		f.Owners = append(f.Owners, OwnerNames[owner])
	}
	for i, parts := range budgets {
		m := report.BudgetMean{Name: fmt.Sprintf("pull %d", at[i].Pull)}
		for _, owner := range owners {
			u := 0.0
			for _, p := range parts {
				if p.Owner == owner {
					u = math.Sqrt(p.Variance)
				}
			}
			m.U = append(m.U, u)
		}
		f.Means = append(f.Means, m)
	}
	return f, nil
}
