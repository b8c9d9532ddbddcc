package intake

import (
	"slices"
	"strings"
	"unicode/utf8"

	"wane/study"
	"wane/study/intake/heading"
	"wane/study/intake/text"
)

// labelRow is what is above the columns.
type labelRow struct {
	line   int             // 0 if there is none
	labels []heading.Label // one per column
	at     []text.Position // where each is, or where the rows begin
	pairs  bool            // the columns were put together so that wavelengths stand before their values
}

// headingReach is how many lines above the rows may hold the headings: a start
// marker may stand between.
const headingReach = 3

// findHeading returns the headings of the columns and the header lines that
// remain. Without headings the labels are empty.
func (r grid) findHeading(lines []outsideLine, width int) (labelRow, []outsideLine, error) {
	for i := len(lines) - 1; i >= 0 && i >= len(lines)-headingReach; i-- {
		h, ok := headingFrom(lines[i], r.dialect, width)
		if !ok && i == len(lines)-1 {
			if err := r.checkHeadingWidth(lines[i], width); err != nil {
				return labelRow{}, nil, err
			}
		}
		if !ok || !h.namesX() {
			continue
		}
		rest := lines[:i:i]
		var samples []outsideLine // what names of samples say may still make a person doubt
		for k := i - 1; k >= 0 && lines[k].Number == lines[k+1].Number-1; k-- {
			above, ok := headingFrom(lines[k], r.dialect, width)
			if !ok || !h.joins(above) {
				break
			}
			isStatement := above.states()
			h, rest = h.join(above), rest[:k]
			if isIDWord(above.labels[0].Text) {
				samples = append(samples, lines[k])
			}
			if !isStatement {
				break
			}
		}
		below := lines[i+1:]
		for len(below) > 0 {
			row, ok := headingFrom(below[0], r.dialect, width)
			if !ok || !row.states() {
				break
			}
			h, below = h.join(row), below[1:]
		}
		return h, slices.Concat(rest, samples, below), nil
	}
	h, rest := r.unsureHeading(lines, width)
	return h, rest, nil
}

// namesX reports whether the headings name wavelengths and something else, or energies
// in their place. A thickness and a number are a key and its value.
func (h labelRow) namesX() bool {
	xs := 0
	for _, l := range h.labels {
		if l.IsX() {
			xs++
		}
	}
	first := h.labels[0]
	if len(h.labels) == 2 && (first.Other != "" || len(first.Beside) > 0) && heading.IsBareNumber(h.labels[1].Text) {
		return false
	}
	if xs == 0 && heading.StartsWithAny(first.Other, "energ", "frequ") {
		xs = 1
	}
	return 0 < xs && xs < len(h.labels)
}

func headingFrom(line outsideLine, d dialect, width int) (labelRow, bool) {
	cells := splitHeading(line.text, d, width)
	if cells == nil {
		return labelRow{}, false
	}
	h := labelRow{line: line.Number, labels: make([]heading.Label, 0, width), at: make([]text.Position, 0, width)}
	for _, c := range cells {
		h.labels = append(h.labels, heading.Parse(c.text))
		h.at = append(h.at, text.Position{Line: line.Number, Column: utf8.RuneCountInString(line.text[:c.at]) + 1})
	}
	return h, true
}

// unsureHeading takes the line right above the rows although it names no
// wavelength. With two columns it may as well be a key and its value, so it
// counts only if it names a quantity, and gives no angle.
func (r grid) unsureHeading(lines []outsideLine, width int) (labelRow, []outsideLine) {
	none := labelRow{labels: make([]heading.Label, width)}
	for range width {
		none.at = append(none.at, text.Position{Line: r.block.line})
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
		if h.labels[1].Quantity == "" {
			return none, lines
		}
		h.labels[1].Angles = nil
	}
	return h, lines[:last]
}

