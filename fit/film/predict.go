package film

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"wane/optics"
)

// Sample is a film that is stated. NaN stands for what is not stated: the value that a fit found, or none for the
// structure of a film without a fit.
type Sample struct {
	ThicknessNM, Porosity, Bare float64 // nm of the film under its skin, fraction, fraction
	Gradient, SkinNM, SpreadNM  float64 // see Structure; the spread is the standard deviation of the thickness
	RoughNM                     float64 // rms roughness of textured glass, of which each facet is seen; of a film without a fit
}

// NoSample states nothing.
func NoSample() Sample {
	nan := math.NaN()
	return Sample{nan, nan, nan, nan, nan, nan, nan}
}

// check returns an [*InputError] for a value that the model does not know.
func (s *Sample) check() error {
	for _, v := range []struct {
		name, unit    string
		value, lo, hi float64
	}{
		{"thickness", " nm", s.ThicknessNM, 0, pinRange[Thickness][1]},
		{"porosity", "", s.Porosity, 0, maxPorosity},
		{"bare fraction", "", s.Bare, 0, 1},
		{"gradient of porosity", "", s.Gradient, -maxGradient, maxGradient},
		{"skin", " nm", s.SkinNM, 0, maxSkin},
		{"roughness", " nm", s.RoughNM, 0, maxRough},
	} {
		if !math.IsNaN(v.value) && !(v.value >= v.lo && v.value <= v.hi) {
			return &InputError{"film", fmt.Sprintf("a %s of %g%s is outside %g to %g%s, which the model knows", v.name, v.value,
				v.unit, v.lo, v.hi, v.unit), "state a film inside that range"}
		}
	}
	if top, bottom := s.Porosity-s.Gradient, s.Porosity+s.Gradient; min(top, bottom) < 0 || max(top, bottom) > 1 {
		return &InputError{"film", fmt.Sprintf("a gradient of %g about a porosity of %g reaches outside 0 to 1", s.Gradient,
			s.Porosity), "state a smaller gradient"}
	}
	return nil
}

// isNone reports whether nothing is stated.
func (s *Sample) isNone() bool {
	for _, v := range []float64{s.ThicknessNM, s.Porosity, s.Bare, s.Gradient, s.SkinNM, s.SpreadNM, s.RoughNM} {
		if !math.IsNaN(v) {
			return false
		}
	}
	return true
}

// Predictor computes curves of reflectance or transmittance, and means by probes, of films on one pane in one instrument, without any
// reading. It has scratch memory, so that two goroutines must not use one at once.
type Predictor struct {
	m         *model
	base, x   []float64
	cov       *mat.SymDense // of base; nil: nothing is uncertain
	of        *Verdict      // the fit that it starts from; nil: none
	structure bool          // the film of base has one
	sample    Sample
	stated    []int // positions of parameters that are stated, beside pins
	values    []float64
	slopes    []float64 // of values, row by row
}

// NewPredictor returns a predictor of curves of stated films. Of each curve the wavelengths, the angle, the polarisation and
// whether it is of transmittance are used. The instrument is as it should be: no error of scale, zero, angle or wavelength.
// Films and faces have no loss; a pane has that of its index. Of the setup, Known, Texture and Method are not used. A
// wavelength outside the range of an index gives an [*optics.RangeError], transmittance of a pane that lets none out an
// [*InputError].
func NewPredictor(setup Setup, curves []Curve) (*Predictor, error) {
	setup.Known, setup.Instrument.UJoin = &Known{}, 0
	setup.Texture = !slices.ContainsFunc(curves, func(c Curve) bool { return c.Through })
	spot := &Spot{Setup: setup}
	p, err := newPredictor(spot, curves, false)
	if err != nil {
		return nil, err
	}
	params := p.m.params(owners(0))
	p.base = startVector(params)
	p.base[pBare], p.base[pRough2] = 0, 0
	p.x = make([]float64, len(p.base))
	return p, nil
}

// Predictor returns a predictor of curves of the fitted spot, as its session would read them: with the scale, zero and
// other errors of the instrument that the fit found. Of an angle that was not read, those of that angle alone are as
// expected, with their uncertainty; where nothing is expected, that of all their range. At angles and wavelengths that were
// read it gives the values of [Verdict.Curves]. Transmittance of a spot of which none was read is an [*InputError]: what film
// and pane absorb is not known.
func (v *Verdict) Predictor(curves []Curve) (*Predictor, error) {
	full, s := v.physical()
	if !full.through && slices.ContainsFunc(curves, func(c Curve) bool { return c.Through }) {
		return nil, &InputError{"transmittance", "none was read of this spot, so that nobody knows what film and pane absorb",
			"state the film and its pane, or start from a spot whose transmittance was read"}
	}
	spot := *full.spot
	spot.joins = &full.joins
	p, err := newPredictor(&spot, curves, full.through)
	if err != nil {
		return nil, err
	}
	p.of, p.structure, p.m.structured, p.m.structure = v, full.structured, full.structured, full.structure
	params := p.m.params(v.apart)
	p.base, p.x = startVector(params), make([]float64, len(params))
	p.cov = mat.NewSymDense(len(params), nil)
	uniform := uniformSDs(params)
	from := p.m.positionsIn(full)
	for i, at := range from {
		if at >= 0 {
			p.base[i] = s.x[at]
			for k := i; k < len(from); k++ {
				if from[k] >= 0 {
					p.cov.SetSym(i, k, s.cov.At(at, from[k]))
				}
			}
			continue
		}
		if sd := max(params[i].Prior.SD, uniform[i]); !params[i].Fixed {
			p.cov.SetSym(i, i, sd*sd)
		}
	}
	return p, nil
}

