// Package ageing compares the fits of a study over time and between coatings. [Changes]
// computes changes from fits, and [Grouper] groups from changes. The unit is the coupon: its
// spots are averaged, and never count as replicates.
package ageing

import (
	"cmp"
	"maps"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"

	"wane/study"
)

// By is a grouping of rows.
type By string

// The groupings.
const (
	ByCoating  By = "coating"
	ByLot      By = "lot"
	BySupplier By = "supplier"
	ByExposure By = "exposure"
)

// Groupings returns all groupings.
func Groupings() []By { return []By{ByCoating, ByLot, BySupplier, ByExposure} }

// groupOf returns the name of the group of a row.
func (by By) groupOf(r *study.Result) string {
	switch by {
	case ByLot:
		return r.Coating + " / " + r.Lot // two coatings may have lots of the same name
	case BySupplier:
		return r.Supplier
	case ByExposure:
		return r.Exposure
	}
	return r.Coating
}

// Group holds the means of a group of exposed coupons at one pull of one exposure, in one
// condition.
type Group struct {
	Group, Exposure string
	Condition       string // of the readings; empty if not stated
	Pull            int
	Dose            study.Num
	DoseUnit        string

	Coupons int // number of coupons with readings
	Changed int // number of those with a change, the corrected one if the study corrects

	// Change is the mean over coupons of the corrected change, or of the change as
	// measured if the study does not correct, in pp. Lo and Hi are its 95 % interval,
	// null for fewer than two coupons.
	Change, Lo, Hi study.Num
	Spread         study.Num // standard deviation between coupons, pp
	GainKept       study.Num // mean over coupons
	Solid          study.Num // mean material left over coupons, nm

	States  map[study.State]int // number of spots in each state
	Spots   int                 // number of spots
	Suspect int                 // number of spots read in sessions that are not trusted
	// SuspectBase is the number of spots whose pull 0 was read in a session that is not trusted.
	SuspectBase int
	Coupon      []CouponMean // the coupons, in order of their codes
	Changes     string       // "corrected" or "as measured"
}

// CouponMean is one coupon's mean change over its spots, in pp.
type CouponMean struct {
	Coupon string
	Change float64
}

// Grouper collects rows of results into groups. It keeps sums, not rows.
type Grouper struct {
	by    By
	cells map[cellKey]*cell
}

// cellKey names a group at one pull, in one condition.
type cellKey struct {
	group, exposure, condition string
	pull                       int
}

// cell is a group with the sums of its coupons.
type cell struct {
	Group
	coupons map[string]*couponSums
}

// couponSums holds the sums over the spots of a coupon. controlVar is the variance, in pp²,
// of the correction, which other coupons share; controlDof its degrees of freedom.
type couponSums struct {
	code, coating          string
	change, kept, solid    sum
	controlVar, controlDof float64
}

// sum is a sum of values that are not null.
type sum struct {
	total float64
	n     int
}

func (s *sum) add(x study.Num) {
	if x.Valid() {
		s.total += float64(x)
		s.n++
	}
}

// mean returns the mean; NaN without a value.
func (s *sum) mean() float64 { return s.total / float64(s.n) }

// NewGrouper returns a grouper without rows.
func NewGrouper(by By) *Grouper { return &Grouper{by: by, cells: map[cellKey]*cell{}} }

// Add adds a row. Rows of coupons that are not exposed are skipped.
func (g *Grouper) Add(r *study.Result) {
	if study.Role(r.Role) != study.Exposed {
		return
	}
	key := cellKey{g.by.groupOf(r), r.Exposure, r.Condition, int(r.Pull)}
	c := g.cells[key]
	if c == nil {
		c = &cell{Group: Group{Group: key.group, Exposure: r.Exposure, Condition: r.Condition, Pull: key.pull, Dose: r.Dose,
			DoseUnit: r.DoseUnit,
			States:   map[study.State]int{}, Changes: "as measured"}, coupons: map[string]*couponSums{}}
		g.cells[key] = c
	}
	c.States[r.State]++
	c.Spots++
	if slices.Contains(r.Flags, study.FlagSessionNotTrusted) {
		c.Suspect++
	}
	if slices.Contains(r.Flags, study.FlagBaselineNotTrusted) {
		c.SuspectBase++
	}
	k := c.coupons[r.Coupon]
	if k == nil {
		k = &couponSums{code: r.Coupon, coating: r.Coating}
		c.coupons[r.Coupon] = k
	}
	k.kept.add(r.GainKept.Value)
	k.solid.add(r.Solid.Value)
	if study.Route(r.Correction) == study.RouteNone {
		k.change.add(r.Change.Value)
		return
	}
	c.Changes = "corrected"
	k.change.add(r.CorrectedChange.Value)
	if r.CorrectedShared.Valid() { // the errors of the sessions, which all their coupons share
		k.controlVar, k.controlDof = float64(r.CorrectedShared*r.CorrectedShared), math.Inf(1)
		return
	}
	if r.CorrectedChange.U.Valid() {
		k.controlVar = max(0, float64(r.CorrectedChange.U*r.CorrectedChange.U-r.Change.U*r.Change.U))
		k.controlDof = max(1, float64(r.ControlsDoF))
	}
}

