package shape

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"wane/fit/lifetime"
	"wane/study"
	"wane/study/series"
)

// Band is how many standard uncertainties a change must be beyond a limit, or before it, for a coupon to have surely
// reached it, or surely not: 95 % on one side.
const Band = 1.645

// MostDose is up to how many times the largest dose a life is stated without being asked for.
const MostDose = 2

// The flags of lives.
const (
	FlagNotReached   = "not-reached"  // no coupon has surely reached the limit: there is a lower bound at most
	FlagBeyond       = "beyond-twice" // more than twice the largest dose: not stated
	FlagExtrapolated = "extrapolated" // beyond the largest dose: by the law alone
	FlagLost         = "lost-coupons" // coupons were lost before they reached the limit: they lasted until then at least
	FlagBackAgain    = "back-again"   // coupons were surely before the limit again after they had reached it
)

// Crossing says between which doses a coupon reached a limit.
type Crossing struct {
	Coupon string
	lifetime.Life
	Last  float64 // the last dose at which it was read
	Ended string  // with what its history ended, where it had not surely reached the limit
	Again bool    // it was surely before the limit again later
	NoU   bool    // the uncertainty of a change is not stated, and taken as 0
}

// Lives are the crossings of a limit by the coupons of a group.
type Lives struct {
	Unit      string // of the doses
	Crossings []Crossing
	Skipped   []string // coupons without a change after the baseline
	Most      float64  // the largest dose
	Flags     []string // of all lives, beside those of the crossings
}

// Lives returns when the coupons of the group reached a limit of the change. limit is in the unit of changes: how much
// is lost, for a quantity with a worse direction, else the change itself with its sign. A coupon has surely not reached
// it where its change is before the limit by Band uncertainties, and surely reached it where it is beyond by as many;
// what is between says neither. A coupon that has not, lives longer than the last dose at which it surely had not.
func (g *Group) Lives(d *series.Data, limit float64, in Axis) (*Lives, error) {
	sign := float64(d.Quantity.Worse)
	if sign == 0 {
		sign = math.Copysign(1, limit)
	}
	l := &Lives{Unit: g.unit(in), Flags: carriedBy(g.Coupons, in)}
	for _, c := range g.Coupons {
		steps, err := stepsOf(c, in)
		if err != nil {
			return nil, err
		}
		if len(steps) == 0 {
			l.Skipped = append(l.Skipped, c.Coupon)
			continue
		}
		crossing := crossingOf(c, steps, sign, math.Abs(limit))
		l.Crossings, l.Most = append(l.Crossings, crossing), max(l.Most, crossing.Last)
	}
	if len(l.Crossings) == 0 {
		return nil, g.nothing(d, in)
	}
	return l, nil
}

// crossingOf follows the steps of a coupon until it surely reached the limit.
func crossingOf(c *series.Coupon, steps map[place]step, sign, limit float64) Crossing {
	x := Crossing{Coupon: c.Coupon, Life: lifetime.Life{By: math.Inf(1)}}
	for i := range c.Points {
		s, ok := steps[place{c.BaselinePull, c.Points[i].Pull}]
		if !ok {
			continue
		}
		u := s.y.U()
		if math.IsNaN(u) {
			u, x.NoU = 0, true
		}
		x.Last = s.x
		loss, reached := sign*s.y.Value, !math.IsInf(x.By, 1)
		switch {
		case loss+Band*u < limit && reached:
			x.Again = true
		case loss+Band*u < limit:
			x.After = s.x
		case loss-Band*u >= limit && !reached:
			x.By = s.x
		}
	}
	if math.IsInf(x.By, 1) {
		x.Ended = c.Ended
	}
	return x
}

// Reached returns how many coupons have surely reached the limit.
func (l *Lives) Reached() (n int) {
	for i := range l.Crossings {
		if !math.IsInf(l.Crossings[i].By, 1) {
			n++
		}
	}
	return n
}

// Life is what the lives of a group say, by one law.
type Life struct {
	Law        string // weibull, lognormal, turnbull, or none where no coupon has reached the limit
	Parameters []Estimate
}

// The shares of coupons of which a life is stated.
var shares = []float64{0.5, 0.1}

// Laws returns the lives by the Weibull and the lognormal law and by Turnbull's estimate. A life of more than MostDose
// times the largest dose is stated only if extrapolate.
func (l *Lives) Laws(extrapolate bool) ([]Life, error) {
	if l.Reached() == 0 {
		return []Life{l.notReached()}, nil
	}
	lives := make([]lifetime.Life, len(l.Crossings))
	for i := range lives {
		lives[i] = l.Crossings[i].Life
	}
	var all []Life
	for _, law := range []struct {
		shape lifetime.Shape
		name  string
	}{{lifetime.Weibull, "weibull"}, {lifetime.Lognormal, "lognormal"}} {
		fitted, err := lifetime.FitLaw(law.shape, lives)
		var problem *lifetime.ProblemError
		if err != nil && !errors.As(err, &problem) {
			return nil, err
		}
		all = append(all, l.byLaw(law.name, fitted, extrapolate))
	}
	steps, err := lifetime.Turnbull(lives)
	if err != nil {
		return nil, err
	}
	return append(all, l.turnbull(steps)), nil
}

// byLaw returns the lives by a law; nil: the lives determine none.
func (l *Lives) byLaw(name string, law *lifetime.Law, extrapolate bool) Life {
	of := Life{Law: name}
	if law == nil {
		e := nothingOf("", l.Unit)
		e.Flags = l.flags()
		e.Why = Cannot("the pulls do not show how much the lives of its coupons differ: too few coupons have reached the "+
			"limit, or all of them did between the same two pulls", "see Turnbull's estimate; read more often, "+
			"or go on until more coupons have reached it")
		of.Parameters = append(of.Parameters, e)
		return of
	}
	for _, share := range shares {
		e := nothingOf(lifeName(share), l.Unit)
		e.Method, e.Flags = "maximum likelihood, profile", l.flags()
		l.ofLaw(&e, law, share, extrapolate)
		of.Parameters = append(of.Parameters, e)
	}
	return of
}

