// Package ageing compares the fits of a study over time and between coatings. [Changes]
// computes changes from fits, and [Grouper] groups from changes. The unit is the coupon: its
// spots are averaged, and never count as replicates.
package ageing

import (
	"cmp"
	"slices"

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
	Dose            study.Num // mean over coupons
	LoDose, HiDose  study.Num // the least and the most of a coupon
	DoseUnit        string

	Coupons int     // number of coupons with readings
	Ended   []Ended // those without, whose history had ended, in order of their codes
	Changed int     // number of those with a change, the corrected one if the study corrects

	// Change is the mean over coupons of the corrected change, or of the change as
	// measured if the study does not correct, in pp. Lo and Hi are its 95 % interval,
	// null for fewer than two coupons, and if the errors of one are not known.
	Change, Lo, Hi study.Num
	U, DoF         study.Num // standard uncertainty of Change, pp, and its degrees of freedom; null with Lo and Hi
	Spread         study.Num // standard deviation between coupons, pp
	GainKept       study.Num // mean over coupons
	Solid          study.Num // mean material left over coupons, nm

	States  map[study.State]int // number of spots in each state
	Spots   int                 // number of spots
	Clear   int                 // number of spots whose film is taken as lossless
	Flags   map[string]int      // number of spots with each flag
	Coupon  []CouponMean        // the coupons, in order of their codes
	Changes string              // "corrected" or "as measured"
}

// Ended is a coupon whose history has ended, and with what: broken at pull 3.
type Ended struct{ Coupon, With string }

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
	last    *couponSums        // of the coupon whose rows are being added
	terms   []study.Weighted   // the sum of the changes of its spots so far
	errors  map[string]*sample // the errors of the coupons before it, by coating
}

// couponSums holds the sums over the spots of a coupon.
type couponSums struct {
	code, coating       string
	dose                study.Num
	change, kept, solid sum
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

// Add adds a row. Rows of coupons that are not exposed are skipped, and so is the baseline of a coupon that joined late:
// the others of its group have a history by then. The rows of a coupon must come one after the other; it panics if they
// do not.
func (g *Grouper) Add(r *study.Result) {
	if study.Role(r.Role) != study.Exposed || r.Pull > 0 && r.IsBaseline() {
		return
	}
	key := cellKey{g.by.groupOf(r), r.Exposure, r.Condition, int(r.Pull)}
	c := g.cells[key]
	if c == nil {
		c = &cell{Group: Group{Group: key.group, Exposure: r.Exposure, Condition: r.Condition, Pull: key.pull,
			DoseUnit: r.DoseUnit,
			States:   map[study.State]int{}, Flags: map[string]int{}, Changes: "as measured"}, coupons: map[string]*couponSums{},
			errors: map[string]*sample{}}
		g.cells[key] = c
	}
	c.States[r.State]++
	c.Spots++
	for _, flag := range r.Flags {
		c.Flags[flag]++
	}
	if r.IsLossless() {
		c.Clear++
	}
	k := c.couponOf(r)
	k.kept.add(r.GainKept.Value)
	k.solid.add(r.Solid.Value)
	if study.Route(r.Correction) != study.RouteNone {
		c.Changes = "corrected"
	}
	change, terms := answer(r)
	k.change.add(change.Value)
	c.terms = append(c.terms, terms...)
}

// AddEnded adds a coupon whose history has ended, at a pull: r has its keys and no values. It counts in the groups where
// it would be and has no row. All rows must have been added.
func (g *Grouper) AddEnded(r *study.Result, with string) {
	for key, c := range g.cells {
		if key.group == g.by.groupOf(r) && key.exposure == r.Exposure && key.pull == int(r.Pull) && c.coupons[r.Coupon] == nil {
			c.Ended = append(c.Ended, Ended{r.Coupon, with})
		}
	}
}

// couponOf returns the sums of the coupon of a row.
func (c *cell) couponOf(r *study.Result) *couponSums {
	if c.last != nil && c.last.code == r.Coupon {
		return c.last
	}
	if c.coupons[r.Coupon] != nil {
		panic("ageing: the rows of a coupon are not together")
	}
	c.finishCoupon()
	c.last = &couponSums{code: r.Coupon, coating: r.Coating, dose: r.Dose}
	c.coupons[r.Coupon] = c.last
	return c.last
}

// finishCoupon adds the errors of the mean change of the last coupon to those of its coating, so that no fits are
// kept.
func (c *cell) finishCoupon() {
	if c.last == nil || c.last.change.n == 0 {
		return
	}
	s := c.errors[c.last.coating]
	if s == nil {
		s = &sample{}
		c.errors[c.last.coating] = s
	}
	s.add(scaled(1/float64(c.last.change.n), c.terms))
	c.terms = nil
}

// answer returns the change that a row states by its route, the corrected one where the study corrects, and the terms
// that it is the sum of.
func answer(r *study.Result) (study.Measure, []study.Weighted) {
	if study.Route(r.Correction) == study.RouteNone {
		return r.Change, r.ChangeTerms
	}
	return r.CorrectedChange, r.CorrectedTerms
}

// Groups returns the groups, sorted by group, exposure, pull and condition.
func (g *Grouper) Groups() []Group {
	groups := make([]Group, 0, len(g.cells))
	for _, c := range g.cells {
		c.finishCoupon()
		c.last = nil
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
	slices.SortFunc(c.Ended, func(a, b Ended) int { return cmp.Compare(a.Coupon, b.Coupon) })
	c.fillDose(coupons)
	c.GainKept, c.Solid, c.Coupons, c.Changed = kept.orNull(), solid.orNull(), len(coupons), len(changed)
	c.Change, c.Spread, c.Lo, c.Hi, c.U, c.DoF = study.Null(), study.Null(), study.Null(), study.Null(), study.Null(),
		study.Null()
	if len(changed) > 0 {
		c.fillInterval(changed)
	}
}

// fillDose fills the mean dose and its range.
func (c *cell) fillDose(coupons []*couponSums) {
	var doses sum
	c.LoDose, c.HiDose = study.Null(), study.Null()
	for _, k := range coupons {
		if !k.dose.Valid() {
			continue
		}
		if doses.add(k.dose); doses.n == 1 {
			c.LoDose, c.HiDose = k.dose, k.dose
		}
		c.LoDose, c.HiDose = min(c.LoDose, k.dose), max(c.HiDose, k.dose)
	}
	if c.Dose = doses.orNull(); c.LoDose == c.HiDose {
		c.Dose = c.LoDose
	}
}

// orNull returns the mean, null without a value.
func (s *sum) orNull() study.Num {
	if s.n == 0 {
		return study.Null()
	}
	return study.Num(s.mean())
}
