package optics

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

// Messages of the panics, each a fault of the calling code.
const (
	panicLength  = "optics: dst and wavelengths differ in length"
	panicColumns = "optics: columns of a table differ in length"
	panicMixing  = "optics: no such mixing rule"
	panicBack    = "optics: no such back of a pane"
)

// RangeError reports an index, or a share, asked for outside the wavelengths, in
// nm, at which it is known.
type RangeError struct {
	Index          string // its name
	NM, LoNM, HiNM float64
	Share          bool // it is a [Share]
}

func (e *RangeError) Error() string {
	if e.Share {
		return fmt.Sprintf("optics: %s is known from %g to %g nm, not at %g nm", e.Index, e.LoNM, e.HiNM, e.NM)
	}
	return fmt.Sprintf("optics: index of %s is known from %g to %g nm, not at %g nm", e.Index, e.LoNM, e.HiNM, e.NM)
}

// DomainError reports a value with which the physics cannot be computed.
type DomainError struct {
	Quantity string  // what it is, such as "wavelength"
	At       int     // its position in its slice, -1 if it is no element of a slice
	Value    float64 // the value
	Want     string  // what it must be, with the unit
}

func (e *DomainError) Error() string {
	place := ""
	if e.At >= 0 {
		place = fmt.Sprintf(" at position %d", e.At)
	}
	return fmt.Sprintf("optics: %s%s is %g: it must be %s", e.Quantity, place, e.Value, e.Want)
}

func checkWavelength(nm float64, at int) error {
	if nm > 0 && !math.IsInf(nm, 1) {
		return nil
	}
	return &DomainError{"wavelength", at, nm, "positive and finite, in nm"}
}

func checkWavelengths(nm []float64) error {
	for i, w := range nm {
		if err := checkWavelength(w, i); err != nil {
			return err
		}
	}
	return nil
}

// CheckGrid checks the wavelengths of a spectrum that is linear between them: two or more in nm, positive, finite and
// strictly increasing. What is not is a [*DomainError].
func CheckGrid(nm []float64) error {
	if len(nm) < 2 {
		return &DomainError{"number of wavelengths", -1, float64(len(nm)), "at least 2"}
	}
	before := 0.0
	for i, x := range nm {
		if !(x > before) || math.IsInf(x, 1) {
			return &DomainError{"wavelength", i, x, "greater than the one before, positive and finite, in nm"}
		}
		before = x
	}
	return nil
}

// checkInputs checks what every spectrum is computed from.
func checkInputs(nm []float64, angleDeg float64, pol Polarisation) error {
	if err := checkWavelengths(nm); err != nil {
		return err
	}
	if !(angleDeg >= 0 && angleDeg < 90) {
		return &DomainError{"angle of incidence", -1, angleDeg, "from 0 to less than 90 degrees"}
	}
	if !(pol >= 0 && pol <= 1) {
		return &DomainError{"polarisation", -1, float64(pol), "an s share from 0 to 1"}
	}
	return nil
}

// checkIndex checks n + ik of a material, at a position of a table or -1.
func checkIndex(x Index, at int, v complex128) error {
	n, k := real(v), imag(v)
	if !(n > 0) || math.IsInf(n, 1) {
		return &DomainError{"n of " + x.Name(), at, n, "positive and finite"}
	}
	if !(k >= 0) || math.IsInf(k, 1) {
		return &DomainError{"k of " + x.Name(), at, k, "finite and at least 0"}
	}
	return nil
}

func checkThickness(quantity string, at int, d float64, unit string) error {
	if d >= 0 && !math.IsInf(d, 1) {
		return nil
	}
	return &DomainError{quantity, at, d, "finite and at least 0, in " + unit}
}

func checkFilms(films []Film) error {
	for j, f := range films {
		if err := checkThickness("thickness of film", j, f.ThicknessNM, "nm"); err != nil {
			return err
		}
	}
	return nil
}

// destination returns dst, or a new slice if dst is nil, for one value per
// wavelength. It panics if dst has another length.
func destination[T any](dst []T, wavelengths int) []T {
	if dst == nil {
		return make([]T, wavelengths)
	}
	if len(dst) != wavelengths {
		panic(panicLength)
	}
	return dst
}

// wordAt returns the word at position i, or a stand-in for a value without one.
func wordAt(i int, words []string) string {
	if i < 0 || i >= len(words) {
		return "value " + strconv.Itoa(i)
	}
	return words[i]
}

// parseWord returns the position of word in words.
func parseWord(quantity, word string, words []string) (int, error) {
	i := slices.Index(words, word)
	if i < 0 {
		return 0, fmt.Errorf("optics: %s %q is not one of %s", quantity, word, strings.Join(words, ", "))
	}
	return i, nil
}
