package optics_test

import (
	"fmt"

	"wane/optics"
)

// Glass of 1.52 with a quarter wave of magnesium fluoride, 1.38, at 552 nm reflects
// ((1.52-1.38²)/(1.52+1.38²))² = 1.26 % instead of 4.26 % (M. Born, E. Wolf, Principles of
// Optics, 7th ed. (1999), 1.6.4, from memory).
func ExampleStack_RT() {
	glass := optics.Constant("crown glass", 1.52)
	bare := optics.Stack{Substrate: glass}
	coated := optics.Stack{
		Films:     []optics.Film{{Index: optics.Constant("MgF2", 1.38), ThicknessNM: 100}},
		Substrate: glass,
	}
	for _, s := range []optics.Stack{bare, coated} {
		r, _, err := s.RT(nil, nil, []float64{552}, 0, optics.U)
		if err != nil {
			fmt.Println(err)
			return
		}
		fmt.Printf("%.4f\n", r[0])
	}
	// Output:
	// 0.0426
	// 0.0126
}

// At Brewster's angle, atan 1.52 = 56.66 degrees, glass does not reflect p, and s by
// ((1.52²-1)/(1.52²+1))² = 0.1567 (M. Born, E. Wolf, Principles of Optics, 7th ed. (1999),
// 1.5.3, from memory).
func ExampleStack_RT_brewster() {
	face := optics.Stack{Substrate: optics.Constant("crown glass", 1.52)}
	for _, pol := range []optics.Polarisation{optics.S, optics.P, optics.U} {
		r, _, err := face.RT(nil, nil, []float64{550}, 56.6592926535, pol)
		if err != nil {
			fmt.Println(err)
			return
		}
		fmt.Printf("%.4f\n", r[0])
	}
	// Output:
	// 0.1567
	// 0.0000
	// 0.0783
}

// A pane of lossless glass of 1.52 transmits (1-r)/(1+r) = 0.918
// (testdata/closed_forms.py).
func ExamplePane_RT() {
	pane := optics.Pane{Glass: optics.Constant("crown glass", 1.52), GlassMM: 3.2, Back: optics.Bare}
	r, t, err := pane.RT(nil, nil, []float64{550}, 0, optics.U)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("R %.3f, T %.3f\n", r[0], t[0])
	// Output:
	// R 0.082, T 0.918
}

// A film of index 1.30 made of silica of 1.46 and air: the porosity depends on
// the rule, so porosities of different rules are not to be compared.
func ExampleMixing_PorosityReal() {
	for _, rule := range []optics.Mixing{optics.Bruggeman, optics.MaxwellGarnett, optics.LorentzLorenz,
		optics.VolumeAverage} {
		p, _, _ := rule.PorosityReal(1.30*1.30, 1.46*1.46, 1)
		fmt.Printf("%-15s %.3f\n", rule, p)
	}
	// Output:
	// bruggeman       0.337
	// maxwell-garnett 0.345
	// lorentz-lorenz  0.317
	// volume-average  0.390
}

// Fused silica at the yellow line of helium (I. H. Malitson, Interspecimen comparison of the
// refractive index of fused silica, J. Opt. Soc. Am. 55 (1965), 1205: 1.45846, by the
// refractiveindex.info database), and what it reflects at normal incidence, ((n-1)/(n+1))².
func ExampleIndex_At() {
	n, err := optics.FusedSilica().At(587.562)
	if err != nil {
		fmt.Println(err)
		return
	}
	r := (real(n) - 1) / (real(n) + 1)
	fmt.Printf("n %.5f, reflects %.4f\n", real(n), r*r)

	_, err = optics.FusedSilica().At(100)
	fmt.Println(err)
	// Output:
	// n 1.45846, reflects 0.0348
	// optics: index of fused silica is known from 210 to 3710 nm, not at 100 nm
}
