package scenario

import (
	"errors"
	"fmt"
	"math"

	"wane/optics"
	"wane/study"
)

// Made is a made-up study of a plan: what a lab would have of it, and the truth.
type Made struct {
	Roster   *study.Roster
	Readings []study.Reading   // those of one unit one after the other, in the order of coupon, pull and spot
	Losses   map[Seen]float64  // true losses of solar transmittance since pull 0, pp, of coupons that were read
	Lost     int               // coupons that were lost
	Capped   int               // losses that no such film has, and that are as near as one has
	Soiled   int               // readings of soiled coupons
	Faulty   map[string]string // coupons and instruments with a fault, in words
}

// Seen is a coupon at a pull.
type Seen struct {
	Coupon string
	Pull   int
}

// Condition is how coupons of plans are when they are read.
const Condition = "cleaned"

// Make makes study number n up by a plan, always the same.
func (p *Plan) Make(n int) (*Made, error) {
	m := &maker{plan: p, dice: dice{p.Seed, uint64(n)}, Made: Made{Losses: map[Seen]float64{}, Faulty: map[string]string{}}}
	s, err := sunlight()
	if err != nil {
		return nil, err
	}
	m.sun = s
	m.grid()
	m.register()
	for i := range m.coupons {
		if err := m.live(&m.coupons[i]); err != nil {
			return nil, err
		}
	}
	return &m.Made, nil
}

// maker makes one study.
type maker struct {
	Made
	plan     *Plan
	dice     dice
	sun      *sun
	tracer   tracer
	band     *optics.Nodes
	nodes    []float64 // of the band, off by the wavelength error of a session
	values   []float64 // at them
	coupons  []piece
	sessions [][]session // by pull, then by number of the coating, where they are apart
}

// piece is a coupon with what it is made of.
type piece struct {
	study.Coupon
	of      int // number of the coating; of a blank that of the coating whose glass it has
	spots   int
	loss    float64 // by the last pull, pp
	lostAt  int     // the first pull at which it is not there any more
	leached bool
}

// session is a sitting with its errors.
type session struct {
	name                   string
	scale, share, nm, zero float64
	factor, offDeg         []float64 // by angle
	join, joinNM           float64
	trap                   []float64 // what the light trap reads at each angle, with its errors
}

// grid makes the wavelengths of readings.
func (m *maker) grid() {
	r := &m.plan.Reading
	steps := int((r.HighNM-r.LowNM)/r.StepNM + 1e-9)
	nm := make([]float64, 1+steps)
	for i := range nm {
		nm[i] = r.LowNM + float64(i)*r.StepNM
	}
	m.band = optics.NewNodes(nm, bandNodes)
	m.nodes, m.values = make([]float64, bandNodes), make([]float64, bandNodes)
}

// session draws the sessions of a pull. Their keys have its dose, so that one pull more leaves the others alone.
func (m *maker) session(pull int) (all []session) {
	l, r := &m.plan.Law, &m.plan.Reading
	for i := range m.plan.sessionsAPull() {
		s := session{name: m.plan.sessionName(pull, i)}
		key := fmt.Sprintf("session %g/%d/", m.plan.Doses[pull], i)
		s.scale, s.share = 1+m.dice.normal(l.Scale, key+"scale"), 0.5+m.dice.normal(l.SShare, key+"share")
		s.nm, s.zero = m.dice.normal(l.WavelengthNM, key+"nm"), m.dice.normal(l.Zero, key+"zero")
		for _, angle := range r.AnglesDeg {
			at := fmt.Sprintf("%s%g/", key, angle)
			s.factor = append(s.factor, 1+m.dice.normal(l.Factor, at+"factor"))
			s.offDeg = append(s.offDeg, m.dice.normal(l.AngleDeg, at+"angle"))
			mean := m.dice.normal(r.Noise/math.Sqrt(float64(len(m.band.Grid))), at+"trap")
			s.trap = append(s.trap, s.zero+mean+m.dice.normal(study.UTrap, key+"trap"))
		}
		if f := m.plan.Faults.Join; m.dice.happens(f.Chance, "join") {
			s.join, s.joinNM = f.Size*m.dice.sign("join/sign"), 850+50*m.dice.stream("join/nm").NormFloat64()
			m.Faulty[instrument] = "a step where detectors join"
		}
		all = append(all, s)
	}
	return all
}

// sign draws 1 or -1.
func (d dice) sign(key string) float64 {
	if d.happens(0.5, key) {
		return -1
	}
	return 1
}

// live takes a coupon through all pulls and reads it.
func (m *maker) live(c *piece) error {
	for spot := range c.spots {
		surface := m.surface(c, spot)
		grain, changes := surface, c.loss != 0
		base := 0.0
		for pull, dose := range m.plan.Doses {
			if pull >= c.lostAt {
				break
			}
			key := fmt.Sprintf("%s/%d at %g/", c.Coupon.Coupon, spot+1, dose)
			now := surface
			if changes {
				now.drift(&grain, m, key)
			}
			t, err := base, error(nil)
			if changes || pull == 0 {
				t, err = m.lose(&now, base, c.loss*dose/m.plan.Doses[len(m.plan.Doses)-1], pull, m.plan.Coatings[c.of].Loss.Patches)
			}
			if err != nil {
				return err
			}
			if pull == 0 {
				base = t
			}
			m.Losses[Seen{c.Coupon.Coupon, pull}] += 100 * (base - t) / float64(c.spots)
			m.soil(c, &now, pull, key)
			if err := m.read(c, spot, pull, &now, key); err != nil {
				return err
			}
		}
	}
	return nil
}

