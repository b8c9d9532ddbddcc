package sheet

import (
	"fmt"
	"strings"

	"wane/study"
)

// mostIndex is beyond the n and k of any solid in sunlight.
const mostIndex = 10

var glassColumns = []string{"wavelength_nm", "n", "k"}

// ReadGlass reads a glass table: the header wavelength_nm,n,k, then one row a
// wavelength. name is used in messages and is the name of the glass. Every error
// is a [*study.Refusal].
func ReadGlass(name string, data []byte) (*study.Glass, error) {
	s, err := open(name, data)
	if err != nil {
		return nil, err
	}
	if err := s.names(glassColumns, nil); err != nil {
		return nil, err
	}
	g := &study.Glass{Name: name}
	for i := range s.rows {
		r := &s.rows[i]
		var v [3]float64
		for k, c := range glassColumns {
			r.needed(c)
			v[k] = float64(r.number(c))
		}
		if r.Err != nil {
			return nil, r.Err
		}
		g.NM, g.N, g.K = append(g.NM, v[0]), append(g.N, v[1]), append(g.K, v[2])
		switch {
		case v[0] <= 0 || i > 0 && v[0] <= g.NM[i-1]:
			r.Refuse("wavelength_nm", "sort the rows by wavelength, in nm, each once", "%g is not larger than in the row before",
				v[0])
		case !(v[1] > 0 && v[1] <= mostIndex):
			r.Refuse("n", "give the refractive index", "%g is not an index: it must be above 0 and at most %d", v[1], mostIndex)
		case !(v[2] >= 0 && v[2] <= mostIndex):
			r.Refuse("k", "give k of n + ik", "%g is not a k of n + ik: it must be at least 0 and at most %d", v[2], mostIndex)
		}
		if r.Err != nil {
			return nil, r.Err
		}
	}
	if len(g.NM) < 2 {
		return nil, &study.Refusal{File: name,
			Fault: fmt.Sprintf("the glass table has %d rows; two are the least", len(g.NM)),
			Try:   "write " + strings.Join(glassColumns, ",") + ", one row a wavelength"}
	}
	return g, nil
}
