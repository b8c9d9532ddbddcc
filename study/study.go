// Package study holds the nouns of a coupon-ageing study and their rows.
//
// It has nothing to do with files, databases or printing. The packages that use it
// (intake, store, evaluate, ageing) exchange these rows and never import one
// another.
//
// Conventions: wavelengths are vacuum wavelengths in nm; angles are in degrees
// from the normal, in air; reflectances and transmittances are fractions
// (percent exists only in labels); differences of transmittance are in
// percentage points where the name ends in PP.
package study

import (
	"encoding/json"
	"math"
)

// Num is a number that may be absent: NaN stands for "does not apply" and is
// written as null in JSON and as an empty cell in CSV.
type Num float64

// Null is the absent number.
func Null() Num { return Num(math.NaN()) }

// Valid reports whether the number is present and finite.
func (n Num) Valid() bool {
	return !math.IsNaN(float64(n)) && !math.IsInf(float64(n), 0)
}

// MarshalJSON writes the number with all its digits, null if it is absent.
func (n Num) MarshalJSON() ([]byte, error) {
	if !n.Valid() {
		return []byte("null"), nil
	}
	return json.Marshal(float64(n))
}

// UnmarshalJSON reads what MarshalJSON wrote.
func (n *Num) UnmarshalJSON(text []byte) error {
	*n = Null()
	if string(text) == "null" {
		return nil
	}
	return json.Unmarshal(text, (*float64)(n))
}

// OrZero returns the number, or 0 if it is absent.
func (n Num) OrZero() float64 {
	if math.IsNaN(float64(n)) {
		return 0
	}
	return float64(n)
}

// Quantity is the quantity of a curve.
type Quantity string

// The quantities of curves. The empty string means "not stated".
const (
	Reflectance   Quantity = "R"
	Transmittance Quantity = "T"
)

// Spectrum is one curve of an export.
type Spectrum struct {
	File    string // name as given, for messages
	Column  int    // of the values, counting the wavelength column as 1
	Heading string // as in the file, trimmed; may be empty

	Quantity     Quantity
	AngleDeg     float64 // of incidence; NaN if it is not stated
	Polarisation string  // s, p, u or n

	NM     []float64 // strictly increasing, nm
	Values []float64 // fractions, as long as NM
}
