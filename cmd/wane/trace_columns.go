package main

import (
	"fmt"
	"strconv"
	"strings"

	"wane/study"
)

// stepColumns are the columns of a trace for programs. What does not apply is null.
var stepColumns = []struct {
	name string
	of   func(*step) any
}{
	{"kind", func(s *step) any { return s.kind }}, // fit, reading, blank (that readings are taken over), measurement; of a file also file, coupon, result
	{"status", func(s *step) any { return orEmpty(s.status) }},
	{"coupon", func(s *step) any { return orEmpty(s.Coupon) }},
	{"pull", func(s *step) any {
		if !s.ofPull() {
			return nil
		}
		return s.Pull
	}},
	{"spot", func(s *step) any { return orEmpty(s.Spot) }},
	{"condition", func(s *step) any { return orEmpty(s.Condition) }},
	{"number", func(s *step) any { return orZero(s.number) }},
	{"angle_deg", func(s *step) any { return orNil(s.angle) }},
	{"polarisation", func(s *step) any { return orEmpty(s.polarisation) }},
	{"quantity", func(s *step) any { return orEmpty(s.quantity) }},
	{"replicate", func(s *step) any { return orZero(int64(s.replicate)) }},
	{"value", func(s *step) any { return orNil(s.value.Value) }},
	{"u", func(s *step) any { return orNil(s.value.U) }},
	{"unit", func(s *step) any { return orEmpty(s.unit) }},
	{"method", func(s *step) any { return orEmpty(s.method) }},
	{"session", func(s *step) any { return orEmpty(s.session) }},
	{"instrument", func(s *step) any { return orEmpty(s.instrument) }},
	{"reference", func(s *step) any { return orEmpty(s.reference) }},
	{"file", func(s *step) any { return orEmpty(s.file.Name) }},
	{"file_sha256", func(s *step) any { return orEmpty(s.file.SHA256) }},
	{"file_bytes", func(s *step) any {
		if s.file.SHA256 == "" {
			return nil
		}
		return s.file.Bytes
	}},
	{"column", func(s *step) any { return orZero(int64(s.column)) }},
	{"heading", func(s *step) any { return orEmpty(s.heading) }},
	{"first_line", func(s *step) any { return orZero(int64(s.line)) }},
	{"last_line", func(s *step) any { return orZero(int64(s.lastLine)) }},
	{"stated", func(s *step) any { return orEmpty(s.stated) }},
	{"profile", func(s *step) any { return orEmpty(s.profile) }},
	{"profile_version", func(s *step) any { return orZero(int64(s.version)) }},
	{"certificate", func(s *step) any { return orEmpty(s.certificate) }},
	{"standing", func(s *step) any {
		if s.kind != "reading" && s.kind != "blank" {
			return nil
		}
		return standingWord(study.Standing(s.standing))
	}},
	{"held_for", func(s *step) any { return orEmpty(s.reason) }},
	{"reviewer", func(s *step) any { return orEmpty(s.reviewer) }},
	{"review_why", func(s *step) any { return orEmpty(s.why) }},
	{"points", func(s *step) any { return orZero(int64(s.points)) }},
	{"first_nm", func(s *step) any { return orNil(s.firstNM) }},
	{"last_nm", func(s *step) any { return orNil(s.lastNM) }},
	{"picture", func(s *step) any { return orEmpty(s.picture.Name) }},
	{"picture_sha256", func(s *step) any { return orEmpty(s.picture.SHA256) }},
	{"state", func(s *step) any { return orEmpty(string(s.state)) }},
	{"solar_T", func(s *step) any { return orNil(s.solarT.Value) }},
	{"u_solar_T", func(s *step) any { return orNil(s.solarT.U) }},
	{"change_pp", func(s *step) any { return orNil(s.change.Value) }},
	{"u_change_pp", func(s *step) any { return orNil(s.change.U) }},
	{"corrected_change_pp", func(s *step) any { return orNil(s.corrected.Value) }},
	{"u_corrected_change_pp", func(s *step) any { return orNil(s.corrected.U) }},
	{"thickness_nm", func(s *step) any { return orNil(s.thick.Value) }},
	{"u_thickness_nm", func(s *step) any { return orNil(s.thick.U) }},
	{"model", func(s *step) any { return orEmpty(s.model) }},
	{"digest", func(s *step) any { return orEmpty(s.digest) }},
	{"superseded_by", func(s *step) any { return orZero(s.superseded) }},
	{"log", func(s *step) any { return orZero(s.log.Number) }},
	{"at", func(s *step) any { return orEmpty(s.log.At) }},
	{"who", func(s *step) any { return orEmpty(s.log.Who) }},
	{"verb", func(s *step) any { return orEmpty(s.log.Verb) }},
	{"software", func(s *step) any { return orEmpty(s.log.Software) }},
	{"geometry", func(s *step) any { return orEmpty(s.geometry) }},
	{"flags", func(s *step) any {
		if s.kind != "fit" {
			return nil
		}
		return append([]string{}, s.flags...)
	}},
}