// lifeName names the life by which a share of coupons has reached the limit: life_50 for half of them.
func lifeName(share float64) string { return fmt.Sprintf("life_%.0f", 100*share) }

// flags are those of all lives of the group.
func (l *Lives) flags() (flags []string) {
	lost, again, noU := false, false, false
	for i := range l.Crossings {
		c := &l.Crossings[i]
		lost, again, noU = lost || c.Ended != "", again || c.Again, noU || c.NoU
	}
	for _, f := range []struct {
		is   bool
		flag string
	}{{lost, FlagLost}, {again, FlagBackAgain}, {noU, FlagNoErrors}} {
		if f.is {
			flags = append(flags, f.flag)
		}
	}
	return append(flags, l.Flags...)
}

// ofLaw fills in the life of a share by a law.
func (l *Lives) ofLaw(e *Estimate, law *lifetime.Law, share float64, extrapolate bool) {
	e.Value = law.Quantile(share)
	e.Lower, e.Upper = law.Interval(share, Level)
	if e.Lower == 0 {
		e.Lower = math.NaN()
	}
	if math.IsInf(e.Upper, 1) {
		e.Upper = math.NaN()
	}
	if math.IsNaN(e.Lower) || math.IsNaN(e.Upper) {
		e.Flags = append(e.Flags, FlagOpen)
	}
	beyond := MostDose * l.Most
	switch {
	case e.Value > beyond && !extrapolate:
		e.Why = Cannot(fmt.Sprintf("by this law it is more than twice the largest dose, %.4g %s", l.Most, l.Unit),
			"go on until more coupons have reached the limit; --extrapolate states it all the same")
		e.Value, e.Upper, e.Lower = math.NaN(), math.NaN(), min(e.Lower, beyond)
		e.Flags = append(e.Flags, FlagBeyond)
	case e.Upper > beyond && !extrapolate:
		e.Upper, e.Flags = math.NaN(), append(e.Flags, FlagBeyond)
	}
	if e.Value > l.Most || e.Upper > beyond {
		e.Flags = append(e.Flags, FlagExtrapolated)
	}
}

// turnbull returns between which doses half of the coupons had reached the limit, and the share that had by each dose
// of which the lives say it. It has no intervals.
func (l *Lives) turnbull(steps []lifetime.Step) Life {
	of := Life{Law: "turnbull"}
	add := func(parameter, unit string, value, at float64) {
		e := nothingOf(parameter, unit)
		e.Value, e.At, e.Method, e.Flags = value, at, "Turnbull, no law assumed", l.flags()
		of.Parameters = append(of.Parameters, e)
	}
	sum := 0.0
	for _, s := range steps {
		before := sum
		sum += s.Share
		if before < 0.5-1e-9 && sum >= 0.5-1e-9 {
			add("life_50_after", l.Unit, s.After, math.NaN())
			if !math.IsInf(s.By, 1) {
				add("life_50_by", l.Unit, s.By, math.NaN())
			}
		}
	}
	sum = 0
	for _, s := range steps {
		if sum += s.Share; !math.IsInf(s.By, 1) {
			add("share_reached", "", sum, s.By)
		}
	}
	return of
}

// leastShare is the chance with which a bound may be wrong.
const leastShare = 0.05

// notReached returns what is known where no coupon has reached the limit. Of n independent coupons that all lasted
// longer than a dose, the share that does not last so long is below q with confidence 1 - (1-q)^n.
func (l *Lives) notReached() Life {
	after := make([]float64, len(l.Crossings))
	for i := range after {
		after[i] = l.Crossings[i].After
	}
	slices.Sort(after)
	slices.Reverse(after)
	share := 0.5
	if n := float64(len(after)); math.Pow(0.5, n) > leastShare {
		share = math.Ceil(100*(1-math.Pow(leastShare, 1/n))) / 100
	}
	e := nothingOf(lifeName(share), l.Unit)
	need := int(math.Ceil(math.Log(leastShare)/math.Log1p(-share) - 1e-9))
	if bound := after[need-1]; bound > 0 {
		e.Lower = bound
	}
	e.Method = "one-sided bound, no law assumed"
	e.Flags = append(l.flags(), FlagNotReached)
	e.Why = l.why()
	return Life{Law: "none", Parameters: []Estimate{e}}
}

// why says that no coupon has reached the limit.
func (l *Lives) why() *study.Refusal {
	last := 0
	for i := range l.Crossings {
		if l.Crossings[i].Last == l.Most {
			last++
		}
	}
	because := fmt.Sprintf("none of %d coupons has surely reached the limit by %.4g %s", len(l.Crossings), l.Most, l.Unit)
	switch {
	case len(l.Crossings) == 1:
		because = fmt.Sprintf("the coupon has not surely reached the limit by %.4g %s", l.Most, l.Unit)
	case last == 1:
		because = fmt.Sprintf("none of %d coupons has surely reached the limit; 1 of them was read up to %.4g %s, the others "+
			"less long", len(l.Crossings), l.Most, l.Unit)
	case last < len(l.Crossings):
		because = fmt.Sprintf("none of %d coupons has surely reached the limit; %d of them were read up to %.4g %s, the others "+
			"less long", len(l.Crossings), last, l.Most, l.Unit)
	}
	return Cannot(because, "go on exposing, or ask for a limit that is nearer")
}
