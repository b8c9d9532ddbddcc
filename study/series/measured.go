package series

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"wane/study"
)

// AddMeasured adds what other instruments read of a coupon. The values of a pull are means over replicates and then over
// spots; those of other quantities are skipped.
func (b *Builder) AddMeasured(coupon string, list []study.Measurement) {
	k, known := b.coupons[coupon]
	if !known {
		return
	}
	c := &b.data.Coupons[k]
	pulls := map[int][]*study.Measurement{}
	for i := range list {
		m := &list[i]
		if m.Quantity != b.data.Quantity.measurand || !m.Value.Valid() {
			continue
		}
		if b.soiled != (m.Condition == "as_found") || !b.soiled && !study.CleanCondition(m.Condition) {
			b.data.Skipped = append(b.data.Skipped, Skipped{coupon, m.Pull, "read as " + strings.ReplaceAll(m.Condition, "_", " ")})
			continue
		}
		pulls[m.Pull] = append(pulls[m.Pull], m)
	}
	var base *Point
	for pull, all := range pulls {
		c.Points = append(c.Points, b.measuredPoint(c, pull, all))
	}
	slices.SortFunc(c.Points, func(a, b Point) int { return cmp.Compare(a.Pull, b.Pull) })
	for i := range c.Points {
		if c.Points[i].Baseline {
			base = &c.Points[i]
		}
	}
	b.fillChanges(c, base)
}

// measuredPoint returns the point of the measurements of a coupon at one pull.
func (b *Builder) measuredPoint(c *Coupon, pull int, all []*study.Measurement) Point {
	p := Point{Pull: pull, Baseline: pull == c.BaselinePull, Change: Value{Value: math.NaN()}}
	dose := b.lives.Of(c.Coupon).DoseAt(pull)
	p.Dose = float64(dose.Value)
	if dose.Short && c.Role == study.Exposed {
		p.Flags = append(p.Flags, study.FlagDoseShort)
	}
	b.fillTimes(c, &p)
	p.Session = fmt.Sprintf("%s, %s", cmp.Or(all[0].Method, "method not stated"), all[0].Date)
	spots, order := map[string][]*study.Measurement{}, []string{}
	for _, m := range all {
		if spots[m.Spot] == nil {
			order = append(order, m.Spot)
		}
		spots[m.Spot] = append(spots[m.Spot], m)
	}
	p.Spots = len(order)
	p.Level.Known = true
	for _, spot := range order {
		part := 1 / float64(len(order)*len(spots[spot]))
		for _, m := range spots[spot] {
			p.Level.Value += part * float64(m.Value)
			p.Level.Known = p.Level.Known && m.U.Valid()
			p.Level.Own += float64(m.U*m.U) * part * part
		}
	}
	if !p.Level.Known {
		p.Level.Errors = Errors{}
	}
	return p
}

// fillChanges fills the changes of a coupon since its baseline. The error of the baseline is an effect that they share.
func (b *Builder) fillChanges(c *Coupon, base *Point) {
	if base == nil {
		return
	}
	effect := -1
	for i := range c.Points {
		p := &c.Points[i]
		if p == base {
			p.Change = Value{Value: 0, Errors: Errors{Known: true}}
			continue
		}
		p.Change = Value{Value: p.Level.Value - base.Level.Value}
		if !p.Level.Known || !base.Level.Known {
			continue
		}
		if effect < 0 {
			effect = b.numberOf(study.Effect{Owner: study.OwnerReading, Of: c.Coupon, Name: "baseline"})
		}
		p.Change.Errors = Errors{Known: true, Own: p.Level.Own, Shared: []Share{{effect, -math.Sqrt(base.Level.Own)}}}
	}
}

// controlsKey names controls by what they correct.
type controlsKey struct {
	exposure, coating string
	pull              int
}

// correctMeasured subtracts from the change of each exposed coupon the mean change of the controls of its coating at the
// same pull, those of its exposure and of all. Without any there is no corrected change.
func (b *Builder) correctMeasured() {
	controls := map[controlsKey][]*Point{}
	for i := range b.data.Coupons {
		c := &b.data.Coupons[i]
		for k := range c.Points {
			if p := &c.Points[k]; c.Role == study.Control && !p.Baseline && !math.IsNaN(p.Change.Value) {
				key := controlsKey{c.Exposure, c.Coating, p.Pull}
				controls[key] = append(controls[key], p)
			}
		}
	}
	means := map[controlsKey]Value{}
	for i := range b.data.Coupons {
		c := &b.data.Coupons[i]
		if c.Role != study.Exposed {
			continue
		}
		for k := range c.Points {
			p := &c.Points[k]
			if p.Baseline || math.IsNaN(p.Change.Value) {
				continue
			}
			key := controlsKey{c.Exposure, c.Coating, p.Pull}
			mean, known := means[key]
			if !known {
				all := controls[controlsKey{"", c.Coating, p.Pull}]
				if c.Exposure != "" {
					all = slices.Concat(controls[key], all)
				}
				mean = b.meanOfControls(key, all)
				means[key] = mean
			}
			subtract(p, mean)
		}
	}
}

// meanOfControls returns the mean change of controls, with its error as one effect: the larger of what the errors of
// the values say and of what the scatter of the controls does. The value is NaN without controls.
func (b *Builder) meanOfControls(key controlsKey, all []*Point) Value {
	n := float64(len(all))
	if n == 0 {
		return Value{Value: math.NaN()}
	}
	mean, errors, known := 0.0, 0.0, true
	for _, p := range all {
		mean += p.Change.Value / n
		known = known && p.Change.Known
		errors += p.Change.Variance() / (n * n)
	}
	scatter := 0.0
	for _, p := range all {
		d := p.Change.Value - mean
		scatter += d * d / (n * max(1, n-1))
	}
	if !known {
		errors = 0
		known = n > 1
	}
	v := Value{Value: mean, Errors: Errors{Known: known}}
	if known {
		e := b.numberOf(study.Effect{Owner: study.OwnerControls, Name: "mean",
			Of: fmt.Sprintf("%s, %s, pull %d", key.coating, key.exposure, key.pull)})
		v.Shared = []Share{{e, math.Sqrt(max(errors, scatter))}}
		if scatter > errors {
			b.data.DoF[e] = n - 1
		}
	}
	return v
}

// subtract takes the mean change of controls off a change.
func subtract(p *Point, mean Value) {
	p.Change.Value -= mean.Value
	switch {
	case math.IsNaN(mean.Value):
		p.Change.Errors = Errors{}
		p.Flags = append(p.Flags, study.FlagNoControl)
	case !p.Change.Known || !mean.Known:
		p.Change.Errors = Errors{}
	default:
		for _, s := range mean.Shared {
			p.Change.Shared = append(p.Change.Shared, Share{s.Effect, -s.By})
		}
		slices.SortFunc(p.Change.Shared, func(a, b Share) int { return cmp.Compare(a.Effect, b.Effect) })
	}
}
