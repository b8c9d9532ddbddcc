package desk

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"wane/study"
	"wane/study/acceptance"
	"wane/study/power"
	"wane/study/series"
)

// Designs are the numbers of coupons a coating that are tried, each from each number of lots, read at each number of pulls after
// pull 0. One pull: the last one alone counts.
type Designs struct{ Coupons, Lots, Pulls []int }

// PowerOptions are what is asked of designs.
type PowerOptions struct {
	Designs
	A, B       power.Spread // of two coatings
	Test       power.Test
	Difference float64 // 0: nobody asks
	Margin     float64 // 0: nobody asks
	Chance     float64 // with which the least difference is seen
}

// PowerRow is what one design gives.
type PowerRow struct {
	Coupons, Lots, Pulls int
	ByLots               bool    // the unit is the lot
	SE, DoF              float64 // of the difference
	Different, Equal     float64 // chances, the latter of coatings that do not differ; NaN: not asked
	Least, LeastMargin   float64 // difference that is seen, and margin within which equal coatings are shown to be equal
}

// Power returns what each design gives: those that cannot be, as of more lots than coupons, are left out. Spreads that say nothing are wrong
// usage.
func Power(opt *PowerOptions) (rows []PowerRow, err error) {
	for _, pulls := range opt.Pulls {
		for _, lots := range opt.Lots {
			for _, coupons := range opt.Coupons {
				if coupons < lots {
					continue
				}
				group := func(s power.Spread) power.Group {
					return power.Group{Spread: s, Coupons: coupons, Lots: lots, Pulls: pulls}
				}
				c, err := power.NewComparison(group(opt.A), group(opt.B), opt.Test)
				if err != nil {
					return nil, powerUsage(err)
				}
				row := PowerRow{Coupons: coupons, Lots: lots, Pulls: pulls, ByLots: c.ByLots, SE: c.SE, DoF: c.DoF,
					Different: math.NaN(), Equal: math.NaN(), Least: c.Least(opt.Chance), LeastMargin: math.NaN()}
				if opt.Difference > 0 {
					row.Different = c.Different(opt.Difference)
				}
				if opt.Margin > 0 {
					row.Equal, row.LeastMargin = c.Equal(0, opt.Margin), c.LeastMargin(opt.Chance)
				}
				rows = append(rows, row)
			}
		}
	}
	return rows, nil
}

// powerUsage turns what package power cannot compute into wrong usage.
func powerUsage(err error) error {
	var fault *power.Error
	if errors.As(err, &fault) {
		return usagef(fault.Try, "no chance can be computed for %s", fault.Fault)
	}
	return err
}

// AcceptanceRow is what a rule of so many coupons says of a product.
type AcceptanceRow struct {
	Coupons int
	power.Chances
	Confidence, Worst float64 // with which the share conforms after an acceptance: with independent errors, and at worst
}

// AcceptancePower returns what a rule says of a product, by the number of coupons. Numbers that cannot be are wrong usage.
func AcceptancePower(coupons []int, rule power.Rule, losses power.Losses, share float64) (rows []AcceptanceRow, err error) {
	for _, n := range coupons {
		if n <= rule.Failures {
			continue
		}
		rule.Coupons = n
		row := AcceptanceRow{Coupons: n, Confidence: acceptance.Confidence(n, rule.Failures, share, false),
			Worst: acceptance.Confidence(n, rule.Failures, share, true)}
		if row.Chances, err = rule.Chances(losses); err != nil {
			return nil, powerUsage(err)
		}
		rows = append(rows, row)
	}
	return rows, nil
}

// SpreadOptions say of which changes the spreads are wanted.
type SpreadOptions struct {
	Exposure string // empty: the only one
	Pull     int    // 0: the last one that was read
}

// Spreads returns how the changes of solar transmittance of each coating scatter in an exposure at a pull, and that pull. Where nothing
// is to be found, and where the exposure has to be named, that is refused.
func (d *Desk) Spreads(ctx context.Context, opt SpreadOptions) ([]power.Components, int, error) {
	data, err := d.Series(ctx, rehearsedQuantity, SeriesOptions{Check: opt.findExposure})
	if err != nil {
		return nil, 0, err
	}
	if opt.Pull == 0 {
		opt.Pull = lastChange(data, opt.Exposure)
	}
	all := power.ComponentsAt(data, opt.Exposure, opt.Pull)
	known := slices.DeleteFunc(slices.Clone(all), func(c power.Components) bool { return math.IsNaN(c.Coupon) })
	if len(known) == 0 {
		return nil, 0, &study.Refusal{
			Fault: fmt.Sprintf("how coupons scatter cannot be told from exposure %q at pull %d, because no lot has two coupons with a change",
				opt.Exposure, opt.Pull),
			Try: "name another exposure or pull, or type the spreads in: --coupon-sd 0.05 --u 0.02"}
	}
	return known, opt.Pull, nil
}

// findExposure fills the exposure where the exposed coupons have one only, and refuses several.
func (o *SpreadOptions) findExposure(roster *study.Roster) error {
	if o.Exposure != "" {
		return nil
	}
	all := exposuresOfRoster(roster)
	slices.Sort(all)
	switch all = slices.Compact(all); len(all) {
	case 0:
	case 1:
		o.Exposure = all[0]
	default:
		return &study.Refusal{Fault: "the study has several exposures: " + codesInWords(all),
			Try: "name one of them: --exposure " + all[0]}
	}
	return nil
}

// lastChange returns the last pull at which an exposed coupon of an exposure has a change; 0: none has.
func lastChange(data *series.Data, exposure string) (last int) {
	for i := range data.Coupons {
		c := &data.Coupons[i]
		if c.Role != study.Exposed || c.Exposure != exposure {
			continue
		}
		for k := range c.Points {
			if p := &c.Points[k]; !p.Baseline && !math.IsNaN(p.Change.Value) {
				last = max(last, p.Pull)
			}
		}
	}
	return last
}
