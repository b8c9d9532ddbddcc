package series

import (
	"cmp"
	"math"
	"slices"
	"strings"
	"time"

	"wane/study"
	"wane/study/life"
)

// Builder makes a Data, coupon by coupon.
type Builder struct {
	data    Data
	lives   *life.Lives
	dates   map[pullKey]string
	coupons map[string]int
	effects map[study.Effect]int // those that several coupons may share
	soiled  bool                 // readings of soiled surfaces count, instead of those of clean ones
}

type pullKey struct {
	exposure string
	pull     int
}

// NewBuilder returns a builder of a quantity for the exposed coupons and the controls of a roster. Readings of clean
// surfaces count, cleaned ones before those of which nothing is stated; those that were read as found instead if
// asFound is set.
func NewBuilder(q Quantity, roster *study.Roster, route study.Route, asFound bool) *Builder {
	b := &Builder{data: Data{Quantity: q, Route: route, DoF: map[int]float64{}}, lives: life.New(roster), dates: map[pullKey]string{},
		coupons: map[string]int{}, effects: map[study.Effect]int{}, soiled: asFound}
	for i := range roster.Pulls {
		p := &roster.Pulls[i]
		b.dates[pullKey{p.Exposure, p.Pull}] = p.Date
		all := pullKey{pull: p.Pull} // of controls that accompany all exposures: the day on which these agree
		if date, known := b.dates[all]; !known {
			b.dates[all] = p.Date
		} else if date != p.Date {
			b.dates[all] = ""
		}
	}
	for i := range roster.Coupons {
		c := &roster.Coupons[i]
		if c.Role == study.Exposed || c.Role == study.Control {
			b.data.Coupons = append(b.data.Coupons, b.newCoupon(c))
		}
	}
	slices.SortFunc(b.data.Coupons, func(a, b Coupon) int { return cmp.Compare(a.Coupon, b.Coupon) })
	b.findCoupons()
	return b
}

// findCoupons notes where each coupon is.
func (b *Builder) findCoupons() {
	clear(b.coupons)
	for i := range b.data.Coupons {
		b.coupons[b.data.Coupons[i].Coupon] = i
	}
}

// Keep leaves out the exposed coupons that are not wanted. It comes before anything is prepared or added: the coupons have
// no points yet.
func (b *Builder) Keep(wanted func(*Coupon) bool) {
	b.data.Coupons = slices.DeleteFunc(b.data.Coupons, func(c Coupon) bool {
		return c.Role == study.Exposed && !wanted(&c)
	})
	b.findCoupons()
}

// Coupons returns the codes of the coupons that are built, sorted.
func (b *Builder) Coupons() []string {
	codes := make([]string, len(b.data.Coupons))
	for i := range codes {
		codes[i] = b.data.Coupons[i].Coupon
	}
	return codes
}

// newCoupon returns a coupon without points.
func (b *Builder) newCoupon(c *study.Coupon) Coupon {
	out := Coupon{Coupon: c.Coupon, Role: c.Role, Supplier: c.Supplier, Coating: c.Coating, Lot: c.Lot, Exposure: c.Exposure,
		BaselinePull: c.BaselinePull}
	l := b.lives.Of(c.Coupon)
	if c.Role == study.Exposed {
		out.DoseUnit = l.DoseAt(c.BaselinePull).Unit
	}
	if end := l.End(); end != nil {
		out.Ended = end.Words()
		out.EndedPull = math.MaxInt
		for _, pull := range l.Pulls() {
			if l.EndedBy(pull) {
				out.EndedPull = pull
				break
			}
		}
	}
	return out
}

// Prepared is what a builder takes of one coupon.
type Prepared struct {
	coupon  string
	points  []Point
	local   []study.Effect // what the Shares of points count in
	dof     []float64      // of their standard uncertainties; 0: known
	skipped []Skipped
}

// Prepare returns what the rows of one coupon say: all of its rows, made by changes that follow the quantity. It changes
// nothing, so that several may run at once.
func (b *Builder) Prepare(rows []*study.Result) *Prepared {
	if len(rows) == 0 {
		return nil
	}
	k, known := b.coupons[rows[0].Coupon]
	if !known {
		return nil // a blank
	}
	c := &b.data.Coupons[k]
	p := &Prepared{coupon: c.Coupon}
	levels, changes := newForms(), newForms()
	for _, at := range b.byPull(rows, p) {
		point := b.pointOf(c, at)
		level, change := spotMean{}, spotMean{}
		for _, r := range at {
			point.Flags = append(point.Flags, r.Flags...)
			b.addSpot(c, r, rows, &level, &change)
		}
		slices.Sort(point.Flags)
		point.Flags = slices.Compact(point.Flags)
		point.Spots = level.n
		if level.n == 0 {
			p.skipped = append(p.skipped, Skipped{c.Coupon, point.Pull, skippedFor(at)})
			continue
		}
		point.Level.Value, point.Change.Value = level.mean(), change.mean()
		levels.add(level.terms())
		changes.add(change.terms())
		if point.Baseline {
			point.Change.Value = 0
		}
		p.points = append(p.points, point)
	}
	p.fill(levels, func(p *Point) *Value { return &p.Level })
	p.fill(changes, func(p *Point) *Value { return &p.Change })
	return p
}

