package film_test

import (
	"math"
	"math/rand/v2"

	"wane/fit/film"
	"wane/optics"
)

// span is a range that values are drawn from evenly.
type span [2]float64

func (s span) draw(rng *rand.Rand) float64 { return s[0] + (s[1]-s[0])*rng.Float64() }

// scene is a kind of made-up spots: what film is on them, and how they are read.
type scene struct {
	name      string
	thickness span // nm
	porosity  span
	bare      span // bare fraction
	angles    []float64
	native    bool // native beam
	textured  bool // rolled glass
	unchanged bool // the film of pull 0 is that of the reading

	model  string // what is to be called, in a share of the runs of at least called; empty: not asked
	called float64
	hidden []string          // quantities that these curves do not determine
	misses map[string]string // quantities that miss what is asked of them, and why
}

// What truths are drawn from is what the fit takes to be known beforehand, and 0.002
// for the index of float glass: common practice, no source. Rolled glass has no
// knowledge beforehand; what its facets send to the detector is made up.
const (
	skeletonMean, skeletonSD = 1.458, 0.010
	glassSD                  = 0.002
	scaleSD, factorSD        = 0.01, 0.01
	tiltSD                   = 0.3 // degrees
	shareSD                  = 0.05
)

var (
	facetShares = span{0.3, 0.9} // of the light, at each angle
	roughnesses = span{5, 30}    // rms, nm
	freshNM     = span{110, 130} // thickness at pull 0
	freshBare   = span{0.005, 0.02}
)

// place is one marked place of a coupon: what stays the same between two pulls.
type place struct {
	skeleton float64 // index at 550 nm
	glass    optics.Index
	facets   []float64 // by angle
	rough    float64   // nm
}

// coat is the film on a place at one pull.
type coat struct{ thickness, porosity, bare float64 } // nm, fraction, fraction

// solid is the material left, nm.
func (c coat) solid() float64 { return (1 - c.bare) * c.thickness * (1 - c.porosity) }

func drawSkeleton(rng *rand.Rand) float64 { return skeletonMean + skeletonSD*rng.NormFloat64() }

func drawGlass(rng *rand.Rand) optics.Index {
	return optics.SodaLime().Shifted(glassSD * rng.NormFloat64())
}

// draw draws a place and its film at pull 0 and now.
func (s *scene) draw(rng *rand.Rand) (p place, before, now coat) {
	p = place{skeleton: drawSkeleton(rng), glass: drawGlass(rng)}
	for range s.angles {
		p.facets = append(p.facets, 1)
	}
	if s.textured {
		p.rough = roughnesses.draw(rng)
		for k := range p.facets {
			p.facets[k] = facetShares.draw(rng)
		}
	}
	now = coat{s.thickness.draw(rng), s.porosity.draw(rng), s.bare.draw(rng)}
	before = coat{freshNM.draw(rng), now.porosity, freshBare.draw(rng)}
	if s.unchanged {
		before = now
	}
	return p, before, now
}

// setup is what the fit is told: the glass as it is in the books, how well that is
// known, and texture.
func (s *scene) setup() film.Setup {
	return film.Setup{Glass: film.Glass{Index: optics.SodaLime(), UIndex: glassSD}, Known: sessionOnly(usualSession), Texture: s.textured}
}

// sessionErrors are those of one session.
type sessionErrors struct {
	scale, share   float64
	factors, tilts []float64 // by angle: factor, degrees
}

// drawErrors draws them from what is known beforehand; the s share is 0.5 unless the
// beam is native.
func drawErrors(rng *rand.Rand, angles int, native bool) sessionErrors {
	e := sessionErrors{scale: 1 + scaleSD*rng.NormFloat64(), share: 0.5}
	if native {
		e.share += shareSD * rng.NormFloat64()
	}
	for range angles {
		e.factors = append(e.factors, 1+factorSD*rng.NormFloat64())
		e.tilts = append(e.tilts, tiltSD*rng.NormFloat64())
	}
	return e
}

// front is the reflectance of the front surface of p under c by the general stack,
// which shares no code with the fast path that fits use.
func (p *place) front(c coat, nm []float64, angle float64, pol optics.Polarisation) ([]float64, error) {
	r, _, err := optics.Stack{Substrate: p.glass}.RT(nil, nil, nm, angle, pol)
	if err != nil || c.bare == 1 {
		return r, err
	}
	index, err := p.film(c, nm)
	if err != nil {
		return nil, err
	}
	coated, _, err := optics.Stack{Films: []optics.Film{{Index: index, ThicknessNM: c.thickness}},
		Substrate: p.glass}.RT(nil, nil, nm, angle, pol)
	for i := range coated {
		r[i] = (1-c.bare)*coated[i] + c.bare*r[i]
	}
	return r, err
}

// film is the index of the film at the wavelengths nm.
func (p *place) film(c coat, nm []float64) (optics.Index, error) {
	silica := optics.FusedSilica()
	ref, err := silica.At(550)
	if err != nil {
		return optics.Index{}, err
	}
	solid, err := silica.Shifted(p.skeleton-real(ref)).On(nil, nm)
	if err != nil {
		return optics.Index{}, err
	}
	n := make([]float64, len(nm))
	for i, s := range solid {
		n[i] = math.Sqrt(real(optics.Bruggeman.Mix(s*s, 1, c.porosity)))
	}
	return optics.Table("film", nm, n, make([]float64, len(nm)))
}

// read makes the curves of p under c in a session.
func (p *place) read(rng *rand.Rand, c coat, e *sessionErrors, nm, angles []float64, native bool) ([]film.Curve,
	error) {
	curves := make([]film.Curve, len(angles))
	for k, angle := range angles {
		tilted := angle + e.tilts[k]
		r, err := p.front(c, nm, tilted, optics.Polarisation(e.share))
		if err != nil {
			return nil, err
		}
		gain := e.scale * e.factors[k]
		if p.facets != nil {
			gain *= p.facets[k]
		}
		for i := range r {
			phase := 4 * math.Pi * p.rough * math.Cos(tilted*math.Pi/180) / nm[i]
			r[i] = gain*math.Exp(-phase*phase)*r[i] + noise*rng.NormFloat64()
		}
		curves[k] = film.Curve{NM: nm, R: r, AngleDeg: angle, Pol: optics.U, Native: native}
	}
	return curves, nil
}
