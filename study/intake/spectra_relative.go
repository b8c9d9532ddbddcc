package intake

import (
	"fmt"

	"wane/study"
	"wane/study/intake/text"
)

// relativeChoices offers what values may be relative to; to is what the file
// says, or "".
func relativeChoices(to string) []study.Choice {
	return []study.Choice{
		{Name: "relative-to", Value: "absolute", Meaning: "the reflectance of the reference is accounted for"},
		{Name: "relative-to", Value: to,
			Meaning: "the name of the reference, whose reflectance is not accounted for: the values stay relative to it"},
	}
}

// checkRelative asks what values are relative to where the words of the file say
// that they are, or where most of them are above 100 %.
func (r *asker) checkRelative(c curve, s study.Spectrum, high float64, p plan) *study.Refusal {
	const orElse = "export values that are corrected for the reference"
	if r.Stated.RelativeTo != "" {
		return nil
	}
	if to, yes := c.label.IsRelative(); yes {
		return r.Question(c.at, relativeChoices(to), orElse, "%s is relative to a reference", c.name())
	}
	if h := p.stated; h.relative != text.Nowhere {
		return r.Question(h.relative, relativeChoices(h.relativeTo), orElse,
			"the header says that the values are relative to a reference")
	}
	if high <= 1 {
		return nil
	}
	above, first := countWhere(s, func(v float64) bool { return v > 1 })
	if 2*above <= len(s.Values) {
		return nil
	}
	found := fmt.Sprintf("%s: %d of %s are above 100 %%, the first at %s nm",
		c.name(), above, text.Count(len(s.Values), "value"), text.Wavelength(first))
	if !r.isUnitByPerson(c) {
		return r.Question(c.at, relativeChoices(""), orElse, "%s: they are relative to something", found)
	}
	choices := append([]study.Choice{unitChoices[0]}, relativeChoices("")...)
	refusal := r.Refuse(c.at, text.StateOne(choices)+", or "+orElse,
		"%s if they are fractions, as --unit says: they are in percent, or relative to something", found)
	refusal.Choices = choices
	return refusal
}

// isUnitByPerson reports whether only a person says that a curve is in fractions.
func (r *asker) isUnitByPerson(c curve) bool { return c.unit == "fraction" && c.unitBy.by == "--unit" }
