package intake

import (
	"math"
)

// angleOf returns the angle of incidence that a heading states, in degrees, or
// NaN if it states none. The angle of a viewing direction, a rotation or a
// polariser is none.
func (r *reader) angleOf(l label, at place) (float64, error) {
	if len(l.angles) == 0 || l.viewing {
		return math.NaN(), nil
	}
	first := readAngle(l.angles[0])
	for _, text := range l.angles {
		angle := readAngle(text)
		if !(angle >= 0 && angle < 90) {
			return 0, r.refuse(at, "correct the heading: an angle of incidence is counted from the normal",
				"heading %s gives an angle of %s degrees, outside 0 to below 90", quoted(l.text), short(text))
		}
		if angle != first {
			return 0, r.refuse(at, "give each column one angle of incidence",
				"heading %s gives two angles", quoted(l.text))
		}
	}
	return first, nil
}

// readAngle reads an angle as the tokens of a heading hold it: digits with at
// most one point or comma.
func readAngle(text string) float64 {
	negative := text[0] == '-'
	if negative {
		text = text[1:]
	}
	mark := byte('.')
	for i := range len(text) {
		if text[i] == ',' {
			mark = ','
		}
	}
	v, n := parseNumber([]byte(text), mark, 0)
	if n != len(text) {
		return math.NaN()
	}
	if negative {
		return -v
	}
	return v
}