// byPull returns the rows that count, one list for each pull, in the order of pulls.
func (b *Builder) byPull(rows []*study.Result, p *Prepared) (pulls [][]*study.Result) {
	best := map[int]string{}
	for _, r := range rows {
		pull := int(r.Pull)
		switch now, there := best[pull]; {
		case b.soiled != (r.Condition == "as_found") || !b.soiled && !study.CleanCondition(r.Condition):
		case !there, now == "":
			best[pull] = r.Condition
		}
	}
	at := map[int]int{}
	for _, r := range rows {
		pull := int(r.Pull)
		condition, there := best[pull]
		if !there || r.Condition != condition {
			if !there && !slices.ContainsFunc(p.skipped, func(s Skipped) bool { return s.Pull == pull }) {
				p.skipped = append(p.skipped, Skipped{r.Coupon, pull, "read as " + strings.ReplaceAll(r.Condition, "_", " ")})
			}
			continue
		}
		k, known := at[pull]
		if !known {
			k = len(pulls)
			at[pull], pulls = k, append(pulls, nil)
		}
		pulls[k] = append(pulls[k], r)
	}
	slices.SortFunc(pulls, func(a, b []*study.Result) int { return cmp.Compare(a[0].Pull, b[0].Pull) })
	return pulls
}

// pointOf returns the point of the rows of one pull, without values.
func (b *Builder) pointOf(c *Coupon, rows []*study.Result) Point {
	r := rows[0]
	p := Point{Pull: int(r.Pull), Dose: float64(r.Dose), Date: r.Date, Baseline: int(r.Pull) == c.BaselinePull}
	var sessions []string
	for _, r := range rows {
		switch {
		case r.Fit != nil && len(r.Fit.Sessions) > 0:
			sessions = append(sessions, r.Fit.Sessions...)
		case r.Session != "":
			sessions = append(sessions, r.Session)
		}
	}
	slices.Sort(sessions)
	p.Session = strings.Join(slices.Compact(sessions), " + ")
	if p.Session == "" {
		p.Session = study.UnnamedSession(p.Pull)
	}
	b.fillTimes(c, &p)
	return p
}

// fillTimes fills the dose where it is 0 by definition, and the days since the baseline.
func (b *Builder) fillTimes(c *Coupon, p *Point) {
	if p.Baseline || c.Role == study.Control {
		p.Dose = 0
	}
	p.Days = math.NaN()
	first := b.dateOf(c, c.BaselinePull)
	if p.Date == "" {
		p.Date = b.dateOf(c, p.Pull)
	}
	from, err := time.Parse(time.DateOnly, first)
	to, err2 := time.Parse(time.DateOnly, p.Date)
	if err == nil && err2 == nil {
		p.Days = to.Sub(from).Hours() / 24
	}
}

// dateOf returns the planned date of a pull of a coupon; empty: none is known.
func (b *Builder) dateOf(c *Coupon, pull int) string {
	l := b.lives.Of(c.Coupon)
	for _, exposure := range []string{l.ExposureAt(pull), c.Exposure} {
		if date := b.dates[pullKey{exposure, pull}]; date != "" {
			return date
		}
	}
	return ""
}

// addSpot adds the values of a row to the means over spots. rows are all of the coupon.
func (b *Builder) addSpot(c *Coupon, r *study.Result, rows []*study.Result, level, change *spotMean) {
	q := &b.data.Quantity
	value := q.Followed.Value(r)
	if !value.Valid() || r.Fit == nil {
		return
	}
	d, terms := r.Change, r.ChangeTerms
	if c.Role == study.Exposed && b.data.Route != study.RouteNone {
		d, terms = r.CorrectedChange, r.CorrectedTerms
	}
	if r.IsBaseline() {
		d, terms = study.Measure{Value: 0, U: 0}, nil
	}
	if q.kept {
		d, terms = overGain(r, baselineOf(r, rows), d, terms)
		if d.Value.Valid() {
			level.add(float64(1+d.Value), terms)
			change.add(float64(d.Value), terms)
		}
		return
	}
	level.add(float64(value), []study.Weighted{q.Followed.Term(r.Fit, 1)})
	if d.Value.Valid() {
		change.add(float64(d.Value), terms)
	}
}