// newPredictor makes the model of curves on the pane of a spot, which becomes that of the model.
func newPredictor(spot *Spot, curves []Curve, through bool) (*Predictor, error) {
	sigma := make([]float64, len(curves))
	spot.Curves, spot.Pins = make([]Curve, len(curves)), spot.Pins.clone()
	for i, c := range curves {
		c.R = make([]float64, len(c.NM))
		spot.Curves[i], sigma[i] = c, 1
	}
	if lo, hi := spot.Glass.Return.RangeNM(); spot.Glass.Back == optics.Laminated {
		for i := range curves {
			nm := curves[i].NM
			if first, last := nm[0], nm[len(nm)-1]; !(lo <= first && last <= hi) {
				return nil, spot.Glass.uncovered("the curve", first, last)
			}
		}
	}
	if err := spot.checkThrough(); err != nil {
		return nil, err
	}
	m, err := NewFitter(spot.Setup).fullModel(spot, sigma)
	if err != nil {
		return nil, err
	}
	m.through = m.through || through
	return &Predictor{m: m, sample: NoSample(), values: make([]float64, m.rows)}, nil
}

// positionsIn returns, for each parameter of m, its position in another model; -1: it has none.
func (m *model) positionsIn(other *model) []int {
	to := make([]int, m.size())
	for i := range to {
		if to[i] = i; i >= pAngles {
			to[i] = -1
		}
	}
	to[kTilt], to[kPlaceZero] = -1, -1
	for k := range m.curves {
		c := &m.curves[k]
		in := &m.spot.Curves[c.source]
		if at := other.settingOf(in); at >= 0 {
			for j := range perAngle {
				to[pAngles+perAngle*c.setting+j] = pAngles + perAngle*at + j
			}
		}
		for i := range other.curves {
			o := &other.curves[i]
			read := &other.spot.Curves[o.source]
			if read.AngleDeg == in.AngleDeg && read.Pol == in.Pol && read.Native == in.Native && read.Through == in.Through &&
				max(1, read.Mounting) == max(1, in.Mounting) {
				to[m.pPlaceFactor(c.source)] = other.pPlaceFactor(o.source)
				break
			}
		}
		for at, number := range other.mountings {
			if number == max(1, in.Mounting) {
				to[m.pTilt(c.mounting)], to[m.pPlaceZero(c.mounting)] = other.pTilt(at), other.pPlaceZero(at)
			}
		}
	}
	for j := range m.countJoins() {
		to[m.pJoin(j)] = other.pJoin(j)
	}
	return to
}

// Set sets the film. An [*InputError] says what the model does not know, and what is not stated that has to be.
func (p *Predictor) Set(s Sample) error {
	if err := s.check(); err != nil {
		return err
	}
	whole := !math.IsNaN(s.ThicknessNM) && !math.IsNaN(s.Porosity)
	noFilm := p.of == nil || p.of.Model == ModelBare
	if noFilm && !whole && s.Bare != 1 && !(p.of != nil && s.isNone()) {
		return &InputError{"film", "its thickness and its porosity are not both stated, and no fit found them",
			"state both"}
	}
	if s.RoughNM > 0 && !p.m.spot.Texture {
		return &InputError{"film", "a roughness is known of what textured glass reflects, and of a film that is stated, only",
			"leave it out"}
	}
	p.sample, p.stated = s, p.stated[:0]
	p.m.structured = p.structure
	copy(p.x, p.base)
	pins := p.m.spot.Pins
	for _, name := range []string{Thickness, Porosity} {
		delete(pins, name)
	}
	g := p.m.filmAt(p.base)
	d, index := g.d, g.index
	if !math.IsNaN(s.Porosity) {
		index, pins[Porosity] = p.m.spot.Coating.indexOf(s.Porosity, g.skeleton), s.Porosity
	}
	if !math.IsNaN(s.ThicknessNM) {
		d, pins[Thickness] = s.ThicknessNM, s.ThicknessNM
	}
	p.x[pIndex], p.x[pTau] = index, d*index
	if noFilm && whole {
		p.x[pBare] = 0
	}
	variance := s.SpreadNM / d * s.SpreadNM / d
	if s.SpreadNM == 0 {
		variance = 0
	}
	if !math.IsNaN(s.SpreadNM) && !(s.SpreadNM >= 0 && variance <= maxVariance) {
		return &InputError{"film", fmt.Sprintf("a spread of %g nm is outside 0 to %.3g nm, which the model knows of a film of "+
			"%.4g nm", s.SpreadNM, d*math.Sqrt(maxVariance), d), "state a smaller spread"}
	}
	for _, of := range []struct {
		at, off int
		value   float64
	}{{pBare, pBare, s.Bare}, {pGradient, int(kGradientOff), s.Gradient}, {pSkin, int(kSkinOff), s.SkinNM},
		{pVariance, int(kVarianceOff), variance}} {
		if !math.IsNaN(of.value) {
			p.x[of.off] = 0
			p.x[of.at] = of.value
			p.stated = append(p.stated, of.at, of.off)
		}
	}
	if s.RoughNM > 0 {
		p.x[pRough2] = s.RoughNM * s.RoughNM
	}
	if s.SkinNM > 0 || s.Gradient != 0 && !math.IsNaN(s.Gradient) || variance > 0 {
		p.m.structured = true
	}
	return nil
}

