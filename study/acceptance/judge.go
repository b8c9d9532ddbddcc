package acceptance

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"

	"wane/protocols/fields"
	"wane/study"
	"wane/study/series"
)

// Near is how far the dose of a reading may be from that of the rule, as a share of it. Common practice, no source.
const Near = 0.05

// Judgement is what a rule says of one group of coupons.
type Judgement struct {
	Rule    *Rule
	Group   string
	Verdict Verdict
	Coupons []Judged // in the order of their codes

	N                          int // that count: passed, straddling, failed, lost and missing ones
	Passed, Straddling, Failed int
	Lost, Missing              int
	Excused                    int // that ended with a cause that the rule names; they do not count

	// Worst, Mean with its standard uncertainty and degrees of freedom, and its 95 % interval are of the losses, in the
	// unit of the rule; NaN: none.
	Worst, Mean, MeanU, MeanDoF, Lower, Upper float64

	Lots  []string
	Pulls []int // at which they were read, rising

	// Confidence is that with which more than the share of the rule conforms of what the coupons were drawn from; NaN if
	// they are not accepted or no random draw. Independent is what it would be if no errors were shared.
	Confidence, Independent float64

	// DecidingU is the standard uncertainty of the straddling coupons at which the coupons would be accepted or
	// rejected; 0: a smaller one does not decide. NewCoupons with NewFailures is a rule for new coupons that has the share
	// and the confidence of this one and allows as many failures as there were; 0: none.
	DecidingU               float64
	NewCoupons, NewFailures int

	Normal Normal // methods that take the losses as normally distributed, beside

	Why   string   // the verdict in a sentence
	Notes []string // what else is to be known of it, in sentences

	// What is known of the rule and its readings in the study.
	Predated     string // the day of the earliest reading, or of its pull, where that is before the rule; or empty
	AfterTheFact bool   // the rule is younger than the first exposed reading beyond pull 0
	Looks        int    // at which it was judged, with this one; 0: not counted
	Void         bool   // by more looks than it allows
}

// Judged is one coupon.
type Judged struct {
	Coupon, Lot string
	Pull        int
	Date        string
	Dose        float64
	Session     string
	Loss, U     float64 // in the unit of the rule; NaN: none
	Grade       Grade   // empty: it was not judged
	Conforms    float64 // the chance that its true loss is below the limit, by its reading alone; NaN: none
	Ended       string  // with what its history ended before it was read
	Excused     bool    // the rule names that cause
	Missing     string  // why there is no loss of it

	errors    series.Errors
	noControl bool // it is missing since no control of it was read
}

// Check refuses a rule that does not fit the quantity that it names. Of one with faults it checks what could be read.
func (r *Rule) Check(q *series.Quantity) error {
	var all fields.Faults
	fault := func(key, try, format string, args ...any) {
		all = append(all, fields.Fault{Line: r.LineOf(key), What: fmt.Sprintf(format, args...), Try: try})
	}
	if want := weightingOf(q.Name); r.Weighting != "" && want != r.Weighting {
		fault("weighting", "write weighting: "+want, "%s cannot be weighted by %q", q.Name, r.Weighting)
	}
	if r.has("unit") && q.Unit != r.Unit {
		fault("unit", "write the limit in that unit, and unit: "+cmp.Or(q.Unit, noWord),
			"a change of %s is in %s, and the limit is in %s", q.Name, cmp.Or(q.Unit, "no unit"), cmp.Or(r.Unit, "no unit"))
	}
	if len(all) > 0 {
		return all
	}
	return nil
}

// weightingOf returns the weighting of a quantity.
func weightingOf(quantity string) string {
	switch {
	case quantity == "cell_T":
		return PhotonWeighting
	case quantity == "solar_T" || strings.HasPrefix(quantity, "gain"):
		return EnergyWeighting
	}
	return noWord
}

// LineOf returns the line of a key in the text of the rule, 1 if it is not there.
func (r *Rule) LineOf(key string) int {
	return max(1, r.find(key))
}

func (r *Rule) has(key string) bool { return r.find(key) > 0 }

// find returns the line of a key, 0 if it is not there.
func (r *Rule) find(key string) int {
	n := 0
	for line := range strings.Lines(r.Text) {
		n++
		if strings.HasPrefix(line, key+":") {
			return n
		}
	}
	return 0
}