// baselineOf returns the row of the same spot at the baseline, in the nearest condition; nil if there is none.
func baselineOf(r *study.Result, rows []*study.Result) (best *study.Result) {
	for _, o := range rows {
		if o.IsBaseline() && o.Spot == r.Spot && o.SolarT.Value.Valid() && (best == nil ||
			study.ConditionDistance(r.Condition, o.Condition) < study.ConditionDistance(r.Condition, best.Condition)) {
			best = o
		}
	}
	return best
}

// overGain returns a change of the solar transmittance over the gain at the baseline, to the first order of its errors.
// It is null if that gain is not above leastGain times its uncertainty.
func overGain(r, base *study.Result, change study.Measure, terms []study.Weighted) (study.Measure, []study.Weighted) {
	if base == nil || base.Fit == nil || !(base.Gain.Value > leastGain*base.Gain.U) || !change.Value.Valid() {
		return study.NoMeasure(), nil
	}
	if r.IsBaseline() {
		return study.Measure{Value: 0, U: 0}, nil
	}
	g0 := base.Gain.Value
	q := change.Value / g0
	out := make([]study.Weighted, 0, len(terms)+1)
	for _, t := range terms {
		out = append(out, study.Weighted{Errors: t.Errors, Output: t.Output, Weight: t.Weight / float64(g0)})
	}
	return study.Measure{Value: q}, append(out,
		study.Weighted{Errors: &base.Fit.Errors, Output: study.OutGain, Weight: -float64(q / g0)})
}

// leastGain is the least gain at the baseline, in its standard uncertainties, over which a gain is given.
const leastGain = 3

// skippedFor says why rows of one pull have no value.
func skippedFor(rows []*study.Result) string {
	for _, r := range rows {
		for _, flag := range r.Flags {
			switch flag {
			case study.FlagNotEvaluated, study.FlagHeld, study.FlagAside, study.FlagNoBaseline:
				return flag
			}
		}
	}
	return "no value"
}

// spotMean is a mean over spots as a sum of results.
type spotMean struct {
	n   int
	sum float64
	of  []study.Weighted
}

func (m *spotMean) add(value float64, terms []study.Weighted) {
	m.n++
	m.sum += value
	m.of = append(m.of, terms...)
}

// mean returns the mean; NaN without a value.
func (m *spotMean) mean() float64 { return m.sum / float64(m.n) }

// terms returns the mean as a sum of results.
func (m *spotMean) terms() []study.Weighted {
	out := make([]study.Weighted, len(m.of))
	for i, t := range m.of {
		out[i] = study.Weighted{Errors: t.Errors, Output: t.Output, Weight: t.Weight / float64(m.n)}
	}
	return out
}

// Take adds a coupon. It keeps what was prepared.
func (b *Builder) Take(p *Prepared) {
	if p == nil {
		return
	}
	number := make([]int, len(p.local))
	for i, e := range p.local {
		number[i] = b.numberOf(e)
		if p.dof[i] > 0 {
			b.data.DoF[number[i]] = p.dof[i]
		}
	}
	for i := range p.points {
		for _, v := range []*Value{&p.points[i].Level, &p.points[i].Change} {
			for k := range v.Shared {
				v.Shared[k].Effect = number[v.Shared[k].Effect]
			}
			slices.SortFunc(v.Shared, func(a, b Share) int { return cmp.Compare(a.Effect, b.Effect) })
		}
	}
	b.data.Coupons[b.coupons[p.coupon]].Points = p.points
	b.data.Skipped = append(b.data.Skipped, p.skipped...)
}

// numberOf returns the number of an effect in Data.Effects.
func (b *Builder) numberOf(e study.Effect) int {
	if ofOneCoupon(e.Owner) { // no other coupon brings it
		b.data.Effects = append(b.data.Effects, e)
		return len(b.data.Effects) - 1
	}
	n, known := b.effects[e]
	if !known {
		n = len(b.data.Effects)
		b.data.Effects = append(b.data.Effects, e)
		b.effects[e] = n
	}
	return n
}

// Data returns what was built.
func (b *Builder) Data() *Data {
	if b.data.Quantity.Measured && b.data.Route != study.RouteNone {
		b.correctMeasured()
	}
	slices.SortFunc(b.data.Skipped, func(a, b Skipped) int {
		return cmp.Or(cmp.Compare(a.Coupon, b.Coupon), cmp.Compare(a.Pull, b.Pull))
	})
	return &b.data
}
