package optics

import "gonum.org/v1/gonum/interp"

// Table returns an index known at the wavelengths nm, linear between them.
//
// nm holds at least two vacuum wavelengths in nm, strictly increasing; n and k
// are as long, n positive and k not negative. The slices are copied. Table
// panics if their lengths differ. Rows that are not so are a [*DomainError]
// naming the quantity, its position and its value.
func Table(name string, nm, n, k []float64) (Index, error) {
	if len(n) != len(nm) || len(k) != len(nm) {
		panic(panicColumns)
	}
	if err := checkTable(name, nm, n, k); err != nil {
		return Index{}, err
	}
	pn, pk := piecewise(nm, n), piecewise(nm, k)
	return Index{name: name, loNM: nm[0], hiNM: nm[len(nm)-1], at: func(nm float64) complex128 {
		return complex(pn.Predict(nm), pk.Predict(nm))
	}}, nil
}

func checkTable(name string, nm, n, k []float64) error {
	if len(nm) < 2 {
		return &DomainError{"number of rows of the table", -1, float64(len(nm)), "at least 2"}
	}
	if err := checkWavelengths(nm); err != nil {
		return err
	}
	for i := range nm {
		if i > 0 && nm[i] <= nm[i-1] {
			return &DomainError{"wavelength", i, nm[i], "greater than the one before, in nm"}
		}
		if err := checkIndex(Index{name: name}, i, complex(n[i], k[i])); err != nil {
			return err
		}
	}
	return nil
}

// piecewise returns the function that is linear between the points (x, y).
func piecewise(x, y []float64) interp.PiecewiseLinear {
	var p interp.PiecewiseLinear
	if err := p.Fit(x, y); err != nil {
		panic(err) // documented never to happen
	}
	return p
}
