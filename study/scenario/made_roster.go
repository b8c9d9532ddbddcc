package scenario

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"wane/study"
)

// Names in the registers of made-up studies.
const (
	instrument = "bench-1"
	trap       = "trap-1"
	Exposure   = "exposure" // of the coupons
	firstDay   = "2031-01-10"
	certified  = "2030-12-01"
	expires    = "2041-12-01"
)

// register makes the coupons, in the order of their codes, and the roster.
func (m *maker) register() {
	p, r := m.plan, &study.Roster{}
	for i := range p.Coatings {
		m.coat(i)
	}
	for i := range p.Coatings {
		for n := range p.Blanks {
			c := m.piece(i, fmt.Sprintf("%s-G%02d", p.Coatings[i].Coating, n+1), study.Blank, 1)
			c.leached = m.dice.happens(p.Faults.Leached.Chance, c.Coupon.Coupon+"/leached")
			if c.leached {
				m.Faulty[c.Coupon.Coupon] = "a dark blank that leached"
			}
			m.coupons = append(m.coupons, c)
		}
	}
	slices.SortFunc(m.coupons, func(a, b piece) int { return strings.Compare(a.Coupon.Coupon, b.Coupon.Coupon) })
	r.Exposures = []study.Exposure{{Exposure: Exposure, Protocol: "planned", Site: "made up", DoseUnit: p.DoseUnit, Start: firstDay}}
	for i, dose := range p.Doses {
		r.Pulls = append(r.Pulls, study.Pull{Exposure: Exposure, Pull: i, Dose: dose, Date: p.day(i)})
	}
	i := study.Instrument{Instrument: instrument, Serial: "made up", Kind: "made up",
		ConeDeg: study.Null(), SlitNM: study.Null(), UJoin: study.Null()}
	assumed := defaultLaw(p.Glass, p.Back)
	for _, w := range lawWords {
		if own := *w.at(&p.Law); w.state != nil && own != *w.at(&assumed) {
			*w.state(&i) = study.Stated{Is: true, Value: own}
		}
	}
	r.Instruments = []study.Instrument{i}
	m.addSessions(r)
	for i := range m.coupons {
		c := &m.coupons[i]
		r.Coupons = append(r.Coupons, c.Coupon)
		if c.Role != study.Exposed {
			continue
		}
		r.Lives = append(r.Lives, study.CouponEvent{Coupon: c.Coupon.Coupon, Event: study.EventStart, Date: firstDay,
			Pull: study.Stated{Is: true}})
		if c.lostAt < len(p.Doses) {
			r.Lives = append(r.Lives, study.CouponEvent{Coupon: c.Coupon.Coupon, Event: study.EventLost, Date: p.day(c.lostAt),
				Pull: study.Stated{Is: true, Value: float64(c.lostAt)}, Note: "made up"})
		}
	}
	m.Roster = r
}

// coat makes the coated coupons of a coating.
func (m *maker) coat(i int) {
	p, coating := m.plan, &m.plan.Coatings[i]
	for n := range coating.Coupons {
		c := m.piece(i, fmt.Sprintf("%s-%03d", coating.Coating, n+1), study.Exposed, coating.Spots)
		c.Lot, c.Exposure = fmt.Sprintf("%s-lot-%d", coating.Coating, 1+n%coating.Lots), Exposure
		c.loss = m.dice.loss(&coating.Loss, c.Lot, c.Coupon.Coupon)
		for pull := 1; pull < len(p.Doses); pull++ {
			if m.dice.happens(p.Faults.Lost, fmt.Sprintf("%s/lost at %g", c.Coupon.Coupon, p.Doses[pull])) {
				c.lostAt = pull
				m.Lost++
				break
			}
		}
		m.coupons = append(m.coupons, c)
	}
	for n := range coating.Controls {
		c := m.piece(i, fmt.Sprintf("%s-K%02d", coating.Coating, n+1), study.Control, coating.Spots)
		c.Lot = fmt.Sprintf("%s-lot-%d", coating.Coating, 1+n%coating.Lots)
		m.coupons = append(m.coupons, c)
	}
}

// piece makes a coupon that keeps.
func (m *maker) piece(of int, code string, role study.Role, spots int) piece {
	p, coating := m.plan, &m.plan.Coatings[of]
	c := piece{of: of, spots: spots, lostAt: len(p.Doses), Coupon: study.Coupon{Coupon: code, Role: role, Glass: p.Glass,
		Back: p.Back, GlassMM: 3.2, Batch: "glass-" + coating.Supplier}}
	if role.Coated() {
		c.Supplier, c.Coupon.Coating = coating.Supplier, coating.Coating
	}
	return c
}

// addSessions adds the sessions with what their light traps read.
func (m *maker) addSessions(r *study.Roster) {
	p := m.plan
	if p.Reading.LightTrap {
		for _, angle := range p.Reading.AnglesDeg {
			r.Standards = append(r.Standards, study.Standard{Standard: trap, Issued: certified, Expires: expires, AngleDeg: angle,
				Polarisation: "u", Serial: "made up", Certificate: "made up", Quantity: study.Zero, WavelengthNM: study.Null(),
				U: study.UTrap})
		}
	}
	for pull := range p.Doses {
		m.sessions = append(m.sessions, m.session(pull))
		for _, s := range m.sessions[pull] {
			r.Sessions = append(r.Sessions, study.Session{Session: s.name, Instrument: instrument, Date: p.day(pull),
				HumidityPercent: study.Null(), TemperatureC: study.Null(), Condition: Condition})
			for i, angle := range p.Reading.AnglesDeg {
				if p.Reading.LightTrap {
					r.Checks = append(r.Checks, study.StandardReading{Session: s.name, Standard: trap, AngleDeg: angle,
						Polarisation: "u", Replicate: 1, Value: s.trap[i]})
				}
			}
		}
	}
}

// sessionName names a session of a pull: of all coatings, or of one.
func (p *Plan) sessionName(pull, coating int) string {
	name := "session-" + p.day(pull)
	if p.Apart {
		name += "-" + p.Coatings[coating].Coating
	}
	return name
}

// day returns the date of a pull: by its dose in days, else 30 days after the one before.
func (p *Plan) day(pull int) string {
	start, err := time.Parse(time.DateOnly, firstDay)
	if err != nil {
		panic(err)
	}
	days := 30 * pull
	if p.DoseUnit == "days" {
		days = int(p.Doses[pull])
	}
	return start.AddDate(0, 0, days).Format(time.DateOnly)
}
