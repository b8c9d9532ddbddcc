package colour_test

import (
	"fmt"

	"wane/optics"
	"wane/optics/colour"
)

// The colour of bare glass and of a film on it, seen near the normal in daylight; both so that the glass has L* 90.
func Example() {
	nm := grid(380, 780, 5)
	weights, err := colour.For(nm, colour.D65)
	if err != nil {
		fmt.Println(err)
		return
	}
	glass := optics.Stack{Substrate: optics.SodaLime()}
	film := optics.Stack{Films: []optics.Film{{Index: optics.Constant("porous silica", 1.25), ThicknessNM: 118}},
		Substrate: optics.SodaLime()}
	var seen [2]colour.XYZ
	for i, s := range []optics.Stack{glass, film} {
		r, _, err := s.RT(nil, nil, nm, 8, optics.U)
		if err != nil {
			fmt.Println(err)
			return
		}
		seen[i] = weights.XYZ(r)
	}
	as := colour.Lab{L: 90}.XYZ(colour.D65.White()).Y / seen[0].Y
	lab := seen[1].Times(as).Lab(colour.D65.White())
	fmt.Printf("the film reflects %.2f %% of the light; a* %.0f, b* %.0f\n", seen[1].Y, lab.A, lab.B)
	// Output: the film reflects 0.12 % of the light; a* 34, b* -54
}
