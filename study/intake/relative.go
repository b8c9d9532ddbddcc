package intake

import (
	"strings"

	"wane/study"
)

// relativeChoices offers what values may be relative to; to is what the file
// says, or "".
func relativeChoices(to string) []study.Choice {
	return []study.Choice{
		{Name: "relative-to", Value: "absolute", Meaning: "the reflectance of the reference is accounted for"},
		{Name: "relative-to", Value: to, Meaning: "the name of the reference, whose reflectance is not accounted for: the values stay relative to it"},
	}
}

// saysRelative reports whether a line of the header says that values are
// relative, and to what, or takes a baseline or a reference for 100 %. To a
// calibrated reference they are absolute.
func saysRelative(text string) (to string, yes bool) {
	low := strings.ToLower(text)
	if strings.Contains(low, "calibrat") || strings.Contains(low, "corrected") || strings.Contains(low, "absolute") {
		return "", false
	}
	if i := strings.Index(low, "relative to "); i >= 0 && len(low) == len(text) {
		return strings.Trim(text[i+len("relative to "):], " .,;\t\""), true
	}
	if strings.Contains(low, "relative refl") || strings.Contains(low, "relative trans") || strings.Contains(low, "relative to ") {
		return "", true
	}
	full := strings.Contains(low, "100%") || strings.Contains(low, "100 %")
	return "", full && (strings.Contains(low, "baseline") || strings.Contains(low, "reference") || strings.Contains(low, "background"))
}

// checkRelative asks what values are relative to where the words of the file say
// that they are, or where most of them are above 100 %.
func (r *reader) checkRelative(c curve, s study.Spectrum, high float64, p plan) *study.Refusal {
	const orElse = "export values that are corrected for the reference"
	switch h := p.stated; {
	case r.stated.RelativeTo != "":
		return nil
	case c.label.relative:
		to, _ := saysRelative(c.label.text)
		return r.question(c.at, relativeChoices(to), orElse, "%s is relative to a reference", c.name())
	case h.relative != nowhere:
		return r.question(h.relative, relativeChoices(h.relativeTo), orElse, "the header says that the values are relative to a reference")
	case high <= 1:
		return nil
	}
	if above, first := countWhere(s, func(v float64) bool { return v > 1 }); 2*above > len(s.Values) {
		return r.question(c.at, relativeChoices(""), orElse, "%s: %d of %s are above 100 %%, the first at %s nm: they are relative to something",
			c.name(), above, count(len(s.Values), "value"), wavelength(first))
	}
	return nil
}
