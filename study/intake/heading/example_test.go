package heading_test

import (
	"fmt"

	"wane/study/intake/heading"
)

// What the words above a column state, and no more: of 45 degrees of viewing nothing follows for the
// angle of incidence.
func ExampleParse() {
	for _, words := range []string{"Wavelength (um)", "G07 8 deg %R s", "%T", "viewed at 45 deg %R"} {
		l := heading.Parse(words)
		fmt.Printf("%-20s axis %q, quantity %q, unit %q, angles %q, viewing %t, polarisation %q\n",
			words, l.Axis, l.Quantity, l.Unit, l.Angles, l.Viewing, l.Polarisation)
	}
	// Output:
	// Wavelength (um)      axis "um", quantity "", unit "", angles [], viewing false, polarisation ""
	// G07 8 deg %R s       axis "", quantity "R", unit "percent", angles ["8"], viewing false, polarisation "s"
	// %T                   axis "", quantity "T", unit "percent", angles [], viewing false, polarisation ""
	// viewed at 45 deg %R  axis "", quantity "R", unit "percent", angles ["45"], viewing true, polarisation ""
}
