package main

import (
	"fmt"
	"strings"

	"wane/study"
)

// stepColumns are the columns of a trace. What does not apply is null.
var stepColumns = listing[*step]{
	cellColumn("what", 1, "", (*step).title).folded(12),
	valueColumn("kind", func(s *step) any { return s.kind }), // fit, reading, blank (that readings are taken over), measurement; of a file also file, coupon, result
	valueColumn("status", func(s *step) any { return orEmpty(s.status) }),
	valueColumn("coupon", func(s *step) any { return orEmpty(s.Coupon) }).ranked(1, "", nil),
	valueColumn("pull", func(s *step) any {
		if !s.ofPull() {
			return nil
		}
		return s.Pull
	}).ranked(1, "", nil),
	valueColumn("spot", func(s *step) any { return orEmpty(s.Spot) }).
		ranked(1, "", (*step).place),
	valueColumn("condition", func(s *step) any { return orEmpty(s.Condition) }).ranked(7, "", nil),
	valueColumn("number", func(s *step) any { return orZero(s.number) }),
	valueColumn("angle_deg", func(s *step) any { return orNil(s.angle) }),
	valueColumn("polarisation", func(s *step) any { return orEmpty(s.polarisation) }),
	valueColumn("quantity", func(s *step) any { return orEmpty(s.quantity) }),
	valueColumn("replicate", func(s *step) any { return orZero(int64(s.replicate)) }),
	valueColumn("value", func(s *step) any { return orNil(s.value.Value) }),
	valueColumn("u", func(s *step) any { return orNil(s.value.U) }),
	valueColumn("unit", func(s *step) any { return orEmpty(s.unit) }),
	valueColumn("method", func(s *step) any { return orEmpty(s.method) }),
	cellColumn("says", 1, "", (*step).says).folded(30),
	cellColumn("from", 1, "", (*step).from).folded(24),
	valueColumn("session", func(s *step) any { return orEmpty(s.session) }).ranked(5, "", nil),
	valueColumn("instrument", func(s *step) any { return orEmpty(s.instrument) }).ranked(8, "", nil),
	valueColumn("reference", func(s *step) any { return orEmpty(s.reference) }).
		ranked(9, "", (*step).referenceText),
	valueColumn("file", func(s *step) any { return orEmpty(s.file.Name) }),
	valueColumn("file_sha256", func(s *step) any { return orEmpty(s.file.SHA256) }).
		ranked(3, "SHA-256", (*step).sha256Text),
	valueColumn("file_bytes", func(s *step) any {
		if s.file.SHA256 == "" {
			return nil
		}
		return s.file.Bytes
	}),
	valueColumn("column", func(s *step) any { return orZero(int64(s.column)) }),
	valueColumn("heading", func(s *step) any { return orEmpty(s.heading) }),
	valueColumn("first_line", func(s *step) any { return orZero(int64(s.line)) }),
	valueColumn("last_line", func(s *step) any { return orZero(int64(s.lastLine)) }),
	valueColumn("stated", func(s *step) any { return orEmpty(s.stated) }).
		ranked(10, "read with", (*step).statedText).folded(24),
	valueColumn("profile", func(s *step) any { return orEmpty(s.profile) }),
	valueColumn("profile_version", func(s *step) any { return orZero(int64(s.version)) }),
	valueColumn("certificate", func(s *step) any { return orEmpty(s.certificate) }),
	valueColumn("standing", func(s *step) any {
		if s.kind != "reading" && s.kind != "blank" {
			return nil
		}
		return standingWord(study.Standing(s.standing))
	}),
	valueColumn("held_for", func(s *step) any { return orEmpty(s.reason) }),
	valueColumn("reviewer", func(s *step) any { return orEmpty(s.reviewer) }),
	valueColumn("review_why", func(s *step) any { return orEmpty(s.why) }),
	valueColumn("points", func(s *step) any { return orZero(int64(s.points)) }),
	valueColumn("first_nm", func(s *step) any { return orNil(s.firstNM) }),
	valueColumn("last_nm", func(s *step) any { return orNil(s.lastNM) }),
	valueColumn("picture", func(s *step) any { return orEmpty(s.picture.Name) }),
	valueColumn("picture_sha256", func(s *step) any { return orEmpty(s.picture.SHA256) }),
	valueColumn("state", func(s *step) any { return orEmpty(string(s.state)) }),
	valueColumn("solar_T", func(s *step) any { return orNil(s.solarT.Value) }),
	valueColumn("u_solar_T", func(s *step) any { return orNil(s.solarT.U) }),
	valueColumn("change_pp", func(s *step) any { return orNil(s.change.Value) }),
	valueColumn("u_change_pp", func(s *step) any { return orNil(s.change.U) }),
	valueColumn("corrected_change_pp", func(s *step) any { return orNil(s.corrected.Value) }),
	valueColumn("u_corrected_change_pp", func(s *step) any { return orNil(s.corrected.U) }),
	valueColumn("thickness_nm", func(s *step) any { return orNil(s.thick.Value) }),
	valueColumn("u_thickness_nm", func(s *step) any { return orNil(s.thick.U) }),
	valueColumn("model", func(s *step) any { return orEmpty(s.model) }),
	valueColumn("digest", func(s *step) any { return orEmpty(s.digest) }),
	valueColumn("superseded_by", func(s *step) any { return orZero(s.superseded) }),
	valueColumn("log", func(s *step) any { return orZero(s.log.Number) }).ranked(2, "", (*step).logText),
	valueColumn("at", func(s *step) any { return orEmpty(s.log.At) }).ranked(6, "", nil),
	valueColumn("who", func(s *step) any { return orEmpty(s.log.Who) }).ranked(4, "by", nil),
	valueColumn("verb", func(s *step) any { return orEmpty(s.log.Verb) }),
	valueColumn("software", func(s *step) any { return orEmpty(s.log.Software) }).ranked(11, "program", nil).folded(24),
	valueColumn("geometry", func(s *step) any { return orEmpty(s.geometry) }),
	valueColumn("flags", func(s *step) any {
		if s.kind != "fit" {
			return nil
		}
		return append([]string{}, s.flags...)
	}),
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

// place is the spot, or says that a measurement is of the coupon as a whole.
func (s *step) place() string {
	if s.kind == "measurement" && s.Spot == "" {
		return "whole"
	}
	return dash(s.Spot)
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
			words = append(words, "model "+dash(s.model), "digest "+s.digest[:shownDigits])
		}
		if len(s.flags) > 0 {
			words = append(words, "flags "+strings.Join(s.flags, " "))
		}
		return strings.Join(words, ", ")
	}
	return "-"
}

