package frame

import (
	"math"
	"strings"

	"github.com/go-gota/gota/dataframe"
	gota "github.com/go-gota/gota/series"

	"wane/study/series"
)

// OfSeries returns the values of a quantity as a data frame, one row for each coupon and pull: who and when, the level in
// the unit of levels of the quantity, and the change since the baseline in that of its changes, each with its standard
// uncertainty. NaN is null. What the errors of different rows share does not fit in a frame: it is in the Data.
func OfSeries(d *series.Data) dataframe.DataFrame {
	texts := map[string][]string{}
	nums := map[string][]float64{}
	textNames := []string{"coupon", "role", "supplier", "coating", "lot", "exposure", "dose_unit", "date", "session", "flags"}
	numNames := []string{"pull", "dose", "days", "spots", "level", "u_level", "change", "u_change"}
	for i := range d.Coupons {
		c := &d.Coupons[i]
		for k := range c.Points {
			p := &c.Points[k]
			for n, text := range []string{c.Coupon, string(c.Role), c.Supplier, c.Coating, c.Lot, c.Exposure, c.DoseUnit, p.Date,
				p.Session, strings.Join(p.Flags, " ")} {
				texts[textNames[n]] = append(texts[textNames[n]], text)
			}
			for n, x := range []float64{float64(p.Pull), p.Dose, p.Days, float64(p.Spots), p.Level.Value, uOf(&p.Level),
				p.Change.Value, uOf(&p.Change)} {
				nums[numNames[n]] = append(nums[numNames[n]], x)
			}
		}
	}
	var all []gota.Series
	for _, name := range textNames {
		all = append(all, gota.New(texts[name], gota.String, name))
	}
	for _, name := range numNames {
		all = append(all, gota.New(nums[name], gota.Float, name))
	}
	return dataframe.New(all...)
}

// uOf returns the standard uncertainty of a value; NaN without a value.
func uOf(v *series.Value) float64 {
	if math.IsNaN(v.Value) {
		return math.NaN()
	}
	return v.U()
}
