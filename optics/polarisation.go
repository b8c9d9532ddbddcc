package optics

// Polarisation is the s share of the light, from 0 to 1; the rest is p. A
// spectrum in a mixture of both is the mean of the two spectra so weighted.
type Polarisation float64

const (
	S Polarisation = 1   // electric field at right angles to the plane of incidence
	P Polarisation = 0   // electric field in the plane of incidence
	U Polarisation = 0.5 // unpolarised: the mean of both
)

// ParsePolarisation reads s, p or u.
func ParsePolarisation(word string) (Polarisation, error) {
	i, err := parseWord("polarisation", word, []string{"s", "p", "u"})
	return [...]Polarisation{S, P, U}[i], err
}

// mean weights the values of the two polarisations.
func (pol Polarisation) mean(s, p float64) float64 {
	return float64(pol)*s + float64(1-pol)*p
}
