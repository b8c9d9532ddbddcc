package drawn

import (
	"fmt"
	"slices"
	"strings"

	"wane/study/desk"
	"wane/study/report"
	"wane/study/tint"
)

// TintCautions are what to know before a tint is judged by eye.
func TintCautions() []string {
	return []string{
		"An eye does not measure. A screen, a printer, the light of the room and the colours around change a tint; dust, grease and " +
			"water change it more than years in the field. Judge no coating by it.",
		"Near the normal a full film on solar glass looks blue, a thinning one magenta, then yellow, and none is white; at steeper " +
			"angles a film looks like a thinner one (common practice, no source). Tints repeat: one tint can be several thicknesses.",
		"Look at the coupon on black cloth, at the stated angle, with the light as named and a white sheet beside it.",
	}
}

// Tints returns the card of tints, without its stamp.
func Tints(card *desk.TintCard) *report.TintCard {
	out := &report.TintCard{Title: fmt.Sprintf("Reflected tints under %s, front surface", card.Light)}
	for i, angle := range card.Angles {
		a := report.TintAngle{AngleDeg: angle}
		for k := range card.Films {
			f := &card.Films[k]
			at := &f.At[i]
			a.Rows = append(a.Rows, report.TintRow{Name: tintName(card, f), Ribbon: tintSteps(at.Ribbon), NowNM: f.ThicknessNM,
				Luminance: at.Now.Luminance})
		}
		a.Track = tintSteps(card.Films[0].At[i].Ribbon)
		out.Angles = append(out.Angles, a)
	}
	out.Caption = []string{
		fmt.Sprintf("Colours of the CIE 1931 observer in sRGB (IEC 61966-2-1) under %s, relative to a white sheet, in so much light that the "+
			"bare glass at that angle has L* %d. A row is the mean film of a coating at a pull; the number is the share of its gain that it keeps. "+
			"The ribbons have its porosity and bare fraction; the ways below are those of the first row.", card.Light, tint.GlassL),
		strings.Join(TintCautions(), " "),
	}
	if card.More > 0 {
		out.Caption = append(out.Caption, fmt.Sprintf("%d films that keep less are not on the card.", card.More))
	}
	return out
}

// tintName names a film of a card: its pull first, since a long name loses its end. Exposure and glass are named where films
// of the card differ in them.
func tintName(card *desk.TintCard, f *desk.TintFilm) string {
	kept := "-"
	if f.GainKept.Valid() {
		kept = fmt.Sprintf("%.2f", float64(f.GainKept))
	}
	name := fmt.Sprintf("%s  pull %d", kept, f.Pull)
	differ := func(of func(*desk.TintFilm) string) bool {
		return slices.ContainsFunc(card.Films, func(other desk.TintFilm) bool { return of(&other) != of(f) })
	}
	if differ(func(f *desk.TintFilm) string { return f.Exposure }) {
		name += ", " + f.Exposure
	}
	if differ(func(f *desk.TintFilm) string { return f.Glass }) {
		name += ", " + f.Glass
	}
	return name + ", " + f.Coating
}

func tintSteps(of []tint.At) []report.TintStep {
	steps := make([]report.TintStep, len(of))
	for i := range of {
		steps[i] = report.TintStep{NM: of[i].NM, Lab: of[i].Lab, Screen: of[i].Screen}
	}
	return steps
}