// joins reports whether the row above h belongs to it: names above units, or
// samples above columns. A key and its value do not.
func (h labelRow) joins(above labelRow) bool {
	x := strings.ToLower(above.labels[0].Text)
	switch {
	case h.unitsOnly() && (above.labels[0].IsX() || heading.IsAny(x, "", "x") || len(h.labels) > 2 && above.namesX()):
		return true
	case above.labels[0].IsX() && above.unitsOnly() && !h.unitsOnly():
		return true
	case h.isPaired():
		return !above.namesX() && above.namesPairs()
	case heading.IsAny(x, "", "sample", "name", "id", "coupon", "spot"):
		return above.allNamed()
	case above.states():
		return true
	}
	return len(h.labels) > 2 && h.allAlike() && above.allNamed()
}

// allAlike reports whether the value columns all have the same heading.
func (h labelRow) allAlike() bool {
	for _, l := range h.labels[1:] {
		if l.Text != h.labels[1].Text {
			return false
		}
	}
	return true
}

// allNamed reports whether every value column has a name.
func (h labelRow) allNamed() bool {
	for _, l := range h.labels[1:] {
		if l.Text == "" {
			return false
		}
	}
	return true
}

// unitsOnly reports whether the row holds nothing but units.
func (h labelRow) unitsOnly() bool {
	for _, l := range h.labels {
		if l.Text != "" && !l.OnlyUnit && !heading.IsUnitWord(l.Text) {
			return false
		}
	}
	return true
}

// namesEach reports whether the row heads the wavelengths and names each column of values,
// none by a quantity: Wavelength;G1;G2.
func (h labelRow) namesEach() bool {
	return h.labels[0].IsX() && h.allNamed() &&
		!slices.ContainsFunc(h.labels[1:], func(l heading.Label) bool { return l.Quantity != "" })
}

// quantityOfShortUnit returns what one letter or two in a row of units below the names of
// columns stand for, absorbance or raw values in volts, or "". Without brackets several
// different ones are names, unless the columns are named already.
func (h labelRow) quantityOfShortUnit(text string, named bool) study.Quantity {
	unit := heading.ShortUnit(text)
	if unit == "" {
		return ""
	}
	for _, l := range h.labels[1:] {
		if other := heading.ShortUnit(l.Text); other != "" && other != unit && unit == text && !named {
			return ""
		}
	}
	if strings.HasSuffix(unit, "V") {
		return heading.Raw
	}
	return heading.Absorbance
}

// isPaired reports whether every value column has a wavelength column of its
// own before it.
func (h labelRow) isPaired() bool {
	if h.pairs {
		return true
	}
	if len(h.labels) < 4 || len(h.labels)%2 != 0 {
		return false
	}
	for i, l := range h.labels {
		if l.IsX() != (i%2 == 0) {
			return false
		}
	}
	return true
}

// namesPairs reports whether each pair of columns has one name.
func (h labelRow) namesPairs() bool {
	for i := 0; i < len(h.labels); i += 2 {
		a, b := h.labels[i].Text, h.labels[i+1].Text
		if a == "" && b == "" || a != "" && b != "" && a != b {
			return false
		}
	}
	return true
}