// surface draws a spot at pull 0.
func (m *maker) surface(c *piece, spot int) film {
	l, coating := &m.plan.Law, &m.plan.Coatings[c.of]
	shift := m.dice.normal(l.GlassIndex, c.Batch+"/index") + m.dice.normal(l.CouponIndex, c.Coupon.Coupon+"/index")
	f := film{glass: glassOf(c.Glass).Shifted(shift), skeleton: skeletonIndex}
	if !c.Role.Coated() {
		return f
	}
	key := fmt.Sprintf("%s/%d", c.Coupon.Coupon, spot+1)
	f.skeleton += m.dice.normal(l.Skeleton, coating.Coating+"/skeleton")
	f.thickness = max(0, coating.Thickness+m.dice.normal(coating.SpreadLot, c.Lot+"/thickness")+
		m.dice.normal(coating.SpreadCoupon, c.Coupon.Coupon+"/thickness")+m.dice.normal(coating.SpreadSpot, key+"/thickness"))
	f.porosity, f.bare = coating.Porosity, coating.Bare
	f.gradient = m.dice.normal(l.Gradient, key+"/gradient")
	f.skin = math.Abs(m.dice.normal(l.SkinNM, key+"/skin"))
	f.variance = math.Pow(m.dice.normal(l.Spread, key+"/spread"), 2)
	return f
}

// skeletonIndex is that of fused silica at 550 nm in the measurement model.
const skeletonIndex = 1.458

// drift gives a reading of a surface that changes a structure of its own.
func (f *film) drift(grain *film, m *maker, key string) {
	l := &m.plan.Law
	f.gradient = grain.gradient + m.dice.normal(l.GradientOff, key+"gradient")
	f.skin = max(0, grain.skin+m.dice.normal(l.SkinOffNM, key+"skin"))
	f.variance = max(0, grain.variance+m.dice.normal(l.VarianceOff, key+"variance"))
}

// lose changes a film so that its solar transmittance is loss, in pp, below base, and returns it. At pull 0 nothing is lost.
func (m *maker) lose(f *film, base, loss float64, pull int, patches bool) (float64, error) {
	if err := m.tracer.prepare(f, m.sun.nodes); err != nil {
		return 0, err
	}
	if pull == 0 || loss == 0 || f.thickness == 0 {
		return m.tracer.solarT(f, m.sun), nil
	}
	target, reached := base-loss/100, false
	if patches {
		reached = m.patch(f, target)
	} else {
		reached = m.thin(f, target)
	}
	if !reached {
		m.Capped++
	}
	return m.tracer.solarT(f, m.sun), nil
}

// patch finds the bare fraction that has a solar transmittance, which is linear in it.
func (m *maker) patch(f *film, target float64) bool {
	covered, bare := *f, *f
	covered.bare, bare.bare = 0, 1
	whole, none := m.tracer.solarT(&covered, m.sun), m.tracer.solarT(&bare, m.sun)
	grown := (whole - target) / (whole - none)
	f.bare = min(1, max(0, grown))
	return f.bare == grown
}

// thin finds the thickness below that of the film that has a solar transmittance, to 1e-8, by false position with the
// Illinois rule.
func (m *maker) thin(f *film, target float64) bool {
	of := func(thickness float64) float64 {
		trial := *f
		trial.thickness = thickness
		return m.tracer.solarT(&trial, m.sun) - target
	}
	// The transmittance of a film thicker than a quarter wave may rise first when it thins.
	low, high := 0.0, f.thickness
	atLow, atHigh := of(low), of(high)
	for atHigh < 0 && high > 0.5*f.thickness {
		high -= 0.05 * f.thickness
		atHigh = of(high)
	}
	if atLow >= 0 || atHigh < 0 {
		if atLow >= 0 {
			f.thickness = low
		}
		return false
	}
	for side := 0; ; {
		middle := (low*atHigh - high*atLow) / (atHigh - atLow)
		value := of(middle)
		f.thickness = middle
		switch {
		case math.Abs(value) < 1e-8 || high-low < 1e-9:
			return true
		case value < 0:
			if low, atLow = middle, value; side < 0 {
				atHigh /= 2
			}
			side = -1
		default:
			if high, atHigh = middle, value; side > 0 {
				atLow /= 2
			}
			side = 1
		}
	}
}

// soil draws the faults of a surface at a pull.
func (m *maker) soil(c *piece, f *film, pull int, key string) {
	if pull == 0 {
		return
	}
	faults := &m.plan.Faults
	if c.leached {
		f.leached = faults.Leached.Size
	}
	if c.Role == study.Exposed && m.dice.happens(faults.Soiling.Chance, key+"soiling") {
		f.residue = faults.Soiling.Size
		m.Soiled++
	}
}

// errGlass is the fault of a caller: the reader of plans checks the name.
var errGlass = errors.New("scenario: no such glass")

// glassOf returns the index of a glass by its name.
func glassOf(name string) optics.Index {
	switch name {
	case "soda-lime":
		return optics.SodaLime()
	case "low-iron":
		return optics.LowIron()
	case "fused-silica":
		return optics.FusedSilica()
	case "borosilicate-crown":
		return optics.BorosilicateCrown()
	}
	panic(errGlass)
}