// Judge judges the coupons of each group, in the order of their names. The quantity of the data is that of the rule.
// Where no coupon is exposed in the exposure of the rule, there are no groups.
func Judge(r *Rule, d *series.Data) []*Judgement {
	groups := map[string]*Judgement{}
	var all []*Judgement
	for i := range d.Coupons {
		c := &d.Coupons[i]
		if c.Role != study.Exposed || c.Exposure != r.Exposure {
			continue
		}
		name := r.GroupOf(c.Supplier, c.Coating, c.Lot, c.Exposure)
		j := groups[name]
		if j == nil {
			j = &Judgement{Rule: r, Group: name, Confidence: math.NaN(), Independent: math.NaN()}
			groups[name], all = j, append(all, j)
		}
		j.add(c, d)
	}
	slices.SortFunc(all, func(a, b *Judgement) int { return strings.Compare(a.Group, b.Group) })
	for _, j := range all {
		j.decide(d)
	}
	return all
}

// GroupOf returns the group of a coupon. Two coatings may have lots of the same name.
func (r *Rule) GroupOf(supplier, coating, lot, exposure string) string {
	switch r.By {
	case "lot":
		return coating + " / " + lot
	case "supplier":
		return supplier
	case "exposure":
		return exposure
	}
	return coating
}

// add grades a coupon.
func (j *Judgement) add(c *series.Coupon, d *series.Data) {
	r := j.Rule
	one := Judged{Coupon: c.Coupon, Lot: c.Lot, Loss: math.NaN(), U: math.NaN(), Dose: math.NaN(), Conforms: math.NaN()}
	p := pointNear(c.Points, r.Dose)
	switch {
	case p == nil && c.Ended != "":
		one.Ended = c.Ended
		cause, _, _ := strings.Cut(c.Ended, " ")
		one.Excused = slices.Contains(r.Lost, cause)
	case p == nil:
		one.Missing = notNear(c.Points, r.Dose)
	default:
		one.Pull, one.Date, one.Dose, one.Session = p.Pull, p.Date, p.Dose, p.Session
		one.take(p, r, d)
	}
	j.Coupons = append(j.Coupons, one)
}

// take grades the coupon by its reading.
func (one *Judged) take(p *series.Point, r *Rule, d *series.Data) {
	switch {
	case math.IsNaN(p.Change.Value) && slices.Contains(p.Flags, study.FlagNoControl):
		one.noControl = true
		one.Missing = "it has no corrected change, since no control of it was read with it"
	case math.IsNaN(p.Change.Value):
		one.Missing = "it has no change since its baseline"
		if len(p.Flags) > 0 {
			one.Missing += " (" + strings.Join(p.Flags, ", ") + ")"
		}
	default:
		one.errors = p.Change.Errors
		one.Loss, one.U = float64(d.Quantity.Worse)*p.Change.Value, p.Change.U()
		if d.Quantity.Worse == 0 { // a change in either direction is a loss
			one.Loss = math.Abs(p.Change.Value)
			if p.Change.Value < 0 {
				one.errors.Shared = scaled(one.errors.Shared, func(by float64) float64 { return -by })
			}
		}
		if math.IsNaN(one.U) {
			one.Missing = "nothing is known of the uncertainty of its loss"
			return
		}
		one.Grade = GradeOf(one.Loss, one.U, r.Limit)
		one.Conforms = ConformityChance(one.Loss, one.U, r.Limit)
	}
}

// scaled returns shares with what they are off changed.
func scaled(shares []series.Share, to func(float64) float64) []series.Share {
	out := make([]series.Share, len(shares))
	for i, s := range shares {
		out[i] = series.Share{Effect: s.Effect, By: to(s.By)}
	}
	return out
}

// notNear says why no point is near a dose.
func notNear(points []series.Point, dose float64) string {
	words := fmt.Sprintf("it is not read within 5 %% of the dose %s", Written(dose))
	var doses []string
	for i := range points {
		p := &points[i]
		switch {
		case p.Baseline:
		case math.IsNaN(p.Dose):
			doses = append(doses, fmt.Sprintf("one that is not known at pull %d", p.Pull))
		default:
			doses = append(doses, Written(p.Dose))
		}
	}
	if len(doses) > 0 {
		words += ", but at " + strings.Join(doses, ", ")
	}
	return words
}

// pointNear returns the point whose dose is nearest to a dose, nil if none is near.
func pointNear(points []series.Point, dose float64) (near *series.Point) {
	for i := range points {
		p := &points[i]
		off := math.Abs(p.Dose - dose)
		if !p.Baseline && off <= Near*dose && (near == nil || off < math.Abs(near.Dose-dose)) {
			near = p
		}
	}
	return near
}

