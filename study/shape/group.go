package shape

import (
	"cmp"
	"slices"

	"wane/study"
	"wane/study/series"
)

// By is what the coupons of a group have in common.
type By string

// The groupings.
const (
	ByCoupon   By = "coupon"
	ByLot      By = "lot"
	ByCoating  By = "coating"
	BySupplier By = "supplier"
)

// Groupings returns all groupings.
func Groupings() []By { return []By{ByCoupon, ByLot, ByCoating, BySupplier} }

// of returns the name of the group of a coupon.
func (by By) of(c *series.Coupon) string {
	switch by {
	case ByCoupon:
		return c.Coupon
	case ByLot:
		return c.Coating + " / " + c.Lot // two coatings may have lots of the same name
	case BySupplier:
		return c.Supplier
	}
	return c.Coating
}

// Group is the exposed coupons of one origin in one exposure.
type Group struct {
	Name, Exposure, DoseUnit string
	Coupons                  []*series.Coupon
}

// Groups returns the groups of the exposed coupons, in the order of their names and exposures.
func Groups(d *series.Data, by By) (groups []Group) {
	type key struct{ name, exposure string }
	at := map[key]int{}
	for i := range d.Coupons {
		c := &d.Coupons[i]
		if c.Role != study.Exposed {
			continue
		}
		k := key{by.of(c), c.Exposure}
		n, known := at[k]
		if !known {
			n = len(groups)
			at[k] = n
			groups = append(groups, Group{Name: k.name, Exposure: k.exposure, DoseUnit: c.DoseUnit})
		}
		groups[n].Coupons = append(groups[n].Coupons, c)
	}
	slices.SortStableFunc(groups, func(a, b Group) int {
		return cmp.Or(cmp.Compare(a.Name, b.Name), cmp.Compare(a.Exposure, b.Exposure))
	})
	return groups
}
