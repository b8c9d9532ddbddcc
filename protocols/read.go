package protocols

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strings"

	"go.yaml.in/yaml/v3"

	"wane/protocols/fields"
)

// Fault is something wrong in the text of a protocol.
type Fault = fields.Fault

// Faults are all that is wrong in the text of a protocol, in the order of the lines.
type Faults = fields.Faults

const mostName = 40 // characters of a name

// Read reads a protocol. An error is of type [Faults] and names everything that is wrong.
func Read(text []byte) (*Protocol, error) {
	r := &reader{}
	p := &Protocol{Text: string(text)}
	if top := r.Open(text, "protocol", "write protocol: and its name in the first line"); top != nil {
		r.protocol(top, p)
	}
	if err := r.Err(); err != nil {
		return nil, err
	}
	return p, nil
}

// reader reads what protocols have.
type reader struct{ fields.Reader }

// mapping is a part of a protocol.
type mapping struct{ *fields.Fields }

// unitElsewhere says where the unit of a number stands.
const unitElsewhere = "the unit stands in dose-unit"

var (
	exposureKeys = []string{"dose-unit", "dose", "dose-per-day", "pulls"}
	protocolKeys = slices.Concat([]string{"protocol", "title", "kind", "purpose", "basis"}, exposureKeys,
		[]string{"levels", "steps", "records", "invalid-if", "cautions"})
	levelKeys = []string{"what", "value", "unit", "note", "source"}
)

func (r *reader) protocol(top *yaml.Node, p *Protocol) {
	all := r.Fields(top, "a protocol", protocolKeys)
	if all == nil {
		return
	}
	f := mapping{all}
	p.Name = f.Text("protocol", "name the protocol: small letters, digits and hyphens")
	p.Title = f.Text("title", "say in a few words what it is")
	p.Purpose = f.Text("purpose", "say in one line what it is for")
	p.Basis = f.Text("basis", "name the standard that it follows, or write: common practice, no source")
	if p.Name != "" && (!nameForm.MatchString(p.Name) || len(p.Name) > mostName) {
		r.Fault(f.Line("protocol"),
			fmt.Sprintf("use small letters, digits and single hyphens, at most %d characters", mostName),
			"%q is not a name of a protocol", p.Name)
	}
	switch p.Kind = Kind(f.Text("kind", "write exposure or reading")); p.Kind {
	case Exposure:
		f.exposure(p)
	case Reading:
		for _, key := range exposureKeys {
			if f.At(key) != nil {
				r.Fault(f.Line(key), "leave it out, or write kind: exposure", "a protocol of kind reading has no %s", key)
			}
		}
	case "":
	default:
		r.Fault(f.Line("kind"), "write exposure or reading", "there is no kind %q", p.Kind)
	}
	p.Levels = f.levels()
	p.Steps = f.List("steps", "write what is done, a line for each step")
	p.Records = f.List("records", "write what is noted down during a run")
	p.InvalidIf = f.List("invalid-if", "write what makes a run worth nothing")
	p.Cautions = f.List("cautions", "write what can hurt someone, and what prevents it")
}

var nameForm = regexp.MustCompile(`^[a-z0-9]+(-[a-z0-9]+)*$`)

// exposure reads what only exposures have.
func (f mapping) exposure(p *Protocol) {
	r := f.Reader
	units := strings.Join(DoseUnits(), ", ")
	p.DoseUnit = f.Text("dose-unit", "write one of "+units)
	p.Dose = f.Text("dose", "say what one unit of the dose is, and what does not count")
	known := slices.Contains(DoseUnits(), p.DoseUnit)
	if p.DoseUnit != "" && !known {
		r.Fault(f.Line("dose-unit"), "write one of "+units, "there is no dose unit %q", p.DoseUnit)
	}
	if n := f.At("dose-per-day"); n != nil {
		p.DosePerDay = r.Size("dose-per-day", n, unitElsewhere)
		switch {
		case p.DoseUnit == "days":
			r.Fault(n.Line, "leave it out", "dose-per-day: a dose in days grows by 1 in a day")
		case p.DosePerDay <= 0:
			r.Fault(n.Line, "write the dose of a day without stops, or leave it out if it depends on the equipment",
				"dose-per-day must be above 0, not %s", n.Value)
		}
	}
	if p.DoseUnit == "days" {
		p.DosePerDay = 1
	}
	f.pulls(p)
}

// pulls reads the doses of the pulls.
func (f mapping) pulls(p *Protocol) {
	const try = "write the doses at which coupons are read, the first of them 0: pulls: [0, 250, 500, 1000]"
	n, r := f.Needed("pulls", try), f.Reader
	if n == nil {
		return
	}
	if n.Kind != yaml.SequenceNode || len(n.Content) < 2 {
		r.Fault(n.Line, try, "pulls must be a list of at least two doses")
		return
	}
	last, sound := math.Inf(-1), r.Found()
	for i, item := range n.Content {
		dose := r.Size(fmt.Sprintf("the dose of pull %d", i), item, unitElsewhere)
		switch {
		case r.Found() > sound:
			sound = r.Found()
			continue
		case i == 0 && dose != 0:
			r.Fault(item.Line, "begin with 0: pull 0 is before exposure", "the dose of pull 0 is %s, not 0", item.Value)
		case i > 0 && dose <= last:
			r.Fault(item.Line, "let the dose rise from pull to pull, without commas within numbers",
				"the dose %s of pull %d is not above the %v of pull %d", item.Value, i, last, i-1)
		}
		last, sound = dose, r.Found()
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
func (f mapping) levels() (all []Level) {
	const try = "write at least one level with what, value, unit and source"
	n, r := f.Needed("levels", try), f.Reader
	if n == nil {
		return nil
	}
	if n.Kind != yaml.SequenceNode || len(n.Content) == 0 {
		r.Fault(n.Line, try, "levels must be a list")
		return nil
	}
	for _, item := range n.Content {
		g := r.Fields(item, "a level", levelKeys)
		if g == nil {
			continue
		}
		l := Level{What: g.Text("what", "name what is set"),
			Value:  g.Text("value", "write the number, without its unit"),
			Unit:   g.Text("unit", "write the unit; of a count, what is counted"),
			Source: g.Text("source", "name the standard and its clause, or write: common practice, no source")}
		if n := g.At("note"); n != nil && r.Plain(n) {
			l.Note = r.Text("note", n, "write it, or leave the line out")
		}
		low, high, isRange := strings.Cut(l.Value, " to ")
		switch {
		case l.Value == "":
		case !levelForm.MatchString(l.Value):
			r.Fault(g.Line("value"),
				"write a number such as 85; 85 ± 2; 20 to 40; at least 20; at most 40; and the unit in unit",
				"%q is not a value of a level", l.Value)
		case isRange && fields.ToNumber(low) >= fields.ToNumber(high):
			r.Fault(g.Line("value"), "write the smaller number first", "%q does not rise", l.Value)
		}
		all = append(all, l)
	}
	return all
}
