package study

import "math"

// An export may name the angle and the polarisation of a curve, and a person may state both by a
// flag, a map or a profile. The two must agree. If only one of them gives a value, that value
// counts.

// AgreedAngle returns the angle of incidence of a curve, in degrees, from that in the export
// (said) and that stated by a person (stated). NaN means that there is none. ok is false if the
// two differ; deg is then said.
func AgreedAngle(said, stated float64) (deg float64, ok bool) {
	switch {
	case math.IsNaN(said):
		return stated, true
	case math.IsNaN(stated):
		return said, true
	}
	return said, said == stated
}

// AgreedPolarisation returns the polarisation of a curve from that in the export (said) and that
// stated by a person (stated). "" means that there is none. ok is false if the two differ;
// polarisation is then said. One difference is allowed: "n", the native beam, stated of a curve
// that the export calls unpolarised, "u". The result is "n", the more cautious of the two.
func AgreedPolarisation(said, stated string) (polarisation string, ok bool) {
	switch {
	case said == "", said == "u" && stated == "n":
		return stated, true
	case stated == "":
		return said, true
	}
	return said, said == stated
}
