package text

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Quoted shows a piece of the file in a message: on one line, and not too long.
func Quoted(text string) string { return strconv.Quote(Short(text)) }

func Short(text string) string { return CutAt(text, 40) }

// CutAt cuts a text behind so many characters.
func CutAt(text string, room int) string {
	n := 0
	for i := range text {
		if n == room {
			return text[:i] + "..."
		}
		n++
	}
	return text
}

// Figure writes a number as people read it: six digits at most, thousands
// marked (1,950), powers of ten only where needed.
func Figure(v float64) string {
	size := math.Abs(v)
	if size != 0 && (size < 1e-3 || size >= 1e9) {
		return strconv.FormatFloat(v, 'g', 6, 64)
	}
	if size >= 1e5 {
		return thousands(strconv.FormatFloat(v, 'f', 0, 64))
	}
	rounded, _ := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 6, 64), 64)
	return thousands(strconv.FormatFloat(rounded, 'f', -1, 64))
}

func thousands(digits string) string {
	whole, fraction, _ := strings.Cut(digits, ".")
	sign := ""
	if strings.HasPrefix(whole, "-") {
		sign, whole = "-", whole[1:]
	}
	for i := len(whole) - 3; i > 0; i -= 3 {
		whole = whole[:i] + "," + whole[i:]
	}
	if fraction != "" {
		whole += "." + fraction
	}
	return sign + whole
}

// Count writes a number of things: 1 row, 3 rows.
func Count(n int, thing string) string {
	if n == 1 {
		return "1 " + thing
	}
	return thousands(strconv.Itoa(n)) + " " + thing + "s"
}

// Wavelength writes a wavelength without thousands marks: 1010.2.
func Wavelength(nm float64) string { return strconv.FormatFloat(nm, 'g', 10, 64) }

// Joined writes one phrase or more as a sentence lists them, with and or or before the last:
// nm, um or cm-1.
func Joined(phrases []string, conjunction string) string {
	last := len(phrases) - 1
	if last == 0 {
		return phrases[0]
	}
	return strings.Join(phrases[:last], ", ") + " " + conjunction + " " + phrases[last]
}

// Points counts the points of a curve, of one at least, and writes the
// first, one in the middle and the last: nm and fraction.
func Points(nm, values []float64) string {
	n := len(nm)
	var points []string
	for _, i := range []int{0, n / 2, n - 1} {
		points = append(points, fmt.Sprintf("%s nm %s", Wavelength(nm[i]), Figure(values[i])))
	}
	return Count(n, "point") + "; " + strings.Join(points, ", ")
}
