package optics

import "math"

// StructuredFilm is a porous film that is not uniform.
//
// Its porosity runs linearly from p - g at the top to p + g at the bottom,
// clipped to [0, 0.95]; p is the porosity that makes a uniform film of the
// index Index. (Where p itself lies outside, it is its own limit, so that g = 0
// is the uniform film everywhere.) A skin of the solid lies on top and adds to
// the film; a negative SkinNM is a layer of negative phase, which continues R
// analytically. The thickness of the film, the skin left out, is spread over the
// spot: see [Surface.Structured].
type StructuredFilm struct {
	ThicknessNM float64 // d of the film without the skin, at least 0
	Index       float64 // of a uniform film of porosity p, at the reference wavelength
	Skeleton    float64 // index of the solid at the reference wavelength
	Gradient    float64 // g: half the difference of porosity between bottom and top
	SkinNM      float64 // t
	Variance    float64 // v: variance of d over d²; may be below 0
}

// Profile is the permittivity of a [StructuredFilm] over depth on fixed
// wavelengths, with its derivatives. It depends on no angle, so that the
// surfaces of one spot share it. A Profile is safe for concurrent use as long as
// nobody calls Set.
//
// The film is cut into equal steps. Of each step the profile keeps the mean ε
// and the difference D between top and bottom of the straight line that fits ε
// best, both by Gauss's rule of two depths; how light crosses a step is said at
// [Surface.Structured].
type Profile struct {
	mixing Mixing
	shift  []float64 // index of the solid less its value at the reference wavelength
	kMax   float64   // 2π over the shortest wavelength, 1/nm

	film   StructuredFilm // that it is set to
	porous porosityAt
	steps  int
	least  int       // steps, whatever the film: see Steady
	step   []stepEps // steps of the first wavelength from the top down, then of the next
}

// stepEps is the permittivity in one step, with its derivatives by the porosity
// p, the gradient g and the index of the solid.
type stepEps struct {
	mean, meanP, meanG, meanSolid float64
	diff, diffP, diffG, diffSolid float64
}

// porosityAt is the porosity of a uniform film and its derivatives by film
// index and skeleton index.
type porosityAt struct{ p, byIndex, bySkeleton float64 }

const (
	mostPorosity  = 0.95
	leastSteps    = 2
	steepGradient = 0.15
	steepSteps    = 4    // beyond steepGradient
	clippedSteps  = 43.0 // over √|g|, where the clipping makes a corner in the profile
	mostStepPhase = 2.0  // of a step at the shortest wavelength, radians
	mostSteps     = 32
)

// NewProfile makes a profile for the wavelengths nm, in any order, of a film
// with voids of air in the given solid, whose index at refNM each film states
// anew (see [Index.Shifted]). The errors are those of [Index.On].
func NewProfile(nm []float64, m Mixing, solid Index, refNM float64) (*Profile, error) {
	ref, err := solid.At(refNM)
	if err != nil {
		return nil, err
	}
	index, err := solid.On(nil, nm)
	if err != nil {
		return nil, err
	}
	p := &Profile{mixing: m, shift: make([]float64, len(nm)), step: make([]stepEps, 0, len(nm)*steepSteps)}
	for i, n := range index {
		p.shift[i] = real(n) - real(ref)
		p.kMax = max(p.kMax, 2*math.Pi/nm[i])
	}
	return p, nil
}

// Set makes p the profile of film, whose index must be above 1 and not above that
// of its solid by more than the mixing rule can bear. It allocates only where a
// film needs more steps than any before: where it is thicker, steeper or clipped.
func (p *Profile) Set(film StructuredFilm) {
	if p.film == film && p.steps > 0 {
		return
	}
	p.film = film
	at, byFilm, bySolid := p.mixing.PorosityReal(film.Index*film.Index, film.Skeleton*film.Skeleton, 1)
	p.porous = porosityAt{at, byFilm * 2 * film.Index, bySolid * 2 * film.Skeleton}
	p.steps = p.stepsFor(film)
	need := p.steps * len(p.shift)
	if cap(p.step) < need {
		p.step = make([]stepEps, need)
	}
	p.step = p.step[:need]
	for i, shift := range p.shift {
		solid := film.Skeleton + shift
		for j := range p.steps {
			p.step[i*p.steps+j] = p.between(solid, j)
		}
	}
}

// Steady makes p use as many steps as for a steep gradient whatever the gradient is, or lets it be as before. Then R
// has no jump at a gradient of 0.15, at which a fit may stall.
func (p *Profile) Steady(on bool) {
	p.least, p.steps = 0, 0 // not set yet
	if on {
		p.least = steepSteps
	}
}

// stepsFor returns how many steps keep R within about 1e-5 of that of many steps
// at a gradient of 0.05, and solar transmittance within 0.0005 percentage points
// at any: see the tests.
func (p *Profile) stepsFor(film StructuredFilm) int {
	n, g := leastSteps, math.Abs(film.Gradient)
	if g > steepGradient {
		n = steepSteps
	}
	if g > 0 && (p.porous.p-g < 0 || p.porous.p+g > mostPorosity) {
		n = max(n, int(math.Ceil(clippedSteps*math.Sqrt(g))))
	}
	phase := p.kMax * film.Index * film.ThicknessNM
	return max(p.least, min(mostSteps, max(n, int(math.Ceil(phase/mostStepPhase)))))
}

// between returns the permittivity in step j for an index of the solid.
func (p *Profile) between(solid float64, j int) stepEps {
	const node = 0.28867513459481287 // √3/6 of the step on either side of its middle
	middle := float64(j) + 0.5
	top, topP, topG, topSolid := p.at(solid, middle-node)
	low, lowP, lowG, lowSolid := p.at(solid, middle+node)
	const root3 = 1.7320508075688772
	return stepEps{
		mean: 0.5 * (top + low), meanP: 0.5 * (topP + lowP), meanG: 0.5 * (topG + lowG),
		meanSolid: 0.5 * (topSolid + lowSolid),
		diff:      root3 * (top - low), diffP: root3 * (topP - lowP), diffG: root3 * (topG - lowG),
		diffSolid: root3 * (topSolid - lowSolid),
	}
}

// at returns the permittivity at a depth in steps, with its derivatives.
func (p *Profile) at(solid, depth float64) (eps, byP, byG, bySolid float64) {
	along := 2*depth/float64(p.steps) - 1 // from -1 at the top to 1 at the bottom
	mean := p.porous.p
	wanted := mean + p.film.Gradient*along
	clipped := min(max(wanted, min(0, mean)), max(mostPorosity, mean))
	eps, byP, byEps := p.mixing.MixReal(solid*solid, 1, clipped)
	byG = byP * along
	if clipped != wanted {
		byG = 0
		if clipped != mean {
			byP = 0
		}
	}
	return eps, byP, byG, byEps * 2 * solid
}
