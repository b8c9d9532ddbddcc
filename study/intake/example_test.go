package intake_test

import (
	"errors"
	"fmt"

	"wane/study"
	"wane/study/intake"
	"wane/study/intake/text"
)

// A made-up export with two curves: values become fractions, angles come from the headings.
func ExampleRead() {
	lines := "Operator: ada\n\nnm,8 deg %R,60 deg %R\n400,4.12,9.03\n401,4.07,8.98\n402,4.03,8.95\n"
	export, err := intake.Read("A01.csv", []byte(lines), text.Stated{})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, s := range export.Spectra {
		fmt.Printf("column %d, %g degrees: R(%g nm) = %g\n", s.Column, s.AngleDeg, s.NM[0], s.Values[0])
	}
	// Output:
	// column 2, 8 degrees: R(400 nm) = 0.0412
	// column 3, 60 degrees: R(400 nm) = 0.0903
}

// 0.41 may be a percentage or a fraction. The export is refused, with the answers of which one
// settles it.
func ExampleRead_question() {
	lines := []byte("nm,Reflectance\n400,0.41\n401,0.40\n402,0.40\n")
	_, err := intake.Read("A01.csv", lines, text.Stated{})
	var refusal *study.Refusal
	if !errors.As(err, &refusal) {
		fmt.Println("not refused:", err)
		return
	}
	fmt.Println(refusal)
	for _, choice := range refusal.Choices {
		fmt.Printf("  --%s %s: %s\n", choice.Name, choice.Value, choice.Meaning)
	}
	export, err := intake.Read("A01.csv", lines, text.Stated{Unit: "percent"})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(export.Spectra[0].Values)
	// Output:
	// A01.csv:1:4: column "Reflectance" does not say percent or fraction (its values run from 0.4 to 0.41)
	//   --unit percent: 0 to 100
	//   --unit fraction: 0 to 1
	// [0.0041 0.004 0.004]
}

// The packed form of JCAMP-DX: 1JT%jX stands for 1 2 3 3 2 1 0 -1 -2 -3 (R. S. McDonald, P. A. Wilks,
// JCAMP-DX: a standard form for exchange of infrared spectra in computer readable form, Appl.
// Spectrosc. 42 (1988) 151-162, from memory), here in steps of 0.01.
func ExampleRead_jcamp() {
	file := `##TITLE= made up
##JCAMP-DX= 4.24
##DATA TYPE= UV/VIS SPECTRUM
##ORIGIN= made up
##OWNER= made up
##XUNITS= NANOMETERS
##YUNITS= REFLECTANCE
##XFACTOR= 1
##YFACTOR= 0.01
##FIRSTX= 400
##LASTX= 409
##NPOINTS= 10
##FIRSTY= 0.01
##XYDATA= (X++(Y..Y))
400 1JT%jX
##END=
`
	export, err := intake.Read("made-up.jdx", []byte(file), text.Stated{})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(export.Spectra[0].NM)
	fmt.Println(export.Spectra[0].Values)
	// Output:
	// [400 401 402 403 404 405 406 407 408 409]
	// [0.01 0.02 0.03 0.03 0.02 0.01 0 -0.01 -0.02 -0.03]
}
