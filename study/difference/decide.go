package difference

import (
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"

	"wane/fit/simultaneous"
)

// detectable is the chance with which a comparison calls the least detectable difference different.
const detectable = 0.8

// decide fills what is said of the pairs that the data can tell, at these positions, from their differences, the
// correlation of their errors, and what their variances are made of.
func (c *Comparison) decide(told []int, correlation *mat.SymDense, variances simultaneous.Variances) {
	if len(told) == 0 {
		return
	}
	p, within, dof := make([]float64, len(told)), make([]float64, len(told)), make([]float64, len(told))
	for i, k := range told {
		dof[i] = c.Pairs[k].DoF
	}
	m := simultaneous.NewApart(correlation, variances, dof)
	alone := m.Alone(1 - c.Level)
	for i, k := range told {
		q := &c.Pairs[k]
		q.P = 2 * beyond(math.Abs(q.Difference/q.U), q.DoF)
		q.PAdjusted = max(q.P, m.Adjusted(q.P))
		factor := simultaneous.Factor(alone, q.DoF)
		q.Lower, q.Upper = q.Difference-factor*q.U, q.Difference+factor*q.U
		q.LeastDetectable = (factor + quantile(detectable, q.DoF)) * q.U
		p[i] = q.P
		if c.Margin > 0 {
			q.PEquivalent = beyond((c.Margin-math.Abs(q.Difference))/q.U, q.DoF)
			within[i] = q.PEquivalent
		}
	}
	holm, equivalent := simultaneous.Holm(p), simultaneous.Holm(within)
	for i, k := range told {
		q := &c.Pairs[k]
		if q.PHolm = holm[i]; c.Margin > 0 {
			q.PEquivalentAdjusted = equivalent[i]
		}
		q.Verdict = c.verdict(q)
		if q.PAdjusted < 1-c.Level && !q.isDifferent() {
			q.Flags = append(q.Flags, FlagAdjustments)
		}
	}
}

// verdict says what a pair comes to. It is different where both adjustments say so: the single step takes the ratios of
// the groups' variances as they are estimated, and where a group has few units it calls any pair different in 7 % of
// studies; Holm needs no ratio.
func (c *Comparison) verdict(p *Pair) Verdict {
	different, within := max(p.PAdjusted, p.PHolm) < 1-c.Level, p.PEquivalentAdjusted < 1-c.Level
	switch {
	case different && within:
		return DifferentWithin
	case different:
		return Different
	case within:
		return Equivalent
	}
	return NotDistinguished
}

// beyond returns the chance that t exceeds a value; dof may be infinite.
func beyond(t, dof float64) float64 {
	if math.IsInf(dof, 1) {
		return distuv.UnitNormal.Survival(t)
	}
	return distuv.StudentsT{Sigma: 1, Nu: dof}.Survival(t)
}

func quantile(p, dof float64) float64 {
	if math.IsInf(dof, 1) {
		return distuv.UnitNormal.Quantile(p)
	}
	return distuv.StudentsT{Sigma: 1, Nu: dof}.Quantile(p)
}
