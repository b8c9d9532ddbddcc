package intake

import (
	"strings"
	"unicode"

	"wane/study"
)

// said is a statement with the place where it stands and who makes it.
type said struct {
	value string
	by    string
	at    place
}

// header is what the lines above the column headings state in the form of a
// key and a value. Prose states nothing.
type header struct {
	axis         said
	unit         said
	quantity     said
	polarisation said
	declared     []declaration
	changes      detectorChanges
	relativeTo   string
	relative     place // where the header says that values are relative, or nowhere
	date         date
}

// readHeader reads the statements of the header lines. Two that differ are
// refused.
func (r *reader) readHeader(lines []outsideLine) (header, error) {
	var h header
	for _, line := range lines {
		if strings.Contains(strings.ToLower(line.text), "no reference") {
			return h, r.refuse(place{line: line.number}, "export the reflectance, measured against a reference",
				"the header says %s: this needs reflectance", quoted(strings.TrimSpace(line.text)))
		}
		if to, yes := saysRelative(line.text); yes && h.relative == nowhere {
			h.relative, h.relativeTo = place{line: line.number}, to
		}
		h.noteRange(line.text, place{line: line.number})
		key, value, ok := keyAndValue(line.text)
		if !ok {
			continue
		}
		if isPolarisationKey(key) {
			key = "polarisation"
		}
		at := place{line: line.number}
		var err error
		switch key {
		case "polarisation":
			p, _ := polarisationIn(value)
			err = r.state(&h.polarisation, p, at)
		case "xunit", "xunits", "wavelengthunit", "wavelengthunits", "xaxisunit", "xaxisunits", "abscissaunit":
			err = r.state(&h.axis, parseLabel(value).axis, at)
		case "unit", "units", "yunit", "yunits", "yaxisunit", "yaxisunits", "valueunit", "dataunit", "reflectanceunit", "ordinateunit", "scale":
			err = r.stateAll(&h, parseLabel(value), at)
		case "mode", "measurementmode", "photometricmode", "quantity", "measurement", "datatype", "yaxis", "ordinate":
			l := parseLabel(value)
			l.axis = ""
			err = r.stateAll(&h, l, at)
		default:
			h.noteDeclaration(key, value, at)
			h.changes.note(key, value)
			h.date.note(key, line.text)
		}
		if err != nil {
			return h, err
		}
	}
	return h, nil
}

// keyAndValue splits key: value, key=value, key,value, key;value and
// key<TAB>value. The key is returned in lower case with its letters only.
func keyAndValue(text string) (key, value string, ok bool) {
	i := strings.IndexAny(text, ":=,;\t")
	if i < 0 {
		return "", "", false
	}
	key = lettersOf(text[:i])
	return key, strings.Trim(text[i+1:], " \t,;:=\""), key != ""
}

// lettersOf returns the letters of a text in lower case.
func lettersOf(text string) string {
	return strings.Map(func(c rune) rune {
		if !unicode.IsLetter(c) {
			return -1
		}
		return unicode.ToLower(c)
	}, text)
}

func (r *reader) stateAll(h *header, l label, at place) error {
	for _, s := range []struct {
		to    *said
		value string
	}{{&h.axis, l.axis}, {&h.unit, l.unit}, {&h.quantity, string(l.quantity)}, {&h.polarisation, l.polarisation}} {
		if err := r.state(s.to, s.value, at); err != nil {
			return err
		}
	}
	return nil
}

func (r *reader) state(to *said, value string, at place) error {
	if value == "" {
		return nil
	}
	now := said{value: value, by: "the header", at: at}
	if to.value != "" && to.value != value {
		return r.contradiction(*to, now)
	}
	*to = now
	return nil
}

func (r *reader) contradiction(a, b said) *study.Refusal {
	at := b.at
	if at == nowhere {
		at = a.at
	}
	return r.refuse(at, "find out which is right, then correct the statement or the export",
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
func (r *reader) agree(all ...said) (string, error) {
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