// decide gives the verdict on the coupons that were added.
func (j *Judgement) decide(d *series.Data) {
	r := j.Rule
	var grades []Grade
	for i := range j.Coupons {
		c := &j.Coupons[i]
		if c.Lot != "" && !slices.Contains(j.Lots, c.Lot) {
			j.Lots = append(j.Lots, c.Lot)
		}
		if c.Grade != "" && !slices.Contains(j.Pulls, c.Pull) {
			j.Pulls = append(j.Pulls, c.Pull)
		}
		switch {
		case c.Excused:
			j.Excused++
			continue
		case c.Ended != "":
			j.Lost++
			continue
		case c.Missing != "":
			j.Missing++
		}
		grades = append(grades, cmp.Or(c.Grade, Straddle)) // what is not known may pass or fail
	}
	slices.Sort(j.Lots)
	slices.Sort(j.Pulls)
	for _, g := range grades {
		switch g {
		case Pass:
			j.Passed++
		case Fail:
			j.Failed++
		}
	}
	j.N = len(grades) + j.Lost
	j.Straddling = len(grades) - j.Passed - j.Failed - j.Missing
	j.Verdict = Decide(grades, j.Lost, r.Failures)
	if j.Verdict == Accept && j.N < r.Coupons {
		j.Verdict = Undecided
	}
	j.summarise()
	if j.Verdict == Accept && r.Drawn() {
		j.Independent = looked(Confidence(j.N, r.Failures, r.Share, false), r.Looks)
		j.Confidence = looked(j.confidence(d.Quantity.Worse), r.Looks)
	}
	if j.Verdict == Undecided {
		j.DecidingU = j.decidingU()
	}
	if r.Drawn() && j.Verdict == Undecided && j.Straddling+j.Failed > 0 {
		j.NewFailures = max(r.Failures, j.N-j.Passed-j.Missing)
		j.NewCoupons = Coupons(j.NewFailures, r.Share, r.Confidence, mostCoupons)
	}
	j.Normal = normalOf(j)
	j.Why = j.why()
	j.Notes = j.notes(d)
}

// mostCoupons bounds the number of coupons of a rule that is proposed.
const mostCoupons = 1000

// looked lowers a confidence for looks that each can go wrong (Bonferroni).
func looked(confidence float64, looks int) float64 { return max(0, 1-float64(looks)*(1-confidence)) }

// decidingU returns the standard uncertainty of the straddling coupons that would decide.
func (j *Judgement) decidingU() float64 {
	var below, above []float64
	for i := range j.Coupons {
		if c := &j.Coupons[i]; c.Grade == Straddle {
			if u := DecidingU(c.Loss, j.Rule.Limit); c.Loss < j.Rule.Limit {
				below = append(below, u)
			} else {
				above = append(above, u)
			}
		}
	}
	largest := func(of []float64, n int) float64 { // the nth largest
		slices.Sort(of)
		if n < 1 || n > len(of) {
			return 0
		}
		return of[len(of)-n]
	}
	accepting := 0.0
	if j.N >= j.Rule.Coupons {
		accepting = largest(below, j.N-j.Rule.Failures-j.Passed)
	}
	return max(accepting, largest(above, j.Rule.Failures+1-j.Failed-j.Lost))
}

// summarise takes the largest loss, and the mean with its interval. The errors that coupons share are in the interval
// once; what else scatters is in the scatter of the losses.
func (j *Judgement) summarise() {
	nan := math.NaN()
	j.Worst, j.Mean, j.MeanU, j.MeanDoF, j.Lower, j.Upper = nan, nan, nan, nan, nan, nan
	var losses []float64
	var of []*Judged
	for i := range j.Coupons {
		if c := &j.Coupons[i]; !math.IsNaN(c.Loss) {
			losses, of = append(losses, c.Loss), append(of, c)
		}
	}
	n := float64(len(of))
	if n == 0 {
		return
	}
	j.Worst, j.Mean = slices.Max(losses), stat.Mean(losses, nil)
	if n < 2 {
		return
	}
	shared := 0.0
	for i := range of {
		if math.IsNaN(of[i].U) {
			return
		}
		for k := range i {
			shared += 2 * series.Covariance(&of[i].errors, &of[k].errors)
		}
	}
	scatter := stat.Variance(losses, nil) / n
	v := scatter + max(0, shared/(n*(n-1)))
	if v == 0 {
		return
	}
	j.MeanU, j.MeanDoF = math.Sqrt(v), v*v/(scatter*scatter/(n-1))
	half := j.MeanU * quantile(j.MeanDoF)
	j.Lower, j.Upper = j.Mean-half, j.Mean+half
}

// quantile returns the 97.5 % quantile of Student's distribution; of the normal one for a million degrees of freedom
// and more.
func quantile(dof float64) float64 {
	if dof < 1e6 {
		return distuv.StudentsT{Sigma: 1, Nu: dof}.Quantile(0.975)
	}
	return distuv.UnitNormal.Quantile(0.975)
}
