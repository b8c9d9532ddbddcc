package solar

import (
	"math"

	"gonum.org/v1/gonum/integrate/quad"

	"wane/optics"
)

// Ray is light that falls in at one angle from the normal, with its share of all light.
type Ray struct {
	AngleDeg float64 // in degrees from the normal, in air, 0 to below 90
	Weight   float64
}

// isotropicNodes is enough for 1e-7 of the mean transmittance of bare and of coated glass: see TestIsotropic.
const isotropicNodes = 24

// Isotropic returns the rays of light that comes evenly from the half-space before a surface: the mean over them is
//
//	∫ y(θ)·2·sin θ·cos θ dθ, 0 to 90 degrees
//
// by Gauss and Legendre over cos θ, in which reflectance is smooth up to the grazing end. The weights add to 1.
func Isotropic() []Ray {
	cosine, weight := make([]float64, isotropicNodes), make([]float64, isotropicNodes)
	quad.Legendre{}.FixedLocations(cosine, weight, 0, 1)
	rays := make([]Ray, isotropicNodes)
	for i, c := range cosine {
		rays[i] = Ray{math.Acos(c) * 180 / math.Pi, 2 * c * weight[i]}
	}
	return rays
}

// Mix is how much light falls in at which angles, such as that of a year: beam at angles of incidence, and diffuse light,
// which is taken to come evenly from all sides. Amounts are in one unit, such as kWh/m².
type Mix struct {
	Beam    []Ray // the weight is an amount
	Diffuse float64
}

// binDeg is the width between the angles over which the beam of a mix is dealt out, in degrees.
const binDeg = 0.5

// Rays returns the rays of a mix, with weights that add to 1. The beam is dealt out over every half degree: each amount to
// the two next to its angle, so that amount and mean angle stay, which moves the mean transmittance of a surface by less
// than 1e-5 (TestMixOfManyHours). Amounts must not be negative and must not all be 0, and angles must be from 0 to below
// 90 degrees: else it is an [*optics.DomainError].
func (m *Mix) Rays() ([]Ray, error) {
	var bins [int(90/binDeg) + 1]float64
	total := m.Diffuse
	if !(m.Diffuse >= 0) || math.IsInf(m.Diffuse, 1) {
		return nil, &optics.DomainError{Quantity: "diffuse light", At: -1, Value: m.Diffuse, Want: "0 or more"}
	}
	for i, r := range m.Beam {
		if !(r.AngleDeg >= 0 && r.AngleDeg < 90) {
			return nil, &optics.DomainError{Quantity: "angle of incidence", At: i, Value: r.AngleDeg,
				Want: "from 0 to below 90 degrees"}
		}
		if !(r.Weight >= 0) || math.IsInf(r.Weight, 1) {
			return nil, &optics.DomainError{Quantity: "amount of light", At: i, Value: r.Weight, Want: "0 or more"}
		}
		at := r.AngleDeg / binDeg
		k := int(at)
		bins[k] += r.Weight * (1 - (at - float64(k)))
		bins[k+1] += r.Weight * (at - float64(k))
		total += r.Weight
	}
	if !(total > 0) || math.IsInf(total, 1) {
		return nil, &optics.DomainError{Quantity: "sum of all light", At: -1, Value: total, Want: "above 0"}
	}
	var rays []Ray
	for k, w := range bins {
		if w > 0 { // at 90 degrees, where nothing enters, just below: no surface is defined there
			rays = append(rays, Ray{min(float64(k)*binDeg, 89.999), w / total})
		}
	}
	if m.Diffuse > 0 {
		for _, r := range Isotropic() {
			rays = append(rays, Ray{r.AngleDeg, r.Weight * m.Diffuse / total})
		}
	}
	return rays, nil
}
