package film

import (
	"math"
	"slices"
	"sort"

	"wane/optics"
)

// Blank is a pane without a film whose transmittance was read, by which the absorption of panes of the same glass and
// thickness is known. What its reading is off by, such as the scale of its session, is in the absorption that
// follows; where the pane under a film was read in the same session, it cancels.
type Blank struct {
	NM         []float64 // rising
	Absorbance []float64 // of the glass once through along the normal: -ln of its transmittance; noise may make it negative
	NoiseSD    float64   // of one point of the reading, a fraction
}

// leastBlank is the transmittance below which a pane counts as opaque.
const leastBlank = 1e-4

// NewBlank returns the blank of a reading t, fractions at the wavelengths nm, of a pane with two bare faces of the
// index glass, at angleDeg. With r the reflectance of a face, T the transmittance and A that of the glass once
// through,
//
//	T = (1-r)²·A / (1 - r²·A²)        A = [√((1-r)⁴ + 4·r²·T²) - (1-r)²] / (2·r²·T)
//
// A face has the mean reflectance of s and p, which is right to 4e-5 up to 15 degrees. The errors are those of
// package optics.
func NewBlank(glass optics.Index, nm, t []float64, angleDeg float64) (*Blank, error) {
	face, err := optics.NewSurface(nm, angleDeg, glass)
	if err != nil {
		return nil, err
	}
	s, p := face.Bare()
	b := &Blank{NM: slices.Clone(nm), Absorbance: make([]float64, len(nm)), NoiseSD: Noise(nm, t)}
	sin := math.Sin(angleDeg * math.Pi / 180)
	for i, v := range t {
		r, v := (s.R[i]+p.R[i])/2, max(v, leastBlank)
		in := (1 - r) * (1 - r)
		pass := (math.Sqrt(in*in+4*r*r*v*v) - in) / (2 * r * r * v)
		n, err := glass.At(nm[i])
		if err != nil {
			return nil, err
		}
		cos := math.Sqrt(1 - sin*sin/(real(n)*real(n)))
		b.Absorbance[i] = -math.Log(pass) * cos
	}
	return b, nil
}

// at returns the absorbance at a wavelength by a straight line between its neighbours; ok is false outside the reading.
func (b *Blank) at(nm float64) (absorbance float64, ok bool) {
	n := len(b.NM)
	if n < 2 || nm < b.NM[0] || nm > b.NM[n-1] {
		return 0, false
	}
	k := max(1, sort.SearchFloat64s(b.NM, nm))
	return lineAt(nm, b.NM[k-1], b.NM[k], b.Absorbance[k-1], b.Absorbance[k]), true
}

// equals reports whether two blanks are the same, or none is one.
func (b *Blank) equals(o *Blank) bool {
	if b == nil || o == nil {
		return b == o
	}
	return b.NoiseSD == o.NoiseSD && slices.Equal(b.NM, o.NM) && slices.Equal(b.Absorbance, o.Absorbance)
}
