package shown

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"wane/study"
	"wane/study/desk"
	"wane/study/evaluate"
)

// SupportLines says what sessions support: a line for each session, and below it why some of its results should not be
// used.
func SupportLines(sessions []desk.SessionSupport, settings study.Settings) (lines []string) {
	for i := range sessions {
		s := &sessions[i]
		if s.Lost > 0 {
			lines = append(lines, lostLine(s))
		} else {
			lines = append(append(lines, supportLine(s, settings)), s.Notes...)
		}
		for _, r := range s.Results {
			if !r.OK {
				lines = append(lines, fmt.Sprintf("do not use %s of session %s: %s", r.Of, study.Shown(s.Session), r.Why))
			}
		}
	}
	return lines
}

// FitWords counts what fit did.
func FitWords(n *desk.Fitted) string {
	failed := ""
	if n.Failed > 0 {
		failed = fmt.Sprintf("could not be evaluated: %d; ", n.Failed)
	}
	return fmt.Sprintf("evaluated: %s; %sup to date already: %d", Count(n.Fits-n.Failed, "spot"), failed, n.Current)
}

// RefusedSpots returns the spots that could not be evaluated: as one those that are darker than the light trap of their
// session.
func RefusedSpots(refused []error) (all []error) {
	spots := map[evaluate.BrightTrapError]int{}
	for _, r := range refused {
		if trap := (*evaluate.BrightTrapError)(nil); errors.As(r, &trap) {
			spots[*trap]++
		}
	}
	for _, r := range refused {
		if trap := (*evaluate.BrightTrapError)(nil); errors.As(r, &trap) {
			n := spots[*trap]
			if spots[*trap] = 0; n == 0 {
				continue // the first spot says it of all
			}
			r = ofSpots(r, n)
		}
		all = append(all, r)
	}
	return all
}

// ofSpots returns the refusal of the first of n spots as one of all of them.
func ofSpots(first error, n int) error {
	var r *study.Refusal
	if n == 1 || !errors.As(first, &r) {
		return first
	}
	return r.About(fmt.Sprintf("%d spots could not be evaluated, the first", n))
}

// lostLine says that no reading of a session could be evaluated, and why the first could not.
func lostLine(s *desk.SessionSupport) string {
	line := fmt.Sprintf("session %s supports nothing: ", study.Shown(s.Session))
	first := ": "
	if s.Lost == 1 {
		line += "its only spot could not be evaluated"
	} else {
		line, first = line+fmt.Sprintf("none of its %d spots could be evaluated", s.Lost), "; the first: "
	}
	if s.Why != nil {
		line += first + study.OneLine(s.Why.Error())
	}
	return line
}

// supportLine says in one line what a session supports.
func supportLine(s *desk.SessionSupport, settings study.Settings) string {
	parts := []string{"session " + study.Shown(s.Session) + ": " + blankWords(s.Blanks)}
	parts = append(parts, correctionWords(s, settings)...)
	if words := resultWords(s.Results); words != "" {
		parts = append(parts, words)
	}
	return strings.Join(parts, "; ")
}

func blankWords(n int) string {
	if n == 0 {
		return "no dark blank"
	}
	return Count(n, "dark blank")
}

// correctionWords say by which routes the changes of coatings can be corrected.
func correctionWords(s *desk.SessionSupport, settings study.Settings) (parts []string) {
	var corrected, none []string
	for _, c := range s.Coatings {
		switch name := study.Shown(c.Coating); {
		case c.Corrected == c.Coupons:
			corrected = append(corrected, name)
		case c.Corrected > 0:
			corrected = append(corrected, fmt.Sprintf("%s (%d of %d coupons)", name, c.Corrected, c.Coupons))
		case c.Controls > 0:
			none = append(none, name+" (its controls were not read at pull 0 in the same session)")
		default:
			none = append(none, name)
		}
	}
	by := "route controls or session"
	corrects := settings.Correction != study.RouteSession || len(s.Results) > 0 // the joint fit of the session
	if settings.OverBlank || !corrects {
		by = "route controls"
	}
	if len(corrected) > 0 {
		parts = append(parts, fmt.Sprintf("changes of %s can be corrected (%s)", WordList(corrected), by))
	}
	switch {
	case len(none) == 0:
	case settings.OverBlank || settings.Correction == study.RouteControls:
		parts = append(parts, fmt.Sprintf("changes of %s cannot be corrected in this study: no control", WordList(none)))
	case !corrects:
		parts = append(parts, fmt.Sprintf("changes of %s cannot be corrected: no control, and the session corrects nothing",
			WordList(none)))
	case s.Blanks == 0:
		parts = append(parts, fmt.Sprintf("changes of %s cannot be corrected: no control, no dark blank", WordList(none)))
	default:
		parts = append(parts, fmt.Sprintf("changes of %s can be corrected by the route session only: no control",
			WordList(none)))
	}
	return parts
}

// resultWords say which results of the joint fit of a session can be used.
func resultWords(results []evaluate.Support) string {
	var good, bad []string
	for _, r := range results {
		if r.OK {
			good = append(good, r.Of)
		} else {
			bad = append(bad, r.Of)
		}
	}
	switch {
	case len(results) == 0:
		return ""
	case len(good) == 0:
		return "do not use its " + WordList(bad)
	case len(bad) == 0:
		return WordList(good) + " can be used"
	}
	return fmt.Sprintf("%s can be used, %s not", WordList(good), WordList(bad))
}

// WordList joins words: a, b and c.
func WordList(words []string) string {
	if n := len(words); n > 1 {
		return strings.Join(slices.Clone(words[:n-1]), ", ") + " and " + words[n-1]
	}
	return strings.Join(words, "")
}
