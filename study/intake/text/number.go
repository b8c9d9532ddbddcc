package text

import (
	"math"
	"strconv"
)

// Up to these bounds the product or quotient of an integer and a power of ten
// has exact operands and is rounded once, so it is the nearest float64.
// Source: W. D. Clinger, "How to read floating point numbers accurately", PLDI
// 1990, 92-101 (cited from memory); strconv rests on the same rule.
const (
	exactMantissa = 1 << 53
	exactPower    = 22
	mantissaRoom  = 19 // digits that always fit into a uint64
	mostDigits    = 4096
)

var powersOfTen = [exactPower + 1]float64{
	1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11,
	1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22,
}

// ParseNumber reads the longest number at the start of b, with the decimal mark
// given (a point or a comma), and returns the float64 nearest to that number
// times ten to the power shift, with the count of bytes it took. A count of 0
// means that b does not start with a number or that the number is too large or too
// long.
//
// A number is a sign, digits with at most one mark among them, and an exponent;
// sign and exponent may be absent. A point may come first or last (.5 and 5.); a
// comma needs a digit on both sides, since it may also separate.
//
// The shift makes percent (-2) and micrometres (+3) exact: 4.12 % becomes the
// float64 nearest to 0.0412, and 0.41 µm the same 410 as in a file in nm.
func ParseNumber(b []byte, mark byte, shift int) (float64, int) {
	var mantissa uint64
	i, digits, power := 0, 0, 0
	negative := false
	if len(b) > 0 && (b[0] == '-' || b[0] == '+') {
		negative = b[0] == '-'
		i = 1
	}
	first := i
	mantissa, i = ReadDigits(b, i, 0)
	digits = i - first
	if i < len(b) && b[i] == mark && markBelongs(b, i, mark, digits) {
		first = i + 1
		mantissa, i = ReadDigits(b, first, mantissa)
		digits += i - first
		power = first - i
	}
	if digits == 0 {
		return 0, 0
	}
	end, exponent, used := i, 0, 0
	if i < len(b) && b[i]|0x20 == 'e' {
		exponent, used = ParseExponent(b[i:])
	}
	power += exponent + shift
	if v, ok := Scaled(mantissa, power); ok && digits <= mantissaRoom {
		if negative {
			v = -v
		}
		return v, end + used
	}
	v, ok := parseSlowly(b[:end], mark, exponent+shift)
	if !ok {
		return 0, 0
	}
	return v, end + used
}

// ReadDigits appends the digits from b[i] on to a mantissa and returns where they
// end.
func ReadDigits(b []byte, i int, mantissa uint64) (uint64, int) {
	for ; i < len(b) && b[i]-'0' <= 9; i++ {
		mantissa = mantissa*10 + uint64(b[i]-'0')
	}
	return mantissa, i
}

// Scaled returns the float64 nearest to a mantissa times ten to a power. ok is false, and the
// number none, where that takes more than one rounding: see the bounds above.
func Scaled(mantissa uint64, power int) (v float64, ok bool) {
	if mantissa >= exactMantissa || power < -exactPower || power > exactPower {
		return 0, false
	}
	v = float64(int64(mantissa)) // one instruction, where that of a uint64 is several
	if power < 0 {
		return v / powersOfTen[-power], true
	}
	return v * powersOfTen[power], true
}

// markBelongs reports whether the mark at b[i], after the given count of
// digits, is part of the number.
func markBelongs(b []byte, i int, mark byte, digits int) bool {
	digitFollows := i+1 < len(b) && b[i+1]-'0' <= 9
	if mark == '.' {
		return digitFollows || digits > 0
	}
	return digitFollows && digits > 0
}

// ParseExponent reads what is behind the e at b[0]: a sign or none, and
// digits. It returns 0, 0 if there are none.
func ParseExponent(b []byte) (exponent, used int) {
	if len(b) < 2 {
		return 0, 0
	}
	i := 1
	if b[1] == '-' || b[1] == '+' {
		i = 2
	}
	first := i
	for ; i < len(b) && b[i]-'0' <= 9; i++ {
		// Beyond any float64 the exact exponent no longer matters; the cap only
		// has to outweigh the digits of the longest line.
		if exponent < 1<<40 {
			exponent = exponent*10 + int(b[i]-'0')
		}
	}
	if i == first {
		return 0, 0
	}
	if b[1] == '-' {
		exponent = -exponent
	}
	return exponent, i
}

// parseSlowly leaves long numbers and large exponents to strconv. What is longer
// than any number is none.
func parseSlowly(digits []byte, mark byte, exponent int) (float64, bool) {
	if len(digits) > mostDigits {
		return 0, false
	}
	var room [64]byte
	text := append(room[:0], digits...)
	for i, c := range text {
		if c == mark {
			text[i] = '.'
		}
	}
	text = append(text, 'e')
	text = strconv.AppendInt(text, int64(exponent), 10)
	v, err := strconv.ParseFloat(string(text), 64)
	return v, err == nil && !math.IsInf(v, 0)
}

// Ends returns the least and the greatest number that is not NaN.
func Ends(x []float64) (low, high float64) {
	low, high = math.Inf(1), math.Inf(-1)
	for _, v := range x {
		if v < low {
			low = v
		}
		if v > high {
			high = v
		}
	}
	return low, high
}
