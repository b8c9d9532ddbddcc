package main

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"wane/study"
	"wane/study/desk"
	"wane/study/evaluate"
)

// reportSupport prints what sessions support: a line for each session, and below it why some of its results should
// not be used.
func reportSupport(w io.Writer, sessions []desk.SessionSupport, settings study.Settings) error {
	for i := range sessions {
		s := &sessions[i]
		lines := append([]string{supportLine(s, settings)}, s.Notes...)
		for _, r := range s.Results {
			if !r.OK {
				lines = append(lines, fmt.Sprintf("do not use %s of session %s: %s", r.Of, study.Shown(s.Session), r.Why))
			}
		}
		for _, line := range lines {
			if err := printLine(w, "%s", line); err != nil {
				return err
			}
		}
	}
	return nil
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
	return count(n, "dark blank")
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
	if settings.OverBlank {
		by = "route controls"
	}
	if len(corrected) > 0 {
		parts = append(parts, fmt.Sprintf("changes of %s can be corrected (%s)", wordList(corrected), by))
	}
	switch {
	case len(none) == 0:
	case settings.OverBlank || settings.Correction == study.RouteControls:
		parts = append(parts, fmt.Sprintf("changes of %s cannot be corrected in this study: no control", wordList(none)))
	case s.Blanks == 0:
		parts = append(parts, fmt.Sprintf("changes of %s cannot be corrected: no control, no dark blank", wordList(none)))
	default:
		parts = append(parts, fmt.Sprintf("changes of %s can be corrected by the route session only: no control",
			wordList(none)))
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
		return "do not use its " + wordList(bad)
	case len(bad) == 0:
		return wordList(good) + " can be used"
	}
	return fmt.Sprintf("%s can be used, %s not", wordList(good), wordList(bad))
}

// wordList joins words: a, b and c.
func wordList(words []string) string {
	if n := len(words); n > 1 {
		return strings.Join(slices.Clone(words[:n-1]), ", ") + " and " + words[n-1]
	}
	return strings.Join(words, "")
}
