package optics

import "math"

// Back says what lies behind the far face of a pane.
type Back int

const (
	// Matched is an absorber with the index of the glass, which returns
	// nothing: an assumption, to be stated with the result. Transmitted is what
	// crosses the glass into it.
	Matched Back = iota
	// Blackened is absorbing paint on the glass, whose binder has the index
	// 1.50 (common practice, no source): the far face returns the Fresnel
	// reflectance from glass to 1.50 and nothing is transmitted.
	Blackened
	// Bare is the uncoated glass in air.
	Bare
	// Coated is the glass in air with the films [Pane.BackFilms] on it.
	Coated
	// Laminated is whatever returns the share [Pane.Far] of the light that
	// arrives at it, in s and p and at all angles alike, such as the other layers
	// of a laminate. Transmitted is what crosses the glass into it.
	Laminated
)

// binderIndex is the index of the paint's binder: common practice, no source.
const binderIndex = 1.50

var backWords = []string{"matched", "blackened", "bare", "coated", "laminated"}

// String returns the word that [ParseBack] reads.
func (b Back) String() string { return wordAt(int(b), backWords) }

// ParseBack reads matched, blackened, bare, coated or laminated.
func ParseBack(word string) (Back, error) {
	i, err := parseWord("back", word, backWords)
	return Back(i), err
}

// Pane is a plane sheet of glass in air, thick enough to be incoherent: between
// its faces powers add, not amplitudes.
type Pane struct {
	Films     []Film // on the front; Films[0] touches the air
	Glass     Index
	GlassMM   float64 // thickness in mm, at least 0; 0 leaves absorption out
	Back      Back
	BackFilms []Film // on the back if it is Coated; BackFilms[0] touches the air
	Far       Share  // what comes back from a Laminated back
}

// RT returns the power reflectance R and transmittance T of the pane, all
// orders of reflection between its faces included; each has one value per
// element of nm.
//
// nm holds vacuum wavelengths in nm, in any order. angleDeg is the angle of
// incidence in air, in degrees from the normal, 0 <= angleDeg < 90. In each
// polarisation, with r, t of the front, r' of the front seen from inside, rb,
// tb of the back, and A of one pass through the glass,
//
//	R = r + t²·A²·rb / (1 - r'·rb·A²)
//	T = t·tb·A / (1 - r'·rb·A²)
//	A = exp(-4πk·d / (λ·cos θ2))
//
// and pol weights the two. T is the light that leaves the far face, as [Back]
// says. Light that comes from inside the glass meets its faces as if k were 0,
// which is wrong by k at most; where that is much, A is 0. No light is lost at
// the edges of the pane.
//
// dstR, dstT and the errors are those of [Stack.RT]; the thickness of the glass
// has its own [*DomainError]. A wavelength at which Far of a Laminated back is not
// known is a [*RangeError]. RT panics if Back is none of the five.
//
// Source: the sum over incoherent passes (O. S. Heavens, Optical Properties of Thin
// Solid Films (1955), chapter 4, from memory); lossless it is R = 2r/(1+r) for two bare faces.
func (p Pane) RT(dstR, dstT, nm []float64, angleDeg float64, pol Polarisation) (R, T []float64, err error) {
	R, T = destination(dstR, len(nm)), destination(dstT, len(nm))
	if err := p.check(nm, angleDeg, pol); err != nil {
		return nil, nil, err
	}
	sin, cos := math.Sincos(angleDeg * math.Pi / 180)
	for i, lambda := range nm {
		f, err := p.at(wave{lambda, sin * sin}, cos)
		if err != nil {
			return nil, nil, err
		}
		R[i], T[i] = pol.mean(f.s.r, f.p.r), pol.mean(f.s.t, f.p.t)
	}
	return R, T, nil
}

func (p Pane) check(nm []float64, angleDeg float64, pol Polarisation) error {
	if err := checkInputs(nm, angleDeg, pol); err != nil {
		return err
	}
	if err := checkThickness("thickness of the glass", -1, p.GlassMM, "mm"); err != nil {
		return err
	}
	if err := checkFilms(p.Films); err != nil {
		return err
	}
	return checkFilms(p.BackFilms)
}

// at returns the powers of the pane for one wave, incident at cos θ = cos.
func (p Pane) at(w wave, cos float64) (face, error) {
	glass, err := p.Glass.At(w.nm)
	if err != nil {
		return face{}, err
	}
	front, err := w.face(1, cos, p.Films, false, glass)
	if err != nil {
		return face{}, err
	}
	n := real(glass)
	if n*n <= w.sin2 { // total reflection: no light in the glass
		return face{power{r: front.s.r}, power{r: front.p.r}}, nil
	}
	q := math.Sqrt(n*n - w.sin2)
	inside, err := w.face(n, q, p.Films, true, 1)
	if err != nil {
		return face{}, err
	}
	back, err := p.back(w, n, q)
	if err != nil {
		return face{}, err
	}
	pass := p.pass(w, glass, q)
	return face{
		s: incoherent(front.s, inside.s, back.s, pass),
		p: incoherent(front.p, inside.p, back.p, pass),
	}, nil
}

// back returns the powers of the far face seen from glass of index n, where
// q = n·cos θ.
func (p Pane) back(w wave, n, q float64) (face, error) {
	switch p.Back {
	case Matched:
		return face{power{t: 1}, power{t: 1}}, nil
	case Blackened:
		f, err := w.face(n, q, nil, false, binderIndex)
		f.s.t, f.p.t = 0, 0
		return f, err
	case Bare:
		return w.face(n, q, nil, false, 1)
	case Coated:
		return w.face(n, q, p.BackFilms, true, 1)
	case Laminated:
		r, err := p.Far.At(w.nm)
		return face{power{r, 1 - r}, power{r, 1 - r}}, err
	}
	panic(panicBack)
}

// incoherent sums the passes between a front and a back in one polarisation.
func incoherent(front, inside, back power, pass float64) power {
	var p PanePowers
	p.sum(Front{front.r, front.t, inside.r, inside.t}, FarFace{back.r, back.t}, pass)
	return power{p.R, p.T}
}
