package study_test

import (
	"fmt"

	"wane/study"
)

// A thickness by the fit less one by an ellipsometer, both made up. Nothing that bears on the one
// bears on the other, so that u = √(0.3² + 0.4²) = 0.5 nm (JCGM 100:2008, 5.1.2).
func ExampleMeasure_Minus() {
	fitted := study.Measure{Value: 117.0, U: 0.3}
	read := study.Measure{Value: 116.2, U: 0.4}
	d := fitted.Minus(read)
	fmt.Printf("%.1f ± %.1f nm\n", float64(d.Value), float64(d.U))
	// Output: 0.8 ± 0.5 nm
}

// What cannot be taken says where and why, and what to try.
func ExampleRefusal() {
	refusal := &study.Refusal{File: "coupons.csv", Line: 4, Column: 9, Fault: `there is no role "expsed"`,
		Try: "write exposed"}
	fmt.Println(refusal)
	fmt.Println("try:", refusal.Try)
	// Output:
	// coupons.csv:4:9: there is no role "expsed"
	// try: write exposed
}

// A spot is thinned if its thickness lies below 0.9 of that at pull 0 by more than twice the
// uncertainty of the difference. 0.9 · 120 nm is 108 nm; where nothing is common to both pulls and each has 1 nm, u is
// √(1² + 0.9²) = 1.35 nm.
func ExampleIsThinned() {
	fmt.Println(study.IsThinned(106, 120, 1.35))
	fmt.Println(study.IsThinned(105, 120, 1.35))
	// Output:
	// false
	// true
}
