package intake

import (
	"strings"
	"unicode/utf8"
)

// heading is what stands above the columns.
type heading struct {
	line   int     // 0 if there is none
	labels []label // one per column
	at     []place // where each stands, or where the rows begin
	pairs  bool    // the columns were put together so that wavelengths stand before their values
}

// headingReach is how many lines above the rows may hold the headings: a start
// marker may stand between.
const headingReach = 3

// findHeading returns the headings of the columns and the header lines that
// remain. Without headings the labels are empty.
func (r *reader) findHeading(lines []outsideLine, width int) (heading, []outsideLine, error) {
	for i := len(lines) - 1; i >= 0 && i >= len(lines)-headingReach; i-- {
		h, ok := headingFrom(lines[i], r.dialect, width)
		if !ok && i == len(lines)-1 {
			if err := r.checkHeadingWidth(lines[i], width); err != nil {
				return heading{}, nil, err
			}
		}
		if !ok || !h.namesX() {
			continue
		}
		rest := lines[:i:i]
		if i > 0 && lines[i-1].number == lines[i].number-1 {
			if above, ok := headingFrom(lines[i-1], r.dialect, width); ok && h.joins(above) {
				h = h.join(above)
				rest = rest[:i-1]
			}
		}
		return h, append(rest, lines[i+1:]...), nil
	}
	h, rest := r.nearestHeading(lines, width)
	return h, rest, nil
}

// namesX reports whether the headings name wavelengths and something else.
func (h heading) namesX() bool {
	xs := 0
	for _, l := range h.labels {
		if l.isX() {
			xs++
		}
	}
	return 0 < xs && xs < len(h.labels)
}

func headingFrom(line outsideLine, d dialect, width int) (heading, bool) {
	cells := splitHeading(line.text, d, width)
	if cells == nil {
		return heading{}, false
	}
	h := heading{line: line.number, labels: make([]label, 0, width), at: make([]place, 0, width)}
	for _, c := range cells {
		h.labels = append(h.labels, parseLabel(c.text))
		h.at = append(h.at, place{line.number, utf8.RuneCountInString(line.text[:c.at]) + 1})
	}
	return h, true
}

// nearestHeading takes the line right above the rows although it names no
// wavelength. With two columns it may as well be a key and its value, so it
// counts only if it names a quantity, and gives no angle.
func (r *reader) nearestHeading(lines []outsideLine, width int) (heading, []outsideLine) {
	none := heading{labels: make([]label, width)}
	for range width {
		none.at = append(none.at, place{line: r.block.line})
	}
	if len(lines) == 0 {
		return none, lines
	}
	last := len(lines) - 1
	h, ok := headingFrom(lines[last], r.dialect, width)
	if !ok {
		return none, lines
	}
	if !h.allNamed() {
		return none, lines
	}
	if width == 2 {
		if h.labels[1].quantity == "" {
			return none, lines
		}
		h.labels[1].angles = nil
	}
	return h, lines[:last]
}

// joins reports whether the row above h belongs to it: names above units, or
// samples above columns. A key and its value do not.
func (h heading) joins(above heading) bool {
	x := strings.ToLower(above.labels[0].text)
	switch {
	case h.unitsOnly() && (above.labels[0].isX() || isAny(x, "", "x")):
		return true
	case h.isPaired():
		return !above.namesX() && above.namesPairs()
	case isAny(x, "", "sample", "name", "id", "coupon", "spot"):
		return above.allNamed()
	case above.statesPolarisations():
		return true
	}
	return len(h.labels) > 2 && h.allAlike() && above.allNamed()
}

// allAlike reports whether the value columns all have the same heading.
func (h heading) allAlike() bool {
	for _, l := range h.labels[1:] {
		if l.text != h.labels[1].text {
			return false
		}
	}
	return true
}

// allNamed reports whether every value column has a name.
func (h heading) allNamed() bool {
	for _, l := range h.labels[1:] {
		if l.text == "" {
			return false
		}
	}
	return true
}

// unitsOnly reports whether the row holds nothing but units.
func (h heading) unitsOnly() bool {
	for _, l := range h.labels {
		if l.text != "" && !l.onlyUnit {
			return false
		}
	}
	return true
}

// isPaired reports whether every value column has a wavelength column of its
// own before it.
func (h heading) isPaired() bool {
	if h.pairs {
		return true
	}
	if len(h.labels) < 4 || len(h.labels)%2 != 0 {
		return false
	}
	for i, l := range h.labels {
		if l.isX() != (i%2 == 0) {
			return false
		}
	}
	return true
}

// namesPairs reports whether each pair of columns has one name.
func (h heading) namesPairs() bool {
	for i := 0; i < len(h.labels); i += 2 {
		a, b := h.labels[i].text, h.labels[i+1].text
		if a == "" && b == "" || a != "" && b != "" && a != b {
			return false
		}
	}
	return true
}

// join puts the row above before h. The name of a pair goes to its values.
func (h heading) join(above heading) heading {
	paired, polarised := h.isPaired(), above.statesPolarisations()
	for i := range h.labels {
		name := above.labels[i].text
		if paired && i%2 == 1 && name == "" {
			name = above.labels[i-1].text
		}
		if paired && i%2 == 0 {
			name = ""
		}
		h.labels[i] = parseLabel(strings.TrimSpace(name + " " + h.labels[i].text))
		if polarised {
			p, _ := polarisationIn(name)
			h.labels[i].addPolarisation(p)
		}
	}
	return h
}

// checkHeadingWidth refuses a row that names more columns than the rows have.
func (r *reader) checkHeadingWidth(line outsideLine, width int) error {
	d := r.dialect
	if d.sep == ' ' || len(line.text) > mostHeadings {
		return nil
	}
	body, _ := cutCommentMark(line.text, d.sep)
	cells := cutCells(body, d.sep)
	if len(cells) <= width || !parseLabel(cells[0].text).isX() {
		return nil
	}
	for _, c := range cells {
		if _, n := parseNumber([]byte(c.text), d.mark, 0); n > 0 && n == len(c.text) {
			return nil // a key and values
		}
	}
	return r.refuse(place{line: line.number}, exportAgain,
		"the headings name %d columns, the rows have %d", len(cells), width)
}
