package scenario

import (
	"fmt"
	"math"
	"strconv"

	"wane/study"
)

// read adds the readings of a spot at a pull: at each angle, of each mounting,
//
//	scale · factor(angle) · factor(curve) · [R + leak · (1-R)²] + zero(session) + zero(placement) + step beyond a join
//
// with the noise of each point.
func (m *maker) read(c *piece, spot, pull int, f *film, key string) error {
	s := &m.sessions[pull][0]
	if m.plan.Apart {
		s = &m.sessions[pull][c.of]
	}
	for k, nm := range m.band.NM {
		m.nodes[k] = nm + s.nm
	}
	if err := m.tracer.prepare(f, m.nodes); err != nil {
		return err
	}
	l, leak := &m.plan.Law, 0.0
	if c.Back == "matched" {
		leak = math.Abs(m.dice.normal(l.Leak, c.Coupon.Coupon+"/leak"))
	}
	for mounting := 1; mounting <= m.plan.Reading.Mountings; mounting++ {
		place := fmt.Sprintf("%s%d/", key, mounting)
		tilt, zero := m.dice.normal(l.TiltDeg, place+"tilt"), s.zero+m.dice.normal(l.PlaceZero, place+"zero")
		for i, angle := range m.plan.Reading.AnglesDeg {
			at := fmt.Sprintf("%s%g/", place, angle)
			m.tracer.reflect(m.values, f, math.Abs(angle+s.offDeg[i]+tilt), s.share)
			for k, r := range m.values {
				m.values[k] = r + leak*(1-r)*(1-r)
			}
			values := make([]float64, len(m.band.Grid))
			m.band.Spread(values, m.values)
			scale, noise := s.scale*s.factor[i]*(1+m.dice.normal(l.Place, at+"place")), m.dice.stream(at+"noise")
			for k := range values {
				values[k] = scale*values[k] + zero + m.plan.Reading.Noise*noise.NormFloat64()
				if s.join != 0 && m.band.Grid[k] > s.joinNM {
					values[k] += s.join
				}
			}
			m.Readings = append(m.Readings, study.Reading{Session: s.name, Mounting: mounting, NM: m.band.Grid, Values: values,
				Place: study.Place{Coupon: c.Coupon.Coupon, Pull: pull, Spot: strconv.Itoa(spot + 1), Condition: Condition,
					AngleDeg: angle, Polarisation: "u", Quantity: study.Reflectance, Replicate: mounting}})
		}
	}
	return nil
}
