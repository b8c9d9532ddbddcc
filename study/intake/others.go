package intake

import (
	"fmt"
	"reflect"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"wane/study"
	"wane/study/intake/heading"
	"wane/study/intake/text"
)

// Lines outside the rows that name another quantity than reflectance, or say that
// nothing was compared to a reference. They may speak of other things than the values,
// so that a person has to say so for each line: --declared.

// otherLine is such a line.
type otherLine struct {
	quantity study.Quantity
	text     string
	at       text.Position
	sure     bool // it says nothing else, as Technique: Absorbance does and prose does not
}

// isUnreferenced reports whether the line names what is measured without a reference.
func (o otherLine) isUnreferenced() bool {
	return heading.IsAny(string(o.quantity), string(heading.Unreferenced), string(heading.Counts), string(heading.Irradiance), string(heading.Raw))
}

// noteOther keeps a line if it names another quantity.
func (h *header) noteOther(line outsideLine) {
	s := strings.TrimSpace(line.text)
	if len(s) > heading.MostInHeading {
		s = s[:heading.MostInHeading]
	}
	found := otherLine{text: s, at: text.Position{Line: line.Number}}
	for _, part := range heading.StatementsIn(s) {
		if q, sure := heading.OtherQuantity(strings.TrimSpace(part)); q != "" && (found.quantity == "" || sure && !found.sure) {
			found.quantity, found.sure = q, sure
		}
	}
	for _, pair := range pairsIn(s) {
		if q, sure := heading.OtherQuantity(pair); sure && !found.sure {
			found.quantity, found.sure = q, sure
		}
	}
	if found.quantity != "" {
		h.others = append(h.others, found)
	}
}

// pairsIn returns the keys with their values of a line that holds several in cells of their
// own: Sample, G07, Mode, %T.
func pairsIn(text string) (pairs []string) {
	for _, sep := range []string{";", ",", "\t"} {
		cells := slices.DeleteFunc(strings.Split(text, sep), func(c string) bool { return strings.TrimSpace(c) == "" })
		if len(cells) < 4 || len(cells)%2 != 0 {
			continue
		}
		for i := 0; i < len(cells); i += 2 {
			pairs = append(pairs, strings.Trim(cells[i], " \"")+":"+cells[i+1])
		}
	}
	return pairs
}

// noteOthersElsewhere keeps such lines behind the rows, and, if one of several blocks is
// read, before the first one and behind the last one, which may speak of all: nothing
// there is sure. It returns the header with them, and the latter lines.
func (r grid) noteOthersElsewhere(h header, after []outsideLine) (_ header, elsewhere []outsideLine, err error) {
	note := func(lines []outsideLine, ofAll bool) {
		for _, l := range lines {
			if r.overrules(l.Number) || ofAll && headsWavelengths(l.text) {
				continue
			}
			known := len(h.others)
			h.noteOther(l)
			for i := range h.others[known:] {
				h.others[known+i].sure = !ofAll && h.others[known+i].sure
			}
		}
	}
	if r.want.Block == 0 {
		note(after, false)
		return h, nil, nil
	}
	all := r.blocks()
	first, last := all[0], all[len(all)-1]
	if r.block.start == last.start {
		note(after, false)
	} else if elsewhere, err = r.outside(last.end, len(r.src.Text), last.last); err != nil {
		return h, nil, err
	}
	if r.block.start != first.start {
		top, err := r.outside(0, first.start, 1)
		if err != nil {
			return h, nil, err
		}
		elsewhere = append(top, elsewhere...)
	}
	note(elsewhere, true)
	return h, elsewhere, nil
}

// headsWavelengths reports whether a line is one of headings, of another block.
func headsWavelengths(text string) bool {
	for _, sep := range []byte(",;\t") {
		for _, c := range cutCells(text, sep) {
			if len(c.text) < len(text) && heading.Parse(c.text).IsX() {
				return true
			}
		}
	}
	return false
}

// conflicts returns the lines that contradict what is known of the quantity of a curve, or,
// if nothing is, all lines that a person should see before saying it.
func (p plan) conflicts(c curve) []otherLine {
	byFile := c.quantityBy.by != "" && c.quantityBy.by != "--quantity"
	ofHeading := c.label.Quantity == study.Reflectance && len(p.curves) > 1
	var found []otherLine
	for _, o := range p.stated.others {
		switch {
		case o.quantity == c.quantity, byFile && !o.sure:
		case c.label.Chosen && speaksOfOthers(o.text, c.id()):
		case c.label.Chosen && ofHeading && heading.IsAny(string(o.quantity), string(heading.Irradiance), string(heading.Counts), string(heading.Raw)):
			// the other columns
		default:
			found = append(found, o)
		}
	}
	return found
}

