package heading

import (
	"slices"
	"strings"

	"wane/study/intake/text"
)

// findAxis looks for a unit of wavelength. One behind a number (118 nm) is part
// of a name. A power or a multiple of a unit, as in 1/nm, is none that is read.
func (l *Label) findAxis(t []token) {
	wave := slices.ContainsFunc(t, func(k token) bool { return namesWave(k.text) })
	from, end := -1, 0
	for i := range t {
		if i > 0 && t[i-1].kind == digits && !t[i-1].used && !wave {
			continue
		}
		unit, n := unitAt(t, i)
		switch {
		case unit != "":
			l.Axis, from, end = unit, i, i+n
		case phrase(t, i, "?", "m"), phrase(t, i, "\ufffd", "m"):
			l.Lost = true
		}
	}
	if from >= 0 && (isScaled(t, from, end) || IsAny(l.Axis, "nm", "um") && namesWavenumber(t)) {
		l.Axis = text.Quoted(l.Text)
	}
}

// unitAt returns the unit of wavelength that starts at token i and how many tokens it
// has, and marks them used.
func unitAt(t []token, i int) (unit string, n int) {
	w := t[i].text
	switch {
	case IsAny(w, "nm", "nanometer", "nanometre", "nanometers", "nanometres"):
		unit, n = "nm", 1
	case IsAny(w, "um", "µm", "μm", "micron", "microns", "micrometer", "micrometre", "micrometers", "micrometres"):
		unit, n = "um", 1
	case phrase(t, i, "cm", "^", "-", "1"):
		return "cm-1", 4
	case phrase(t, i, "cm", "-", "1"), phrase(t, i, "cm", "−", "1"), phrase(t, i, "cm", "⁻", "¹"),
		phrase(t, i, "1", "/", "cm"):
		return "cm-1", 3
	default:
		return "", 0
	}
	t[i].used = true
	return unit, n
}

// isScaled reports whether the unit from token i up to end is multiplied, or one below
// another: 1000/nm, nm-1, nm x10. In wavelength / nm it is not.
func isScaled(t []token, i, end int) bool {
	if i > 0 {
		switch before := t[i-1]; {
		case before.text == "/":
			if i == 1 || t[i-2].kind != letters && !IsAny(t[i-2].text, ")", "]") {
				return true
			}
		case before.kind == digits, IsAny(before.text, "*", "×", "·", "^", "per"), before.text == "x" && i > 1 &&
			t[i-2].kind == digits:
			return true
		}
	}
	for end < len(t) && IsAny(t[end].text, ")", "]", "}") {
		end++
	}
	if end == len(t) {
		return false
	}
	numbered := end+1 < len(t) && t[end+1].kind == digits
	switch t[end].text {
	case "^", "⁻", "¹", "²", "³", "÷", "/":
		return true
	case "*", "×", "x", "·", "-", "−", "–":
		return numbered
	}
	return false
}

// namesWavenumber reports whether a word beside a unit contradicts a wavelength.
func namesWavenumber(t []token) bool {
	return slices.ContainsFunc(t, func(k token) bool {
		return StartsWithAny(k.text, "wavenum", "wellenzahl", "kayser",
			"frequ", "energ")
	})
}

// findForeignAxis looks for a unit that a wavelength may have elsewhere: anything of the
// kind beside a word for wavelengths, and what can be nothing else even by itself.
func (l *Label) findForeignAxis(t []token) {
	if l.Axis != "" || l.Lost {
		return
	}
	onlyUnit, unit := true, ""
	for _, k := range t {
		switch {
		case IsAny(k.text, "å", "angstrom", "angstroms", "ångström", "pm", "mm", "cm", "ev", "mev", "thz", "ghz", "hz",
			"kayser", "kaysers"),
			l.Wave && (IsAny(k.text, "m", "wavenumber", "wavenumbers") || k.raw == "A"):
			unit = k.text
		case k.kind == symbol, k.used && l.Quantity == "" && l.Unit == "" && k.kind == letters,
			IsAny(k.text, "e", "f", "ν", "h", "x", "in", "photon", "axis"),
			StartsWithAny(k.text, "energ", "frequ"):
		default:
			onlyUnit = false
		}
	}
	if l.Wave || onlyUnit {
		l.Axis = unit
	}
}

// UnreadAxis names a unit of wavelength that is not read, for a message.
func UnreadAxis(unit string) string {
	switch {
	case unit[0] == '"':
		return "wavelengths in the unit of " + unit
	case IsAny(unit, "ev", "mev"):
		return "energies in " + strings.Replace(unit, "ev", "eV", 1)
	case IsAny(unit, "hz", "ghz", "thz"):
		return "frequencies in " + strings.ToUpper(unit[:len(unit)-2]) + "Hz"
	}
	if unit == "a" {
		unit = "å"
	}
	return "wavelengths in " + unit
}

// findOther looks for words that no column of wavelengths has, and for those beside its
// unit that have no meaning.
func (l *Label) findOther(t []token) {
	for i, k := range t {
		if k.kind != letters {
			continue
		}
		if StartsWithAny(k.text, "thick", "schichtd", "dicke", "posit", "offset", "bandw", "resol", "aufl", "rough",
			"distan", "depth", "height", "shift", "raman", "energ",
			"frequ", "temper", "slit", "step", "diamet", "radius", "angle", "winkel", "theta") || IsAny(k.text, "pos", "fwhm",
			"gap", "time", "zeit", "temp", "aoi",
			"log", "ln", "delta", "δ", "δλ", "dλ", "diff", "difference", "inverse", "reciprocal") {
			l.Other = k.text
		}
		if l.Wave || l.Axis == "" || k.used || k.text == l.Axis {
			continue
		}
		if IsAny(k.text, "x", "k", "ν", "w", "wn", "in", "of", "the", "air", "vac", "vacuum", "d", "de", "onda", "onde",
			"data", "unit", "units", "abscissa", "axis", "scale",
			"l", "long", "longueur", "comprimento", "lam", "wav", "wvl", "xlabel", "label") ||
			StartsWithAny(k.text, "spectr", "wellenz", "nombre", "número", "numero", "delka", "vågl") {
			continue
		}
		l.Beside = append(l.Beside, k.text)
		if i+1 < len(t) && t[i+1].kind == digits && t[i+1].glued {
			l.Beside[len(l.Beside)-1] += t[i+1].text
		}
	}
	if l.Wave && l.Axis != "cm-1" && isMultiple(t) || l.Axis == "" && isMultipleUnit(t) {
		l.Other = "multiple"
	}
	if l.Role == AsUncertainty && l.Other == "" && l.Axis != "" && !l.Wave {
		l.Other = "uncertainty"
	}
}

// isMultiple reports whether a number multiplies or is divided: 10 * wavelength, 1/λ.
func isMultiple(t []token) bool {
	for i := 1; i < len(t); i++ {
		operator := IsAny(t[i].text, "*", "×", "·", "/", "÷", "^", "x")
		if operator && (t[i-1].kind == digits && !isNameNumber(t, i-1) || i+1 < len(t) &&
			(t[i+1].kind == digits || namesWave(t[i+1].text))) {
			return true
		}
	}
	return false
}

// isMultipleUnit reports whether a heading holds nothing but a number and a unit of
// wavelength: 10 nm, 1000/cm.
func isMultipleUnit(t []token) bool {
	number, unit := false, false
	for _, k := range t {
		switch {
		case k.kind == digits:
			number = true
		case IsAny(k.text, "nm", "um", "µm", "μm", "cm"):
			unit = true
		case k.kind != symbol && k.text != "x":
			return false
		}
	}
	return number && unit
}