// Film returns the film that is set. Where there is none, on glass that is wholly bare, all but the bare fraction is NaN.
func (p *Predictor) Film() Sample {
	if p.x[pBare] == 1 {
		none := NoSample()
		none.Bare, none.RoughNM = 1, math.Sqrt(p.x[pRough2])
		return none
	}
	g := p.m.filmAt(p.x)
	porosity, _, _ := p.m.spot.Coating.porosityOf(g.index, g.skeleton)
	if pinned, ok := p.m.spot.Pins[Porosity]; ok {
		porosity = pinned
	}
	return Sample{g.d, porosity, p.x[pBare], g.gradient, g.skin, g.d * math.Sqrt(max(0, g.variance)), math.Sqrt(p.x[pRough2])}
}

// Values computes the curves of the film that is set, as fractions. They are valid until the next call.
func (p *Predictor) Values() [][]float64 {
	p.m.evaluate(p.x, p.values, nil)
	out, at := make([][]float64, len(p.m.spot.Curves)), 0
	for k := range out {
		n := len(p.m.spot.Curves[k].NM)
		out[k] = p.values[at : at+n : at+n]
		at += n
	}
	return out
}

// Bands returns the half-widths of the 95 % bands of the curves, fractions; nil where nothing is uncertain.
func (p *Predictor) Bands() [][]float64 {
	if p.cov == nil {
		return nil
	}
	size := p.m.size()
	if p.slopes == nil {
		p.slopes = make([]float64, p.m.rows*size)
	}
	p.m.evaluate(p.x, nil, p.slopes)
	out := make([][]float64, len(p.m.spot.Curves))
	row := mat.NewVecDense(size, nil)
	p.m.eachPoint(func(c *curve, _, at int) {
		row.CopyVec(mat.NewVecDense(size, p.slopes[at*size:(at+1)*size]))
		for _, i := range p.stated {
			row.SetVec(i, 0)
		}
		out[c.source] = append(out[c.source], 1.959964*c.sigma*math.Sqrt(max(0, mat.Inner(row, p.cov, row))))
	})
	return out
}

// Mean returns the mean of the reflectance of the front surface of the film that is set, as [Verdict.Mean] does; U is NaN
// where nothing is uncertain.
func (p *Predictor) Mean(probe *Probe) Estimate {
	if p.of != nil && p.sample.isNone() {
		return p.of.Mean(probe)
	}
	g := p.m.filmAt(p.x)
	return p.estimate(probe.mean(p.x, &g))
}

// Gain returns by how much less the front surface reflects, or absorbs, than the same glass without a film, as
// [Verdict.Gain] does; U is NaN where nothing is uncertain.
func (p *Predictor) Gain(probe *Probe) Estimate {
	if p.of != nil && p.sample.isNone() {
		return p.of.Gain(probe)
	}
	g := p.m.filmAt(p.x)
	front, bare := probe.meanAndBare(p.x, &g)
	for i := range front.grad {
		front.grad[i] = -front.grad[i]
	}
	front.grad[pGlass] += bare.byGlass
	front.grad[kCouponGlass] += bare.byGlass
	return p.estimate(derived{bare.value - front.value, front.grad})
}

func (p *Predictor) estimate(d derived) Estimate {
	if p.cov == nil {
		return Estimate{d.value, math.NaN()}
	}
	for _, i := range p.stated {
		d.grad[i] = 0
	}
	return d.estimate(p.cov)
}

// clone returns a copy that can be written to.
func (p Pins) clone() Pins {
	out := Pins{}
	for name, v := range p {
		out[name] = v
	}
	return out
}
