package intake

import (
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"

	"wane/study"
	"wane/study/intake/heading"
	"wane/study/intake/jcamp"
	"wane/study/intake/text"
)

// readJCAMP reads a JCAMP-DX file. Its blocks count as columns of values.
func (r decoded) readJCAMP() (*Export, error) {
	g := grid{section: section{decoded: r}}
	f, err := jcamp.Parse(r.src, jcampLabel)
	if err != nil {
		return nil, g.refuseJCAMP(err)
	}
	curves, notes, err := g.planJCAMP(f)
	if err != nil {
		return nil, err
	}
	notes = append(notes, r.notesOnOverruled(r.overruledIn(f.Lines))...)
	export := &Export{
		Name: r.File, Encoding: r.src.Encoding, Decimal: "point", RelativeTo: r.Stated.RelativeTo,
		HeaderLines: max(f.RowsAt-1, 0), Header: f.Header, Footer: f.Footer,
	}
	var forms, axes, units []string
	var stated header
	for i := range curves {
		c := &curves[i]
		if c.fault != nil {
			export.Skipped = append(export.Skipped,
				study.SkippedColumn{Column: c.number, Heading: c.Title.Value, Why: c.fault.Fault})
			continue
		}
		out, err := g.readTable(f, c, export.Rows)
		if err != nil {
			return nil, err
		}
		export.add(c, out)
		for _, note := range out.notes {
			if len(curves) > 1 && !strings.HasPrefix(note, c.name()) {
				note = c.name() + ": " + note
			}
			notes = append(notes, note)
		}
		forms = append(forms, out.form)
		if c.aside == "" {
			axes, units = append(axes, c.axis), append(units, c.unit)
		}
		if stated.reference == "" && c.aside == "" {
			stated.reference = c.header.reference
		}
		if stated.date.text == "" {
			stated.date = c.header.date
		}
	}
	slices.Sort(forms)
	export.Separator = "JCAMP-DX (" + strings.Join(slices.Compact(forms), ", ") + ")"
	export.WavelengthUnit, export.Unit = shared(axes), shared(units)
	export.Date, export.Day = stated.date.text, stated.date.day
	export.Notes = append(r.fileNotes(plan{stated: stated}, export.Skipped, nil), notes...)
	return export, nil
}

// blockOutcome is what became of a block: its spectrum, or why it is skipped.
type blockOutcome struct {
	outcome
	form string // of its rows
	rows int
}

// add adds what became of a block.
func (x *Export) add(c *jcampCurve, out blockOutcome) {
	x.Rows += out.rows
	x.Spectra, x.Skipped = append(x.Spectra, out.spectra...), append(x.Skipped, out.skipped...)
	x.addLines(c.number, c.Tables[0].Lines)

}

// addLines notes the lines of a column behind those of the columns before it.
func (x *Export) addLines(column int, s text.Span) {
	if x.lines == nil {
		x.lines, x.FirstLine = map[int]text.Span{}, s.First
	}
	x.lines[column], x.LastLine = s, s.Last
}

// shared returns the word that all share, or mixed, or "" if there is none.
func shared(words []string) string {
	switch words = slices.Compact(words); len(words) {
	case 0:
		return ""
	case 1:
		return words[0]
	}
	return "mixed"
}

// readTable reads the table of a block, behind blocks of so many rows.
func (r grid) readTable(f *jcamp.File, c *jcampCurve, before int) (out blockOutcome, err error) {
	o := jcamp.Options{Most: maxNumbers/2 - before, Joined: r.Stated.Overlap != "", IgnoreDeclared: r.want.IgnoreDeclared}
	if c.axis == "um" {
		o.ShiftX = 3
	}
	if c.unit == "percent" {
		o.ShiftY = -2
	}
	at := located{grid: r}
	at.block = block{line: c.Tables[0].Line} // where refusals point that know no row
	d, err := f.Read(c.Block, o)
	if err != nil {
		return out, r.refuseJCAMP(err)
	}
	t := table{d.Points, 2, d.Numbers}
	p := plan{axis: c.axis, lost: c.lost, xs: []int{0}, curves: []curve{c.curve}, stated: c.header,
		head: labelRow{line: c.Title.Line, labels: make([]heading.Label, 2), at: []text.Position{c.at, c.at}}}
	if err := at.checkScans(p, t); err != nil {
		return out, err
	}
	at, p, t = at.joinScans(p, t)
	for _, step := range []func(plan, table) (plan, error){at.readAxes, at.ask, at.checkOthers, at.finishAxes} {
		if p, err = step(p, t); err != nil {
			return out, err
		}
	}
	notes := p.notes
	if len(d.Unsaid) > 0 {
		notes = append(notes, fmt.Sprintf("the header gives no %s to check the numbers with", text.Joined(d.Unsaid, "and")))
	}
	if c.standard && c.aside == "" {
		notes = append(notes, fmt.Sprintf("##YUNITS= %s was read as a fraction, which it is by the standard",
			c.Records["YUNITS"].Value))
	}
	if fault := at.guardTable(c, d, p, t); fault != nil && c.aside == "" {
		return out, fault
	} else if fault != nil {
		p.curves[0].aside, p.curves[0].unusable = c.aside+": "+fault.Fault, true
	}
	out.outcome, err = at.spectra(p, t)
	out.form, out.rows, out.notes = d.Form, d.Points, append(notes, out.notes...)
	return out, err
}

// guardTable refuses values that cannot be what the block says, of those in the
// range that a person asks for.
func (r located) guardTable(c *jcampCurve, d *jcamp.Table, p plan, t table) *study.Refusal {
	s := study.Spectrum{NM: t.column(0), Values: t.column(1)}
	from := 0
	if r.want.HiNM > 0 {
		from = sort.SearchFloat64s(s.NM, r.want.LoNM)
		to := max(from, sort.Search(len(s.NM), func(i int) bool { return s.NM[i] > r.want.HiNM }))
		s.NM, s.Values = s.NM[from:to], s.Values[from:to]
	}
	low, high := text.Ends(s.Values)
	points := present(s.Values)
	if points == 0 && len(s.Values) > 0 {
		return r.Refuse(c.Tables[0].At(), text.ExportAgain, "%s has no number: all points are missing", c.name())
	}
	if above, _ := countWhere(s, func(v float64) bool { return v > mostFraction }); c.standard && 2*above > points {
		return r.question(c.Records["YUNITS"].At(), unitChoices[:1], "find out what the numbers are",
			"##YUNITS= %s is a fraction by the standard, but the values run from %s to %s",
			text.Short(c.Records["YUNITS"].Value), text.Figure(low), text.Figure(high))
	}
	far := slices.IndexFunc(s.Values, func(v float64) bool { return math.Abs(v) > mostMagnitude })
	if far < 0 || c.unit == "" || c.quantity == "" {
		return nil
	}
	if fault := r.checkUnit(c.curve, s, low, high); fault != nil {
		return fault
	}
	value, bound := s.Values[far], text.Figure(mostMagnitude)
	if c.unit == "percent" {
		bound = text.Figure(100*mostMagnitude) + " %"
	}
	row := from + far
	if p.down[0] {
		row = t.rows - 1 - row
	}
	if r.origin != nil {
		row = r.origin[row]
	}
	return r.refuseOrAskRange(text.Position{Line: d.LineOf(row)}, p.rangeWithoutNoise(c.curve, s, t),
		"correct the number, or write ? if the point is missing; check the unit of the block",
		fmt.Sprintf("%s cannot be %s: the limit is %s", d.ShownY(value), inWords(string(c.quantity)), bound))
}
