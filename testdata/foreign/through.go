package foreign

import (
	"fmt"
	"math"
)

// ThroughSession is what one sitting adds to readings of transmittance, which have a reference (the empty beam) and a
// place of the detector of their own; slices go with the angles of the set-up.
type ThroughSession struct {
	Scale, Zero float64
	AngleDeg    []float64
}

// throughSession draws it.
func (l Law) throughSession(d dice, key string, u Setup) ThroughSession {
	s := ThroughSession{Scale: 1 + d.draw(l.ThroughScale, key+"/T/scale"), Zero: d.draw(l.ThroughZero, key+"/T/zero")}
	for _, angle := range u.ThroughDeg {
		s.AngleDeg = append(s.AngleDeg, d.draw(l.AngleDeg, fmt.Sprintf("%s/T/%g/angle", key, angle)))
	}
	return s
}

// measureThrough returns the transmittance of a coupon at the angles of the set-up, one curve each:
//
//	scale x factor(placement) x T + zero
func measureThrough(s Surface, u Setup, session Session, place Placement, c Pane) []Curve {
	var t tracer
	wave := u.Band.WavelengthNM
	out := make([]Curve, len(u.ThroughDeg))
	for i, nominal := range u.ThroughDeg {
		values := make([]float64, len(wave))
		angle := math.Abs(nominal + session.Through.AngleDeg[i] + place.TiltDeg)
		for _, part := range []struct{ weight, share float64 }{{session.SShare, 1}, {1 - session.SShare, 0}} {
			t.passes(s, u, session, beam(angle, 0, part.share), c, func(k int, p pass) {
				values[k] += part.weight * p.through * p.tau * p.farT / (1 - p.far*p.r*p.tau*p.tau)
			})
		}
		for k := range values {
			values[k] = session.Through.Scale*(1+place.Through)*values[k] + session.Through.Zero
		}
		out[i] = Curve{AngleDeg: nominal, Polarisation: u.Polarisation, Through: true, WavelengthNM: wave, Reflectance: values}
	}
	return out
}

// pass is what a ray of one polarisation meets at a point of the band: R and T of the front, those of the far face from
// inside, and the transmittance of the glass between.
type pass struct{ r, through, far, farT, tau float64 }
