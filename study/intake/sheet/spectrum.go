package sheet

import (
	"fmt"
	"strings"

	"wane/study"
)

var returnColumns = []string{"wavelength_nm", "return"}

// ReadReturnSpectrum reads the return spectrum of a laminated far face: the header
// wavelength_nm,return, then one row a wavelength, the return as a fraction. name is used
// in messages and is the name of the spectrum. Every error is a [*study.Refusal].
func ReadReturnSpectrum(name string, data []byte) (*study.ReturnSpectrum, error) {
	s, err := open(name, data)
	if err != nil {
		return nil, err
	}
	if err := s.names(returnColumns, nil); err != nil {
		return nil, err
	}
	out := &study.ReturnSpectrum{Name: name}
	for i := range s.rows {
		r := &s.rows[i]
		r.needed("wavelength_nm")
		nm := float64(r.number("wavelength_nm"))
		if nm <= 0 || i > 0 && nm <= out.NM[i-1] {
			r.Refuse("wavelength_nm", "sort the rows by wavelength, in nm, each once", "%g is not larger than in the row before", nm)
		}
		out.NM, out.Return = append(out.NM, nm), append(out.Return, r.fraction("return", 0, 1))
		if r.Err != nil {
			return nil, r.Err
		}
	}
	if len(out.NM) < 2 {
		return nil, &study.Refusal{File: name,
			Fault: fmt.Sprintf("the return spectrum has %d rows; two are the least", len(out.NM)),
			Try:   "write " + strings.Join(returnColumns, ",") + ", one row a wavelength"}
	}
	return out, nil
}
