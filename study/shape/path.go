package shape

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/mat"

	"wane/study"
	"wane/study/series"
)

// Axis is what a path is drawn over.
type Axis string

// The axes.
const (
	InDose Axis = "dose" // in the unit of the exposure
	InDays Axis = "days" // since the baseline
)

// The flags of a path.
const (
	FlagOneCoupon   = "one-coupon"    // of a group there is one coupon: it says nothing of others, and has no interval
	FlagTheseLots   = "these-lots"    // fewer than three lots: the interval is of these lots
	FlagFewer       = "fewer-coupons" // coupons without a value at a pull of the path do not count
	FlagDosesDiffer = "doses-differ"  // at one pull the doses of coupons differ by more than a twentieth
	FlagNoErrors    = "no-u"          // the uncertainty of a value is not stated; all are taken to be alike
)

// leastLots is the number of lots from which the lot is the unit.
const leastLots = 3

// Path is how a quantity of a coupon, or of the mean of the units of a group, changed since the baseline.
type Path struct {
	Unit, XUnit string    // of Y and of X
	X           []float64 // dose or days of k pulls after the baseline, rising; the mean over the coupons
	Y           []float64 // changes, k
	Known       bool      // the errors are known
	Coupons     int
	Units       int      // what was averaged: lots, or coupons
	Skipped     []string // coupons of the group that are not in it
	Flags       []string

	by         By
	coupons    [][]step       // of each coupon, k
	confounded *study.Refusal // why what sessions are off cannot be told from ageing; nil: it can
	each       [][]float64    // changes of each unit, k
	alone      bool           // it is of one coupon, and says nothing of the others of its group
	sessions   bool           // what sessions are off is in the errors, or cancels
	mean       []*series.Value
	dof        map[int]float64 // of the effects whose uncertainty few values say
	law        *mat.SymDense   // covariance of Y by the errors, k by k
	sumLaws    *mat.SymDense   // sum over the units of that of each
}

// place is a pull in the history of the coupons with one baseline.
type place struct{ baseline, pull int }

// step is a usable point of a coupon.
type step struct {
	x float64
	y *series.Value
}

// Path returns the path of the group. Where no coupon has a change after its baseline, a *study.Refusal says why.
func (g *Group) Path(d *series.Data, by By, in Axis) (*Path, error) {
	steps := make([]map[place]step, len(g.Coupons))
	for i, c := range g.Coupons {
		var err error
		if steps[i], err = stepsOf(c, in); err != nil {
			return nil, err
		}
	}
	places := commonPlaces(steps)
	if len(places) == 0 {
		return nil, g.nothing(d, in)
	}
	return g.pathAt(d, by, in, steps, places), nil
}

// pathAt returns the path of the group over these pulls, of the coupons that have all of them.
func (g *Group) pathAt(d *series.Data, by By, in Axis, steps []map[place]step, places []place) *Path {
	p := &Path{Unit: d.Quantity.Unit, XUnit: g.unit(in), Known: true, by: by, dof: d.DoF}
	var coupons []*series.Coupon
	var paths [][]step
	for i, c := range g.Coupons {
		if path, whole := along(steps[i], places); whole {
			coupons, paths = append(coupons, c), append(paths, path)
		} else {
			p.Skipped = append(p.Skipped, c.Coupon)
		}
	}
	p.Coupons, p.coupons = len(coupons), paths
	p.addDoses(paths)
	p.addUnits(by, coupons, paths)
	p.sessions = p.Known && (!d.Quantity.Measured || d.Route != study.RouteNone)
	p.addFlags(by, in, coupons)
	return p
}

// Confound says that what sessions are off cannot be told from ageing, and why: a group has no interval, nor a coupon in
// whose errors the sessions are not.
func (p *Path) Confound(why *study.Refusal) { p.confounded = why }

// unsure returns why there is no interval since sessions look like ageing; nil: there is one.
func (p *Path) unsure() *study.Refusal {
	if p.by == ByCoupon && p.sessions {
		return nil
	}
	return p.confounded
}

// Unsure reports whether there is no interval since sessions look like ageing ([Path.Confound]).
func (p *Path) Unsure() bool { return p.unsure() != nil }

// allFlags returns the flags of all that is said of the path.
func (p *Path) allFlags() []string {
	flags := slices.Clone(p.Flags)
	if p.unsure() != nil {
		flags = append(flags, FlagSessionIsDose)
	}
	return flags
}

// unit returns the unit of the axis.
func (g *Group) unit(in Axis) string {
	if in == InDays {
		return "days"
	}
	return g.DoseUnit
}

