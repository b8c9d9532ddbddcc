package placing

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"go.yaml.in/yaml/v3"

	"wane/study"
	"wane/study/intake/sheet"
)

// headerRule is a pattern of a line that the header of an export has.
type headerRule struct {
	file    string // of the profile
	line    int
	pattern pattern
}

const tryHeader = `write a list of lines as they stand in the header, such as - "Sample: {coupon}"`

// readHeader reads the patterns of lines of the header.
func (p *Profile) readHeader(d *document, n *node) error {
	if n == nil {
		return nil
	}
	if n.Kind != yaml.SequenceNode || len(n.Content) == 0 {
		return d.refuse(n.Line, tryHeader+", or leave header out", "header has no list of lines")
	}
	if err := d.plain(n); err != nil {
		return err
	}
	var caught []string
	if p.files != nil {
		caught = p.files.names()
	}
	for _, item := range n.Content {
		text, err := d.text("header", item)
		if err != nil {
			return err
		}
		parsed, err := parsePattern(headerWords(text))
		if err != nil {
			return d.refuseFor(item.Line, tryHeader, "header", err)
		}
		if len(parsed.names()) == 0 {
			return d.refuse(item.Line, "write {name} where the text stands that the curves use",
				"the line of the header %q catches nothing",
				text)
		}
		for _, name := range parsed.names() {
			if slices.Contains(caught, name) {
				return d.refuse(item.Line, "give one of them another name", "{%s} is caught twice", name)
			}
			caught = append(caught, name)
		}
		p.header = append(p.header, headerRule{d.file, item.Line, parsed})
	}
	return nil
}

// headerWords is a line of a header without quotation marks around it and separators at its end, and with one
// space for each run of them.
func headerWords(line string) string {
	line = strings.TrimRight(strings.TrimSpace(line), ",;\t ")
	if len(line) > 1 && line[0] == '"' && strings.IndexByte(line[1:], '"') == len(line)-2 {
		line = line[1 : len(line)-1]
	}
	return strings.Join(strings.Fields(line), " ")
}

// WithHeader returns the lines of [Rules.For] for an export that has this header, with what its lines say. Lines
// of a map stay as they are. A pattern of the profile that no line of the header fits, or that two lines fit with
// different texts, is a [*study.Refusal].
func WithHeader(lines []sheet.Line[Placing], header []string) ([]sheet.Line[Placing], error) {
	all := slices.Clone(lines)
	for i := range all {
		rule := all[i].Row.rule
		if rule == nil || len(rule.header) == 0 {
			continue
		}
		caught := maps.Clone(rule.caught)
		for k := range rule.header {
			if err := rule.header[k].match(rule.path, header, caught); err != nil {
				return nil, err
			}
		}
		line, err := (&ruleFor{curve: rule.curve, path: rule.path, caught: caught}).line()
		if err != nil {
			return nil, err
		}
		all[i] = line
	}
	return all, nil
}

// match adds to caught what the header says.
func (h *headerRule) match(path string, header []string, caught map[string]string) error {
	var said map[string]string
	for _, line := range header {
		found := map[string]string{}
		ok, err := h.pattern.match(headerWords(line), found)
		if err != nil {
			return &study.Refusal{File: h.file, Line: h.line, Fault: "header of " + study.Shown(path), Cause: err,
				Try: "put text into the pattern that the parts of the line cannot contain"}
		}
		if !ok {
			continue
		}
		if said != nil && !maps.Equal(said, found) {
			return &study.Refusal{File: h.file, Line: h.line,
				Fault: fmt.Sprintf("two lines of the header of %s fit %q, and say different things", study.Shown(path), h.pattern.text),
				Try:   "put more of the line into the pattern"}
		}
		said = found
	}
	if said == nil {
		return &study.Refusal{File: h.file, Line: h.line,
			Fault: fmt.Sprintf("no line of the header of %s fits %q", study.Shown(path), h.pattern.text),
			Try:   "write the line as `wane intake --explain` shows it, with {name} where the text stands; or place this file by a map"}
	}
	maps.Copy(caught, said)
	return nil
}
