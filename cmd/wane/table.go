package main

import (
	"bufio"
	"fmt"
	"math"
	"strings"

	"wane/study"
	"wane/study/drawn"
)

// line is one row of the table for people: what, how much, and a remark.
type line struct{ name, value, remark string }

// resultLines are the rows of the table for people. mixing is the rule by which porosity is found.
func resultLines(r *study.Result, mixing string) []line {
	state, remark := string(r.State), ""
	switch r.State {
	case "":
		state, remark = "-", "neither stripped nor patchy; --baseline-thickness distinguishes full from thinned"
	case study.Unclear:
		remark = "the readings do not determine a state: see the flags"
	}
	lines := []line{
		{"state", state, remark},
		{"solar transmittance", plusMinus(r.SolarT, 100, "%"), "front surface, AM1.5 global by energy, 300-2500 nm"},
		{"cell transmittance", plusMinus(r.CellT, 100, "%"), "the same by photons, 300-1200 nm"},
		{"gain", plusMinus(r.Gain, 1, "pp"), "in solar transmittance, over the same glass without a film"},
	}
	if r.Absorbed.Value.Valid() {
		lines = append(lines, line{"absorbed", plusMinus(r.Absorbed, 1, "pp"), "of sunlight, by film and residue; subtracted above"})
	}
	if r.FilmK.Value.Valid() {
		lines = append(lines, line{"film k", plusMinus(r.FilmK, 1, ""), "imaginary part of its index, a residue on it left out"})
	}
	return append(lines, []line{
		{"material left", plusMinus(r.Solid, 1, "nm"), "solid-equivalent thickness, with structure free"},
		{"thickness", plusMinus(r.Thickness, 1, "nm"), "of the equivalent uniform film, as the three below"},
		{"porosity", plusMinus(r.Porosity, 1, ""), "optical, by the mixing rule " + mixing},
		{"bare fraction", plusMinus(r.BareFraction, 1, ""), ""},
		{"film index", plusMinus(r.FilmIndex, 1, ""), "at 550 nm"},
		{"scale", plusMinus(r.Scale, 1, ""), "reference error of the readings"},
	}...)
}

// losslessWords say what solar values rest on where no transmittance was read.
const losslessWords = "the film is taken as lossless: wane help transmittance"

// uniformWords say what film the parameters in a table are of.
const uniformWords = "thickness, porosity and bare are of the equivalent uniform film: wane help model"

// valuesWords are the line below a table of values, of which some take the film as lossless, or none.
func valuesWords(lossless bool) string {
	if lossless {
		return "values ± U (k=2); " + losslessWords
	}
	return "values ± U (k=2)"
}

// table prints the result for a person.
func (o *quickOptions) table(w page, spectra []study.Spectrum, notes []string, r *study.Result) error {
	out := bufio.NewWriter(w)
	fmt.Fprintln(out, study.OneLine(figureTitle(spectra)))
	fmt.Fprintf(out, "glass %s, far face %s, values ± U (k=2)\n\n", study.Shown(o.pane.glass), o.pane.farFace())
	for _, l := range resultLines(r, o.pane.mixing) {
		value := fmt.Sprintf("%-19s", l.value)
		if c := stateColour(l.value); l.name == "state" && w.colour {
			value = painted(value, c)
		}
		row := fmt.Sprintf("  %-20s  %s  %s", l.name, value, l.remark)
		fmt.Fprintln(out, strings.TrimRight(row, " "))
	}
	fmt.Fprintf(out, "\n  fit: model %s, rms residual %s pp, noise %s pp, reduced chi-square %s, %.0f points\n",
		r.Model, decimal(100*r.RMSResidual, 3), decimal(100*r.Noise, 3), decimal(r.ReducedChi2, 2), float64(r.Points))
	fmt.Fprintf(out, "  the data cover %.0f %% of the sun's energy from 300 to 2500 nm; the rest comes from the fitted "+
		"model\n", 100*float64(r.SolarShareCovered))
	if r.IsLossless() {
		fmt.Fprintf(out, "  %s\n", losslessWords)
	}
	if r.SolarTData.Valid() {
		fmt.Fprintf(out, "  directly from the readings, for the part that they cover: solar transmittance %s %%\n",
			decimal(100*r.SolarTData, 2))
	}
	for _, n := range notes {
		fmt.Fprintf(out, "  note %s\n", study.OneLine(n))
	}
	for _, f := range r.Flags {
		fmt.Fprintf(out, "  flag %s: %s\n", f, flagMeaning(f))
	}
	return out.Flush()
}

// figureTitle names the files, the angles and the range of the curves.
func figureTitle(spectra []study.Spectrum) string {
	var files []string
	angles := map[study.Quantity][]string{}
	lo, hi := math.Inf(1), 0.0
	for _, s := range spectra {
		if len(files) == 0 || files[len(files)-1] != s.File {
			files = append(files, study.Shown(s.File))
		}
		angles[s.Quantity] = append(angles[s.Quantity], fmt.Sprintf("%g", s.AngleDeg))
		lo, hi = min(lo, s.NM[0]), max(hi, s.NM[len(s.NM)-1])
	}
	var quantities []string
	for _, q := range []struct {
		is   study.Quantity
		word string
	}{{study.Reflectance, "reflectance"}, {study.Transmittance, "transmittance"}} {
		if at := angles[q.is]; len(at) > 0 {
			quantities = append(quantities, fmt.Sprintf("%s at %s degrees", q.word, strings.Join(at, ", ")))
		}
	}
	return fmt.Sprintf("%s: %s, %g-%g nm", strings.Join(files, " "), strings.Join(quantities, " and "), lo, hi)
}

// caption says the fitted values under a figure.
func caption(r *study.Result) []string {
	state := string(r.State)
	if state == "" {
		state = "not distinguished without a baseline"
	}
	lines := []string{
		fmt.Sprintf("State: %s. Solar transmittance %s, gain %s, material left %s.", state,
			plusMinus(r.SolarT, 100, "%"), plusMinus(r.Gain, 1, "pp"), plusMinus(r.Solid, 1, "nm")),
		fmt.Sprintf("Thickness %s, porosity %s, bare fraction %s, film index %s at 550 nm. Values ± U (k=2).",
			plusMinus(r.Thickness, 1, "nm"), plusMinus(r.Porosity, 1, ""), plusMinus(r.BareFraction, 1, ""),
			plusMinus(r.FilmIndex, 1, "")),
		fmt.Sprintf("Model %s, reduced chi-square %.2f over %.0f points.", r.Model, float64(r.ReducedChi2),
			float64(r.Points)),
	}
	if r.IsLossless() {
		lines = append(lines, drawn.LosslessCaption(1, 1))
	}
	if len(r.Flags) > 0 {
		lines = append(lines, "Flags: "+strings.Join(r.Flags, ", ")+".")
	}
	return lines
}
