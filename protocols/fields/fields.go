// Package fields reads small files that people write, strictly: YAML of names with values, of which nothing may stand there
// that is not asked for. All that is wrong is found in one reading, each fault with its line and with what to do about it.
//
// Begin with [Reader.Open], take the values of a mapping by [Reader.Fields], and end with [Reader.Err].
package fields

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"go.yaml.in/yaml/v3"
)

// Fault is something wrong in a text.
type Fault struct {
	Line int    // from 1; 0: the whole file
	What string // what is wrong, lower case, no full stop
	Try  string // what to do about it
}

// Faults are all that is wrong in a text, in the order of the lines.
type Faults []Fault

// Error returns each fault with its line.
func (f Faults) Error() string {
	lines := make([]string, len(f))
	for i := range f {
		lines[i] = fmt.Sprintf("line %d: %s", f[i].Line, f[i].What)
	}
	return strings.Join(lines, "; ")
}

// Reader gathers what is wrong with a text. Its zero value is ready.
type Reader struct{ faults Faults }

// Fault notes that something is wrong in a line.
func (r *Reader) Fault(line int, try, format string, args ...any) {
	r.faults = append(r.faults, Fault{line, fmt.Sprintf(format, args...), try})
}

// Found is how many faults were noted.
func (r *Reader) Found() int { return len(r.faults) }

// Err returns what was wrong, of type [Faults], in the order of the lines; nil if nothing was.
func (r *Reader) Err() error {
	if len(r.faults) == 0 {
		return nil
	}
	slices.SortStableFunc(r.faults, func(a, b Fault) int { return a.Line - b.Line })
	return r.faults
}

// mostBytes is how many bytes a text may have.
const mostBytes = 256 << 10

// Open returns the value that the text consists of, nil after a fault. what names such a text, such as protocol, and first
// says what to write where it is empty.
func (r *Reader) Open(text []byte, what, first string) *yaml.Node {
	if len(text) > mostBytes {
		r.Fault(0, "give a "+what+", and keep other things elsewhere", "the %s has more than %d KiB", what, mostBytes>>10)
		return nil
	}
	decoder := yaml.NewDecoder(bytes.NewReader(text))
	var top, more yaml.Node
	if err := decoder.Decode(&top); errors.Is(err, io.EOF) || err == nil && len(top.Content) == 0 {
		r.Fault(1, first, "the %s is empty", what)
		return nil
	} else if err != nil {
		r.syntax(err)
		return nil
	}
	if err := decoder.Decode(&more); err == nil {
		r.Fault(more.Line, "give each "+what+" a file of its own", "a second document begins here")
	} else if !errors.Is(err, io.EOF) {
		r.syntax(err)
		return nil
	}
	return top.Content[0]
}

var yamlPlace = regexp.MustCompile(`^line (\d+): `)

// syntax says in our words that the text is no YAML, and in those of the parser why.
func (r *Reader) syntax(err error) {
	says, line := strings.TrimPrefix(err.Error(), "yaml: "), 0
	if at := yamlPlace.FindStringSubmatch(says); at != nil {
		line, _ = strconv.Atoi(at[1]) // they are digits
		says = says[len(at[0]):]
	}
	r.Fault(line, "check the indentation, the colons and the quotation marks near that line; a text with \": \" in "+
		"it, or one that begins with a mark such as % or *, needs quotation marks", "this is not YAML: %s", says)
}

// Fields are the values of a mapping by their names.
type Fields struct {
	*Reader
	of     string // what the mapping is
	begins int    // its line
	at     map[string]*yaml.Node
}

// Fields returns the values of a mapping, which may have each of the names once. of is what the mapping is, such as a
// level. It is nil if n is no mapping.
func (r *Reader) Fields(n *yaml.Node, of string, names []string) *Fields {
	if !r.Plain(n) {
		return nil
	}
	if n.Kind != yaml.MappingNode {
		r.Fault(n.Line, "write a line for each of "+strings.Join(names, ", "), "%s is not a list of names with values", of)
		return nil
	}
	f := &Fields{r, of, n.Line, map[string]*yaml.Node{}}
	for i := 0; i < len(n.Content); i += 2 {
		key, value := n.Content[i], n.Content[i+1]
		switch {
		case !r.Plain(key):
		case !slices.Contains(names, key.Value) || key.Kind != yaml.ScalarNode:
			r.Fault(key.Line, "leave it out; the names are "+strings.Join(names, ", "), "%s has no %q", of, key.Value)
		case f.at[key.Value] != nil:
			r.Fault(key.Line, "leave one of them out", "%s stands in line %d already", key.Value, f.at[key.Value].Line)
		default:
			f.at[key.Value] = value
		}
	}
	return f
}

