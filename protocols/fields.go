package protocols

import (
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"go.yaml.in/yaml/v3"
)

// fields are the values of a mapping by their names.
type fields struct {
	reader *reader
	of     string // what the mapping is
	begins int    // its line
	at     map[string]*yaml.Node
}

// fields returns the values of a mapping, which may have each of the names once. It is nil if n is no mapping.
func (r *reader) fields(n *yaml.Node, of string, names []string) *fields {
	if !r.plain(n) {
		return nil
	}
	if n.Kind != yaml.MappingNode {
		r.fault(n.Line, "write a line for each of "+strings.Join(names, ", "), "%s is not a list of names with values", of)
		return nil
	}
	f := &fields{r, of, n.Line, map[string]*yaml.Node{}}
	for i := 0; i < len(n.Content); i += 2 {
		key, value := n.Content[i], n.Content[i+1]
		switch {
		case !r.plain(key):
		case !slices.Contains(names, key.Value) || key.Kind != yaml.ScalarNode:
			r.fault(key.Line, "leave it out; the names are "+strings.Join(names, ", "), "%s has no %q", of, key.Value)
		case f.at[key.Value] != nil:
			r.fault(key.Line, "leave one of them out", "%s stands in line %d already", key.Value, f.at[key.Value].Line)
		default:
			f.at[key.Value] = value
		}
	}
	return f
}

// plain reports whether a node has no anchor, alias or tag, which only make a text harder to read.
func (r *reader) plain(n *yaml.Node) bool {
	switch {
	case n.Kind == yaml.AliasNode || n.Anchor != "":
		r.fault(n.Line, "write the text itself, in quotation marks if it begins with & or *",
			"anchors and aliases have no meaning here")
	case n.Style&yaml.TaggedStyle != 0:
		r.fault(n.Line, "leave the tag out, or write the text in quotation marks",
			"tags such as %q have no meaning here", n.Tag)
	default:
		return true
	}
	return false
}

// line is where the value of a name stands, else where the mapping begins.
func (f *fields) line(name string) int {
	if n := f.at[name]; n != nil {
		return n.Line
	}
	return f.begins
}

// needed returns the value of a name, nil after a fault.
func (f *fields) needed(name, try string) *yaml.Node {
	n := f.at[name]
	if n == nil {
		f.reader.fault(f.begins, try, "%s has no %s", f.of, name)
		return nil
	}
	if !f.reader.plain(n) {
		return nil
	}
	return n
}

// text returns the text of a name, empty after a fault.
func (f *fields) text(name, try string) string {
	n := f.needed(name, try)
	if n == nil {
		return ""
	}
	return f.reader.text(name, n, try)
}

// text returns a text of one line as it was written, without quotation marks; empty after a fault.
func (r *reader) text(name string, n *yaml.Node, try string) string {
	value := strings.TrimSpace(n.Value)
	switch tag := n.ShortTag(); {
	case n.Kind != yaml.ScalarNode:
		r.fault(n.Line, "write one text; one with a mark such as { or [ or with \": \" in quotation marks",
			"%s is not a text", name)
	case tag == "!!null" && n.Value == "" || value == "":
		r.fault(n.Line, try, "%s is empty", name)
	case tag == "!!bool" || tag == "!!null":
		r.fault(n.Line, "write it in quotation marks if it is meant as a text", "%s: %s is a word of YAML", name, n.Value)
	case strings.ContainsAny(value, "\n\r\t"):
		r.fault(n.Line, "write it in one line, or indent its next lines without | before them",
			"%s has several lines or a tab", name)
	default:
		return value
	}
	return ""
}

// list returns the texts of a name, of which there is at least one.
func (f *fields) list(name, try string) (all []string) {
	n, r := f.needed(name, try), f.reader
	if n == nil {
		return nil
	}
	if n.Kind != yaml.SequenceNode || len(n.Content) == 0 {
		r.fault(n.Line, try+"; each text begins with a hyphen", "%s must be a list of texts", name)
		return nil
	}
	for _, item := range n.Content {
		if r.plain(item) {
			all = append(all, r.text("a line of "+name, item, try))
		}
	}
	return all
}

var numberForm = regexp.MustCompile(`^[0-9]+(\.[0-9]+)?$`)

// number returns a number of at least 0, or 0 after a fault.
func (r *reader) number(name string, n *yaml.Node) float64 {
	switch {
	case !r.plain(n):
	case n.Kind != yaml.ScalarNode || !numberForm.MatchString(n.Value) || math.IsInf(toNumber(n.Value), 0):
		r.fault(n.Line, "write digits and, if needed, a decimal point, such as 250 or 0.5; the unit stands in dose-unit",
			"%s is not a number: %q", name, n.Value)
	default:
		return toNumber(n.Value)
	}
	return 0
}

// toNumber is the number that digits write, infinite if it is too large.
func toNumber(digits string) float64 {
	x, _ := strconv.ParseFloat(digits, 64) // the form was checked
	return x
}
