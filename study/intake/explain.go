package intake

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"slices"

	"wane/study"
	"wane/study/intake/jcamp"
	"wane/study/intake/text"
)

// Explain says in lines of text what the reader sees in an export and why it
// reads it as it does, or why it does not: encoding, rows, readings weighed, what
// each column holds and who says so, and what comes out. It changes nothing.
func Explain(name string, data []byte, stated text.Stated) []string {
	export, w, err := read(name, data, stated)
	e, r := &explanation{}, w.rows
	if r.src.Encoding != "" {
		e.add("text", "%s; lines end with %s", r.src.Encoding, lineEnds(r.src.Text))
	}
	if r.block.rows > 0 && !jcamp.Is(r.src.Text) {
		e.rows(r)
		e.readings(r, len(w.plan.xs) > 0)
		e.columns(w.plan)
	}
	if export != nil {
		for _, l := range export.Preview() {
			e.add("read", "%s", l)
		}
		for _, n := range export.Notes {
			e.add("note", "%s", n)
		}
	}
	var refusal *study.Refusal
	if errors.As(err, &refusal) {
		e.add("refused", "%s", refusal.Error())
		e.add("try", "%s", refusal.Try)
	}
	return e.lines
}

// explanation gathers lines, each with what it is about in front.
type explanation struct {
	lines []string
	last  string
}

func (e *explanation) add(about, format string, args ...any) {
	head := about
	if about == e.last {
		head = ""
	}
	e.last = about
	e.lines = append(e.lines, fmt.Sprintf("%-12s", head)+fmt.Sprintf(format, args...))
}

// lineEnds counts the line ends of a text.
func lineEnds(content []byte) string {
	crlf := bytes.Count(content, []byte("\r\n"))
	var kinds []string
	for _, k := range []struct {
		name string
		n    int
	}{
		{"CRLF", crlf},
		{"LF", bytes.Count(content, []byte("\n")) - crlf},
		{"CR", bytes.Count(content, []byte("\r")) - crlf},
	} {
		if k.n > 0 {
			kinds = append(kinds, fmt.Sprintf("%s (%s)", k.name, text.Figure(float64(k.n))))
		}
	}
	if kinds == nil {
		return "nothing: it is one line"
	}
	return text.Joined(kinds, "and")
}

// mostShown is how many lines of a kind are shown.
const mostShown = 12

func (e *explanation) rows(r grid) {
	e.add("rows", "lines %d to %d: %s", r.block.line, r.block.last, text.Count(r.block.rows, "row"))
	others := 0
	for _, b := range r.blocks() {
		if b.line == r.block.line || b.start >= r.block.start && b.end <= r.block.end {
			continue
		}
		if others++; others <= mostShown {
			e.add("rows", "lines %d to %d: %s, not read", b.line, b.last, text.Count(b.rows, "row"))
		}
	}
}

// readings shows how far each way to split the rows gets; read says that a table was read by one.
func (e *explanation) readings(r grid, read bool) {
	if r.hasNames {
		e.add("reading", "%s; the rows contain names", r.dialect.inWords())
		return
	}
	single := len(r.candidates()) == 1
	if r.dialect.joined != 0 {
		e.add("reading", "%s: the first row is %s; no other reading with decimal commas fits: taken", r.dialect.inWords(),
			r.firstRowAs(r.dialect))
		return
	}
	for _, sep := range []byte(",\t; ") {
		for _, mark := range []byte(".,") {
			for _, thousands := range []byte{0, '.', ',', markOf(r.Stated.Thousands)} {
				d := dialect{sep: sep, mark: mark, thousands: thousands, stated: r.Stated.Decimal != ""}
				if thousands != 0 && (thousands == sep || thousands == mark) {
					continue
				}
				rows, distinct := r.countFittingRows(d)
				taken := d == r.dialect && (single || read)
				if !taken && (rows == 0 || !distinct) {
					continue
				}
				verdict := ""
				switch {
				case taken && single:
					verdict = "; no other separator fits all rows"
				case taken:
					verdict = "; no other fits all: taken"
				}
				line := fmt.Sprintf("%s: fits %s of %s%s",
					d.inWords(), text.Figure(float64(rows)), text.Count(r.block.rows, "row"), verdict)
				if !slices.Contains(e.lines, fmt.Sprintf("%-12s", "")+line) &&
					!slices.Contains(e.lines, fmt.Sprintf("%-12s", "reading")+line) {
					e.add("reading", "%s", line)
				}
			}
		}
	}
}

// columns shows what each column holds and who says so.
func (e *explanation) columns(p plan) {
	if len(p.xs) == 0 {
		return
	}
	if p.head.line > 0 {
		e.add("headings", "line %d", p.head.line)
	} else {
		e.add("headings", "none")
	}
	for _, d := range p.stated.declared {
		e.add("header", "line %d declares %s %s", d.at.Line, d.what, text.Figure(d.value))
	}
	if d := p.stated.date; d.text != "" {
		e.add("header", "date %s: %s", text.Quoted(d.text), cmp.Or(d.day, "day not clear"))
	}
	e.add("wavelengths", "column %d: %s", p.xs[0]+1, sourced(p.axis, p.axisBy))
	for i, c := range p.curves {
		if i == mostShown {
			e.add("curve", "and %s more", text.Count(len(p.curves)-i, "column"))
			break
		}
		if c.aside != "" {
			e.add("curve", "%s: skipped, %s", c.name(), c.aside)
			continue
		}
		e.add("curve", "%s: %s; %s", c.name(), sourced(inWords(string(c.quantity)), c.quantityBy), sourced(c.unit, c.unitBy))
	}
}

// sourced writes what is said, and by whom.
func sourced(what string, by said) string {
	switch {
	case what == "":
		return "not stated"
	case by.at.Line > 0:
		return fmt.Sprintf("%s by %s, line %d", what, by.by, by.at.Line)
	}
	return what + " by " + by.by
}
