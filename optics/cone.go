package optics

import "math"

// Ray is one direction of a beam that is a narrow cone, as the surface meets it. Of
// light that is s on the axis of the beam the share Turned is p to the surface
// here, and as much of p is s: with s and p the reflectances at AngleDeg, the beam
// in s light reflects the mean over its rays of (1-Turned)·s + Turned·p.
type Ray struct {
	AngleDeg float64 // of incidence
	DAngle   float64 // its derivative by the angle of the axis
	Turned   float64
	DTurned  float64 // by the angle of the axis, per degree
	Weight   float64 // the weights add to 1
}

// Cone returns the rays of an evenly filled cone of half-angle halfDeg, from 0 to 15
// degrees, whose axis is at angleDeg: five, or the axis alone where halfDeg is 0. They
// replace what is in dst, whose memory is used if it suffices.
//
// They are seven points of a disc, exact to the fifth order in the half-angle, of
// which those on either side of the plane of incidence are alike. The polarisation
// is carried from the axis to a ray along the great circle between them, as lenses
// and mirrors of small aperture do it, and there taken apart in the ray's own plane
// of incidence, with i its angle of incidence, θ that of the axis, α the angle between
// ray and axis and φ the azimuth about the axis, 0 away from the normal:
//
//	cos i  = cos α cos θ - sin α sin θ cos φ
//	Turned = sin²φ·(sin α cos θ - (1-cos α) sin θ cos φ)² / sin²i
//
// A wider cone than the angle of its axis has rays beyond the normal; at the normal
// itself no plane is distinguished, and half the light counts as turned. The tests
// hold the mean to 2e-6 of a sum over many rays of a 6 degree cone.
//
// Source: spherical trigonometry; the points are formula 25.4.61 of M. Abramowitz,
// I. A. Stegun, Handbook of Mathematical Functions (from memory).
func Cone(dst []Ray, angleDeg, halfDeg float64) []Ray {
	if halfDeg == 0 {
		return append(dst[:0], Ray{AngleDeg: angleDeg, DAngle: 1, Weight: 1})
	}
	r := halfDeg * math.Pi / 180 * math.Sqrt(2./3)
	theta := angleDeg * math.Pi / 180
	return append(dst[:0], Ray{AngleDeg: angleDeg, DAngle: 1, Weight: 1. / 4},
		rayAt(theta, r, 0, 1./8), rayAt(theta, r, math.Pi/3, 1./4),
		rayAt(theta, r, 2*math.Pi/3, 1./4), rayAt(theta, r, math.Pi, 1./8))
}

// rayAt returns the ray at the angle alpha from the axis and the azimuth phi, in
// radians.
func rayAt(theta, alpha, phi, weight float64) Ray {
	sin, cos := math.Sincos(theta)
	sinA, cosA := math.Sincos(alpha)
	sinP, cosP := math.Sincos(phi)
	versine := 1 - cosA
	cosI := cosA*cos - sinA*sin*cosP
	byTheta := -cosA*sin - sinA*cos*cosP // ∂cos i/∂θ
	sin2 := 1 - cosI*cosI
	if sin2 <= 1e-24 {
		return Ray{Turned: 0.5, Weight: weight}
	}
	across := sinP * (sinA*cos - versine*sin*cosP)
	acrossBy := -sinP * (sinA*sin + versine*cos*cosP)
	turned := across * across / sin2
	return Ray{
		AngleDeg: math.Acos(min(1, cosI)) * 180 / math.Pi,
		DAngle:   -byTheta / math.Sqrt(sin2),
		Turned:   turned,
		DTurned:  (2*across*acrossBy + turned*2*cosI*byTheta) / sin2 * math.Pi / 180,
		Weight:   weight,
	}
}
