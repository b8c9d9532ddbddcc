package foreign

import (
	"fmt"
	"math"
	"strconv"
)

// studyRun makes one study.
type studyRun struct {
	plan   Plan
	law    Law
	dice   dice
	tracer tracer
	rough  tracer // of few slices, for searches
	drift  Drift
	lostAt map[string]int // first pull at which a coupon is missing
	study  Study
	spots  []spotLife
}

// spotLife is one spot through all pulls.
type spotLife struct {
	coupon   int // in Coupons
	name     string
	surfaces []Surface
	truths   []Truth
	soilPP   []float64 // what soil does to SolarT
	lot      float64   // factor of the loss of its lot
}

// Run returns run number run of the plan under a law. Equal arguments give equal results; runs
// may be made side by side. It panics where the plan asks for a loss that no surface has.
func (p Plan) Run(law Law, seed, run uint64) Study {
	r := newRun(p, law, seed, run)
	for supplier := range p.Suppliers {
		r.supplier(supplierCode(supplier), p.Lots, p.Coupons, func(c Coupon, _, spots int) {
			for i := range spots {
				r.live(c, strconv.Itoa(i+1))
			}
		})
	}
	for pull := range p.Pulls + 1 {
		r.measure(pull)
	}
	r.changes()
	for supplier := range p.Suppliers {
		for pull := 1; pull <= p.Pulls; pull++ {
			r.group(supplierCode(supplier), pull)
		}
	}
	return r.study
}

// newRun returns a run with nothing in it.
func newRun(p Plan, law Law, seed, run uint64) *studyRun {
	return &studyRun{plan: p, law: law, dice: dice{seed, run}, study: Study{Plan: p}, rough: tracer{slices: 6},
		lostAt: map[string]int{}}
}

func supplierCode(i int) string { return string(rune('A' + i)) }

func coatingCode(supplier string) string { return supplier + "-film" }

// supplier draws the coupons of one supplier; live takes each coated one, of a lot and with so many
// spots, through its life.
func (r *studyRun) supplier(supplier string, lots, coupons int, live func(c Coupon, lot, spots int)) {
	p := r.plan
	add := func(lot int, role, code string, spots int) {
		c := Coupon{Code: code, Role: role, Supplier: supplier, Coating: coatingCode(supplier),
			Lot: fmt.Sprintf("%s-lot-%d", supplier, lot+1), Glass: p.Glass, Back: p.Setup.Back,
			GlassBatch: supplier + "-glass"}
		c.Pane = r.law.pane(r.dice, code, c.GlassBatch, c.Coating, c.Glass)
		r.study.Coupons = append(r.study.Coupons, c)
		live(c, lot, spots)
	}
	for lot := range lots {
		for i := range coupons {
			add(lot, "exposed", fmt.Sprintf("%s%d-%02d", supplier, lot+1, i+1), p.Spots)
		}
	}
	for i := range p.Controls {
		add(i%lots, "control", fmt.Sprintf("%sC-%02d", supplier, i+1), p.ControlSpots)
	}
	for i := range p.Blanks {
		r.blank(supplier, fmt.Sprintf("%sB-%02d", supplier, i+1))
	}
}

// blank draws one dark blank.
func (r *studyRun) blank(supplier, code string) {
	c := Coupon{Code: code, Role: "blank", Glass: r.plan.Glass, Back: r.plan.Setup.Back, GlassBatch: supplier + "-glass"}
	c.Pane = r.law.pane(r.dice, code, c.GlassBatch, code, c.Glass)
	r.study.Coupons = append(r.study.Coupons, c)
	life := spotLife{coupon: len(r.study.Coupons) - 1, name: "1"}
	for pull := range r.plan.Pulls + 1 {
		s := c.Pane.surface()
		if pull > 0 {
			s.Leach = r.law.DarkLeachNM
		}
		r.add(&life, s, 0)
	}
	r.spots = append(r.spots, life)
}

// add adds the surface of one more pull to a life.
func (r *studyRun) add(life *spotLife, s Surface, soilPP float64) {
	truth := Truth{}
	if n := len(life.surfaces); n > 0 && life.surfaces[n-1] == s {
		truth = life.truths[n-1]
	} else {
		truth = r.tracer.truth(s)
	}
	life.surfaces, life.truths = append(life.surfaces, s), append(life.truths, truth)
	life.soilPP = append(life.soilPP, soilPP)
}

