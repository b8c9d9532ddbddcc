package solar_test

import (
	"fmt"

	"gonum.org/v1/gonum/floats"

	"wane/optics"
	"wane/optics/solar"
)

// What a film of index 1.25 and 120 nm gains on soda-lime glass: 3.42 percentage
// points of sunlight from 300 to 1200 nm (testdata/worked.py: 0.0342).
func ExampleWeights() {
	nm := solar.Grid(300, 1200)
	w, share, err := solar.Weights(nm, 300, 1200, solar.Energy)
	if err != nil {
		fmt.Println(err)
		return
	}
	film := optics.Film{Index: optics.Constant("porous silica", 1.25), ThicknessNM: 120}
	bare := optics.Stack{Substrate: optics.SodaLime()}
	coated := optics.Stack{Films: []optics.Film{film}, Substrate: optics.SodaLime()}

	var mean [2]float64
	for i, s := range []optics.Stack{bare, coated} {
		r, _, err := s.RT(nil, nil, nm, 0, optics.U)
		if err != nil {
			fmt.Println(err)
			return
		}
		mean[i] = floats.Dot(w, r)
	}
	fmt.Printf("%.2f pp, %.0f %% of the band covered\n", 100*(mean[0]-mean[1]), 100*share)
	// Output:
	// 3.42 pp, 100 % of the band covered
}

// Sunlight as ASTM G173-03 states it: 1000.37 W/m² in all (from memory), of which silicon can use the
// part up to its band edge, some 1107 nm.
func ExampleIrradiance() {
	for _, band := range [][2]float64{{280, 4000}, {280, 1107}} {
		watts, err := solar.Irradiance(band[0], band[1])
		if err != nil {
			fmt.Println(err)
			return
		}
		fmt.Printf("%g to %g nm: %.1f W/m²\n", band[0], band[1], watts)
	}
	_, err := solar.Irradiance(200, 400)
	fmt.Println(err)
	// Output:
	// 280 to 4000 nm: 1000.4 W/m²
	// 280 to 1107 nm: 807.8 W/m²
	// solar: band from 200 to 400 nm is empty or reaches beyond the table, 280 to 4000 nm
}
