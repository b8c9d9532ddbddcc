package placing

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"go.yaml.in/yaml/v3"

	"wane/study"
	"wane/study/intake/sheet"
	"wane/study/intake/text"
)

// mostProfile is how large a profile may be, in bytes: thousands of curves.
const mostProfile = 1 << 20

type node = yaml.Node

// document is a YAML document of the plain sort: mappings, sequences and texts, without
// anchors, aliases and tags.
type document struct {
	file string
	root *node
}

func openDocument(file string, data []byte) (*document, error) {
	d := &document{file: file}
	if len(data) > mostProfile {
		return nil, d.refuse(0, "leave out what repeats: a pattern places many curves", "the profile has more than %d KiB",
			mostProfile>>10)
	}
	if _, err := io.Copy(io.Discard, sheet.NewPlainReader(file, bytes.NewReader(data))); err != nil {
		return nil, err
	}
	decoder := yaml.NewDecoder(bytes.NewReader(data))
	var top node
	if err := decoder.Decode(&top); errors.Is(err, io.EOF) || err == nil && len(top.Content) == 0 {
		return nil, d.refuse(0, "write profile: and its name in the first line", "the profile is empty")
	} else if err != nil {
		return nil, d.syntax(err)
	}
	var more node
	if err := decoder.Decode(&more); err == nil {
		return nil, d.refuse(more.Line, "give each profile a file of its own", "a second document begins here")
	} else if !errors.Is(err, io.EOF) {
		return nil, d.syntax(err)
	}
	d.root = top.Content[0]
	return d, nil
}

func (d *document) refuse(line int, try, format string, args ...any) error {
	return &study.Refusal{File: d.file, Line: line, Fault: fmt.Sprintf(format, args...), Try: try}
}

// refuseFor refuses a field of a line for the error that reading it gave.
func (d *document) refuseFor(line int, try, field string, cause error) error {
	return &study.Refusal{File: d.file, Line: line, Fault: field, Try: try, Cause: cause}
}

var yamlPlace = regexp.MustCompile(`^line (\d+): `)

// syntax says in our words that the text is no YAML, and in those of the parser why.
func (d *document) syntax(err error) error {
	says, line := strings.TrimPrefix(err.Error(), "yaml: "), 0
	if at := yamlPlace.FindStringSubmatch(says); at != nil {
		line, _ = strconv.Atoi(at[1]) // they are digits
		says = says[len(at[0]):]
	}
	return &study.Refusal{File: d.file, Line: line, Fault: "this is not YAML: " + says,
		Try: "check the indentation, the colons and the quotation marks there and above; a text that begins with * or { " +
			"needs quotation marks", Cause: err}
}

// fields returns the values of a mapping, which may have each of the names once.
func (d *document) fields(n *node, of string, names ...string) (map[string]*node, error) {
	if n.Kind != yaml.MappingNode {
		return nil, d.refuse(n.Line, "write a line for each of "+strings.Join(names, ", "),
			"%s is not a list of names with values", of)
	}
	if err := d.plain(n); err != nil {
		return nil, err
	}
	all := map[string]*node{}
	for i := 0; i < len(n.Content); i += 2 {
		key, value := n.Content[i], n.Content[i+1]
		switch {
		case !slices.Contains(names, key.Value) || key.Kind != yaml.ScalarNode:
			return nil, d.refuse(key.Line, "the names are "+strings.Join(names, ", "), "%s has no %s", of,
				text.Quoted(key.Value))
		case all[key.Value] != nil:
			return nil, d.refuse(key.Line, "leave one of them out", "%s stands in line %d already", key.Value,
				all[key.Value].Line)
		}
		if err := d.plain(key); err != nil {
			return nil, err
		}
		all[key.Value] = value
	}
	return all, nil
}

// plain refuses what only makes a document harder to read.
func (d *document) plain(n *node) error {
	switch {
	case n.Kind == yaml.AliasNode || n.Anchor != "":
		return d.refuse(n.Line, "write the text itself, in quotation marks if it begins with & or *",
			"anchors and aliases have no meaning here")
	case n.Style&yaml.TaggedStyle != 0:
		return d.refuse(n.Line, "leave the tag out, or write the text in quotation marks",
			"tags such as %s have no meaning here", text.Quoted(n.Tag))
	}
	return nil
}

// isNull reports whether a name has nothing behind it.
func (d *document) isNull(n *node) bool {
	return n.Kind == yaml.ScalarNode && n.Value == "" && n.ShortTag() == "!!null" && d.plain(n) == nil
}

// text returns a value as it was written, without the quotation marks.
func (d *document) text(name string, n *node) (string, error) {
	if err := d.plain(n); err != nil {
		return "", err
	}
	if n.Kind != yaml.ScalarNode {
		return "", d.refuse(n.Line, "write one text or number; one with a mark such as { or [ in quotation marks",
			"%s is no text or number", name)
	}
	switch tag := n.ShortTag(); {
	case tag == "!!bool" || tag == "!!null" && n.Value != "":
		return "", d.refuse(n.Line, "write it in quotation marks if it is meant as a text", "%s: %s is a word of YAML", name,
			n.Value)
	}
	value := strings.TrimSpace(n.Value)
	if fault, try := sheet.CheckText(value, name); fault != "" {
		return "", d.refuse(n.Line, try, "%s: %s", name, fault)
	}
	return value, nil
}

// needed returns a value that must not be missing, where the mapping begins in line, or
// empty.
func (d *document) needed(fields map[string]*node, line int, name string) (string, error) {
	n := fields[name]
	if n == nil {
		return "", d.refuse(line, "add a line for it", "%s is missing", name)
	}
	value, err := d.text(name, n)
	if err == nil && value == "" {
		err = d.refuse(n.Line, "fill it in, in quotation marks if it begins with #", "%s is empty", name)
	}
	return value, err
}

// yamlText writes a text so that YAML reads it back.
func yamlText(text string) string {
	if plainWord.MatchString(text) {
		return text
	}
	return strconv.Quote(text)
}

// plainWord are texts that need no quotation marks, without those that YAML takes for a
// truth value or for nothing.
var plainWord = regexp.MustCompile(`^([0-9][0-9,.-]*|percent|fraction|nm|um|cm-1|point|comma|space|first|average|` +
	`ignore|missing|keep|absolute|[RTspu])$`)
