package ageing

import (
	"maps"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"

	"wane/study"
)

// fillInterval fills the mean change over coupons, their spread, and the standard uncertainty, degrees of freedom and
// 95 % interval of the mean.
//
// With n_k of the n coupons of coating k, s_k the standard deviation between them, σ_k the part of s_k that their
// errors explain, see [sample.expected], and u_e the uncertainty of the mean by the errors alone,
//
//	u² = Σ_k n_k·s_k²/n² + shared        shared = u_e² - Σ_k n_k·σ_k²/n²
//
// The scatter s_k contains the errors that each coupon has alone; shared are the errors that several coupons have
// in common: those of their sessions, coating, glass, instrument and controls. The degrees of freedom are those of
// Welch and Satterthwaite, with n_k - 1 for s_k, and those of the controls if their scatter counts. Source: JCGM
// 100:2008, G.4.1, equation G.2b (clause from memory). The variance of a coating with a single coupon is not known;
// then the coupons of all coatings are one sample.
func (c *cell) fillInterval(coupons []*couponSums) {
	changes, all := map[string][]float64{}, make([]float64, len(coupons))
	for i, k := range coupons {
		all[i] = k.change.mean()
		changes[k.coating] = append(changes[k.coating], all[i])
	}
	m := stat.Mean(all, nil)
	c.Change = study.Num(m)
	if len(all) < 2 {
		return
	}
	c.Spread = study.Num(stat.StdDev(all, nil))
	total, strata := sample{}, c.errors
	for _, coating := range slices.Sorted(maps.Keys(changes)) {
		total.join(c.errors[coating])
	}
	if !known(total.sum) {
		return
	}
	if slices.ContainsFunc(slices.Collect(maps.Values(changes)), func(of []float64) bool { return len(of) < 2 }) {
		changes, strata = map[string][]float64{"": all}, map[string]*sample{"": &total}
	}
	u, dof := meanUncertainty(changes, strata, &total)
	c.U, c.DoF = study.Num(u), study.Num(dof)
	half := study.Num(quantile(dof) * u)
	c.Lo, c.Hi = c.Change-half, c.Change+half
}

// meanUncertainty returns the standard uncertainty of a mean change, in pp, and its degrees of freedom, as
// [cell.fillInterval] says.
func meanUncertainty(changes map[string][]float64, strata map[string]*sample, total *sample) (u, dof float64) {
	n := float64(total.n)
	mean := total.mean()
	scatter, shared, weight := 0.0, study.Covariance(mean, mean), 0.0
	for _, coating := range slices.Sorted(maps.Keys(changes)) {
		of := changes[coating]
		part := float64(len(of)) / (n * n)
		own := part * variance(of)
		scatter += own
		weight += own * own / float64(len(of)-1)
		shared -= part * strata[coating].expected()
	}
	for _, t := range mean {
		for i := range t.Errors.Shared {
			if s := &t.Errors.Shared[i]; s.DoF > 0 {
				weight += square(square(t.Weight*s.By[t.Output])) / s.DoF
			}
		}
	}
	v := scatter + max(0, shared)
	return math.Sqrt(v), v * v / weight
}

// quantile returns the 97.5 % quantile of Student's distribution: of the normal one for a million degrees of
// freedom and more, where the two differ by less than 1e-5, and for NaN.
func quantile(dof float64) float64 {
	if dof < 1e6 {
		return distuv.StudentsT{Sigma: 1, Nu: dof}.Quantile(0.975)
	}
	return distuv.UnitNormal.Quantile(0.975)
}
