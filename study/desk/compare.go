package desk

import (
	"context"
	"slices"

	"wane/study"
	"wane/study/difference"
	"wane/study/population"
	"wane/study/series"
)

// CompareOptions say what is compared.
type CompareOptions struct {
	difference.Options
	Quantities []string // none: the solar transmittance by energy
	Rate       bool     // rates in place of changes
	Workers    int      // coupons whose rows are made at once; 0: one for each core
	AsOf       int64    // the line of the log as of which the study is looked at; 0: the last one
}

// weightings are the quantities of which each is the other in another weighting of light.
var weightings = map[string]string{"solar_T": "cell_T", "cell_T": "solar_T"}

// Compare compares groups of exposed coupons in each quantity. Where the weighting of light counts, the pairs are
// marked of which the other weighting says otherwise.
func (d *Desk) Compare(ctx context.Context, opt CompareOptions) ([]*difference.Comparison, error) {
	names := opt.Quantities
	if len(names) == 0 {
		names = []string{"solar_T"}
	}
	var wanted []string
	for _, name := range names {
		q, err := FindQuantity(name)
		if err != nil {
			return nil, err
		}
		if !slices.Contains(wanted, q.Name) {
			wanted = append(wanted, q.Name)
		}
	}
	together := slices.Clone(wanted)
	for _, name := range wanted {
		if other := weightings[name]; other != "" && !slices.Contains(together, other) {
			together = append(together, other)
		}
	}
	var exposure string
	all, err := d.SeriesTogether(ctx, together, SeriesOptions{Workers: opt.Workers, AsOf: opt.AsOf,
		Keep: func(c *series.Coupon) bool { return c.Exposure == exposure },
		Check: func(r *study.Roster) (err error) {
			exposure, err = difference.FindExposure(exposuresOfRoster(r), opt.Exposure)
			return err
		}})
	if err != nil {
		return nil, err
	}
	made := map[string]*difference.Comparison{}
	for i, name := range together {
		if made[name], err = compareData(ctx, all[i], opt); err != nil {
			return nil, err
		}
	}
	out := make([]*difference.Comparison, len(wanted))
	for i, name := range wanted {
		out[i] = made[name]
		if other := weightings[name]; other != "" {
			out[i].MarkFlips(made[other])
		}
	}
	return out, nil
}

// exposuresOfRoster returns the exposure of each exposed coupon.
func exposuresOfRoster(r *study.Roster) (all []string) {
	for i := range r.Coupons {
		if c := &r.Coupons[i]; c.Role == study.Exposed {
			all = append(all, c.Exposure)
		}
	}
	return all
}

func compareData(ctx context.Context, data *series.Data, opt CompareOptions) (*difference.Comparison, error) {
	if opt.Rate {
		c, err := difference.InRate(ctx, data, opt.Options)
		if err != nil {
			return nil, err
		}
		bent, err := bentCoupons(data, population.Options{By: opt.By, Days: opt.Days})
		if err != nil {
			return nil, err
		}
		c.MarkBent(bent)
		return c, nil
	}
	return difference.AtPull(data, opt.Options)
}