// from says in which file the step stood, and where.
func (s *step) from() string {
	if s.superseded != 0 {
		return fmt.Sprintf("superseded by fit %d", s.superseded)
	}
	if s.file.SHA256 == "" {
		return "-"
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
	if s.picture.SHA256 != "" {
		text += ", picture " + study.Shown(s.picture.Name)
	}
	return text
}

// shownDigits is how many digits of a hash a table shows, enough for wane export to find it.
const shownDigits = 12

// sha256Text is the beginning of the SHA-256 of the file.
func (s *step) sha256Text() string { return dash(s.file.SHA256[:min(shownDigits, len(s.file.SHA256))]) }

// referenceText names the reference, with its certificate where that made the values absolute.
func (s *step) referenceText() string {
	if s.certificate != "" {
		return s.reference + ", certificate " + s.certificate
	}
	return dash(s.reference)
}

// statedText says what was stated of the export, and by which profile.
func (s *step) statedText() string {
	if s.profile == "" {
		return dash(s.stated)
	}
	by := fmt.Sprintf("profile %s version %d", s.profile, s.version)
	if s.stated == "" {
		return by
	}
	return s.stated + ", " + by
}

func (s *step) logText() string {
	if s.log.Number == 0 {
		return "-"
	}
	return fmt.Sprintf("%d %s", s.log.Number, s.log.Verb)
}
