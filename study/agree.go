package study

import "math"

// An export may say of a curve at which angle and in which polarisation it was read, and a person
// may state both, by a flag, a map or a profile. The two have to agree. What only one of them
// says holds.

// AgreedAngle returns the angle of incidence of a curve that an export says and a person
// states, in degrees, and whether the two agree. NaN is nothing said.
func AgreedAngle(said, stated float64) (deg float64, ok bool) {
	switch {
	case math.IsNaN(said):
		return stated, true
	case math.IsNaN(stated):
		return said, true
	}
	return said, said == stated
}

// AgreedPolarisation returns the polarisation of a curve that an export says and a person
// states, and whether the two agree. "" is nothing said. Who states "n", the native beam, of a
// curve that is said to be unpolarised, "u", is more cautious and holds.
func AgreedPolarisation(said, stated string) (polarisation string, ok bool) {
	switch {
	case said == "", said == "u" && stated == "n":
		return stated, true
	case stated == "":
		return said, true
	}
	return said, said == stated
}
