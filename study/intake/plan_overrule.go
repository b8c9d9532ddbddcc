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
		case c.label.Chosen && ofHeading && heading.IsAny(o.quantity, heading.Irradiance, heading.Counts,
			heading.Raw):
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
	return []study.Choice{{Name: "declared", Value: listOf(numbers), Meaning: meaning}}
}

// linesInWords names lines: line 1; lines 3, 7 and 8.
func linesInWords(numbers []int) string {
	if len(numbers) == 1 {
		return "line " + strconv.Itoa(numbers[0])
	}
	return "lines " + text.Joined(strings.Split(listOf(numbers), ","), "and")
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

// notesOnOverruled reports the lines that a person overrules, among those given, and of
// numbers that are those of none.
func (r *asker) notesOnOverruled(outside []outsideLine) []string {
	var notes []string
	for _, n := range r.want.Declared {
		i := slices.IndexFunc(outside, func(l outsideLine) bool { return l.Number == n })
		if i < 0 {
			notes = append(notes, fmt.Sprintf("--declared names line %d, which is not one of the lines around the rows", n))
			continue
		}
		says := text.Quoted(strings.TrimSpace(outside[i].text))
		notes = append(notes, fmt.Sprintf("line %d, %s, is overruled, as stated", n, says))
	}
	return notes
}

// question is a refusal that each of the choices settles, as that of [text.Asker]. To what is to
// be overruled it adds what is overruled already.
func (r grid) question(at text.Position, choices []study.Choice, orElse, fault string, args ...any) *study.Refusal {
	var all []study.Choice
	for _, c := range choices {
		if c.Name == "declared" {
			c.Value = r.alsoDeclared(c.Value)
		}
		all = append(all, c)
	}
	return r.Asker.Question(at, all, orElse, fault, args...)
}

// alsoDeclared adds what is to be overruled to what is overruled already, without the lines
// that say nothing.
func (r grid) alsoDeclared(value string) string {
	known := r.Stated.Declared
	if vain := r.declaredInVain(); len(vain) > 0 {
		useful := slices.DeleteFunc(slices.Clone(r.want.Declared), func(n int) bool { return slices.Contains(vain, n) })
		known = listOf(useful)
		if r.want.IgnoreDeclared {
			known = strings.TrimSuffix("ignore,"+known, ",")
		}
	}
	if known == "" {
		return value
	}
	return known + "," + value
}
