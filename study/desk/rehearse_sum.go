package desk

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"wane/study/acceptance"
	"wane/study/power"
	"wane/study/scenario"
)

// Rehearsal is what a rehearsal found.
type Rehearsal struct {
	Plan  *scenario.Plan
	Kept  int  // studies that an earlier run had finished
	Stale bool // an earlier run was of another plan or model; what it had finished does not count

	Planned Outcomes
	Alike   *Outcomes // coatings that lose alike; nil: nothing is compared
	Unfit   *Outcomes // a product that is just not good enough; nil: none is judged, or there is no such product
	Tries   []Try     // the most gain for a coupon reading first
}

// Outcomes count what is said of the studies of a scene.
type Outcomes struct {
	Studies, ThroughFiles int
	Pairs                 []PairOutcomes
	Rule                  *RuleOutcomes // nil: there is none

	Lost, Soiled, Faulty, Capped, Held int // coupons, readings, parts with a fault, losses that no film has, readings held
}

// PairOutcomes are what is said of two coatings.
type PairOutcomes struct {
	A, B       string
	True       float64 // difference of their mean losses by the plan, of B less A, pp
	Different  Chance  // called different, whether or not equal within the margin too
	Reversed   Chance  // called different in the wrong direction; of coatings that do not differ: in either
	Equal      Chance  // called equal within the margin
	Nothing    Chance  // neither
	CannotTell Chance  // no interval is stated
	U          float64 // mean standard uncertainty of the difference, pp; NaN: none was stated
	Formula    float64 // the chance to be called different by package power; NaN: it does not hold for the plan
}

// RuleOutcomes are the verdicts of a rule.
type RuleOutcomes struct {
	Accept, Reject, Undecided Chance
	Conforming                float64 // the share of the product that is below the limit
	Allowed                   float64 // the chance that the rule accepts at most a product of which just its share conforms, by what it states
	U                         float64 // mean standard uncertainty of a loss, pp; NaN: none was stated

	// Formula are the chances by package power; nil where the plan has what they leave out: lots that differ, lost coupons.
	Formula *power.Chances
}

// Chance is a share of studies with its exact 95 % interval (C. J. Clopper, E. S. Pearson, Biometrika 26 (1934) 404; from
// memory).
type Chance struct {
	Of, N        int
	Lower, Upper float64
}

// Share returns the share; NaN of none.
func (c Chance) Share() float64 { return float64(c.Of) / float64(c.N) }

// RehearsalLevel is that of the intervals of chances.
const RehearsalLevel = 0.95

// chanceOf returns a chance with its interval.
func chanceOf(of, n int) Chance {
	lower, upper := binomialInterval(of, n, RehearsalLevel)
	return Chance{of, n, lower, upper}
}

// binomialInterval returns the exact interval of a share at a level.
func binomialInterval(of, n int, level float64) (lower, upper float64) {
	lower, upper = 0, 1
	tail, x, m := (1-level)/2, float64(of), float64(n)
	if of > 0 {
		lower = distuv.Beta{Alpha: x, Beta: m - x + 1}.Quantile(tail)
	}
	if of < n {
		upper = distuv.Beta{Alpha: x + 1, Beta: m - x}.Quantile(1 - tail)
	}
	return lower, upper
}

// Try is an improvement that was tried.
type Try struct {
	Improvement scenario.Improvement
	Readings    int     // coupon readings, or readings of the light trap, that it costs
	Studies     int     // of both plans, of the same numbers
	Gain, UGain float64 // of the share of right verdicts, with its standard uncertainty
	PerReading  float64
}

// Told reports whether the gain is distinguished from none: it is above two of its standard uncertainties.
func (t *Try) Told() bool { return t.Gain > 2*t.UGain }