// join puts another row before h. The name of a pair goes to its values. Of a row that
// states something only that is kept for the wavelengths, whose own heading says what
// they are.
func (h labelRow) join(other labelRow) labelRow {
	paired, units := h.isPaired(), h.unitsOnly()
	ofUnits := other.unitsOnly()
	polarised, angled := other.statesPolarisations(), other.statesAngles()
	ofSamples := isIDWord(other.labels[0].Text)
	named := other.namesEach()
	row := h // as it is written
	h.labels = slices.Clone(h.labels)
	for i := range h.labels {
		own, name := h.labels[i], other.labels[i].Text
		if paired && i%2 == 1 && name == "" {
			name = other.labels[i-1].Text
		}
		if paired && i%2 == 0 || i == 0 && (polarised || angled) {
			name = ""
		}
		joined := strings.TrimSpace(name + " " + own.Text)
		h.labels[i] = heading.Parse(joined)
		if ofUnits { // above the names, which remain those of the columns
			h.labels[i].Text = own.Text
		}
		switch {
		case i == 0 && own.IsX():
			h.labels[i].Beside = own.Beside
			if !units {
				h.labels[i].Other = own.Other
			}
		case i == 0:
		case polarised:
			p, _ := heading.PolarisationIn(name)
			h.labels[i].AddPolarisation(p)
			h.labels[i].ByRow |= heading.StatesPolarisation
		case heading.IsBareNumber(name), (ofSamples || !units) && heading.IsCode(name):
			// It is no part of an angle that follows, nor a quantity.
			h.labels[i] = heading.Parse(own.Text)
			h.labels[i].Text = joined
		}
		if i > 0 && units {
			h.labels[i].SetQuantity(row.quantityOfShortUnit(own.Text, named))
		}
		if i > 0 && units && h.labels[i].Unit == "" { // G2 % is in percent, and 2 % of nothing
			h.labels[i].Unit = own.Unit
		}
		if i > 0 && h.labels[i].Quantity == "" && own.Numbered { // a name above leaves R8 [%] what it is
			h.labels[i].Quantity, h.labels[i].Numbered = own.Quantity, true
		}
		if i > 0 && ofSamples && !units { // the name of a sample says nothing of the quantity
			h.labels[i].Quantity, h.labels[i].OfLetter = own.Quantity, own.OfLetter
		}
		if i > 0 && other.labels[i].Angles != nil && !units && !other.mayNameAngles() {
			h.labels[i].Viewing = true
		}
		h.labels[i].Keep(own)
		if angled && i > 0 {
			h.labels[i].Angles = append(slices.Clone(own.Angles), heading.OnlyAngle(name))
			h.labels[i].ByRow |= heading.StatesAngle
		}
	}
	return h
}

// mayNameAngles reports whether angles in a row above the headings are of incidence: its
// first cell is empty or names samples, wavelengths or angles, and no polariser.
func (h labelRow) mayNameAngles() bool {
	first := h.labels[0]
	return heading.IsAny(strings.ToLower(first.Text), "", "x") || first.IsX() || isIDWord(first.Text) || h.statesAngles()
}

// states reports whether a row says the same kind of thing of each column of values.
func (h labelRow) states() bool { return h.statesPolarisations() || h.statesAngles() }

// statesPolarisations reports whether a row beside the headings gives each column
// its polarisation: Polarisation, s, p.
func (h labelRow) statesPolarisations() bool {
	if len(h.labels) < 3 || !heading.KeyOf(h.labels[0].Text).IsPolarisation() {
		return false
	}
	for _, l := range h.labels[1:] {
		if p, _ := heading.PolarisationIn(l.Text); p == "" {
			return false
		}
	}
	return true
}

// statesAngles reports whether a row beside the headings gives each column its angle of
// incidence: Angle (deg), 8, 60.
func (h labelRow) statesAngles() bool {
	key := heading.KeyOf(h.labels[0].Text)
	if len(h.labels) < 3 || !key.IsAngle() && !heading.IsAny(key, "angles", "anglesdeg", "theta", "thetadeg",
		"einfallswinkel", "winkel", "winkeldeg") {
		return false
	}
	for _, l := range h.labels[1:] {
		if heading.OnlyAngle(l.Text) == "" {
			return false
		}
	}
	return true
}

// checkHeadingWidth refuses a row that names more columns than the rows have.
func (r grid) checkHeadingWidth(line outsideLine, width int) error {
	d := r.dialect
	if d.sep == ' ' || len(line.text) > mostHeadings {
		return nil
	}
	body, _ := cutCommentMark(line.text, d.sep)
	cells := cutCells(body, d.sep)
	if len(cells) <= width || !heading.Parse(cells[0].text).IsX() {
		return nil
	}
	for _, c := range cells {
		if _, n := text.ParseNumber([]byte(c.text), d.mark, 0); n > 0 && n == len(c.text) {
			return nil // a key and values
		}
	}
	return r.Refuse(text.Position{Line: line.Number}, text.ExportAgain,
		"the headings name %d columns, the rows have %d", len(cells), width)
}
