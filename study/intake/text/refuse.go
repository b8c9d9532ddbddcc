package text

import (
	"fmt"
	"regexp"
	"strings"

	"wane/study"
)

// What to try, where several faults share it.
const (
	SaveAsText  = "save the export as plain text in UTF-8"
	ExportAgain = "export the file again from the instrument"
)

// Position is a line of the file and a character in it, both from 1; 0 stands for
// the whole.
type Position struct{ Line, Column int }

var Nowhere Position

// Asker makes the refusals and the questions about one file.
type Asker struct {
	File   string // its name in messages
	Stated Stated
}

func (a *Asker) Refuse(at Position, try, fault string, args ...any) *study.Refusal {
	says := fmt.Sprintf(fault, args...)
	if a.Stated.InMap {
		says, try = mapFault.Replace(says), tryInMap(try)
	}
	return &study.Refusal{File: a.File, Line: at.Line, Column: at.Column, Fault: says, Try: try}
}

// Question is a refusal that each of the choices settles. What is stated already
// is not asked again, but of the lines that are overruled.
func (a *Asker) Question(at Position, choices []study.Choice, orElse, fault string, args ...any) *study.Refusal {
	var open []study.Choice
	for _, c := range choices {
		if c.Name == "declared" || !a.isStated(c.Name) {
			open = append(open, c)
		}
	}
	try := orElse
	switch {
	case len(open) > 0 && orElse != "":
		try = StateOne(open) + ", or " + orElse
	case len(open) > 0:
		try = StateOne(open)
	case orElse == "":
		try = ExportAgain
	}
	refusal := a.Refuse(at, try, fault, args...)
	refusal.Choices = open
	return refusal
}

// isStated reports whether a person has stated something by that name.
func (a *Asker) isStated(name string) bool {
	for _, said := range a.Stated.Answers() {
		if said.Name == name {
			return *said.To != ""
		}
	}
	return false
}

// StateOne writes what to state: state --overlap first (or average).
func StateOne(choices []study.Choice) string {
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
	if c.Name == "columns" || c.Name == "group-by" {
		return CutList(c.Value)
	}
	return c.Value
}

// MostListed is how many of a list a message names.
const MostListed = 10

// CutList cuts a list such as 2,3,4 that is too long for a message.
func CutList(list string) string {
	all := strings.Split(list, ",")
	if len(all) <= MostListed {
		return list
	}
	return strings.Join(all[:MostListed], ",") + ",... to " + all[len(all)-1]
}

// What a person states is in a map's columns instead of flags.
var (
	mapFault = strings.NewReplacer("--wavelength-unit", "the map's wavelength_unit", "--unit", "the map's unit",
		"--quantity", "the map's quantity")
)

// statedValue is a flag of a try with its value, which stands in a column of a map.
var statedValue = regexp.MustCompile(`--(wavelength-unit|unit|quantity)\b( (?:percent|fraction|nm|um|[RT])\b)?`)

// tryInMap says a try about flags as one about columns of a map: "--unit percent" is "percent in
// column unit".
func tryInMap(try string) string {
	return statedValue.ReplaceAllStringFunc(try, func(flag string) string {
		m := statedValue.FindStringSubmatch(flag)
		column := "column " + strings.ReplaceAll(m[1], "-", "_")
		if m[2] == "" {
			return column + " of the map"
		}
		return strings.TrimSpace(m[2]) + " in " + column
	})
}
