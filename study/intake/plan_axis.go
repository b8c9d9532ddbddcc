package intake

import (
	"slices"
	"strconv"
	"strings"

	"wane/study"
	"wane/study/intake/heading"
	"wane/study/intake/text"
)

// chooseAxis decides which column holds the wavelengths, and returns those that
// are headed as such and are not taken.
func (r *asker) chooseAxis(p plan) (chosen plan, spare []int, err error) {
	h, j := p.head, r.want.Axis-1
	switch {
	case j >= len(h.labels):
		return p, nil, r.Refuse(text.Nowhere, "state a column that exists", "--axis is stated as %d, and the rows have %s",
			j+1, text.Count(len(h.labels), "column"))
	case j >= 0 && len(p.xs) > 0 && !slices.Contains(p.xs, j):
		return p, nil, r.Refuse(h.at[p.xs[0]], "leave --axis out, or correct it",
			"the heading names column %d for the wavelengths, --axis says %d", p.xs[0]+1, j+1)
	case j >= 0:
		spare = slices.DeleteFunc(slices.Clone(p.xs), func(x int) bool { return x == j })
		p.xs, p.paired = []int{j}, false
	case len(p.xs) == 0:
		p.xs = []int{0}
	case len(p.xs) > 1 && !p.paired:
		var choices []study.Choice
		for _, x := range p.xs {
			choices = append(choices, study.Choice{Name: "axis", Value: strconv.Itoa(x + 1),
				Meaning: "the column headed " + text.Quoted(h.labels[x].Text)})
		}
		return p, nil, r.Question(h.at[p.xs[1]], choices,
			"export one wavelength column, or one right before each value column",
			"columns %d and %d both contain wavelengths", p.xs[0]+1, p.xs[1]+1)
	}
	return p, spare, nil
}

// axisUnit returns the unit of the wavelengths, "" if nobody states it.
func (r *asker) axisUnit(h labelRow, xs []int, stated header, kinds []cellKind) (string, said, error) {
	if err := r.checkNames(h, xs); err != nil {
		return "", said{}, err
	}
	all := []said{stated.axis}
	for _, j := range xs {
		all = append(all, said{h.labels[j].Axis, "the heading", h.at[j]}, said{glued(kinds[j]), "the column of wavelengths",
			h.at[j]})
	}
	all = append(all, said{r.Stated.WavelengthUnit, "--wavelength-unit", text.Nowhere})
	unit, err := r.agree(all...)
	if err == nil && !heading.IsAny(unit, "", "nm", "um", "cm-1") {
		err = r.Refuse(h.at[xs[0]], "export wavelengths in nm", "%s are not read", heading.UnreadAxis(unit))
	}
	return unit, firstOf(all...), err
}

// checkNames refuses columns of wavelengths that are headed as something else, and asks
// about one whose heading has words beside the unit. A name that is above the values
// of a pair too is one of a sample.
func (r *asker) checkNames(h labelRow, xs []int) error {
	const name = "name the column wavelength in the heading, with its unit"
	for _, j := range xs {
		l := h.labels[j]
		switch {
		case !heading.IsAny(l.Axis, "", "nm", "um", "cm-1"): // not read at all
		case l.Other != "":
			return r.Refuse(h.at[j], "export wavelengths in nm, in a column with that heading",
				"column %d is headed %s: these are not wavelengths", j+1, text.Quoted(l.Text))
		case len(l.Beside) == 0 || r.want.Axis > 0 || h.isPaired() && namedIn(l.Beside, h.labels[j+1].Text):
		case h.isPaired():
			return r.Refuse(h.at[j], name, "column %d is headed %s, which may not be a wavelength", j+1, text.Quoted(l.Text))
		default:
			choices := []study.Choice{{Name: "axis", Value: strconv.Itoa(j + 1),
				Meaning: "it contains the wavelengths all the same"}}
			return r.Question(h.at[j], choices, name, "column %d is headed %s, which may not be a wavelength", j+1,
				text.Quoted(l.Text))
		}
	}
	return nil
}

// namedIn reports whether all words stand in a text.
func namedIn(words []string, text string) bool {
	text = strings.ToLower(text)
	for _, w := range words {
		if !strings.Contains(text, w) {
			return false
		}
	}
	return true
}

// glued returns the unit that a kind of cell carries, or "".
func glued(kind cellKind) string {
	switch kind {
	case percentNumber:
		return "percent"
	case nmNumber:
		return "nm"
	case umNumber:
		return "um"
	}
	return ""
}
