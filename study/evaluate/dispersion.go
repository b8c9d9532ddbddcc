package evaluate

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
	"unicode"

	"wane/optics"
	"wane/study"
)

// Words that begin a written formula.
const (
	cauchy    = "cauchy:"
	sellmeier = "sellmeier:"
)

// mostResonances is more than any glass needs.
const mostResonances = 6

// IsFormula reports whether a text is written as a formula of [Formula], right or wrong.
func IsFormula(text string) bool {
	return strings.HasPrefix(text, cauchy) || strings.HasPrefix(text, sellmeier)
}

// Formula reads the written formula of the index of a glass, known from 300 to 2500 nm and lossless: one of
//
//	cauchy:A,B,C,D            n  = A + B/λ² + C/λ⁴ + D·λ²
//	sellmeier:B1,C1,B2,C2     n² = 1 + Σ Bλ²/(λ² - C)
//	sellmeier:A,B1,C1,B2,C2   n² = 1 + A + Σ Bλ²/(λ² - C)
//
// with λ in µm: in the first B is in µm², C in µm⁴ and D in 1/µm², and values may be missing from the end; in the others C
// is the square of the wavelength of a resonance, in µm², and there are up to six pairs. Commas or blanks separate the
// values. Every error is a [*study.Refusal] without a place. See [optics.Cauchy] and [optics.Sellmeier].
func Formula(text string) (optics.Index, error) {
	word, list, _ := strings.Cut(text, ":")
	words := strings.FieldsFunc(list, func(r rune) bool { return r == ',' || unicode.IsSpace(r) })
	values := make([]float64, len(words))
	for i, w := range words {
		var err error
		if values[i], err = strconv.ParseFloat(w, 64); err != nil {
			return optics.Index{}, &study.Refusal{Fault: fmt.Sprintf("%s: value %d, %q, is not a number", word, i+1, w),
				Try: "write numbers with a decimal point and commas between them: " + exampleOf[word+":"]}
		}
	}
	index, err := formulaOf(word+":", text, values)
	if err == nil {
		err = checkGlass(index)
	}
	var domain *optics.DomainError
	if errors.As(err, &domain) {
		return index, &study.Refusal{Fault: fmt.Sprintf("%s is %.5g: it must be %s, %d to %d nm", domain.Quantity, domain.Value,
			domain.Want, SolarLoNM, SolarHiNM),
			Try: "check the values and their units, with wavelengths in µm: " + exampleOf[word+":"]}
	}
	return index, err
}

// mostGlass is more than the index of any glass.
const mostGlass = 3

// checkGlass returns a [*optics.DomainError] for an index that no glass has.
func checkGlass(index optics.Index) error {
	for nm := SolarLoNM; nm <= SolarHiNM; nm += 10 {
		n, err := index.At(float64(nm))
		if err != nil {
			return err
		}
		if real(n) > mostGlass {
			return &optics.DomainError{Quantity: "n of " + index.Name(), At: -1, Value: real(n),
				Want: fmt.Sprintf("at most %d at all wavelengths of its range", mostGlass)}
		}
	}
	return nil
}

// exampleOf has an example of each formula: a crown glass of index 1.5168 at 588 nm by its first two terms, made up, and
// the fused silica of [optics.FusedSilica].
var exampleOf = map[string]string{
	cauchy:    "cauchy:1.5046,0.0042,0 (A, B in µm², C in µm⁴)",
	sellmeier: "sellmeier:0.6961663,0.00467915,0.4079426,0.01351206,0.8974794,97.934 (B1, C1 in µm², B2, C2, ...)",
}

// formulaOf returns the index of the formula that a word names.
func formulaOf(word, name string, values []float64) (optics.Index, error) {
	n := len(values)
	switch {
	case word == cauchy && n >= 1 && n <= 4:
		values = append(values, 0, 0, 0)
		return optics.Cauchy{A: values[0], B: values[1], C: values[2], D: values[3]}.Index(name, SolarLoNM, SolarHiNM)
	case word == sellmeier && n >= 2 && n <= 1+2*mostResonances:
		var s optics.Sellmeier
		if n%2 == 1 {
			s.A, values = values[0], values[1:]
		}
		for ; len(values) > 0; values = values[2:] {
			s.Terms = append(s.Terms, optics.Resonance{B: values[0], C: values[1]})
		}
		return s.Index(name, SolarLoNM, SolarHiNM)
	}
	return optics.Index{}, &study.Refusal{Fault: fmt.Sprintf("%s with %d values is no formula", strings.TrimSuffix(word, ":"), n),
		Try: "write " + exampleOf[word]}
}

// CheckBatch returns a [*study.Refusal] if the formula of a batch of glass is none.
func CheckBatch(b *study.GlassBatch) error {
	if !IsFormula(b.Model) {
		return nil
	}
	_, err := Formula(b.Model)
	var r *study.Refusal
	if errors.As(err, &r) {
		return r.About("model of batch " + b.Batch)
	}
	return err
}
