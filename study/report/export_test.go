package report

// Palette shows the colours of curves to the tests.
var Palette = palette

// StyleOf shows the style of a curve to the tests: colour, dashes, mark.
func StyleOf(i int) (colour, dashes, mark any) {
	s := styleOf(i)
	return s.colour, s.dashes, s.mark
}

// TickLabels shows the labels between lo and hi to the tests.
func TickLabels(lo, hi float64, most int) []string {
	var out []string
	for _, t := range ticks(most, true).Ticks(lo, hi) {
		out = append(out, t.Label)
	}
	return out
}
