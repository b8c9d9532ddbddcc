package evaluate_test

import (
	"context"
	"fmt"
	"log"
	"math"

	"wane/fit/film"
	"wane/optics"
	"wane/study"
	"wane/study/evaluate"
)

// The reading of bare soda-lime glass by Fresnel's equations has no film, and no gain over the same
// glass without one. Of a coated coupon that means: the film is gone.
func ExampleEvaluator_Unit() {
	coupon := study.Coupon{Coupon: "A01", Role: study.Exposed, Glass: "soda-lime", GlassMM: study.Null(), Back: "matched"}
	setup, err := evaluate.CouponSetup(&coupon, "bruggeman", nil)
	if err != nil {
		log.Fatal(err)
	}
	e, err := evaluate.NewEvaluator(setup)
	if err != nil {
		log.Fatal(err)
	}
	var nm []float64
	for x := 380.0; x <= 1100; x += 5 {
		nm = append(nm, x)
	}
	values, _, err := optics.Stack{Substrate: optics.SodaLime()}.RT(nil, nil, nm, 8, optics.U)
	if err != nil {
		log.Fatal(err)
	}
	for i := range values { // read with four decimals
		values[i] = float64(int(values[i]*1e4+0.5)) / 1e4
	}
	unit := study.Unit{Coupon: "A01", Pull: 3, Spot: "1"}
	place := study.Place{Coupon: "A01", Pull: 3, Spot: "1", AngleDeg: 8, Polarisation: "u", Quantity: study.Reflectance}
	f, err := e.Unit(context.Background(), coupon.Role, unit, []study.Reading{{Place: place, NM: nm, Values: values}})
	if err != nil {
		log.Fatal(err)
	}
	fmt.Println("state:", f.Result.State)
	fmt.Printf("solar transmittance of the surface: %.3f\n", float64(f.Result.SolarT.Value))
	fmt.Println("gain within 0.01 pp of zero:", math.Abs(float64(f.Result.Gain.Value)) < 0.01)
	// Output:
	// state: stripped
	// solar transmittance of the surface: 0.957
	// gain within 0.01 pp of zero: true
}

// Each word that a row can carry is explained: what it means, the limit, and what to do about it.
func ExampleFlags() {
	term, ok := study.FindTerm(evaluate.Flags(), "not-separable:"+film.Porosity)
	fmt.Println(ok, term.Form())
	fmt.Println(term.Meaning)
	// Output:
	// true not-separable:NAME
	// these curves do not determine this parameter, so its value means little
}
