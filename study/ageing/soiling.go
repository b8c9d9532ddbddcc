package ageing

import (
	"slices"

	"wane/study"
)

// Soiling is a spot that was read as it was found and after cleaning, at one pull: what lay on it is the difference.
type Soiling struct {
	AsFound, Cleaned *study.Result

	// Soiling is 100 times solar_T as found less solar_T cleaned, in pp: negative where the soil costs light. What
	// both readings share counts once.
	Soiling study.Measure

	// Lossless says that one of the results at least is of reflectance alone, which takes an absorbing soil for a
	// gain. Readings that could not be evaluated do not count.
	Lossless bool
}

// Soilings returns the soiling of each spot that was read in both conditions at a pull, in the order of the fits of
// one coupon.
func (b *Changes) Soilings(fits []*study.Fit) []*Soiling {
	var all []*Soiling
	var rows []*study.Result
	for i, f := range fits {
		k := slices.IndexFunc(fits, func(c *study.Fit) bool {
			return c.Condition == "cleaned" && c.Pull == f.Pull && c.Spot == f.Spot
		})
		if f.Condition != "as_found" || k < 0 {
			continue
		}
		if rows == nil {
			rows = b.Rows(fits)
		}
		found, cleaned := f.Result, fits[k].Result
		s := &Soiling{AsFound: rows[i], Cleaned: rows[k], Soiling: study.NoMeasure(),
			Lossless: found.IsLossless() || cleaned.IsLossless()}
		if found.SolarT.Value.Valid() && cleaned.SolarT.Value.Valid() {
			solarT := study.FollowedSolarT()
			s.Soiling = measured(100*(found.SolarT.Value-cleaned.SolarT.Value), changeTerms(&solarT, f, fits[k]))
		}
		all = append(all, s)
	}
	return all
}
