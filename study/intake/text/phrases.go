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

// Listed joins phrases: a, b and c.
func Listed(phrases []string) string {
	last := len(phrases) - 1
	if last == 0 {
		return phrases[0]
	}
	return strings.Join(phrases[:last], ", ") + " and " + phrases[last]
}

// OrOf writes alternatives: nm, um or cm-1.
func OrOf(words []string) string {
	last := len(words) - 1
	if last == 0 {
		return words[0]
	}
	return strings.Join(words[:last], ", ") + " or " + words[last]
}

// leastListed is how many numbers in a row are written as a range.
const leastListed = 3

// ListOf writes numbers as a person states them: 2,4 or 6-36.
func ListOf(numbers []int) string {
	var words []string
	for i := 0; i < len(numbers); {
		end := i + 1
		for end < len(numbers) && numbers[end] == numbers[end-1]+1 {
			end++
		}
		if end-i >= leastListed {
			words = append(words, fmt.Sprintf("%d-%d", numbers[i], numbers[end-1]))
			i = end
			continue
		}
		words = append(words, strconv.Itoa(numbers[i]))
		i++
	}
	return strings.Join(words, ",")
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