// orZero is null for a number that counts from 1 and is not there.
func orZero(n int64) any {
	if n == 0 {
		return nil
	}
	return n
}

// ofPull reports whether the step belongs to a pull.
func (s *step) ofPull() bool { return s.kind != "file" && s.kind != "coupon" }

func (s *step) title() string {
	title := s.kind
	if s.number != 0 {
		title = fmt.Sprintf("%s %d", s.kind, s.number)
	}
	if s.status != "" {
		title += ", " + s.status
	}
	return title
}

func (s *step) pullText() string {
	if !s.ofPull() {
		return "-"
	}
	return strconv.Itoa(s.Pull)
}

func (s *step) place() string {
	place := s.Spot
	if s.kind == "measurement" && place == "" {
		place = "whole"
	}
	if s.Condition != "" {
		place += ", " + s.Condition
	}
	return place
}

// says puts what the step holds into words.
func (s *step) says() string {
	switch s.kind {
	case "reading", "blank":
		text := fmt.Sprintf("%g° %s %s, replicate %d, %d points %g-%g nm", float64(s.angle), s.polarisation, s.quantity, s.replicate, s.points, float64(s.firstNM), float64(s.lastNM))
		if !study.Specular(s.geometry) {
			text += "; geometry " + s.geometry + ", which is not evaluated"
		}
		if s.reason != "" {
			text += "; " + s.reason
		}
		if s.reviewer != "" {
			text += fmt.Sprintf("; reviewed by %s: %s", s.reviewer, s.why)
		}
		return text
	case "measurement":
		return fmt.Sprintf("%s %s by %s, replicate %d", s.quantity, plusMinus(s.value, 1, s.unit), s.method, s.replicate)
	case "fit", "result":
		words := []string{"solar T " + plusMinus(s.solarT, 100, "%")}
		if s.state != "" {
			words = append([]string{string(s.state)}, words...)
		}
		if s.kind == "result" {
			words = append(words, "change "+plusMinus(s.change, 1, "pp"), "corrected "+plusMinus(s.corrected, 1, "pp"))
		}
		words = append(words, "thickness "+plusMinus(s.thick, 1, "nm"))
		if s.digest != "" {
			words = append(words, "model "+dash(s.model), "digest "+s.digest[:12])
		}
		if len(s.flags) > 0 {
			words = append(words, "flags "+strings.Join(s.flags, " "))
		}
		return strings.Join(words, ", ")
	}
	return ""
}

// from says in which file the step stood, and where.
func (s *step) from() string {
	if s.superseded != 0 {
		return fmt.Sprintf("superseded by fit %d", s.superseded)
	}
	if s.file.SHA256 == "" {
		return ""
	}
	text := study.Shown(s.file.Name)
	if s.column != 0 {
		text += fmt.Sprintf(" column %d", s.column)
		if s.heading != "" {
			text += fmt.Sprintf(" %q", s.heading)
		}
	}
	switch {
	case s.line != 0 && s.line == s.lastLine:
		text += fmt.Sprintf(" line %d", s.line)
	case s.line != 0:
		text += fmt.Sprintf(" lines %d to %d", s.line, s.lastLine)
	}
	text += ", SHA-256 " + s.file.SHA256
	if s.picture.SHA256 != "" {
		text += fmt.Sprintf(", picture %s, SHA-256 %s", study.Shown(s.picture.Name), s.picture.SHA256)
	}
	for _, w := range []struct{ what, name string }{{"session", s.session}, {"instrument", s.instrument}, {"reference", s.reference}} {
		if w.name != "" {
			text += ", " + w.what + " " + w.name
		}
	}
	if s.certificate != "" {
		text += ", made absolute by its certificate " + s.certificate
	}
	if s.stated != "" {
		text += ", read with " + s.stated
	}
	if s.profile != "" {
		text += fmt.Sprintf(", profile %s version %d", s.profile, s.version)
	}
	return text
}

func (s *step) logText() string {
	if s.log.Number == 0 {
		return "-"
	}
	return fmt.Sprintf("%d %s", s.log.Number, s.log.Verb)
}
