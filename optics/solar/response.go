package solar

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/integrate"

	"wane/optics"
)

// Response is how a device answers to light: the share of photons that give an electron, at increasing wavelengths in nm,
// linear in between, and nothing beyond them. A quantum efficiency in any unit will do: only its shape counts.
type Response struct {
	NM, Share []float64
}

// eVnm is h·c/e in eV nm, from the SI (2019), exact to the digits shown.
const eVnm = 1239.8419843320026

// IdealStep is the response of a device that turns each photon of more energy than its band gap into an electron. The band
// gap in eV must leave a band within the table of sunlight: else it is an [*optics.DomainError].
func IdealStep(bandGapEV float64) (Response, error) {
	table := sun().nm
	edge := eVnm / bandGapEV
	if !(bandGapEV > 0) || !(edge > table[0] && edge <= table[len(table)-1]) {
		return Response{}, &optics.DomainError{Quantity: "band gap", At: -1, Value: bandGapEV,
			Want: fmt.Sprintf("from %.2f to %.2f eV, to which sunlight is tabulated", eVnm/table[len(table)-1], eVnm/table[0])}
	}
	return Response{NM: []float64{table[0], edge}, Share: []float64{1, 1}}, nil
}

func (r *Response) check() error {
	if err := optics.CheckGrid(r.NM); err != nil {
		return fmt.Errorf("solar: a response: %w", err)
	}
	if len(r.Share) != len(r.NM) {
		return &optics.DomainError{Quantity: "number of responses", At: -1, Value: float64(len(r.Share)), Want: "as many as wavelengths"}
	}
	for i, s := range r.Share {
		if !(s >= 0) || math.IsInf(s, 1) {
			return &optics.DomainError{Quantity: "response", At: i, Value: s, Want: "0 or more"}
		}
	}
	return nil
}

// Weigh returns w such that Σ w[i]·y[i] is the mean of the curve y over the current that sunlight gives,
//
//	∫ y·E·λ·S dλ / ∫ E·λ·S dλ
//
// over the part of the response that nm and the table of sunlight cover, and share, that part's share of ∫ E·λ·S dλ over
// all of the response within the table. nm, w and the rule of the sums are those of [Weights], with the wavelengths of the
// response among the nodes. A response that is 0 where it meets nm is a [*BandError]; a fault of the grid or the response
// an [*optics.DomainError].
func (r *Response) Weigh(nm []float64) (w []float64, share float64, err error) {
	if err := r.check(); err != nil {
		return nil, 0, err
	}
	if err := optics.CheckGrid(nm); err != nil {
		return nil, 0, fmt.Errorf("solar: could not weight a spectrum: %w", err)
	}
	table := sun().nm
	first, last := r.NM[0], r.NM[len(r.NM)-1]
	from, to := max(first, table[0]), min(last, table[len(table)-1])
	lo, hi := max(from, nm[0]), min(to, nm[len(nm)-1])
	if !(lo < hi) {
		return nil, 0, &BandError{first, last, "of the response does not meet the spectrum", nm[0], nm[len(nm)-1]}
	}
	nodes := union(union(table, r.NM, from, to), nil, from, to)
	whole := integrate.Trapezoidal(nodes, r.photons(nodes))
	nodes = union(union(table, nm, lo, hi), r.NM, lo, hi)
	values := r.photons(nodes)
	part := integrate.Trapezoidal(nodes, values)
	if !(part > 0) {
		return nil, 0, &BandError{first, last, "of the response has nothing in the spectrum", nm[0], nm[len(nm)-1]}
	}
	return weighed(nm, nodes, values), part / whole, nil
}

// photons returns E·λ·S at increasing wavelengths within the response and the table.
func (r *Response) photons(nm []float64) []float64 {
	out := ordinates(nm, Photon)
	at := cursor{x: r.NM}
	for k, x := range nm {
		i, f := at.find(x)
		out[k] *= r.Share[i]*(1-f) + r.Share[i+1]*f
	}
	return out
}
