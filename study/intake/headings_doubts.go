package intake

import (
	"slices"

	"wane/study/intake/heading"
)

// doubtLetters takes back the polarisations that a lone letter states if another
// column is named by one: spots may be called n, e, s and w.
func (h labelRow) doubtLetters() {
	named := false
	for _, l := range h.labels[1:] {
		named = named || l.NameLetter && !l.IsX()
	}
	for i := range h.labels {
		if l := &h.labels[i]; named && l.ByLetter {
			l.Polarisation, l.ByLetter = "", false
		}
	}
}

// doubtNames takes back what lone letters say of quantity and role if they are names of
// a series, as a neighbour in the alphabet or the four directions show: A, B, C.
func (h labelRow) doubtNames() {
	if !slices.ContainsFunc(h.labels, func(l heading.Label) bool { return l.OfLetter || l.CodeU }) {
		return
	}
	named := map[rune]bool{}
	for _, l := range h.labels {
		named[l.LoneLetter()] = true
	}
	for i := range h.labels {
		l := &h.labels[i]
		c := l.LoneLetter()
		isDirection := c == 'N' && named['E'] && named['S'] && named['W'] || c == 'n' && named['e'] && named['s'] &&
			named['w']
		if c != 0 && (named[c-1] || named[c+1]) {
			l.CodeU = false
		}
		if c != 0 && l.OfLetter && (named[c-1] || named[c+1] || isDirection) {
			l.Quantity, l.Role, l.LoneU, l.OfLetter = "", heading.AsValue, false, false
		}
	}
}

// doubtNumbered takes back what an R with a number behind it says, if columns beside it are
// named by another letter and a number: R1, S1 may be a reference and a sample.
func (h labelRow) doubtNumbered() {
	if !slices.ContainsFunc(h.labels, heading.Label.IsOtherCode) {
		return
	}
	for i := range h.labels {
		if l := &h.labels[i]; l.Numbered {
			l.Quantity, l.Numbered = "", false
		}
	}
}

// doubtUncertainties takes no column for an uncertainty if every one carries a lone u:
// there is nothing of which they could be the uncertainties.
func (h labelRow) doubtUncertainties() {
	for _, l := range h.labels {
		if !l.IsX() && l.Role != heading.AsIndex && !l.LoneU {
			return
		}
	}
	for i := range h.labels {
		if h.labels[i].LoneU {
			h.labels[i].Role = heading.AsValue
		}
	}
}
