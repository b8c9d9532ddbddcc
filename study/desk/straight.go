package desk

import (
	"errors"

	"wane/study"
	"wane/study/population"
	"wane/study/series"
	"wane/study/shape"
)

// bentCoupons returns the exposed coupons, by their codes, whose group has a mean path that is not straight
// ([shape.Path.Bent]): a rate of it is a mean over what changed its pace.
func bentCoupons(data *series.Data, opt population.Options) (map[string]bool, error) {
	by, in := shape.ByCoating, shape.InDose
	switch opt.By {
	case population.ByLot:
		by = shape.ByLot
	case population.BySupplier:
		by = shape.BySupplier
	}
	if opt.Days {
		in = shape.InDays
	}
	bent := map[string]bool{}
	for _, g := range shape.Groups(data, by) {
		p, err := g.Path(data, by, in)
		var none *study.Refusal
		if errors.As(err, &none) { // it has no rate either
			continue
		}
		if err != nil {
			return nil, err
		}
		if !p.Bent() {
			continue
		}
		for _, c := range g.Coupons {
			bent[c.Coupon] = true
		}
	}
	return bent, nil
}

// bentGroups returns the coatings of an exposure whose mean path is not straight.
func bentGroups(data *series.Data, opt population.Options) (map[[2]string]bool, error) {
	coupons, err := bentCoupons(data, opt)
	if err != nil {
		return nil, err
	}
	bent := map[[2]string]bool{}
	for i := range data.Coupons {
		if c := &data.Coupons[i]; coupons[c.Coupon] {
			bent[[2]string{c.Coating, c.Exposure}] = true
		}
	}
	return bent, nil
}
