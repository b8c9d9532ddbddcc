package foreign

import (
	_ "embed"
	"fmt"
	"math"
	"math/cmplx"
	"sort"
	"strconv"
	"strings"
)

// Glasses by the words of the study's register.
const (
	SodaLime    = "soda-lime"
	LowIron     = "low-iron"
	FusedSilica = "fused-silica"
	Crown       = "borosilicate-crown"
)

// sellmeier returns the index for n^2 = 1 + sum B w^2 / (w^2 - C^2), w in um, pairs of B and C^2.
func sellmeier(lambdaNM float64, terms ...float64) float64 {
	w2 := lambdaNM * lambdaNM * 1e-6
	n2 := 1.0
	for i := 0; i < len(terms); i += 2 {
		n2 += terms[i] * w2 / (w2 - terms[i+1])
	}
	return math.Sqrt(n2)
}

// silica is fused silica: I. H. Malitson, J. Opt. Soc. Am. 55, 1205-1208 (1965), 210-3710 nm.
func silica(lambdaNM float64) float64 {
	return sellmeier(lambdaNM, 0.6961663, 0.0684043*0.0684043, 0.4079426, 0.1162414*0.1162414,
		0.8974794, 9.896161*9.896161)
}

// sodaLime is window glass: M. Rubin, Sol. Energy Mater. 12, 275-288 (1985), 310-4600 nm; the
// formula is used down to 300 nm. Clear and low-iron glass have the same index.
func sodaLime(lambdaNM float64) float64 {
	w2 := lambdaNM * lambdaNM * 1e-6
	return 1.5130 - 0.003169*w2 + 0.003962/w2
}

// crown is glass code 517642: SCHOTT data sheet of N-BK7, 300-2500 nm.
func crown(lambdaNM float64) float64 {
	return sellmeier(lambdaNM, 1.03961212, 0.00600069867, 0.231792344, 0.0200179144, 1.01046945, 103.560653)
}

// water at 20 C: M. Daimon, A. Masumura, Appl. Opt. 46, 3811-3820 (2007), 182-1129 nm; beyond,
// where pores of a film hold little light, its formula is used to 2500 nm (within 0.03 of Hale
// and Querry 1973).
func water(lambdaNM float64) float64 {
	return sellmeier(lambdaNM, 5.684027565e-1, 5.101829712e-3, 1.726177391e-1, 1.821153936e-2,
		2.086189578e-2, 2.620722293e-2, 1.130748688e-1, 1.069792721e1)
}

// glassIndex returns the index of a named glass; it panics at another name.
func glassIndex(name string, lambdaNM float64) float64 {
	switch name {
	case SodaLime, LowIron:
		return sodaLime(lambdaNM)
	case FusedSilica:
		return silica(lambdaNM)
	case Crown:
		return crown(lambdaNM)
	}
	panic(fmt.Sprintf("foreign: no glass %q", name))
}

// bruggeman returns the permittivity e of a solid with a share porosity of pores of permittivity
// pore:
//
//	(1 - p) (solid - e) / (solid + 2 e) + p (pore - e) / (pore + 2 e) = 0
//
// Source: D. A. G. Bruggeman, Ann. Phys. 416, 636-664 (1935), symmetric mixing; from memory.
func bruggeman(solid, pore, porosity float64) float64 {
	b := (2-3*porosity)*solid + (3*porosity-1)*pore
	return (b + math.Sqrt(b*b+8*solid*pore)) / 4
}

// moist returns the permittivity of a solid whose pores are filled with water to a share filled
// of their volume, the rest being air: Bruggeman's rule with three parts, solved by Newton steps.
func moist(solid, wet, porosity, filled float64) float64 {
	parts := [3][2]float64{{1 - porosity, solid}, {porosity * filled, wet}, {porosity * (1 - filled), 1}}
	e := bruggeman(solid, 1+filled*(wet-1), porosity)
	for range 50 {
		value, slope := 0.0, 0.0
		for _, part := range parts {
			sum := part[1] + 2*e
			value += part[0] * (part[1] - e) / sum
			slope -= part[0] * 3 * part[1] / (sum * sum)
		}
		e -= value / slope
		if math.Abs(value/slope) < 1e-14 {
			break
		}
	}
	return e
}

// squared returns the permittivity of an index.
func squared(index complex128) complex128 { return index * index }

// withLoss gives a lossless permittivity the extinction k.
func withLoss(eps, k float64) complex128 {
	if k == 0 {
		return complex(eps, 0)
	}
	return squared(cmplx.Sqrt(complex(eps, 0)) + complex(0, k))
}

//go:embed soda_lime_k.csv
var extinctionTable string

// extinction is the table of Rubin 1985: wavelengths in nm, k of clear and of low-iron glass.
type extinction struct{ lambda, clear, lowIron []float64 }

// at returns k of a glass, linear between rows; glasses without a table are lossless.
func (e *extinction) at(glass string, lambdaNM float64) float64 {
	var k []float64
	switch glass {
	case SodaLime:
		k = e.clear
	case LowIron:
		k = e.lowIron
	default:
		return 0
	}
	i := sort.SearchFloat64s(e.lambda, lambdaNM)
	if i == 0 || i == len(k) {
		panic(fmt.Sprintf("foreign: no extinction of glass at %g nm", lambdaNM))
	}
	part := (lambdaNM - e.lambda[i-1]) / (e.lambda[i] - e.lambda[i-1])
	return k[i-1] + part*(k[i]-k[i-1])
}

// columns parses a table with # comments and one line of headings into its columns.
func columns(table string, n int) [][]float64 {
	out := make([][]float64, n)
	headed := false
	for line := range strings.Lines(table) {
		line = strings.TrimSpace(line)
		if line == "" || strings.HasPrefix(line, "#") {
			continue
		}
		if !headed {
			headed = true
			continue
		}
		for i, cell := range strings.SplitN(line, ",", n) {
			value, err := strconv.ParseFloat(cell, 64)
			if err != nil {
				panic(fmt.Sprintf("foreign: embedded table: %v", err))
			}
			out[i] = append(out[i], value)
		}
	}
	return out
}
