package placing

import (
	"cmp"
	"maps"
	"slices"
	"strconv"
	"strings"

	"go.yaml.in/yaml/v3"

	"wane/study"
	"wane/study/intake/sheet"
)

// curveRule is a line of a profile: a column or a pattern of columns, and where the
// curves belong.
type curveRule struct {
	sheet    *sheet.Table // whose columns the fields stand for
	line     int
	column   string
	headings *pattern     // nil if the column is one
	fields   []curveField // as in curveFields; a line of 0: not there
}

// curveField is a text of a curve, whose gaps stand for what patterns caught.
type curveField struct {
	line int
	text pattern
}

// curveFields are the names in a profile of what the columns of a map say, in the order
// in which they are written. An example is a text that the field may hold.
var curveFields = []struct {
	name, column, example string
	needed                bool
}{
	{"column", "column", "", true},
	{"coupon", "coupon", "x", true}, {"pull", "pull", "0", true}, {"spot", "spot", "x", true},
	{"angle", "angle_deg", "0", true}, {"polarisation", "polarisation", "u", true},
	{"quantity", "quantity", "", false}, {"unit", "unit", "", false}, {"wavelength-unit", "wavelength_unit", "", false},
	{"replicate", "replicate", "1", false}, {"session", "session", "x", false}, {"condition", "condition", "", false},
	{"operator", "operator", "x", false}, {"geometry", "geometry", "", false},
	{"orientation", "orientation_deg", "0", false}, {"mounting", "mounting", "1", false},
	{"half-angle", "half_angle_deg", "", false}, {"position", "position", "x", false},
}

// curveSheet has the columns that the fields of a curve stand for.
func curveSheet(file string) *sheet.Table {
	columns := []string{"file"}
	for _, f := range curveFields {
		columns = append(columns, f.column)
	}
	return sheet.NewTable(file, columns)
}

func (p *Profile) readCurves(d *document, n *node) error {
	if n == nil {
		return nil
	}
	if n.Kind != yaml.SequenceNode || len(n.Content) == 0 {
		return d.refuse(n.Line, "write - column: and the other fields below it, or leave curves out",
			"curves has no list of curves")
	}
	if err := d.plain(n); err != nil {
		return err
	}
	s := curveSheet(d.file)
	for _, item := range n.Content {
		c, err := readCurve(d, item, s)
		if err != nil {
			return err
		}
		if err := c.check(d, p); err != nil {
			return err
		}
		p.curves = append(p.curves, *c)
	}
	return nil
}

func readCurve(d *document, n *node, s *sheet.Table) (*curveRule, error) {
	var names []string
	for _, f := range curveFields {
		names = append(names, f.name)
	}
	values, err := d.fields(n, "a curve", names...)
	if err != nil {
		return nil, err
	}
	c := &curveRule{sheet: s, line: n.Line, fields: make([]curveField, len(curveFields))}
	for i, f := range curveFields {
		if values[f.name] == nil && !f.needed {
			continue
		}
		text, err := d.needed(values, n.Line, f.name)
		if err != nil {
			return nil, err
		}
		line := values[f.name].Line
		if f.name == "column" {
			err = c.readColumn(d, line, text)
		} else if c.fields[i].text, err = splitGaps(text, "{}"); err != nil {
			err = d.refuseFor(line, "write {name} for what a pattern catches", f.name, err)
		} else if slices.Contains(c.fields[i].text.numbers, true) {
			err = d.refuse(line, "write {name} here, and {name:number} in the pattern that catches it",
				"%s: :number belongs into a pattern", f.name)
		}
		if err != nil {
			return nil, err
		}
		c.fields[i].line = line
	}
	return c, nil
}

func (c *curveRule) readColumn(d *document, line int, text string) error {
	c.column = text
	c.fields[0].text = pattern{text: text, literals: []string{text}}
	if !isPattern(text) {
		if _, err := columnNumber(text); err != nil {
			return d.refuse(line, tryNumber, "%v", err)
		}
		return nil
	}
	p, err := parsePattern(text)
	if err != nil {
		return d.refuseFor(line, tryColumn, "column", err)
	}
	c.headings = &p
	return nil
}

