package protocols

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

// Fault is something wrong in the text of a protocol.
type Fault struct {
	Line int    // from 1; 0: the whole file
	What string // what is wrong, lower case, no full stop
	Try  string // what to do about it
}

// Faults are all that is wrong in the text of a protocol, in the order of the lines.
type Faults []Fault

// Error returns each fault with its line.
func (f Faults) Error() string {
	lines := make([]string, len(f))
	for i := range f {
		lines[i] = fmt.Sprintf("line %d: %s", f[i].Line, f[i].What)
	}
	return strings.Join(lines, "; ")
}

const (
	mostBytes = 256 << 10 // of a protocol
	mostName  = 40        // characters of a name
)

// Read reads a protocol. An error is of type [Faults] and names everything that is wrong.
func Read(text []byte) (*Protocol, error) {
	r := &reader{}
	p := &Protocol{Text: string(text)}
	if top := r.open(text); top != nil {
		r.protocol(top, p)
	}
	if len(r.faults) > 0 {
		slices.SortStableFunc(r.faults, func(a, b Fault) int { return a.Line - b.Line })
		return nil, r.faults
	}
	return p, nil
}

// reader gathers what is wrong with a text.
type reader struct{ faults Faults }

func (r *reader) fault(line int, try, format string, args ...any) {
	r.faults = append(r.faults, Fault{line, fmt.Sprintf(format, args...), try})
}

// open returns the mapping that the text consists of, nil after a fault.
func (r *reader) open(text []byte) *yaml.Node {
	if len(text) > mostBytes {
		r.fault(0, "give a protocol, and keep other things elsewhere", "the protocol has more than %d KiB", mostBytes>>10)
		return nil
	}
	decoder := yaml.NewDecoder(bytes.NewReader(text))
	var top, more yaml.Node
	if err := decoder.Decode(&top); errors.Is(err, io.EOF) || err == nil && len(top.Content) == 0 {
		r.fault(1, "write protocol: and its name in the first line", "the protocol is empty")
		return nil
	} else if err != nil {
		r.syntax(err)
		return nil
	}
	if err := decoder.Decode(&more); err == nil {
		r.fault(more.Line, "give each protocol a file of its own", "a second document begins here")
	} else if !errors.Is(err, io.EOF) {
		r.syntax(err)
		return nil
	}
	return top.Content[0]
}

var yamlPlace = regexp.MustCompile(`^line (\d+): `)

// syntax says in our words that the text is no YAML, and in those of the parser why.
func (r *reader) syntax(err error) {
	says, line := strings.TrimPrefix(err.Error(), "yaml: "), 0
	if at := yamlPlace.FindStringSubmatch(says); at != nil {
		line, _ = strconv.Atoi(at[1]) // they are digits
		says = says[len(at[0]):]
	}
	r.fault(line, "check the indentation, the colons and the quotation marks near that line; a text with \": \" in "+
		"it, or one that begins with a mark such as % or *, needs quotation marks", "this is not YAML: %s", says)
}

var (
	exposureKeys = []string{"dose-unit", "dose", "dose-per-day", "pulls"}
	protocolKeys = slices.Concat([]string{"protocol", "title", "kind", "purpose", "basis"}, exposureKeys,
		[]string{"levels", "steps", "records", "invalid-if", "cautions"})
	levelKeys = []string{"what", "value", "unit", "note", "source"}
)

func (r *reader) protocol(top *yaml.Node, p *Protocol) {
	f := r.fields(top, "a protocol", protocolKeys)
	if f == nil {
		return
	}
	p.Name = f.text("protocol", "name the protocol: small letters, digits and hyphens")
	p.Title = f.text("title", "say in a few words what it is")
	p.Purpose = f.text("purpose", "say in one line what it is for")
	p.Basis = f.text("basis", "name the standard that it follows, or write: common practice, no source")
	if p.Name != "" && (!nameForm.MatchString(p.Name) || len(p.Name) > mostName) {
		r.fault(f.line("protocol"),
			fmt.Sprintf("use small letters, digits and single hyphens, at most %d characters", mostName),
			"%q is not a name of a protocol", p.Name)
	}
	switch p.Kind = Kind(f.text("kind", "write exposure or reading")); p.Kind {
	case Exposure:
		f.exposure(p)
	case Reading:
		for _, key := range exposureKeys {
			if f.at[key] != nil {
				r.fault(f.line(key), "leave it out, or write kind: exposure", "a protocol of kind reading has no %s", key)
			}
		}
	case "":
	default:
		r.fault(f.line("kind"), "write exposure or reading", "there is no kind %q", p.Kind)
	}
	p.Levels = f.levels()
	p.Steps = f.list("steps", "write what is done, a line for each step")
	p.Records = f.list("records", "write what is noted down during a run")
	p.InvalidIf = f.list("invalid-if", "write what makes a run worth nothing")
	p.Cautions = f.list("cautions", "write what can hurt someone, and what prevents it")
}

