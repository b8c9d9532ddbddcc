package foreign

import (
	"fmt"
	"strconv"

	"gonum.org/v1/gonum/stat"
)

// Trial is a study from which something is decided: coatings of several suppliers side by side,
// of which each coupon loses in proportion to the dose. Counts are of each coating unless it
// says otherwise. Controls do not change.
type Trial struct {
	Setup Setup
	Glass string // each supplier has a glass batch of its own
	Film
	Coatings []Coating

	Spots int // of each exposed coupon
	// SpotCV is the coefficient of variation of the losses of the spots of a coupon; their mean is
	// exactly the loss of the coupon.
	SpotCV                 float64
	Controls, ControlSpots int // of the first lots, in turn
	Blanks                 int // kept in the dark; one spot each

	Dose      []float64 // of each pull, the first 0; one session a pull
	Drift     Drift
	LightTrap bool
}

// Coating is what one supplier sends.
type Coating struct {
	By            Dial
	Product       Product // without meaning where the coating is unchanged
	Lots, Coupons int     // exposed coupons of each lot

	// Dropout is the chance that a coupon is lost between one pull and the next, whatever it has lost.
	Dropout float64
}

// Drift is how sessions depart further from pull to pull. Each effect is drawn once a study; it is
// added to the session of each pull, times the number of the pull. It comes on top of what the law
// draws for the session.
type Drift struct{ Scale, Zero, WavelengthNM, AngleDeg Effect }

// on adds the drift to a session.
func (f Drift) on(s *Session, d dice, pull float64) {
	s.Scale += pull * d.draw(f.Scale, "drift/scale")
	s.Zero += pull * d.draw(f.Zero, "drift/zero")
	s.WavelengthNM += pull * d.draw(f.WavelengthNM, "drift/wavelength")
	angle := pull * d.draw(f.AngleDeg, "drift/angle")
	for i := range s.AngleDeg {
		s.AngleDeg[i] += angle
	}
}

// StandardTrial returns three coatings of six coupons of one lot, two spots each, two controls of
// two spots and a dark blank a coating, and four pulls at doses of 0 to 1500; all lose 0.6 pp per
// 1000 on average, by a thinner film, with a standard deviation between coupons of 0.1 pp.
func StandardTrial() Trial {
	c := Coating{By: Thinning, Product: Product{MeanPP: 0.6e-3, SDPP: 0.1e-3}, Lots: 1, Coupons: 6}
	return Trial{
		Setup: Standard(), Glass: SodaLime, Film: StandardFilm(), Coatings: []Coating{c, c, c},
		Spots: 2, SpotCV: 0.05, Controls: 2, ControlSpots: 2, Blanks: 1, Dose: []float64{0, 500, 1000, 1500},
	}
}

// Verdict is the truth about one coating of a trial.
type Verdict struct {
	Supplier, Coating string
	Product           Population // all coupons of all lots that might be
	Lots              Population // all coupons of these lots
	CouponsPP         float64    // mean loss of these coupons, lost ones too, per unit of dose
}

// Outcome is what a trial turned out to be. Changes and CouponChanges hold lost coupons too, as if
// they were there; Readings end before they are lost. Groups is empty, and Plan only says
// how readings are taken.
type Outcome struct {
	Study
	Dose     []float64
	Verdicts []Verdict
	LostAt   map[string]int     // lost coupons: the first pull at which each is missing
	RatePP   map[string]float64 // exposed coupons: loss per unit of dose
}

// Run returns run number run of the trial under a law, as Plan.Run does. It panics where a
// coating asks for a loss that no surface has, and under a law that soils.
func (t Trial) Run(law Law, seed, run uint64) Outcome {
	if law.LeachNM > 0 || law.ResidueNM > 0 {
		panic("foreign: a trial of soiled coupons has no truth about its coatings")
	}
	r := newRun(Plan{Setup: t.Setup, Glass: t.Glass, Film: t.Film, Suppliers: len(t.Coatings), Spots: t.Spots,
		Controls: t.Controls, ControlSpots: t.ControlSpots, Blanks: t.Blanks, Pulls: len(t.Dose) - 1,
		LightTrap: t.LightTrap}, law, seed, run)
	r.drift = t.Drift
	out := Outcome{Dose: t.Dose, LostAt: r.lostAt, RatePP: map[string]float64{}}
	for i, c := range t.Coatings {
		out.Verdicts = append(out.Verdicts, r.coating(t, supplierCode(i), c, out.RatePP))
	}
	for pull := range t.Dose {
		r.measure(pull)
	}
	r.changes()
	out.Study = r.study
	return out
}

// coating draws the coupons of one coating and their lives; it notes the rates of the exposed ones.
func (r *studyRun) coating(t Trial, supplier string, c Coating, rates map[string]float64) Verdict {
	if c.By == Unchanged {
		c.Product = Product{}
	}
	lots := make([]float64, c.Lots)
	v := Verdict{Supplier: supplier, Coating: coatingCode(supplier)}
	r.supplier(supplier, c.Lots, c.Coupons, func(coupon Coupon, lot, spots int) {
		dial, rate := Unchanged, 0.0
		if coupon.Role == "exposed" {
			lots[lot] = r.dice.draw(Effect{Width: c.Product.LotSDPP}, coupon.Lot+"/rate")
			dial, rate = c.By, c.Product.rate(lots[lot], r.dice.stream(coupon.Code+"/rate").Float64())
			rates[coupon.Code] = rate
			v.CouponsPP += rate / float64(c.Lots*c.Coupons)
			r.drop(coupon.Code, c.Dropout)
		}
		for i, share := range r.spotShares(coupon.Code, spots, t.SpotCV) {
			changes := make([]float64, len(t.Dose))
			for pull, dose := range t.Dose {
				changes[pull] = -rate * share * dose
			}
			name := strconv.Itoa(i + 1)
			r.through(spotLife{coupon: len(r.study.Coupons) - 1, name: name}, r.film(coupon, name), dial, changes)
		}
	})
	v.Product, v.Lots = c.Product.Population(), c.Product.OfLots(lots)
	return v
}

// spotShares returns what the spots of a coupon lose, over its loss: lognormal factors, over their mean.
func (r *studyRun) spotShares(coupon string, spots int, cv float64) []float64 {
	shares := make([]float64, spots)
	for i := range shares {
		shares[i] = r.lognormal(cv, fmt.Sprintf("%s/%d/rate", coupon, i+1))
	}
	mean := stat.Mean(shares, nil)
	for i := range shares {
		shares[i] /= mean
	}
	return shares
}

// drop notes at which pull a coupon is missing first, if at any.
func (r *studyRun) drop(coupon string, chance float64) {
	for pull := 1; pull <= r.plan.Pulls; pull++ {
		if r.dice.stream(fmt.Sprintf("%s/%d/lost", coupon, pull)).Float64() < chance {
			r.lostAt[coupon] = pull
			return
		}
	}
}