// check refuses gaps of the fields that no pattern catches, and texts that cannot be
// meant.
func (c *curveRule) check(d *document, p *Profile) error {
	caught, by := []string{}, map[string]string{}
	if p.files != nil {
		caught = p.files.names()
	}
	for _, name := range caught {
		by[name] = "files"
	}
	for i := range p.header {
		for _, name := range p.header[i].pattern.names() {
			caught, by[name] = append(caught, name), "header"
		}
	}
	if c.headings != nil {
		for _, name := range c.headings.names() {
			if by[name] != "" {
				return d.refuse(c.fields[0].line, "give one of them another name", "{%s} is caught by %s and by column", name, by[name])
			}
			caught = append(caught, name)
		}
	}
	for i, f := range curveFields {
		for _, name := range c.fields[i].text.names() {
			switch {
			case slices.Contains(statedFields, f.name):
				return d.refuse(c.fields[i].line, "write the word itself", "%s: what a pattern catches cannot state it", f.name)
			case f.name != "column" && !slices.Contains(caught, name):
				try := "write the text itself, or {" + name + "} where it stands in files, in header or in column"
				return d.refuse(c.fields[i].line, try, "%s: no pattern catches {%s}", f.name, name)
			}
		}
	}
	_, err := (&ruleFor{curve: c}).placing(c.column)
	return err
}

// statedFields are what a curve states of its whole export.
var statedFields = []string{"quantity", "unit", "wavelength-unit"}

// ruleFor is a curve of a profile for one export.
type ruleFor struct {
	curve  *curveRule
	header []headerRule // that are to be matched yet
	path   string       // of the export; empty while the profile is read
	caught map[string]string
}

// line returns the curve as a line of rules.
func (r *ruleFor) line() (sheet.Line[Placing], error) {
	p, err := r.placing(r.curve.column)
	if err != nil {
		return sheet.Line[Placing]{}, err
	}
	return sheet.Line[Placing]{File: r.curve.sheet.File, Number: r.curve.line,
		Row: Placing{MapRow: sheet.MapRow{File: p.File, Column: p.Column, Stated: p.Stated}, rule: r}}, nil
}

// matchColumn returns what the curve says of a column, and whether it is one that it means.
func (r *ruleFor) matchColumn(s *study.Spectrum) (p Placing, ok bool, err error) {
	caught := maps.Clone(r.caught)
	ok, err = r.curve.headings.match(s.Heading, caught)
	if !ok {
		return p, false, nil
	}
	if err != nil {
		return p, true, &study.Refusal{File: r.curve.sheet.File, Line: r.curve.fields[0].line,
			Fault: "column of " + study.Shown(r.path), Cause: err,
			Try: "put text into the pattern that the parts of a heading cannot contain, or name the column by its number"}
	}
	p, err = (&ruleFor{curve: r.curve, path: r.path, caught: caught}).placing(cmp.Or(s.Heading, "#"+strconv.Itoa(s.Column)))
	return p, true, err
}

// placing returns what the curve says of a column. Fields that hang on what was not
// caught yet hold an example.
func (r *ruleFor) placing(column string) (Placing, error) {
	row := r.curve.sheet.NewRow(r.curve.line, r.named)
	row.Set("file", cmp.Or(r.path, column))
	for i, f := range curveFields {
		text, ok := r.curve.fields[i].text.fill(r.caught)
		switch {
		case f.name == "column":
			text = column
		case !ok:
			text = f.example
		case isNumber(f.name):
			text = withPoint(text)
		}
		text = strings.TrimSpace(text)
		if fault, try := sheet.CheckText(text, f.name); fault != "" {
			row.Refuse(f.column, try, "%s", fault)
		}
		row.Set(f.column, text)
	}
	p := Placing{MapRow: row.MapRow()}
	return p, row.Err
}

// named returns what a message calls the field that stands for a column of a map, and
// its line.
func (r *ruleFor) named(column string) (name string, line int) {
	name, line = column, r.curve.line
	for i, f := range curveFields {
		if f.column == column {
			name, line = f.name, max(r.curve.fields[i].line, line)
		}
	}
	if r.path != "" {
		name += " of " + study.Shown(r.path)
	}
	return name, line
}

func isNumber(field string) bool { return field == "angle" || field == "orientation" }

// withPoint writes a number with a decimal point where names of files and headings have
// a comma or an underscore: 57,5 and 57_5 are 57.5.
func withPoint(text string) string {
	at := strings.IndexAny(text, ".,_")
	if at < 0 || strings.ContainsAny(text[at+1:], ".,_") {
		return text
	}
	return text[:at] + "." + text[at+1:]
}
