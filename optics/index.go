package optics

import (
	"fmt"
	"math"
)

// Index is a refractive index as a function of vacuum wavelength. The zero
// value is vacuum, n = 1 at every wavelength.
type Index struct {
	name       string
	loNM, hiNM float64 // where it is known; hiNM = 0: at every wavelength
	dn         float64 // added to n, see Shifted
	at         func(nm float64) complex128
}

// Constant returns the index n at every wavelength. The real part of n must be
// positive and its imaginary part not negative, both finite: where they are
// not, evaluation gives a [*DomainError].
func Constant(name string, n complex128) Index {
	return Index{name: name, at: func(float64) complex128 { return n }}
}

// Lossless returns the index with k = 0 at all wavelengths.
func (x Index) Lossless() Index {
	if x.at == nil {
		return x
	}
	at := x.at
	x.name += " without absorption"
	x.at = func(nm float64) complex128 { return complex(real(at(nm)), 0) }
	return x
}

// WithAbsorptionOf returns an index with the n of x and the k of another, where both are known.
func (x Index) WithAbsorptionOf(other Index) Index {
	n, lo, hi := x, x.loNM, x.hiNM
	if oLo, oHi := other.RangeNM(); other.hiNM != 0 {
		lo, hi = max(lo, oLo), oHi
		if x.hiNM != 0 {
			hi = min(hi, x.hiNM)
		}
	}
	return Index{name: x.Name(), loNM: lo, hiNM: hi, at: func(nm float64) complex128 {
		re, errN := n.At(nm)
		im, errK := other.At(nm)
		if errN != nil || errK != nil {
			return 0 // which is no index, and an error of At
		}
		return complex(real(re), imag(im))
	}}
}

// Shifted returns x with dn added to the real part at every wavelength: the
// dispersion of one material with the level of another. Its range is that of x.
func (x Index) Shifted(dn float64) Index {
	x.dn += dn
	return x
}

// Name returns what the index is called in messages and captions.
func (x Index) Name() string {
	name := x.name
	if x.at == nil && name == "" {
		name = "vacuum"
	}
	if x.dn != 0 {
		name += fmt.Sprintf(" %+.4g", x.dn)
	}
	return name
}

// RangeNM returns the shortest and the longest wavelength, in nm, at which the
// index is known; 0 and +Inf if there are no limits.
func (x Index) RangeNM() (lo, hi float64) {
	if x.hiNM == 0 {
		return 0, math.Inf(1)
	}
	return x.loNM, x.hiNM
}

// At returns n + ik at the vacuum wavelength nm. Outside the range of the index
// it returns a [*RangeError]. A wavelength that is not positive and finite, or
// an index whose n is not positive or k negative there, is a [*DomainError].
func (x Index) At(nm float64) (complex128, error) {
	if err := checkWavelength(nm, -1); err != nil {
		return 0, err
	}
	if x.hiNM != 0 && (nm < x.loNM || nm > x.hiNM) {
		return 0, &RangeError{Index: x.Name(), NM: nm, LoNM: x.loNM, HiNM: x.hiNM}
	}
	v := complex128(1)
	if x.at != nil {
		v = x.at(nm)
	}
	v += complex(x.dn, 0) // which makes a k of -0 one of 0
	if err := checkIndex(x, -1, v); err != nil {
		return 0, err
	}
	return v, nil
}

// On returns n + ik at each vacuum wavelength of nm, in any order, with the
// errors of [Index.At]; a [*DomainError] of a wavelength carries its position.
//
// If dst is nil the result is allocated. Otherwise it is stored in dst, which
// must be as long as nm, and On panics if it is not. After an error the
// contents of dst are unspecified.
func (x Index) On(dst []complex128, nm []float64) ([]complex128, error) {
	dst = destination(dst, len(nm))
	if err := checkWavelengths(nm); err != nil {
		return nil, err
	}
	for i, w := range nm {
		v, err := x.At(w)
		if err != nil {
			return nil, err
		}
		dst[i] = v
	}
	return dst, nil
}
