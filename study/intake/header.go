package intake

import (
	"strings"
	"unicode"

	"wane/study"
	"wane/study/intake/heading"
	"wane/study/intake/text"
)

// said is a statement with the place where it is and who makes it.
type said struct {
	value string
	by    string
	at    text.Position
}

// header is what the lines above the column headings state in the form of a
// key and a value. Prose states nothing.
type header struct {
	axis         said
	unit         said
	quantity     said
	polarisation said
	angle        said // of incidence, in degrees
	declared     []declaration
	others       []otherLine
	changes      detectorChanges
	relativeTo   string
	relative     text.Position // where the header says that values are relative, or nowhere
	reference    string        // the line that names a reference and says nothing of its reflectance, or ""
	date         date
	section      heading.Key // that the line read last is in, as letters only: [Detector]
}

// byHeader is who makes the statements of header lines, in messages.
const byHeader = "the header"

// readHeader reads the statements of the header lines. Two that differ are
// refused.
func (r *asker) readHeader(lines []outsideLine) (header, error) {
	var h header
	for _, line := range lines {
		if name, ok := sectionOf(line.text); ok {
			h.section = name
		}
		if r.overrules(line.Number) {
			continue
		}
		if err := r.readHeaderLine(&h, line); err != nil {
			return h, err
		}
	}
	return h, nil
}

// readHeaderLine reads what one line states.
func (r *asker) readHeaderLine(h *header, line outsideLine) error {
	h.noteReference(line.text, line.Number)
	h.noteRange(line.text, text.Position{Line: line.Number})
	h.noteSentence(line.text, text.Position{Line: line.Number})
	for _, text := range heading.StatementsIn(line.text) {
		if err := r.readStatement(h, text, line); err != nil {
			return err
		}
	}
	if h.quantity.at.Line != line.Number && (len(h.others) == 0 || h.others[len(h.others)-1].at.Line != line.Number) {
		h.noteOther(line)
	}
	return nil
}

// noteReference keeps the first line that says that the values are relative, and the first
// that names a reference and says nothing of its reflectance.
func (h *header) noteReference(line string, number int) {
	if to, yes := heading.SaysRelative(line); yes && h.relative == text.Nowhere {
		h.relative, h.relativeTo = text.Position{Line: number}, to
	}
	if h.reference == "" && heading.NamesReference(line) {
		h.reference = strings.TrimSpace(line)
	}
}

// readStatement reads one key and its value.
func (r *asker) readStatement(h *header, s string, line outsideLine) error {
	key, value, ok := heading.KeyAndValue(s)
	if !ok {
		return nil
	}
	at := text.Position{Line: line.Number}
	// Start 10:30 declares nothing, and Angle 2: 60 is one of several.
	numbered := strings.ContainsFunc(s[:strings.IndexAny(s, heading.Signs)], unicode.IsDigit)
	switch {
	case key.IsPolarisation():
		p, only := heading.PolarisationIn(value)
		if p == "" && !only {
			p = heading.Parse("R " + value).Polarisation // s-polarised light
		}
		return r.state(&h.polarisation, p, at)
	case key.IsAngle() && !numbered:
		if r.want.IgnoreDeclared || h.section.IsOtherAngle() {
			return nil
		}
		return r.state(&h.angle, heading.AngleIn(value), at)
	case key.IsFactor():
		h.noteFactor(key, s, value, at)
		return nil
	}
	switch key {
	case "xunit", "xunits", "wavelengthunit", "wavelengthunits", "xaxisunit", "xaxisunits", "abscissaunit":
		return r.state(&h.axis, heading.Parse(value).Axis, at)
	case "unit", "units", "yunit", "yunits", "yaxisunit", "yaxisunits", "valueunit", "dataunit", "reflectanceunit",
		"ordinateunit", "scale":
		return r.stateAll(h, heading.Parse(value), s, at)
	case "mode", "measurementmode", "measuringmode", "photometricmode", "reflectancemode", "ordinatemode", "scanmode",
		"ymode", "quantity",
		"measurement", "measurementtype", "datatype", "ordinatetype", "yaxis", "ylabel", "yaxislabel", "ordinate", "data",
		"signal", "signaltype":
		if heading.IsFormula(value) {
			return r.Refuse(at, "export the reflectance itself", "the header says %s: this needs reflectance",
				text.Quoted(strings.TrimSpace(s)))
		}
		l := heading.Parse(value)
		l.Axis = ""
		if heading.IsAny(key, "signal", "data") && strings.ContainsFunc(value, unicode.IsDigit) {
			return nil // a setting: 30000 counts
		}
		return r.stateAll(h, l, s, at)
	}
	if !numbered {
		h.noteDeclaration(string(key), value, at)
	}
	h.changes.note(string(key), value)
	h.date.note(string(key), line.text)
	return nil
}

// noteFactor keeps a factor other than 1 or a shift other than 0. Of a scale only one
// with a times sign is a factor: others are ends of an axis.
func (h *header) noteFactor(key heading.Key, s, value string, at text.Position) {
	number := strings.TrimLeft(value, "x×X* ")
	if heading.IsAny(key, "ordinatescale", "yscale") && number == value {
		return
	}
	v, n := text.ParseNumber([]byte(number), '.', 0)
	neutral := 1.0
	if strings.Contains(string(key), "offset") {
		neutral = 0
	}
	if n == 0 || v == neutral {
		return
	}
	h.declared = append(h.declared, declaration{what: "factor", text: strings.TrimSpace(s), value: v, at: at})
}

func (r *asker) stateAll(h *header, l heading.Label, text string, at text.Position) error {
	if heading.IsForeign(l.Quantity) {
		h.others = append(h.others, otherLine{l.Quantity, strings.TrimSpace(text), at, true})
		l.Quantity = ""
	}
	for _, s := range []struct {
		to    *said
		value string
	}{{&h.axis, l.Axis}, {&h.unit, l.Unit}, {&h.quantity, string(l.Quantity)}, {&h.polarisation, l.Polarisation}} {
		if err := r.state(s.to, s.value, at); err != nil {
			return err
		}
	}
	return nil
}

func (r *asker) state(to *said, value string, at text.Position) error {
	if value == "" {
		return nil
	}
	now := said{value: value, by: byHeader, at: at}
	if to.value != "" && to.value != value {
		return r.contradiction(*to, now)
	}
	*to = now
	return nil
}

func (r *asker) contradiction(a, b said) *study.Refusal {
	at := b.at
	if at == text.Nowhere {
		at = a.at
	}
	return r.Refuse(at, "find out which is right, then correct the map (or the flag), or export again",
		"%s says %s, %s says %s", a.by, inWords(a.value), b.by, inWords(b.value))
}

// inWords writes a quantity or a polarisation out.
func inWords(value string) string {
	switch value {
	case string(study.Reflectance):
		return "reflectance"
	case string(study.Transmittance):
		return "transmittance"
	case "s", "p":
		return value + "-polarised"
	case "u":
		return "unpolarised"
	}
	return value
}

// agree returns the value that all statements share, "" if none is made.
func (r *asker) agree(all ...said) (string, error) {
	var first said
	for _, s := range all {
		if s.value == "" {
			continue
		}
		if first.value == "" {
			first = s
		}
		if s.value != first.value {
			return "", r.contradiction(first, s)
		}
	}
	return first.value, nil
}

// firstOf returns the first statement that says something.
func firstOf(all ...said) said {
	for _, s := range all {
		if s.value != "" {
			return s
		}
	}
	return said{}
}
