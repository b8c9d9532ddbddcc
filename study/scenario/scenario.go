// Package scenario makes up studies: the truth of each spot, and the rosters, the map and the
// exports that a lab would have of them. Who tries out a way of evaluation on them knows
// what it should find.
//
// The same scenario is made each time: its random numbers are seeded.
package scenario

import (
	"fmt"
	"math/rand/v2"

	"wane/study"
)

// Truth is the solar transmittance of each unit that a study was made up from, a fraction.
type Truth map[study.Unit]float64

// Scenario is a made-up study: three coatings of three makers on a roof that does not
// exist. The film of coating A thins, that of B loses patches, that of C keeps. One coupon of B breaks
// before the last pull, and one of C joins at pull 1.
// Each session at the instrument has its own error of the reference, and an error for each
// angle; a check standard is read in each.
type Scenario struct {
	rng     *rand.Rand
	coupons []coupon
	nm      []float64 // of the readings
}

const (
	seed  = 20260101
	noise = 0.0003 // standard deviation of one point, a fraction
)

var (
	angles   = []float64{8, 30, 45, 60} // degrees
	spots    = []string{"1", "2"}
	doses    = []float64{0, 90, 180, 365} // days, by pull
	dates    = []string{"2025-01-10", "2025-04-10", "2025-07-09", "2026-01-10"}
	coatings = []coating{
		{name: "A", thickness: 118, porosity: 0.34, thinning: 38, patches: 0.004},
		{name: "B", thickness: 119, porosity: 0.36, thinning: 1.5, patches: 0.11},
		{name: "C", thickness: 121, porosity: 0.33, thinning: 1.0, patches: 0.003},
	}
)

// What happens to coupons.
const (
	broken     = "B05" // breaks
	brokenOn   = "2025-11-02"
	late       = "C06" // joins late
	latePull   = 1
	brokenPull = 3
)

// isRead reports whether a coupon is there at a pull.
func (c *coupon) isRead(pull int) bool {
	return pull >= c.BaselinePull && !(c.Coupon.Coupon == broken && pull >= brokenPull)
}

// condition is how the coupons are when they are read.
const condition = "cleaned"

// coating is what the coupons of one maker carry, and what a year of exposure does to it.
type coating struct {
	name      string
	thickness float64 // nm
	porosity  float64
	thinning  float64 // nm lost in a year
	patches   float64 // share of the surface lost in a year
}

type coupon struct {
	study.Coupon
	coating coating
	rate    float64   // how fast this coupon ages, over the rate of its coating
	offsets []float64 // thickness of each spot less that of the coating, nm
}

// New returns the scenario.
func New() *Scenario {
	s := &Scenario{rng: rand.New(rand.NewPCG(seed, 1))}
	for nm := 380.0; nm <= 1100; nm += 2 {
		s.nm = append(s.nm, nm)
	}
	for _, c := range coatings {
		for i := range 6 {
			code, lot := fmt.Sprintf("%s%02d", c.name, i+1), fmt.Sprintf("%s-lot-%d", c.name, 1+i/3)
			s.add(c, code, study.Exposed, lot, 1+0.15*s.rng.NormFloat64())
		}
		for i := range 2 {
			code, lot := fmt.Sprintf("%sK%d", c.name, i+1), fmt.Sprintf("%s-lot-%d", c.name, 1+i)
			s.add(c, code, study.Control, lot, 0)
		}
	}
	for i := range 2 {
		s.add(coating{}, fmt.Sprintf("G%02d", i+1), study.Blank, "", 0)
	}
	s.add(coating{}, "G03", study.BlankExposed, "", 1)
	return s
}

// add adds a coupon, whose spots differ in thickness.
func (s *Scenario) add(film coating, code string, role study.Role, lot string, rate float64) {
	c := coupon{coating: film, rate: rate, Coupon: study.Coupon{
		Coupon: code, Role: role, Lot: lot, Glass: "soda-lime", Back: "matched", GlassMM: 3.2,
	}}
	if role.Coated() {
		c.Supplier, c.Coupon.Coating = "maker-"+film.name, "coating-"+film.name
	}
	if role == study.Exposed || role == study.BlankExposed {
		c.Exposure = exposure
	}
	if code == late {
		c.BaselinePull = latePull
	}
	own := 1.5 * s.rng.NormFloat64()
	for range spots {
		c.offsets = append(c.offsets, own+0.7*s.rng.NormFloat64())
	}
	s.coupons = append(s.coupons, c)
}

// surface returns what a spot is at a pull.
func (c *coupon) surface(spot, pull int) Surface {
	if !c.Role.Coated() {
		return Surface{Bare: 1}
	}
	years := c.rate * max(0, doses[pull]-doses[c.BaselinePull]) / 365
	return Surface{
		ThicknessNM: max(0, c.coating.thickness+c.offsets[spot]-c.coating.thinning*years),
		Porosity:    c.coating.porosity,
		Bare:        max(0, c.coating.patches*years),
	}
}