// sum counts what was found.
func (r *rehearsal) sum() *Rehearsal {
	out := &Rehearsal{Plan: r.plan, Kept: r.kept.found, Stale: r.kept.stale}
	for i := range r.scenes {
		s := &r.scenes[i]
		switch s.name {
		case scenePlanned:
			out.Planned = r.outcomes(s)
		case sceneAlike:
			o := r.outcomes(s)
			out.Alike = &o
		case sceneUnfit:
			o := r.outcomes(s)
			out.Unfit = &o
		default:
			out.Tries = append(out.Tries, r.try(s))
		}
	}
	slices.SortStableFunc(out.Tries, func(a, b Try) int { return cmp.Compare(b.PerReading, a.PerReading) })
	return out
}

// outcomes counts the studies of a scene.
func (r *rehearsal) outcomes(s *scene) Outcomes {
	o := Outcomes{Studies: s.studies}
	verdicts, pairs := map[string]int{}, coatingPairs(s.plan)
	counts := make([]pairCount, len(pairs))
	var studies []*madeStudy
	for n := range s.studies {
		m := r.kept.of(s.name, n)
		studies = append(studies, m)
		o.Lost, o.Soiled, o.Faulty, o.Capped, o.Held = o.Lost+m.Lost, o.Soiled+m.Soiled, o.Faulty+m.Faulty, o.Capped+m.Capped, o.Held+m.Held
		if m.Files {
			o.ThroughFiles++
		}
		verdicts[m.Rule]++
		for i := range m.Pairs {
			counts[i].add(&m.Pairs[i], pairs[i].more)
		}
	}
	for i := range counts {
		o.Pairs = append(o.Pairs, counts[i].outcomes(s, pairs[i]))
	}
	if s.plan.Rule != nil {
		o.Rule = ruleOutcomes(s, verdicts)
		o.Rule.addChances(studies)
	}
	return o
}

// addChances adds the means of what the studies had: uncertainties of losses, and chances by package power.
func (o *RuleOutcomes) addChances(studies []*madeStudy) {
	var u, formulas float64
	var sum [3]float64
	for _, m := range studies {
		if m.U > 0 {
			o.U, u = o.U+m.U, u+1
		}
		if m.Chances != nil {
			formulas++
			for i, c := range m.Chances {
				sum[i] += c
			}
		}
	}
	o.U /= u
	if formulas > 0 {
		o.Formula = &power.Chances{Accept: sum[0] / formulas, Reject: sum[1] / formulas, Undecided: sum[2] / formulas}
	}
}

// planPair is two coatings of a plan, a before b by name, and by how much more b loses than a.
type planPair struct {
	a, b *scenario.Coating
	more float64
}

func coatingPairs(p *scenario.Plan) (pairs []planPair) {
	if p.Compare == nil {
		return nil
	}
	for i := range p.Coatings {
		for k := range p.Coatings[:i] {
			a, b := &p.Coatings[k], &p.Coatings[i]
			if a.Coating > b.Coating {
				a, b = b, a
			}
			pairs = append(pairs, planPair{a, b, b.Loss.Mean - a.Loss.Mean})
		}
	}
	slices.SortFunc(pairs, func(x, y planPair) int {
		return cmp.Or(cmp.Compare(x.a.Coating, y.a.Coating), cmp.Compare(x.b.Coating, y.b.Coating))
	})
	return pairs
}

// pairCount counts what is said of two coatings.
type pairCount struct {
	different, reversed, equal, nothing, silent, told int

	u, chance float64 // sums
	formulas  int     // that chance is the sum of
}

func (c *pairCount) add(m *madePair, more float64) {
	different := m.Verdict == pairDifferent || m.Verdict == pairBoth
	if different {
		c.different++
		// A difference is that of changes of A less B: the coating that loses more has the smaller change.
		if more == 0 || m.Difference*more < 0 {
			c.reversed++
		}
	}
	switch m.Verdict {
	case pairEqual, pairBoth:
		c.equal++
	case pairNothing:
		c.nothing++
	case pairSilent:
		c.silent++
	}
	if m.U > 0 {
		c.u, c.told = c.u+m.U, c.told+1
	}
	if m.Chance != nil {
		c.chance, c.formulas = c.chance+*m.Chance, c.formulas+1
	}
}

