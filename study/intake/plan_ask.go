package intake

import (
	"fmt"
	"slices"
	"strings"

	"wane/study"
	"wane/study/intake/text"
)

// gap is something that nobody states.
type gap struct {
	at      text.Position
	fault   string
	choices []study.Choice
	try     string // instead of all choices
}

// findGaps lists what nobody states about the curves that would be taken. Questions of unit
// show what the numbers are, as they are written.
func (r grid) findGaps(p plan, t table) (gaps []gap) {
	if p.axis == "" {
		fault := "the unit of wavelength is not stated"
		if p.lost != "" {
			fault = "the unit of wavelength lost its symbol in " + text.Quoted(p.lost)
		}
		low, high := text.Ends(t.column(p.xs[0]))
		fault += fmt.Sprintf(" (the numbers run from %s to %s)", text.Wavelength(low), text.Wavelength(high))
		gaps = append(gaps, gap{p.head.at[p.xs[0]], fault, axisChoices, ""})
	}
	for _, c := range p.curves {
		if c.aside == "" && c.quantity == "" {
			g := gap{c.at, c.name() + " does not say that it contains reflectance", quantityChoices, ""}
			if others := p.conflicts(c); others != nil {
				lines := r.overrule(others)[0]
				lines.Value = r.alsoDeclared(lines.Value)
				g.fault += ", and " + quotedLines(others)
				g.try = fmt.Sprintf("--quantity R with --declared %s (if the values are reflectance, and %s)", lines.Value,
					lines.Meaning)
			}
			gaps = append(gaps, g)
			break
		}
	}
	for _, c := range p.curves {
		if c.aside == "" && c.unit == "" {
			low, high := text.Ends(t.column(c.column))
			fault := fmt.Sprintf("%s does not say percent or fraction (its values run from %s to %s)", c.name(),
				text.Figure(low), text.Figure(high))
			gaps = append(gaps, gap{c.at, fault, unitChoices, ""})
			break
		}
	}
	return gaps
}

// ask refuses a file about which something is not stated.
func (r located) ask(p plan, t table) (plan, error) {
	gaps := r.findGaps(p, t)
	if len(gaps) == 0 {
		return p, nil
	}
	x := p.xs[0]
	if low, _ := text.Ends(t.column(x)); p.axis == "" && low < leastNM {
		at, s := r.findCell(0, x)
		gaps[0] = gap{at, fmt.Sprintf("wavelength %s has no unit and can only be in micrometres", text.Wavelength(low)),
			axisChoices[1:2], ""}
		if choices := r.thousandsChoice(s); choices != nil {
			gaps[0].fault = fmt.Sprintf("wavelength %s has no unit: it is in micrometres, or the %s in it marks thousands",
				text.Short(s), r.dialect.markInWords())
			gaps[0].choices = append(slices.Clone(axisChoices[1:2]), choices...)
		}
	}
	var faults, tries []string
	if p.head.line == 0 {
		faults = append(faults, "no line names the columns")
	}
	for _, g := range gaps {
		if g.try == "" {
			g.try = strings.TrimPrefix(text.StateOne(g.choices), "state ")
		}
		faults, tries = append(faults, g.fault), append(tries, g.try)
	}
	refusal := r.Refuse(gaps[0].at, "state "+text.Joined(tries, "and"), "%s", strings.Join(faults, "; "))
	refusal.Choices = gaps[0].choices
	return p, refusal
}

var (
	axisChoices = []study.Choice{{Name: "wavelength-unit", Value: "nm", Meaning: "nanometres"},
		{Name: "wavelength-unit", Value: "um", Meaning: "micrometres"},
		{Name: "wavelength-unit", Value: "cm-1", Meaning: "wavenumbers"}}
	// T is stated with --quantity or in the map, and is not offered here
	quantityChoices = []study.Choice{{Name: "quantity", Value: "R", Meaning: "reflectance"}}
	unitChoices     = []study.Choice{{Name: "unit", Value: "percent", Meaning: "0 to 100"},
		{Name: "unit", Value: "fraction", Meaning: "0 to 1"}}
)