// lognormal draws a factor of mean 1.
func (r *studyRun) lognormal(cv float64, key string) float64 {
	sigma := math.Sqrt(math.Log(1 + cv*cv))
	return math.Exp(r.dice.draw(Effect{Centre: -sigma * sigma / 2, Width: sigma}, key))
}

// live draws one spot of the coupon drawn last and takes it through all pulls.
func (r *studyRun) live(c Coupon, name string) {
	p, key := r.plan, c.Code+"/"+name
	s := r.film(c, name)
	life := spotLife{coupon: len(r.study.Coupons) - 1, name: name, lot: r.lognormal(p.Loss.LotCV, c.Lot+"/loss")}
	perPull := p.Loss.MeanPP * life.lot * r.lognormal(p.Loss.CouponCV, c.Code+"/loss") *
		r.lognormal(p.Loss.SpotCV, key+"/loss")
	if c.Role == "control" {
		perPull = p.Loss.ControlMeanPP * r.lognormal(p.Loss.ControlCV, c.Code+"/loss")
	}
	changes := make([]float64, p.Pulls+1)
	for pull := range changes {
		changes[pull] = perPull * float64(pull)
	}
	dial := p.Loss.By
	if perPull == 0 {
		dial = Unchanged
	}
	r.through(life, s, dial, changes)
}

// film draws the film of a spot, without its structure.
func (r *studyRun) film(c Coupon, name string) Surface {
	p, d, key := r.plan, r.dice, c.Code+"/"+name
	normal := func(sd float64, key string) float64 { return d.draw(Effect{Width: sd}, key) }
	s := c.Pane.surface()
	s.Thickness = d.draw(p.ThicknessNM, c.Coating+"/thickness") + normal(p.LotThickness, c.Lot+"/thickness") +
		normal(p.CouponThickness, c.Code+"/thickness") + normal(p.SpotThickness, key+"/thickness")
	s.Porosity = d.draw(p.Porosity, c.Coating+"/porosity") + normal(p.LotPorosity, c.Lot+"/porosity") +
		normal(p.CouponPorosity, c.Code+"/porosity") + normal(p.SpotPorosity, key+"/porosity")
	s.Bare = d.draw(p.BareEffect, c.Coating+"/bare")
	return s
}

// through takes a spot with the film s through all pulls: its SolarT changes by these changes, in
// pp, by a dial. An unchanged one has no use for them.
func (r *studyRun) through(life spotLife, s Surface, dial Dial, changes []float64) {
	c, d := r.study.Coupons[life.coupon], r.dice
	key := c.Code + "/" + life.name
	grain := r.law.structure(d, key)
	if dial == Unchanged {
		grain.on(&s)
		for pull := range changes {
			r.addExposed(&life, c.Role, pull, s)
		}
		r.spots = append(r.spots, life)
		return
	}
	start := s
	grain.drifted(r.law, d, key+"/0").on(&start)
	r.add(&life, start, 0)
	for pull := 1; pull < len(changes); pull++ {
		target := life.truths[0].SolarT + changes[pull]/100
		lost := r.lose(s, start, dial, grain, target, fmt.Sprintf("%s/%d", key, pull))
		r.addExposed(&life, c.Role, pull, lost)
	}
	r.spots = append(r.spots, life)
}

// addExposed adds a surface, soiled where it was exposed.
func (r *studyRun) addExposed(life *spotLife, role string, pull int, s Surface) {
	clean := s
	if role == "exposed" && pull > 0 {
		r.law.soil(&s)
	}
	soil := 0.0
	if s.Leach > 0 || s.Residue > 0 {
		soil = 100 * (r.tracer.solar(s).SolarT - r.tracer.solar(clean).SolarT)
	} else {
		s = clean
	}
	r.add(life, s, soil)
}