func (c *pairCount) outcomes(s *scene, pair planPair) PairOutcomes {
	n := s.studies
	o := PairOutcomes{A: pair.a.Coating, B: pair.b.Coating, True: pair.more, Different: chanceOf(c.different, n),
		Reversed: chanceOf(c.reversed, n), Equal: chanceOf(c.equal, n), Nothing: chanceOf(c.nothing, n),
		CannotTell: chanceOf(c.silent, n), U: c.u / float64(c.told),
		Formula: c.chance / float64(c.formulas)}
	return o
}

func ruleOutcomes(s *scene, verdicts map[string]int) *RuleOutcomes {
	chance := func(verdict string) Chance { return chanceOf(verdicts[verdict], s.studies) }
	o := &RuleOutcomes{Accept: chance(ruleAccept), Reject: chance(ruleReject), Undecided: chance(ruleUndecided)}
	for i := range s.plan.Coatings {
		if c := &s.plan.Coatings[i]; c.Coating == s.plan.Rule.Coating {
			rule := s.plan.Rule
			o.Conforming = c.Loss.Whole().Below(rule.Limit)
			o.Allowed = 1 - acceptance.Confidence(c.Coupons, rule.Failures, rule.Share, true)
		}
	}
	return o
}

// try compares the studies of an improvement with those of the same numbers as planned. The uncertainty of the gain is that of a
// difference of paired shares with half a study added to each of the four ways that two studies can come out, so that it is not 0
// where no study came out otherwise (A. Agresti, Y. Min, Statistics in Medicine 24 (2005) 729; from memory).
func (r *rehearsal) try(s *scene) Try {
	t := Try{Improvement: scenario.Improvement(s.name[len(sceneTry):]), Studies: s.studies}
	_, t.Readings = r.plan.With(t.Improvement)
	one := 1 / float64(r.questions())
	sum, squares := 0.0, one*one
	for n := range s.studies {
		gain := r.right(r.kept.of(s.name, n)) - r.right(r.kept.of(scenePlanned, n))
		sum, squares = sum+gain, squares+gain*gain
	}
	t.Gain = sum / float64(s.studies)
	n := float64(s.studies) + 2
	t.UGain = math.Sqrt((squares/n - sum*sum/(n*n)) / n)
	t.PerReading = t.Gain / float64(t.Readings)
	return t
}

// questions is how many verdicts a study has: one on each pair, and that of the rule.
func (r *rehearsal) questions() int {
	n := len(coatingPairs(r.plan))
	if r.plan.Rule != nil {
		n++
	}
	return n
}

// right returns the share of right verdicts of a study, one for each pair and one of the rule: coatings that differ are called so
// in the right direction, or equal within the margin if they are; a product is accepted if more than the share of the rule
// conforms, else rejected.
func (r *rehearsal) right(m *madeStudy) float64 {
	right := 0
	for i, pair := range coatingPairs(r.plan) {
		p := &m.Pairs[i]
		within := r.plan.Compare.Margin > 0 && math.Abs(pair.more) < r.plan.Compare.Margin
		different := p.Verdict == pairDifferent || p.Verdict == pairBoth
		switch {
		case within && (p.Verdict == pairEqual || p.Verdict == pairBoth), pair.more == 0 && !within && !different,
			different && p.Difference*pair.more > 0:
			right++
		}
	}
	if rule := r.plan.Rule; rule != nil {
		want := ruleReject
		for i := range r.plan.Coatings {
			if c := &r.plan.Coatings[i]; c.Coating == rule.Coating && c.Loss.Whole().Below(rule.Limit) > rule.Share {
				want = ruleAccept
			}
		}
		if m.Rule == want {
			right++
		}
	}
	return float64(right) / float64(r.questions())
}