// stepsOf returns the changes of a coupon after its baseline of which change and dose are known.
func stepsOf(c *series.Coupon, in Axis) (map[place]step, error) {
	steps := map[place]step{}
	last, lastPull := 0.0, c.BaselinePull
	for i := range c.Points {
		p := &c.Points[i]
		x := p.Dose
		if in == InDays {
			x = p.Days
		}
		if p.Pull <= c.BaselinePull || p.Baseline || math.IsNaN(x) {
			continue
		}
		if x < last {
			return nil, Cannot(fmt.Sprintf("the %s of coupon %s goes back, from %.6g at pull %d to %.6g at pull %d",
				in, c.Coupon, last, lastPull, x, p.Pull), "see `wane results "+c.Coupon+"`, and correct its events or the plan with wane amend")
		}
		last, lastPull = x, p.Pull
		if x > 0 && !math.IsNaN(p.Change.Value) {
			steps[place{c.BaselinePull, p.Pull}] = step{x: x, y: &p.Change}
		}
	}
	return steps, nil
}

// commonPlaces returns the pulls of the path, in their order: as many as possible, of those with the most coupons, that
// at least half as many coupons all have as the pull with the most.
func commonPlaces(steps []map[place]step) (places []place) {
	count := map[place]int{}
	most := 0
	for _, of := range steps {
		for at := range of {
			count[at]++
			most = max(most, count[at])
		}
	}
	all := make([]place, 0, len(count))
	for at := range count {
		all = append(all, at)
	}
	slices.SortFunc(all, func(a, b place) int {
		return cmp.Or(cmp.Compare(count[b], count[a]), cmp.Compare(a.baseline, b.baseline), cmp.Compare(a.pull, b.pull))
	})
	for n := len(all); n > 0; n-- {
		whole := 0
		for _, of := range steps {
			if _, ok := along(of, all[:n]); ok {
				whole++
			}
		}
		if 2*whole >= most {
			places = all[:n]
			break
		}
	}
	slices.SortFunc(places, func(a, b place) int { return cmp.Compare(a.pull, b.pull) })
	return places
}

// along returns the steps of a coupon at these places, and whether it has all of them.
func along(steps map[place]step, places []place) (path []step, whole bool) {
	for _, at := range places {
		s, ok := steps[at]
		if !ok {
			return nil, false
		}
		path = append(path, s)
	}
	return path, true
}

// nothing says why the group has no path.
func (g *Group) nothing(d *series.Data, in Axis) *study.Refusal {
	var points, after, undated int
	flagged := map[string]bool{}
	var ended []string
	for _, c := range g.Coupons {
		if c.Ended != "" {
			ended = append(ended, c.Coupon+" "+c.Ended)
		}
		for i := range c.Points {
			p := &c.Points[i]
			points++
			if p.Pull <= c.BaselinePull || p.Baseline {
				continue
			}
			after++
			if x := map[Axis]float64{InDose: p.Dose, InDays: p.Days}[in]; !(x > 0) {
				undated++
			}
			for _, f := range p.Flags {
				flagged[f] = true
			}
		}
	}
	var skipped []string
	for _, s := range d.Skipped {
		if slices.ContainsFunc(g.Coupons, func(c *series.Coupon) bool { return c.Coupon == s.Coupon }) {
			skipped = append(skipped, fmt.Sprintf("%s pull %d: %s", s.Coupon, s.Pull, s.Why))
		}
	}
	switch {
	case len(ended) == len(g.Coupons) && after == 0:
		return Cannot("all of its coupons were lost before a pull after the baseline ("+firstOf(ended)+")",
			"put other coupons out, or follow the other groups")
	case points == 0 && len(skipped) > 0:
		return Cannot("nothing that was read of it counts ("+firstOf(skipped)+")",
			"see wane review and wane status; readings of soiled surfaces are followed apart from those of clean ones")
	case points == 0 && d.Quantity.Measured:
		return Cannot("nothing was measured of its coupons", "take its measurements in: wane measure TABLE.csv")
	case points == 0:
		return Cannot("none of its coupons has a reading that counts",
			"take its exports in, run wane fit, and see wane status")
	case after == 0:
		return Cannot("it was read at its baseline only", "read it at the next pull: `wane due` says when")
	case undated == after:
		return Cannot(fmt.Sprintf("no %s is known of its pulls", in),
			map[Axis]string{InDose: "enrol what happened to the coupons, or follow it with --in days",
				InDays: "state the dates of the pulls, or follow it with --in dose"}[in])
	case flagged[study.FlagNoControl]:
		return Cannot("the study corrects by controls, and none of its coating was read with it",
			"read the controls at the same pulls; `wane results --routes` shows the changes of other routes")
	}
	return Cannot("no reading at its baseline can be compared with a later one",
		"see the flags of its rows: wane results --flagged; take in or release the readings of the baseline")
}