// lose returns the surface whose SolarT is target, by a dial, from the surface s of pull 0, with
// the structure of a reading of its own. A structure with which the target cannot be reached is
// drawn again; if none of many reaches it, the structure is that of pull 0, the surface start.
func (r *studyRun) lose(s, start Surface, dial Dial, grain structure, target float64, reading string) Surface {
	by := r.patch
	if dial == Thinning {
		by = r.thin
	}
	for try := range 200 {
		grain.drifted(r.law, r.dice, fmt.Sprintf("%s/%d", reading, try)).on(&s)
		if found, ok := by(s, target); ok {
			return found
		}
	}
	found, ok := by(start, target)
	if !ok {
		panic(fmt.Sprintf("foreign: no surface has a solar transmittance of %.5f at %s", target, reading))
	}
	return found
}

// patch grows the bare fraction: SolarT is linear in it.
func (r *studyRun) patch(s Surface, target float64) (Surface, bool) {
	film, bare := s, s.unlayered()
	film.Bare = 0
	whole, none := r.tracer.solar(film).SolarT, r.tracer.solar(bare).SolarT
	grown := (whole - target) / (whole - none)
	if grown < s.Bare || grown > 1 {
		return s, false
	}
	s.Bare = grown
	return s, true
}

// thin finds the thickness below that of s, to 1e-9 in SolarT: that of few slices by false
// position, then by Newton's rule with all of them.
func (r *studyRun) thin(s Surface, target float64) (Surface, bool) {
	s, ok := r.thinRoughly(s, target)
	if !ok {
		return s, false
	}
	const step = 0.01 // nm
	for range 20 {
		miss := r.tracer.solar(s).SolarT - target
		if math.Abs(miss) < 1e-9 {
			return s, true
		}
		up, down := s, s
		up.Thickness += step
		down.Thickness -= step
		slope := (r.rough.solar(up).SolarT - r.rough.solar(down).SolarT) / (2 * step)
		s.Thickness -= miss / slope
		if !(s.Thickness > 0) {
			return s, false
		}
	}
	return s, false
}

// thinRoughly finds the thickness below that of s with the slices of the rough tracer, by false
// position with the Illinois rule, to 1e-8 in SolarT.
func (r *studyRun) thinRoughly(s Surface, target float64) (Surface, bool) {
	at := func(thickness float64) float64 {
		trial := s
		trial.Thickness = thickness
		return r.rough.solar(trial).SolarT - target
	}
	low, high := 0.0, s.Thickness
	atLow, atHigh := at(low), at(high)
	if atLow >= 0 || atHigh < 0 {
		return s, false
	}
	side := 0
	for range 60 {
		middle := (low*atHigh - high*atLow) / (atHigh - atLow)
		value := at(middle)
		s.Thickness = middle
		if math.Abs(value) < 1e-8 {
			return s, true
		}
		if value < 0 {
			low, atLow = middle, value
			if side < 0 {
				atHigh /= 2
			}
			side = -1
		} else {
			high, atHigh = middle, value
			if side > 0 {
				atLow /= 2
			}
			side = 1
		}
	}
	panic("foreign: the search for a thickness does not end")
}

// measure reads every spot in the session of a pull.
func (r *studyRun) measure(pull int) {
	u, noise := r.plan.Setup, r.law.static(r.plan.Setup.Band)
	run := SessionRun{Code: fmt.Sprintf("S%d", pull), Pull: pull}
	run.Session = r.law.session(r.dice, run.Code, u)
	r.drift.on(&run.Session, r.dice, float64(pull))
	if r.plan.LightTrap {
		run.LightTrap = lightTrap(u, run.Session)
		addNoise(run.LightTrap, r.dice, run.Code+"/trap", noise)
	}
	r.study.Sessions = append(r.study.Sessions, run)
	for _, life := range r.spots {
		c := r.study.Coupons[life.coupon]
		if lost := r.lostAt[c.Code]; lost > 0 && pull >= lost {
			continue
		}
		key := c.Code + "/" + life.name + "/" + run.Code
		reading := Reading{Coupon: c.Code, Pull: pull, Spot: life.name, Session: run.Code,
			Surface: life.surfaces[pull], Truth: life.truths[pull], Placement: r.law.placement(r.dice, key, u)}
		reading.Curves = measure(reading.Surface, u, run.Session, reading.Placement, c.Pane)
		addNoise(reading.Curves, r.dice, key, noise)
		r.study.Readings = append(r.study.Readings, reading)
	}
}
