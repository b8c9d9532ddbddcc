package placing_test

import (
	"fmt"

	"wane/study/intake"
	"wane/study/intake/placing"
	"wane/study/intake/text"
)

// A profile says by a pattern where curves belong. The export and the profile are made up.
func ExamplePlace() {
	profile, err := placing.ReadProfile("bench-1.yaml", []byte(`profile: bench-1
files: "{coupon}-pull{pull}.csv"
stated:
  unit: percent
curves:
  - column: "{angle} deg"
    coupon: "{coupon}"
    pull: "{pull}"
    spot: "1"
    angle: "{angle}"
    polarisation: u
    quantity: R
`))
	if err != nil {
		fmt.Println(err)
		return
	}
	const name = "A01-pull2.csv"
	export, err := intake.Read(name, []byte("nm,8 deg,60 deg\n400,4.12,9.03\n401,4.07,8.98\n402,4.03,8.95\n"),
		text.Stated{Unit: "percent", Quantity: "R", InMap: true})
	if err != nil {
		fmt.Println(err)
		return
	}
	lines, err := profile.Rules().For(name)
	if err != nil {
		fmt.Println(err)
		return
	}
	placed, _, err := placing.Place(lines, export.Spectra, export.Skipped)
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, p := range placed {
		at := p.Row.Place
		fmt.Printf("column %d: coupon %s, pull %d, spot %s, %g degrees\n", p.Spectrum.Column, at.Coupon, at.Pull, at.Spot,
			at.AngleDeg)
	}
	// Output:
	// column 2: coupon A01, pull 2, spot 1, 8 degrees
	// column 3: coupon A01, pull 2, spot 1, 60 degrees
}
