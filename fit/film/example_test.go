package film_test

import (
	"context"
	"fmt"
	"log"
	"math"
	"math/rand/v2"

	"wane/fit/film"
	"wane/optics"
)

// madeUpCurve returns what an instrument might read of a porous silica film on soda-lime glass
// whose far face returns no light: nm are the wavelengths, and each point has normal noise of
// standard deviation 0.0004.
func madeUpCurve(nm []float64, angleDeg, thicknessNM, porosity float64) film.Curve {
	solid, err := optics.FusedSilica().On(nil, nm)
	if err != nil {
		log.Fatal(err)
	}
	n := make([]float64, len(nm))
	for i, s := range solid {
		n[i] = math.Sqrt(real(optics.Bruggeman.Mix(s*s, 1, porosity)))
	}
	index, err := optics.Table("film", nm, n, make([]float64, len(nm)))
	if err != nil {
		log.Fatal(err)
	}
	stack := optics.Stack{
		Films:     []optics.Film{{Index: index, ThicknessNM: thicknessNM}},
		Substrate: optics.SodaLime(),
	}
	r, _, err := stack.RT(nil, nil, nm, angleDeg, optics.U)
	if err != nil {
		log.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(1, uint64(angleDeg)))
	for i := range r {
		r[i] += 0.0004 * rng.NormFloat64()
	}
	return film.Curve{NM: nm, R: r, AngleDeg: angleDeg, Pol: optics.U}
}

// madeUpSpot returns the curves of one spot at two angles, from 380 to 1100 nm in steps of 4 nm.
func madeUpSpot(thicknessNM, porosity float64) *film.Spot {
	var nm []float64
	for x := 380.0; x <= 1100; x += 4 {
		nm = append(nm, x)
	}
	return &film.Spot{
		Setup:  film.Setup{Glass: film.Glass{Index: optics.SodaLime(), UIndex: 0.002}},
		Curves: []film.Curve{madeUpCurve(nm, 8, thicknessNM, porosity), madeUpCurve(nm, 45, thicknessNM, porosity)},
	}
}

// A made-up film, 118 nm thick with 36 % of voids, is found again from two curves.
func ExampleFit() {
	v, err := film.Fit(context.Background(), madeUpSpot(118, 0.36))
	if err != nil {
		log.Fatal(err)
	}
	fmt.Println("model:", v.Model)
	fmt.Printf("thickness: %.0f nm, within 5 nm: %t\n", v.ThicknessNM.Value, v.ThicknessNM.U < 5)
	fmt.Printf("porosity: %.2f\n", v.Porosity.Value)
	fmt.Println("separable:", v.Separable())
	// Output:
	// model: film
	// thickness: 118 nm, within 5 nm: true
	// porosity: 0.36
	// separable: true
}

// All pulls of one spot in one fit: glass and skeleton are the same at both, so that the change is
// known better than either thickness.
func ExampleJoint_Difference() {
	pulls := []film.Pull{
		{Member: film.Member{Spot: madeUpSpot(118, 0.36), Session: "January", Glass: "soda-lime", Coating: "A"}},
		{Member: film.Member{Spot: madeUpSpot(97, 0.36), Session: "July", Glass: "soda-lime", Coating: "A"}},
	}
	joint, err := film.FitPulls(context.Background(), pulls, 1)
	if err != nil {
		log.Fatal(err)
	}
	d, err := joint.Difference(film.Measurand{Name: film.Thickness}, 1, 0)
	if err != nil {
		log.Fatal(err)
	}
	before, after := joint.Spots[0].Verdict.ThicknessNM, joint.Spots[1].Verdict.ThicknessNM
	fmt.Printf("change of thickness: %.0f nm\n", d.Value)
	fmt.Println("better known than the two by themselves:", d.U < math.Hypot(before.U, after.U))
	// Output:
	// change of thickness: -21 nm
	// better known than the two by themselves: true
}
