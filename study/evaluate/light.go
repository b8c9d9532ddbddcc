package evaluate

import (
	"errors"
	"math"
	"strconv"

	"wane/fit/film"
	"wane/optics"
	"wane/optics/solar"
	"wane/study"
)

// Light is sunlight in which a surface is valued, beside that which falls in at normal incidence and counts by its energy
// from 300 to 2500 nm. Its spectrum is AM1.5 global at every angle, unpolarised.
type Light struct {
	Name     string          // such as 60deg; it ends the names of columns
	Says     string          // what it is, in words
	Rays     []solar.Ray     // the weights add to 1; nil: at normal incidence
	Response *solar.Response // by what it counts; nil: by its energy
}

// leastOfResponse is the least share of a response that must lie where glass and sunlight are known.
const leastOfResponse = 0.99

// probeIn returns a probe of the mean reflectance of the front surface in a light.
func (e *Evaluator) probeIn(light *Light) (*film.Probe, error) {
	w, _, err := solar.Weights(e.nm, SolarLoNM, SolarHiNM, solar.Energy)
	if r := light.Response; r != nil {
		w, _, err = r.Weigh(e.nm)
	}
	if err != nil {
		return nil, err
	}
	rays := light.Rays
	if rays == nil {
		rays = []solar.Ray{{AngleDeg: 0, Weight: 1}}
	}
	probes := make([]*film.Probe, len(rays))
	for i, ray := range rays {
		part := make([]float64, len(w))
		for k, v := range w {
			part[k] = v * ray.Weight
		}
		if probes[i], err = film.NewProbe(e.nm, part, ray.AngleDeg, optics.U, e.setup.Glass.Index, e.setup.Coating); err != nil {
			return nil, glassRefusal(err)
		}
	}
	return film.SumOf(probes), nil
}

// LightAt is the light at one angle of incidence, in degrees, 0 to below 90.
func LightAt(angleDeg float64) Light {
	angle := strconv.FormatFloat(angleDeg, 'g', -1, 64)
	return Light{Name: angle + "deg", Says: "at " + angle + " degrees from the normal",
		Rays: []solar.Ray{{AngleDeg: angleDeg, Weight: 1}}}
}

// DiffuseLight is light that comes evenly from all sides.
func DiffuseLight() Light {
	return Light{Name: "diffuse", Says: "evenly from all sides", Rays: solar.Isotropic()}
}

// MixedLight is light of which the amounts beam come in at angles, and an amount from all sides: see [solar.Mix].
func MixedLight(says string, angleDeg, beam []float64, diffuse float64) (Light, error) {
	mix := solar.Mix{Diffuse: diffuse}
	for i, angle := range angleDeg {
		mix.Beam = append(mix.Beam, solar.Ray{AngleDeg: angle, Weight: beam[i]})
	}
	rays, err := mix.Rays()
	return Light{Name: "annual", Says: says, Rays: rays}, err
}

// ResponseLight is light that counts by the current of a device: the share of photons that give an electron at
// wavelengths in nm. A response of which more than 1 % lies outside 300 to 2500 nm is a [*study.Refusal].
func ResponseLight(says string, nm, response []float64) (Light, error) {
	light := Light{Name: "current", Says: says, Response: &solar.Response{NM: nm, Share: response}}
	_, share, err := light.Response.Weigh(solar.Grid(SolarLoNM, SolarHiNM))
	var band *solar.BandError
	if errors.As(err, &band) || err == nil && share < leastOfResponse {
		err = &study.Refusal{Fault: "more than 1 % of what the response makes of sunlight lies outside 300 to 2500 nm",
			Try: "give a response within that range"}
	}
	return light, err
}

// IdealLight is light that counts by the current of an ideal device with a band gap in eV, as it is written.
func IdealLight(text string, bandGapEV float64) (Light, error) {
	step, err := solar.IdealStep(bandGapEV)
	var outside *optics.DomainError
	if errors.As(err, &outside) {
		return Light{}, &study.Refusal{Fault: "the band gap of " + text + " eV must be " + outside.Want,
			Try: "silicon has about 1.12 eV"}
	}
	return ResponseLight("by the current of an ideal device with a band gap of "+text+" eV", step.NM, step.Share)
}

// Modifier returns the transmittance in the light of an evaluator over solar_T, of a fit by it: where the light is one ray,
// the incidence-angle modifier. Its uncertainty counts what both have in common once.
func Modifier(f *study.Fit) study.Measure {
	in, normal := float64(f.Result.SolarT.Value), float64(f.Result.CellT.Value)
	if !(normal > 0) || !f.Result.SolarT.Value.Valid() {
		return study.NoMeasure()
	}
	k := in / normal
	u := math.NaN()
	if f.Errors.Known() {
		u = study.Uncertainty([]study.Weighted{{Errors: &f.Errors, Output: study.OutSolarT, Weight: 1 / normal},
			{Errors: &f.Errors, Output: study.OutCellT, Weight: -k / normal}})
	}
	return study.Measure{Value: study.Num(k), U: study.Num(u)}
}
