package optics

import (
	_ "embed"
	"math"
	"sync"

	"gonum.org/v1/gonum/interp"

	"wane/optics/internal/figures"
)

// FusedSilica returns the index of fused silica at 20 °C, 210 to 3710 nm,
// lossless. It is relative to air; the 0.03 % between air and vacuum is not
// corrected.
//
// Source: I. H. Malitson, J. Opt. Soc. Am. 55, 1205-1208 (1965); coefficients
// from refractiveindex.info-database (CC0), main/SiO2/nk/Malitson.
func FusedSilica() Index {
	return Index{name: "fused silica", loNM: 210, hiNM: 3710, at: malitson}
}

// BorosilicateCrown returns the index of the borosilicate crown glass of glass
// code 517642 (n 1.517 and Abbe number 64.2 at the d line) at 20 °C, 300 to
// 2500 nm, lossless. It is relative to air; the 0.03 % between air and vacuum is
// not corrected.
//
// Source: SCHOTT, data sheet and catalogue of optical glass of 2017-01-20
// (edition b), glass N-BK7; coefficients from refractiveindex.info-database
// (CC0), specs/schott/optical/N-BK7.
func BorosilicateCrown() Index {
	return Index{name: "borosilicate crown glass", loNM: 300, hiNM: 2500, at: borosilicateCrown}
}

// SodaLime returns the index of clear soda-lime window glass, 300 to 4600 nm,
// with absorption. k is linear between the rows of the source's table.
//
// The source begins at 310 nm. From 300 to 310 nm, n follows the same formula and k
// is constant at its value at 310 nm. That k is too small: the absorption of the
// glass rises steeply towards the ultraviolet.
//
// Source: M. Rubin, Sol. Energy Mater. 12, 275-288 (1985); figures from
// refractiveindex.info-database (CC0), glass/misc/soda-lime/nk/Rubin-clear.
func SodaLime() Index {
	k := rubinK().clear
	return Index{name: "soda-lime glass", loNM: 300, hiNM: 4600, at: func(nm float64) complex128 {
		return complex(rubin(nm), k.Predict(nm))
	}}
}

// LowIron returns the index of low-iron soda-lime glass, 300 to 4600 nm, with
// absorption: the n of [SodaLime] and a k of its own, with the same extension
// below 310 nm and from the same source (Rubin-lowiron).
func LowIron() Index {
	k := rubinK().lowIron
	return Index{name: "low-iron glass", loNM: 300, hiNM: 4600, at: func(nm float64) complex128 {
		return complex(rubin(nm), k.Predict(nm))
	}}
}

// malitson is n² = 1 + Σ B w²/(w² - C²), w in µm.
func malitson(nm float64) complex128 {
	w2 := nm * nm * 1e-6
	n2 := 1 +
		0.6961663*w2/(w2-0.0684043*0.0684043) +
		0.4079426*w2/(w2-0.1162414*0.1162414) +
		0.8974794*w2/(w2-9.896161*9.896161)
	return complex(math.Sqrt(n2), 0)
}

// borosilicateCrown is n² = 1 + Σ B w²/(w² - C), w in µm.
func borosilicateCrown(nm float64) complex128 {
	w2 := nm * nm * 1e-6
	n2 := 1 +
		1.03961212*w2/(w2-0.00600069867) +
		0.231792344*w2/(w2-0.0200179144) +
		1.01046945*w2/(w2-103.560653)
	return complex(math.Sqrt(n2), 0)
}

// rubin is n = A + B w² + C/w², w in µm.
func rubin(nm float64) float64 {
	w2 := nm * nm * 1e-6
	return 1.5130 - 0.003169*w2 + 0.003962/w2
}

//go:embed soda_lime_k.csv
var sodaLimeK string

type sodaLimeExtinction struct{ clear, lowIron interp.PiecewiseLinear }

var rubinK = sync.OnceValue(func() sodaLimeExtinction {
	columns := figures.MustColumns(sodaLimeK)
	return sodaLimeExtinction{
		clear:   piecewise(columns[0], columns[1]),
		lowIron: piecewise(columns[0], columns[2]),
	}
})