var nameForm = regexp.MustCompile(`^[a-z0-9]+(-[a-z0-9]+)*$`)

// exposure reads what only exposures have.
func (f *fields) exposure(p *Protocol) {
	r := f.reader
	units := strings.Join(DoseUnits(), ", ")
	p.DoseUnit = f.text("dose-unit", "write one of "+units)
	p.Dose = f.text("dose", "say what one unit of the dose is, and what does not count")
	known := slices.Contains(DoseUnits(), p.DoseUnit)
	if p.DoseUnit != "" && !known {
		r.fault(f.line("dose-unit"), "write one of "+units, "there is no dose unit %q", p.DoseUnit)
	}
	if n := f.at["dose-per-day"]; n != nil {
		p.DosePerDay = r.number("dose-per-day", n)
		switch {
		case p.DoseUnit == "days":
			r.fault(n.Line, "leave it out", "dose-per-day: a dose in days grows by 1 in a day")
		case p.DosePerDay <= 0:
			r.fault(n.Line, "write the dose of a day without stops, or leave it out if it depends on the equipment",
				"dose-per-day must be above 0, not %s", n.Value)
		}
	}
	if p.DoseUnit == "days" {
		p.DosePerDay = 1
	}
	f.pulls(p)
}

// pulls reads the doses of the pulls.
func (f *fields) pulls(p *Protocol) {
	const try = "write the doses at which coupons are read, the first of them 0: pulls: [0, 250, 500, 1000]"
	n, r := f.needed("pulls", try), f.reader
	if n == nil {
		return
	}
	if n.Kind != yaml.SequenceNode || len(n.Content) < 2 {
		r.fault(n.Line, try, "pulls must be a list of at least two doses")
		return
	}
	last, sound := math.Inf(-1), len(r.faults)
	for i, item := range n.Content {
		dose := r.number(fmt.Sprintf("the dose of pull %d", i), item)
		switch {
		case len(r.faults) > sound:
			sound = len(r.faults)
			continue
		case i == 0 && dose != 0:
			r.fault(item.Line, "begin with 0: pull 0 is before exposure", "the dose of pull 0 is %s, not 0", item.Value)
		case i > 0 && dose <= last:
			r.fault(item.Line, "let the dose rise from pull to pull, without commas within numbers",
				"the dose %s of pull %d is not above the %v of pull %d", item.Value, i, last, i-1)
		}
		last, sound = dose, len(r.faults)
		p.Pulls = append(p.Pulls, dose)
	}
}

var levelForm = func() *regexp.Regexp {
	const size = `[0-9]+(?:\.[0-9]+)?`
	const number = `-?` + size
	return regexp.MustCompile(`^(?:` + number + `(?: (?:±|\+/-) ` + size + `| to ` + number + `)?|at (?:least|most) ` +
		number + `)$`)
}()

// levels reads what is set.
func (f *fields) levels() (all []Level) {
	const try = "write at least one level with what, value, unit and source"
	n, r := f.needed("levels", try), f.reader
	if n == nil {
		return nil
	}
	if n.Kind != yaml.SequenceNode || len(n.Content) == 0 {
		r.fault(n.Line, try, "levels must be a list")
		return nil
	}
	for _, item := range n.Content {
		g := r.fields(item, "a level", levelKeys)
		if g == nil {
			continue
		}
		l := Level{What: g.text("what", "name what is set"),
			Value:  g.text("value", "write the number, without its unit"),
			Unit:   g.text("unit", "write the unit; of a count, what is counted"),
			Source: g.text("source", "name the standard and its clause, or write: common practice, no source")}
		if n := g.at["note"]; n != nil && r.plain(n) {
			l.Note = r.text("note", n, "write it, or leave the line out")
		}
		low, high, isRange := strings.Cut(l.Value, " to ")
		switch {
		case l.Value == "":
		case !levelForm.MatchString(l.Value):
			r.fault(g.line("value"),
				"write a number such as 85; 85 ± 2; 20 to 40; at least 20; at most 40; and the unit in unit",
				"%q is not a value of a level", l.Value)
		case isRange && toNumber(low) >= toNumber(high):
			r.fault(g.line("value"), "write the smaller number first", "%q does not rise", l.Value)
		}
		all = append(all, l)
	}
	return all
}
