package intake

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"wane/study"
)

// What to try, where several faults share it.
const (
	saveAsText  = "save the export as plain text in UTF-8"
	exportAgain = "export the file again from the instrument"
	oneBlock    = "give each block of numbers a file of its own"

	separateClearly = "export with a semicolon or a tab between the columns, or with decimal points"
)

// place is a line of the file and a character in it, both from 1; 0 stands for
// the whole.
type place struct{ line, column int }

var nowhere place

func (r *reader) refuse(at place, try, fault string, args ...any) *study.Refusal {
	says := fmt.Sprintf(fault, args...)
	if r.stated.InMap {
		says, try = mapFault.Replace(says), mapTry.Replace(try)
	}
	return &study.Refusal{File: r.name, Line: at.line, Column: at.column, Fault: says, Try: try}
}

// question is a refusal that each of the choices settles. What is stated already
// is not asked again.
func (r *reader) question(at place, choices []study.Choice, orElse, fault string, args ...any) *study.Refusal {
	var open []study.Choice
	for _, c := range choices {
		if c.Name == "declared" {
			c.Value = r.alsoDeclared(c.Value)
		}
		if c.Name == "declared" || !r.isStated(c.Name) {
			open = append(open, c)
		}
	}
	try := orElse
	switch {
	case len(open) > 0 && orElse != "":
		try = stateOne(open) + ", or " + orElse
	case len(open) > 0:
		try = stateOne(open)
	case orElse == "":
		try = exportAgain
	}
	refusal := r.refuse(at, try, fault, args...)
	refusal.Choices = open
	return refusal
}

// alsoDeclared adds what is to be overruled to what is overruled already, without the lines
// that say nothing.
func (r *reader) alsoDeclared(value string) string {
	known := r.stated.Declared
	if vain := r.declaredInVain(); len(vain) > 0 {
		useful := slices.DeleteFunc(slices.Clone(r.want.declared), func(n int) bool { return slices.Contains(vain, n) })
		known = listOf(useful)
		if r.want.ignoreDeclared {
			known = strings.TrimSuffix("ignore,"+known, ",")
		}
	}
	if known == "" {
		return value
	}
	return known + "," + value
}

// isStated reports whether a person has stated something by that name.
func (r *reader) isStated(name string) bool {
	for _, a := range r.stated.Answers() {
		if a.Name == name {
			return *a.To != ""
		}
	}
	return false
}

// stateOne writes what to state: state --overlap first (or average).
func stateOne(choices []study.Choice) string {
	var others []string
	for _, c := range choices[1:] {
		word := valueOf(c)
		if c.Name != choices[0].Name {
			word = "--" + c.Name + " " + word
		}
		others = append(others, word)
	}
	text := "state --" + choices[0].Name + " " + valueOf(choices[0])
	if n := len(others); n > 4 {
		text += " (or " + strings.Join(others[:3], " or ") + " and so on)"
	} else if n > 0 {
		text += " (or " + strings.Join(others, " or ") + ")"
	}
	return text
}

// valueOf writes the value of a choice, NAME if the person has to name it. A long list of
// columns is cut.
func valueOf(c study.Choice) string {
	if c.Value == "" {
		return "NAME"
	}
	if isAny(c.Name, "columns", "group-by") {
		return cutList(c.Value)
	}
	return c.Value
}

// mostListed is how many of a list a message names.
const mostListed = 10

// cutList cuts a list such as 2,3,4 that is too long for a message.
func cutList(list string) string {
	all := strings.Split(list, ",")
	if len(all) <= mostListed {
		return list
	}
	return strings.Join(all[:mostListed], ",") + ",... to " + all[len(all)-1]
}

// What a person states stands in a map's columns instead of flags.
var (
	mapFault = strings.NewReplacer("--wavelength-unit", "the map's wavelength_unit", "--unit", "the map's unit", "--quantity", "the map's quantity")
	mapTry   = strings.NewReplacer("--wavelength-unit", "in the map wavelength_unit", "--unit", "in the map unit", "--quantity", "in the map quantity")
)

// quoted shows a piece of the file in a message: on one line, and not too long.
func quoted(text string) string { return strconv.Quote(short(text)) }

func short(text string) string { return cutAt(text, 40) }

// cutAt cuts a text behind so many characters.
func cutAt(text string, room int) string {
	n := 0
	for i := range text {
		if n == room {
			return text[:i] + "..."
		}
		n++
	}
	return text
}

// figure writes a number as people read it: six digits at most, thousands
// marked (1,950), powers of ten only where needed.
func figure(v float64) string {
	size := math.Abs(v)
	if size != 0 && (size < 1e-3 || size >= 1e9) {
		return strconv.FormatFloat(v, 'g', 6, 64)
	}
	if size >= 1e5 {
		return thousands(strconv.FormatFloat(v, 'f', 0, 64))
	}
	rounded, _ := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 6, 64), 64)
	return thousands(strconv.FormatFloat(rounded, 'f', -1, 64))
}

func thousands(digits string) string {
	whole, fraction, _ := strings.Cut(digits, ".")
	sign := ""
	if strings.HasPrefix(whole, "-") {
		sign, whole = "-", whole[1:]
	}
	for i := len(whole) - 3; i > 0; i -= 3 {
		whole = whole[:i] + "," + whole[i:]
	}
	if fraction != "" {
		whole += "." + fraction
	}
	return sign + whole
}

// count writes a number of things: 1 row, 3 rows.
func count(n int, thing string) string {
	if n == 1 {
		return "1 " + thing
	}
	return thousands(strconv.Itoa(n)) + " " + thing + "s"
}

// wavelength writes a wavelength without thousands marks: 1010.2.
func wavelength(nm float64) string { return strconv.FormatFloat(nm, 'g', 10, 64) }

// listed joins phrases: a, b and c.
func listed(phrases []string) string {
	last := len(phrases) - 1
	if last == 0 {
		return phrases[0]
	}
	return strings.Join(phrases[:last], ", ") + " and " + phrases[last]
}
