package shown

import (
	"bytes"
	"fmt"
	"math"
	"strconv"
	"strings"

	"wane/study"
)

// Coverage is the factor k by which tables multiply standard uncertainties.
const Coverage = 2

// PlusMinus writes a quantity, multiplied by factor, with its expanded uncertainty (k=2) and its unit, which may be
// empty: 2.604 ± 0.039 pp; "-" if there is none.
func PlusMinus(m study.Measure, factor float64, unit string) string {
	if !m.Value.Valid() {
		return "-"
	}
	buf := make([]byte, 0, 32)
	v := factor * float64(m.Value)
	if !m.U.Valid() {
		buf = strconv.AppendFloat(buf, v+0, 'g', 6, 64)
	} else {
		u := Coverage * factor * float64(m.U)
		places := Decimals(u)
		buf = AppendDecimal(buf, v, places)
		buf = append(buf, " ± "...)
		buf = AppendDecimal(buf, u, places)
	}
	if unit != "" {
		buf = append(append(buf, ' '), unit...)
	}
	return string(buf)
}

// AppendDecimal writes v with so many decimal places. What rounds to zero has no sign.
func AppendDecimal(buf []byte, v float64, places int) []byte {
	start := len(buf)
	buf = strconv.AppendFloat(buf, v, 'f', places, 64)
	if buf[start] == '-' && len(bytes.Trim(buf[start:], "-0.")) == 0 {
		buf = append(buf[:start], buf[start+1:]...)
	}
	return buf
}

// Decimal is a number with so many decimal places, "-" if there is none.
func Decimal(n study.Num, places int) string {
	if !n.Valid() {
		return "-"
	}
	return string(AppendDecimal(nil, float64(n), places))
}

// Decimals returns the decimal places that show two significant digits of u.
func Decimals(u float64) int {
	if !(u > 0) {
		return 3
	}
	exponent := int(math.Floor(math.Log10(u)))
	return min(max(1-exponent, 0), 6)
}

// Dash is a text, "-" if it is empty.
func Dash(s string) string {
	if s == "" {
		return "-"
	}
	return s
}

// OrDash is a number, "-" if it is 0.
func OrDash(n int) string {
	if n == 0 {
		return "-"
	}
	return strconv.Itoa(n)
}

// OrNil is a number for programs, nil if there is none.
func OrNil(n study.Num) any {
	if !n.Valid() {
		return nil
	}
	return float64(n) + 0 // a zero without a sign
}

// OrEmpty is a text for programs, nil if it is empty.
func OrEmpty(s string) any {
	if s == "" {
		return nil
	}
	return s
}

// Count writes a number of things: 1 curve, 3 curves.
func Count[N int | int64](n N, thing string) string {
	if n == 1 {
		return "1 " + thing
	}
	return fmt.Sprintf("%d %ss", n, thing)
}

// FirstOf names the first n of all, and says how many more there are.
func FirstOf(all []string, n int) string {
	if rest := len(all) - n; rest > 0 {
		return fmt.Sprintf("%s and %d more", strings.Join(all[:n], ", "), rest)
	}
	return strings.Join(all, ", ")
}

// AddOnce appends those words that a list does not have.
func AddOnce(list []string, words ...string) []string {
	known := map[string]bool{}
	for _, w := range list {
		known[w] = true
	}
	for _, w := range words {
		if !known[w] {
			known[w] = true
			list = append(list, w)
		}
	}
	return list
}

// OrZero is null for a number that counts from 1 and is not there.
func OrZero(n int64) any {
	if n == 0 {
		return nil
	}
	return n
}
