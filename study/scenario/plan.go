package scenario

import (
	"math"
	"slices"

	"wane/study"
	"wane/study/power"
)

// Plan is a study that has not begun, as a person plans it: see [ReadPlan] for the file. Lengths are in nm, changes of solar
// transmittance in pp.
type Plan struct {
	Name     string
	Text     string // as it was read
	Studies  int    // that are made up as planned, and of each product of which a wrong verdict is counted
	Tries    int    // studies of each improvement that is tried; 0: none is
	Seed     uint64
	Route    study.Route
	DoseUnit string
	Doses    []float64 // by pull, that of pull 0 is 0
	Coatings []Coating
	Blanks   int // of each coating's glass, kept in the dark
	Glass    string
	Back     string // matched or blackened
	Reading  Reading
	Apart    bool // each coating is read in sessions of its own
	Law      Law
	Faults   Faults
	Compare  *Compare // nil: nothing is compared
	Rule     *Rule    // nil: nothing is judged
}

// Coating is a coating with its coupons.
type Coating struct {
	Coating, Supplier       string
	Lots, Coupons, Controls int // Coupons are exposed, in all; lot by lot in turn
	Spots                   int // of each coupon
	Thickness, Porosity     float64
	Bare                    float64
	SpreadLot, SpreadCoupon float64 // standard deviations of the thickness
	SpreadSpot              float64
	Loss                    Loss
}

// Loss is what exposed coupons lose of their solar transmittance by the last pull. It grows in proportion to the dose.
type Loss struct {
	power.Losses         // between the coupons of one lot
	Lot          float64 // standard deviation between lots
	Patches      bool    // the film loses patches; else it gets thinner
}

// Reading is how a spot is read at a pull.
type Reading struct {
	AnglesDeg             []float64
	LowNM, HighNM, StepNM float64
	Noise                 float64 // standard deviation of one point, a fraction
	Mountings             int     // times that each spot is set down
	LightTrap             bool    // is read in each session
}

// Compare asks whether coatings differ.
type Compare struct {
	ByRate bool    // in rate, over all pulls; else at the last pull
	Level  float64 // of the intervals, over all pairs together
	Margin float64 // within which they count as equal; 0: nobody asks
}

// Rule asks whether the product of a coating passes.
type Rule struct {
	Coating    string
	Limit      float64
	Failures   int
	Share      float64 // that has to conform
	Confidence float64
	Excused    bool // lost coupons do not count; else they have failed
}

// Faults are what may go wrong, beyond the law.
type Faults struct {
	Lost    float64 // chance that an exposed coupon is lost between two pulls
	Join    Fault   // a step of the detectors that is not registered, a fraction
	Leached Fault   // a dark blank that leached after pull 0, nm
	Soiling Fault   // residue on exposed coupons at a pull, nm: of a cleaning that failed
}

// Fault is a fault that comes with a chance.
type Fault struct{ Chance, Size float64 }

// Readings returns the number of coupon readings: how often a spot is set down to be read, if no coupon is lost.
func (p *Plan) Readings() (n int) {
	for i := range p.Coatings {
		c := &p.Coatings[i]
		n += (c.Coupons+c.Controls)*c.Spots + p.Blanks
	}
	return n * len(p.Doses) * p.Reading.Mountings
}

// Even reports whether the doses rise by even steps.
func (p *Plan) Even() bool {
	step := p.Doses[1]
	for i := range p.Doses {
		if math.Abs(p.Doses[i]-float64(i)*step) > 1e-9*step {
			return false
		}
	}
	return true
}

// Improvement is one means more that a plan may have.
type Improvement string

// The improvements that are tried.
const (
	OneCoupon  Improvement = "one more coupon a coating"
	OneControl Improvement = "one more control a coating"
	Trap       Improvement = "a light trap in each session"
	Mounting   Improvement = "a second mounting of each spot"
	OnePull    Improvement = "one more pull, before the last one"
)

// Improvements returns those that a plan does not have yet.
func (p *Plan) Improvements() (all []Improvement) {
	all = []Improvement{OneCoupon, OneControl}
	if !p.Reading.LightTrap {
		all = append(all, Trap)
	}
	if p.Reading.Mountings == 1 {
		all = append(all, Mounting)
	}
	return append(all, OnePull)
}

// With returns the plan with an improvement, and what it costs in coupon readings. What both plans have is drawn alike.
func (p *Plan) With(i Improvement) (*Plan, int) {
	q := *p
	q.Coatings = slices.Clone(p.Coatings)
	switch i {
	case OneCoupon:
		for k := range q.Coatings {
			q.Coatings[k].Coupons++
		}
	case OneControl:
		for k := range q.Coatings {
			q.Coatings[k].Controls++
		}
	case Trap:
		q.Reading.LightTrap = true
		return &q, len(p.Doses) * p.sessionsAPull()
	case Mounting:
		q.Reading.Mountings++
	case OnePull:
		n := len(p.Doses)
		q.Doses = slices.Insert(slices.Clone(p.Doses), n-1, (p.Doses[n-1]+p.Doses[n-2])/2)
	}
	return &q, q.Readings() - p.Readings()
}

func (p *Plan) sessionsAPull() int {
	if p.Apart {
		return len(p.Coatings)
	}
	return 1
}

// Alike returns the plan with coatings that lose as much as the first one on the mean, each with its own spread: what is called
// different then is called so falsely.
func (p *Plan) Alike() *Plan {
	q := *p
	q.Coatings = slices.Clone(p.Coatings)
	for k := range q.Coatings {
		q.Coatings[k].Loss = q.Coatings[k].Loss.withMean(q.Coatings[0].Loss.Mean)
	}
	return &q
}

// Unfit returns the plan with a product of the coating of the rule of which exactly the share that the rule asks for conforms: it
// must not be accepted, and is the one that is accepted most often. It is nil where no mean loss makes such a product.
func (p *Plan) Unfit() *Plan {
	q := *p
	q.Coatings = slices.Clone(p.Coatings)
	for k := range q.Coatings {
		c := &q.Coatings[k]
		if c.Coating != p.Rule.Coating {
			continue
		}
		low, high := 0.0, p.Rule.Limit
		for c.Loss.withMean(high).Whole().Below(p.Rule.Limit) > p.Rule.Share {
			if high *= 2; high > 1e6*p.Rule.Limit {
				return nil
			}
		}
		for range 60 {
			if middle := (low + high) / 2; c.Loss.withMean(middle).Whole().Below(p.Rule.Limit) > p.Rule.Share {
				low = middle
			} else {
				high = middle
			}
		}
		c.Loss = c.Loss.withMean(high)
	}
	return &q
}

// withMean returns losses of another mean: a normal law keeps its standard deviations, the others their shape.
func (l Loss) withMean(mean float64) Loss {
	if l.Law != power.Normal && l.Mean > 0 {
		l.SD, l.Lot = l.SD*mean/l.Mean, l.Lot*mean/l.Mean
	}
	l.Mean = mean
	return l
}

// Whole returns the losses of all lots together. Exponential losses have no spread between lots.
func (l Loss) Whole() power.Losses {
	w := l.Losses
	switch {
	case l.Law == power.Normal:
		w.SD = math.Hypot(l.SD, l.Lot)
	case l.Law == power.Lognormal && l.Mean > 0: // the product of two lognormal factors is one
		coupon, lot := l.SD/l.Mean, l.Lot/l.Mean
		w.SD = l.Mean * math.Sqrt((1+coupon*coupon)*(1+lot*lot)-1)
	}
	return w
}
