package desk

import (
	"context"
	"slices"

	"wane/study/difference"
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
	made := map[string]*difference.Comparison{}
	compare := func(name string) (*difference.Comparison, error) {
		if made[name] != nil {
			return made[name], nil
		}
		data, err := d.Series(ctx, name, SeriesOptions{Workers: opt.Workers, AsOf: opt.AsOf})
		if err != nil {
			return nil, err
		}
		made[name], err = compareData(ctx, data, opt)
		return made[name], err
	}
	out := make([]*difference.Comparison, 0, len(wanted))
	for _, name := range wanted {
		c, err := compare(name)
		if err != nil {
			return nil, err
		}
		out = append(out, c)
	}
	for _, c := range out {
		if other := weightings[c.Quantity.Name]; other != "" {
			o, err := compare(other)
			if err != nil {
				return nil, err
			}
			c.MarkFlips(o)
		}
	}
	return out, nil
}

func compareData(ctx context.Context, data *series.Data, opt CompareOptions) (*difference.Comparison, error) {
	if opt.Rate {
		return difference.InRate(ctx, data, opt.Options)
	}
	return difference.AtPull(data, opt.Options)
}