// Groups returns the groups, sorted by group, exposure, pull and condition.
func (g *Grouper) Groups() []Group {
	groups := make([]Group, 0, len(g.cells))
	for _, c := range g.cells {
		c.fillMeans()
		groups = append(groups, c.Group)
	}
	slices.SortFunc(groups, func(a, b Group) int {
		return cmp.Or(cmp.Compare(a.Group, b.Group), cmp.Compare(a.Exposure, b.Exposure), cmp.Compare(a.Pull, b.Pull),
			cmp.Compare(a.Condition, b.Condition))
	})
	return groups
}

// fillMeans fills the means and the interval.
func (c *cell) fillMeans() {
	coupons := make([]*couponSums, 0, len(c.coupons))
	for _, k := range c.coupons {
		coupons = append(coupons, k)
	}
	slices.SortFunc(coupons, func(a, b *couponSums) int { return cmp.Compare(a.code, b.code) })
	var kept, solid sum
	var changed []*couponSums
	for _, k := range coupons {
		kept.add(k.kept.orNull())
		solid.add(k.solid.orNull())
		if k.change.n > 0 {
			changed = append(changed, k)
			c.Coupon = append(c.Coupon, CouponMean{k.code, k.change.mean()})
		}
	}
	c.GainKept, c.Solid, c.Coupons, c.Changed = kept.orNull(), solid.orNull(), len(coupons), len(changed)
	c.Change, c.Spread, c.Lo, c.Hi = study.Null(), study.Null(), study.Null(), study.Null()
	if len(changed) > 0 {
		c.fillInterval(changed)
	}
}

// fillInterval fills the mean change, the spread and the 95 % interval.
//
// With s the standard deviation between n coupons, and v_c the variance of the correction
// that the n_c coupons of coating c share (the mean of the controls, or the sessions),
//
//	variance of the mean = s²/n + Σ_c (n_c/n)²·v_c
//
// Its degrees of freedom are those of Welch and Satterthwaite (JCGM 100:2008, G.4, clause
// from memory). Without controls it is the t interval of the coupons.
func (c *cell) fillInterval(coupons []*couponSums) {
	changes, control, coating := make([]float64, len(coupons)), map[string]*couponSums{}, map[string]int{}
	for i, k := range coupons {
		changes[i] = k.change.mean()
		control[k.coating] = k
		coating[k.coating]++
	}
	n, m := float64(len(changes)), stat.Mean(changes, nil)
	c.Change = study.Num(m)
	if n < 2 {
		return
	}
	s := stat.StdDev(changes, nil)
	c.Spread = study.Num(s)
	own := s * s / n
	variance, weight := own, own*own/(n-1)
	for _, name := range slices.Sorted(maps.Keys(coating)) {
		share := float64(coating[name]) / n
		v := share * share * control[name].controlVar
		variance += v
		if v > 0 {
			weight += v * v / control[name].controlDof
		}
	}
	half := 0.0
	if variance > 0 {
		half = distuv.StudentsT{Sigma: 1, Nu: variance * variance / weight}.Quantile(0.975) * math.Sqrt(variance)
	}
	c.Lo, c.Hi = study.Num(m-half), study.Num(m+half)
}

// orNull returns the mean, null without a value.
func (s *sum) orNull() study.Num {
	if s.n == 0 {
		return study.Null()
	}
	return study.Num(s.mean())
}