// firstOf names the first few, and counts the rest.
func firstOf(names []string) string {
	const few = 4
	if rest := len(names) - few; rest > 0 {
		return fmt.Sprintf("%s and %d more", strings.Join(names[:few], ", "), rest)
	}
	return strings.Join(names, ", ")
}

// addDoses fills X, and flags doses that differ.
func (p *Path) addDoses(paths [][]step) {
	differ := false
	for k := range paths[0] {
		sum, lo, hi := 0.0, math.Inf(1), math.Inf(-1)
		for _, path := range paths {
			sum, lo, hi = sum+path[k].x, min(lo, path[k].x), max(hi, path[k].x)
		}
		mean := sum / float64(len(paths))
		p.X = append(p.X, mean)
		differ = differ || hi-lo > mean/20
	}
	if differ {
		p.Flags = append(p.Flags, FlagDosesDiffer)
	}
}

// addUnits fills Y and the covariances: of coupons, or of lots where there are enough of them.
func (p *Path) addUnits(by By, coupons []*series.Coupon, paths [][]step) {
	lots := map[string][][]step{}
	for i, c := range coupons {
		lot := c.Coating + "\x00" + c.Lot
		lots[lot] = append(lots[lot], paths[i])
	}
	units := make([][][]step, 0, len(paths))
	if by != ByCoupon && by != ByLot && len(lots) >= leastLots {
		for _, lot := range slices.Sorted(maps.Keys(lots)) {
			units = append(units, lots[lot])
		}
	} else {
		for _, path := range paths {
			units = append(units, [][]step{path})
		}
	}
	p.Units = len(units)
	k := len(p.X)
	p.sumLaws = mat.NewSymDense(k, nil)
	means := make([][]*series.Value, k)
	for _, unit := range units {
		y, errors := make([]float64, k), make([]*series.Value, k)
		for j := range k {
			of := make([]*series.Value, len(unit))
			for i := range unit {
				of[i] = unit[i][j].y
			}
			errors[j] = meanOf(of)
			y[j] = errors[j].Value
			means[j] = append(means[j], errors[j])
		}
		p.each = append(p.each, y)
		p.sumLaws.AddSym(p.sumLaws, covarianceOf(errors))
	}
	for j := range k {
		mean := meanOf(means[j])
		p.mean, p.Y = append(p.mean, mean), append(p.Y, mean.Value)
		p.Known = p.Known && mean.Known
	}
	p.law = covarianceOf(p.mean)
}

// carried are the flags of results that what is said of coupons repeats.
var carried = []string{study.FlagSessionNotTrusted, study.FlagBaselineNotTrusted, study.FlagDoseShort}

// Carried reports whether a flag is one of results.
func Carried(flag string) bool { return slices.Contains(carried, flag) }

// carriedBy returns the flags of results that the values of coupons have. That of a dose says nothing of days.
func carriedBy(coupons []*series.Coupon, in Axis) (flags []string) {
	for _, flag := range carried {
		if flag == study.FlagDoseShort && in == InDays {
			continue
		}
		if slices.ContainsFunc(coupons, func(c *series.Coupon) bool {
			return slices.ContainsFunc(c.Points, func(p series.Point) bool { return slices.Contains(p.Flags, flag) })
		}) {
			flags = append(flags, flag)
		}
	}
	return flags
}

// addFlags flags what limits the path.
func (p *Path) addFlags(by By, in Axis, coupons []*series.Coupon) {
	lots := map[string]bool{}
	for _, c := range coupons {
		lots[c.Coating+"\x00"+c.Lot] = true
	}
	if by != ByCoupon && len(coupons) == 1 {
		p.alone = true
		p.Flags = append(p.Flags, FlagOneCoupon)
	}
	if (by == ByCoating || by == BySupplier) && len(lots) < leastLots {
		p.Flags = append(p.Flags, FlagTheseLots)
	}
	if len(p.Skipped) > 0 {
		p.Flags = append(p.Flags, FlagFewer)
	}
	if !p.Known {
		p.Flags = append(p.Flags, FlagNoErrors)
	}
	p.Flags = append(p.Flags, carriedBy(coupons, in)...)
}