// Plain reports whether a node has no anchor, alias or tag, which only make a text harder to read.
func (r *Reader) Plain(n *yaml.Node) bool {
	switch {
	case n.Kind == yaml.AliasNode || n.Anchor != "":
		r.Fault(n.Line, "write the text itself, in quotation marks if it begins with & or *",
			"anchors and aliases have no meaning here")
	case n.Style&yaml.TaggedStyle != 0:
		r.Fault(n.Line, "leave the tag out, or write the text in quotation marks",
			"tags such as %q have no meaning here", n.Tag)
	default:
		return true
	}
	return false
}

// At returns the value of a name, nil if there is none.
func (f *Fields) At(name string) *yaml.Node { return f.at[name] }

// Line is where the value of a name stands, else where the mapping begins.
func (f *Fields) Line(name string) int {
	if n := f.at[name]; n != nil {
		return n.Line
	}
	return f.begins
}

// Needed returns the value of a name, nil after a fault.
func (f *Fields) Needed(name, try string) *yaml.Node {
	n := f.at[name]
	if n == nil {
		f.Fault(f.begins, try, "%s has no %s", f.of, name)
		return nil
	}
	if !f.Plain(n) {
		return nil
	}
	return n
}

// Text returns the text of a name, empty after a fault.
func (f *Fields) Text(name, try string) string {
	n := f.Needed(name, try)
	if n == nil {
		return ""
	}
	return f.Reader.Text(name, n, try)
}

// Text returns a text of one line as it was written, without quotation marks; empty after a fault.
func (r *Reader) Text(name string, n *yaml.Node, try string) string {
	value := strings.TrimSpace(n.Value)
	switch tag := n.ShortTag(); {
	case n.Kind != yaml.ScalarNode:
		r.Fault(n.Line, "write one text; one with a mark such as { or [ or with \": \" in quotation marks",
			"%s is not a text", name)
	case tag == "!!null" && n.Value == "" || value == "":
		r.Fault(n.Line, try, "%s is empty", name)
	case tag == "!!bool" || tag == "!!null":
		r.Fault(n.Line, "write it in quotation marks if it is meant as a text", "%s: %s is a word of YAML", name, n.Value)
	case strings.ContainsAny(value, "\n\r\t"):
		r.Fault(n.Line, "write it in one line, or indent its next lines without | before them",
			"%s has several lines or a tab", name)
	default:
		return value
	}
	return ""
}

// List returns the texts of a name, of which there is at least one.
func (f *Fields) List(name, try string) (all []string) {
	for _, item := range f.Items(name, try) {
		if f.Plain(item) {
			all = append(all, f.Reader.Text("a line of "+name, item, try))
		}
	}
	return all
}

// Items returns the values of a list, of which there is at least one; none after a fault.
func (f *Fields) Items(name, try string) []*yaml.Node {
	n := f.Needed(name, try)
	if n == nil {
		return nil
	}
	if n.Kind != yaml.SequenceNode || len(n.Content) == 0 {
		f.Fault(n.Line, try+"; each of them begins with a hyphen", "%s must be a list", name)
		return nil
	}
	return n.Content
}

var (
	sizeForm   = regexp.MustCompile(`^[0-9]+(\.[0-9]+)?$`)
	numberForm = regexp.MustCompile(`^[+-]?[0-9]+(\.[0-9]+)?([eE][+-]?[0-9]+)?$`)
)

// Size returns a number of at least 0, or 0 after a fault. unit says where its unit stands.
func (r *Reader) Size(name string, n *yaml.Node, unit string) float64 {
	switch {
	case !r.Plain(n):
	case n.Kind != yaml.ScalarNode || !sizeForm.MatchString(n.Value) || math.IsInf(ToNumber(n.Value), 0):
		r.Fault(n.Line, "write digits and, if needed, a decimal point, such as 250 or 0.5; "+unit,
			"%s is not a number: %q", name, n.Value)
	default:
		return ToNumber(n.Value)
	}
	return 0
}

// Number returns a number from low to high, or NaN after a fault. about says what it is, with its unit.
func (r *Reader) Number(name string, n *yaml.Node, low, high float64, about string) float64 {
	if !r.Plain(n) {
		return math.NaN()
	}
	if n.Kind != yaml.ScalarNode || !numberForm.MatchString(n.Value) || math.IsInf(ToNumber(n.Value), 0) {
		r.Fault(n.Line, "write digits and, if needed, a decimal point: "+about, "%s is not a number: %q", name, n.Value)
		return math.NaN()
	}
	x := ToNumber(n.Value)
	if x < low || x > high {
		between := fmt.Sprintf("from %g to %g", low, high)
		if math.IsInf(high, 1) {
			between = fmt.Sprintf("%g or more", low)
		}
		r.Fault(n.Line, "write "+about, "%s must be %s, not %s", name, between, n.Value)
		return math.NaN()
	}
	return x
}

// ToNumber is the number that digits write, infinite if it is too large.
func ToNumber(digits string) float64 {
	x, _ := strconv.ParseFloat(digits, 64) // the form was checked
	return x
}