// columnNumbers finds column 2, cols. 2-3, Spalten 2 und 3.
var columnNumbers = regexp.MustCompile(`(?i)\b(?:col(?:umn|onne|umna|onna)?s?|kolom(?:men)?|spalten?)\b\.?\s*#?\s*` +
	`(\d+)(?:\s*(?:-|–|to|and|und|bis|et|y|,|&)\s*(\d+))?`)

// speaksOfOthers reports whether a line names columns by their numbers and not this one.
func speaksOfOthers(text string, column int) bool {
	all := columnNumbers.FindAllStringSubmatch(text, -1)
	for _, m := range all {
		low, err := strconv.Atoi(m[1])
		high := low
		if err == nil && m[2] != "" {
			high, err = strconv.Atoi(m[2])
		}
		if err != nil || low <= column && column <= high {
			return false
		}
	}
	return len(all) > 0
}

// checkOthers asks about lines that contradict the quantity of a curve, whoever states it.
func (r grid) checkOthers(p plan, _ table) (plan, error) {
	for _, c := range p.curves {
		if c.aside != "" || c.quantity == "" {
			continue
		}
		if others := p.conflicts(c); others != nil {
			q := inWords(string(c.quantity))
			orElse := "export the " + q
			if slices.ContainsFunc(others, otherLine.isUnreferenced) {
				orElse += ", measured against a reference"
			}
			return p, r.question(others[0].at, r.overrule(others), orElse,
				"%s, and %s says %s", quotedLines(others), c.quantityBy.by, q)
		}
	}
	return p, nil
}

// overrule offers to overrule lines beside those that are overruled already.
func (r *asker) overrule(others []otherLine) []study.Choice {
	var numbers []int
	for _, o := range others {
		numbers = append(numbers, o.at.Line)
	}
	numbers = slices.Compact(numbers)
	meaning := linesInWords(numbers) + " is wrong, or does not speak of the values"
	if len(numbers) > 1 {
		meaning = linesInWords(numbers) + " are wrong, or do not speak of the values"
	}
	return []study.Choice{{Name: "declared", Value: text.ListOf(numbers), Meaning: meaning}}
}

// linesInWords names lines: line 1; lines 3, 7 and 8.
func linesInWords(numbers []int) string {
	if len(numbers) == 1 {
		return "line " + strconv.Itoa(numbers[0])
	}
	return "lines " + text.Listed(strings.Split(text.ListOf(numbers), ","))
}

// declaredInVain returns the lines among those that a person overrules that say nothing:
// another one was meant.
func (r grid) declaredInVain() []int {
	var vain []int
	left := slices.Clone(r.want.Declared)
	for l := range text.Lines(r.src.Text, 1) {
		if i := slices.Index(left, l.Number); i >= 0 {
			left = slices.Delete(left, i, i+1)
			if !r.saysSomething(outsideLine{Line: l, text: r.src.Line(l.Text)}) {
				vain = append(vain, l.Number)
			}
		}
		if len(left) == 0 {
			break
		}
	}
	return append(vain, left...)
}

// saysSomething reports whether a line states something, or heads a column of another
// quantity, that can be overruled.
func (r grid) saysSomething(line outsideLine) bool {
	var h header
	if err := r.readHeaderLine(&h, line); err != nil || !reflect.DeepEqual(h, header{}) {
		return true
	}
	return slices.ContainsFunc(cutCells(line.text, r.dialect.sep), func(c headCell) bool {
		q := heading.Parse(c.text).Quantity
		return q != "" && q != study.Reflectance
	})
}

// overrules reports whether a person says that a line says nothing right of the values.
func (r *asker) overrules(line int) bool { return slices.Contains(r.want.Declared, line) }

// notesOnOverruled tells of the lines that a person overrules, among those given, and of
// numbers that are those of none.
func (r *asker) notesOnOverruled(outside []outsideLine) []string {
	var notes []string
	for _, n := range r.want.Declared {
		i := slices.IndexFunc(outside, func(l outsideLine) bool { return l.Number == n })
		if i < 0 {
			notes = append(notes, fmt.Sprintf("--declared names line %d, which is none of the lines around the rows", n))
			continue
		}
		says := text.Quoted(strings.TrimSpace(outside[i].text))
		notes = append(notes, fmt.Sprintf("line %d, %s, is overruled, as stated", n, says))
	}
	return notes
}

const (
	mostQuoted = 3   // lines of a kind in a message
	mostOfLine = 100 // characters of each
)

// quotedLines writes what lines say: line 3 says "Technique,Transmission".
func quotedLines(others []otherLine) string {
	var says []string
	for i, o := range others {
		if i == mostQuoted {
			says = append(says, text.Count(len(others)-i, "more line")+" such as these")
			break
		}
		says = append(says, fmt.Sprintf("line %d says %s", o.at.Line, strconv.Quote(text.CutAt(o.text, mostOfLine))))
	}
	return text.Listed(says)
}
