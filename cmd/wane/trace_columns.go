package main

import (
	"fmt"
	"strings"

	"wane/study"
	"wane/study/desk"
	"wane/study/evaluate"
	"wane/study/shown"
)

// stepColumns are the columns of a trace. What does not apply is null.
var stepColumns = listing[*step]{
	cellColumn("what", 1, "", (*step).title).Folded(12),
	// fit, reading, blank (that readings are taken over), measurement; of a file also file, coupon, result
	valueColumn("kind", func(s *step) any { return s.Kind }),
	valueColumn("status", func(s *step) any { return orEmpty(s.Status) }),
	valueColumn("coupon", func(s *step) any { return orEmpty(s.Coupon) }).Ranked(1, "", nil),
	valueColumn("pull", func(s *step) any {
		if !(*desk.TraceStep)(s).OfPull() {
			return nil
		}
		return s.Pull
	}).Ranked(1, "", nil),
	valueColumn("spot", func(s *step) any { return orEmpty(s.Spot) }).
		Ranked(1, "", (*step).place),
	valueColumn("condition", func(s *step) any { return orEmpty(s.Condition) }).Ranked(7, "", nil),
	valueColumn("number", func(s *step) any { return orZero(s.Number) }),
	valueColumn("angle_deg", func(s *step) any { return orNil(s.AngleDeg) }),
	valueColumn("polarisation", func(s *step) any { return orEmpty(s.Polarisation) }),
	valueColumn("quantity", func(s *step) any { return orEmpty(s.Quantity) }),
	valueColumn("replicate", func(s *step) any { return orZero(int64(s.Replicate)) }),
	valueColumn("value", func(s *step) any { return orNil(s.Value.Value) }),
	valueColumn("u", func(s *step) any { return orNil(s.Value.U) }),
	valueColumn("unit", func(s *step) any { return orEmpty(s.ValueUnit) }),
	valueColumn("method", func(s *step) any { return orEmpty(s.Method) }),
	cellColumn("says", 1, "", (*step).says).Folded(30),
	cellColumn("from", 1, "", (*step).from).Folded(24),
	valueColumn("session", func(s *step) any { return orEmpty(s.Session) }).Ranked(5, "", nil),
	valueColumn("instrument", func(s *step) any { return orEmpty(s.Instrument) }).Ranked(8, "", nil),
	valueColumn("reference", func(s *step) any { return orEmpty(s.Reference) }).
		Ranked(9, "", (*step).referenceText),
	valueColumn("file", func(s *step) any { return orEmpty(s.File.Name) }),
	valueColumn("file_sha256", func(s *step) any { return orEmpty(s.File.SHA256) }).
		Ranked(3, "SHA-256", (*step).sha256Text),
	valueColumn("file_bytes", func(s *step) any {
		if s.File.SHA256 == "" {
			return nil
		}
		return s.File.Bytes
	}),
	valueColumn("column", func(s *step) any { return orZero(int64(s.Column)) }),
	valueColumn("heading", func(s *step) any { return orEmpty(s.Heading) }),
	valueColumn("first_line", func(s *step) any { return orZero(int64(s.FirstLine)) }),
	valueColumn("last_line", func(s *step) any { return orZero(int64(s.LastLine)) }),
	valueColumn("stated", func(s *step) any { return orEmpty(s.Stated) }).
		Ranked(10, "read with", (*step).statedText).Folded(24),
	valueColumn("profile", func(s *step) any { return orEmpty(s.Profile) }),
	valueColumn("profile_version", func(s *step) any { return orZero(int64(s.ProfileVersion)) }),
	valueColumn("certificate", func(s *step) any { return orEmpty(s.Certificate) }),
	valueColumn("standing", func(s *step) any {
		if s.Kind != "reading" && s.Kind != "blank" {
			return nil
		}
		return s.Standing.Words()
	}),
	valueColumn("held_for", func(s *step) any { return orEmpty(s.HeldFor) }),
	valueColumn("reviewer", func(s *step) any { return orEmpty(s.Reviewer) }),
	valueColumn("review_why", func(s *step) any { return orEmpty(s.Why) }),
	valueColumn("points", func(s *step) any { return orZero(int64(s.Points)) }),
	valueColumn("first_nm", func(s *step) any { return orNil(s.FirstNM) }),
	valueColumn("last_nm", func(s *step) any { return orNil(s.LastNM) }),
	valueColumn("picture", func(s *step) any { return orEmpty(s.Picture.Name) }),
	valueColumn("picture_sha256", func(s *step) any { return orEmpty(s.Picture.SHA256) }),
	valueColumn("state", func(s *step) any { return orEmpty(string(s.State)) }),
	valueColumn("solar_T", func(s *step) any { return orNil(s.SolarT.Value) }),
	valueColumn("u_solar_T", func(s *step) any { return orNil(s.SolarT.U) }),
	valueColumn("change_pp", func(s *step) any { return orNil(s.Change.Value) }),
	valueColumn("u_change_pp", func(s *step) any { return orNil(s.Change.U) }),
	valueColumn("corrected_change_pp", func(s *step) any { return orNil(s.CorrectedChange.Value) }),
	valueColumn("u_corrected_change_pp", func(s *step) any { return orNil(s.CorrectedChange.U) }),
	valueColumn("thickness_nm", func(s *step) any { return orNil(s.Thickness.Value) }),
	valueColumn("u_thickness_nm", func(s *step) any { return orNil(s.Thickness.U) }),
	valueColumn("model", func(s *step) any { return orEmpty(s.Model) }),
	valueColumn("digest", func(s *step) any { return orEmpty(s.Digest) }),
	valueColumn("superseded_by", func(s *step) any { return orZero(s.SupersededBy) }),
	valueColumn("log", func(s *step) any { return orZero(s.Log.Number) }).Ranked(2, "", (*step).logText),
	valueColumn("at", func(s *step) any { return orEmpty(s.Log.At) }).Ranked(6, "", nil),
	valueColumn("who", func(s *step) any { return orEmpty(s.Log.Who) }).Ranked(4, "by", (*step).by),
	valueColumn("verb", func(s *step) any { return orEmpty(s.Log.Verb) }),
	valueColumn("software", func(s *step) any { return orEmpty(s.Log.Software) }).Ranked(11, "program", nil).Folded(24),
	valueColumn("geometry", func(s *step) any { return orEmpty(s.Geometry) }),
	valueColumn("flags", func(s *step) any {
		if s.Kind != "fit" {
			return nil
		}
		return append([]string{}, s.Flags...)
	}),
	valueColumn("mounting", func(s *step) any { return orZero(int64(s.Mounting)) }),
	// what the fit knew of the effects that a laboratory can state: assumed, or stated by what
	valueColumn("knew", func(s *step) any { return orEmpty(s.knew(func(evaluate.Known) bool { return true })) }),
	// what the uncertainty of solar_T is made of, in pp, the largest first; the squares add
	valueColumn("u_solar_T_parts_pp", func(s *step) any { return orEmpty(uParts(s.UParts)) }),
	// the reading that this one stands instead of; superseded_by is the one that stands instead of it
	valueColumn("supersedes", func(s *step) any {
		if s.Before == nil {
			return nil
		}
		return s.Before.Number
	}),
	valueColumn("moved", func(s *step) any { return orEmpty(s.moved()) }),
	// the map that the intake of a reading was given
	valueColumn("map", func(s *step) any { return orEmpty(s.Map.Name) }),
	valueColumn("map_sha256", func(s *step) any { return orEmpty(s.Map.SHA256) }),
	// the study that it came from with wane enrol --from, and who took it in there, when and under which line
	valueColumn("merged_from", func(s *step) any { return orEmpty(s.origin().Study) }),
	valueColumn("merged_who", func(s *step) any { return orEmpty(s.origin().Who) }),
	valueColumn("merged_at", func(s *step) any { return orEmpty(s.origin().At) }),
	valueColumn("merged_line", func(s *step) any { return orZero(s.origin().Number) }),
	// the version of the protocol that the pull remembers
	valueColumn("protocol", func(s *step) any { return orEmpty(s.Protocol) }),
}

// shownUParts is how many parts of an uncertainty a person sees.
const shownUParts = 4

// uParts puts the parts of the uncertainty of solar_T into words.
func uParts(parts []study.UPart) string {
	var all []string
	for _, p := range parts {
		name := "own"
		switch {
		case p.Owner == study.OwnerJoint:
			name = "joint fit"
		case p.Owner != "":
			name = fmt.Sprintf("%s %s", p.Owner, p.Name)
		}
		all = append(all, fmt.Sprintf("%s %.4f", name, 100*p.U))
	}
	return strings.Join(all, "; ")
}

// knew joins what the fit knew beforehand, as far as it is wanted.
func (s *step) knew(wanted func(evaluate.Known) bool) string {
	var all []string
	for _, k := range s.Knew {
		if wanted(k) {
			all = append(all, k.String())
		}
	}
	return strings.Join(all, "; ")
}

// origin is where the step was before its study was merged into this one; empty: it was never there.
func (s *step) origin() desk.MergeOrigin { return (*desk.TraceStep)(s).MergedFrom() }

// by says who made the step, and who did so in the study that was merged into this one.
func (s *step) by() string {
	if o := s.origin(); o.Study != "" {
		return fmt.Sprintf("%s; in %s: %s", dash(s.Log.Who), study.Shown(o.Study), dash(o.Who))
	}
	return dash(s.Log.Who)
}

func (s *step) title() string {
	title := s.Kind
	if s.Number != 0 {
		title = fmt.Sprintf("%s %d", s.Kind, s.Number)
	}
	if s.Status != "" {
		title += ", " + s.Status
	}
	return title
}

// place is the spot, or says that a measurement is of the coupon as a whole.
func (s *step) place() string {
	if s.Kind == "measurement" && s.Spot == "" {
		return "whole"
	}
	return dash(s.Spot)
}

// says puts what the step holds into words.
func (s *step) says() string {
	switch s.Kind {
	case "reading", "blank":
		text := fmt.Sprintf("%g° %s %s, replicate %d, %d points %g-%g nm", float64(s.AngleDeg), s.Polarisation, s.Quantity,
			s.Replicate, s.Points, float64(s.FirstNM), float64(s.LastNM))
		if s.Mounting > 1 {
			text += fmt.Sprintf(", mounting %d", s.Mounting)
		}
		if !study.Specular(s.Geometry) {
			text += "; geometry " + s.Geometry
			if s.HalfAngleDeg.Is {
				text += fmt.Sprintf(" within %g°", s.HalfAngleDeg.Value)
			}
		}
		if s.HeldFor != "" {
			text += "; " + s.HeldFor
		}
		if s.Reviewer != "" {
			text += fmt.Sprintf("; reviewed by %s: %s", s.Reviewer, s.Why)
		}
		if moved := s.moved(); moved != "" {
			text += "; " + moved
		}
		return text
	case "correction":
		return s.Stated + ": " + s.Why
	case "measurement":
		return fmt.Sprintf("%s %s by %s, replicate %d", s.Quantity, plusMinus(s.Value, 1, s.ValueUnit), s.Method, s.Replicate)
	case "fit", "result":
		words := []string{"solar T " + plusMinus(s.SolarT, 100, "%")}
		if s.State != "" {
			words = append([]string{string(s.State)}, words...)
		}
		if s.Kind == "result" {
			words = append(words, "change "+plusMinus(s.Change, 1, "pp"), "corrected "+plusMinus(s.CorrectedChange, 1, "pp"))
		}
		words = append(words, "thickness "+plusMinus(s.Thickness, 1, "nm"))
		if s.Digest != "" {
			words = append(words, "model "+dash(s.Model), "digest "+s.Digest[:shownDigits])
		}
		if s.Protocol != "" {
			words = append(words, "pull by "+s.Protocol)
		}
		if len(s.Flags) > 0 {
			words = append(words, "flags "+strings.Join(s.Flags, " "))
		}
		if stated := s.knew(func(k evaluate.Known) bool { return k.By != "" }); stated != "" {
			words = append(words, "with "+stated)
		}
		if n := min(shownUParts, len(s.UParts)); n > 0 && s.Status == "current" {
			words = append(words, "u of solar T in pp: "+uParts(s.UParts[:n]))
		}
		return strings.Join(words, ", ")
	}
	return "-"
}

// moved says where a reading was before, where it is instead, and why.
func (s *step) moved() string {
	var parts []string
	if b := s.Before; b != nil {
		parts = append(parts, fmt.Sprintf("instead of reading %d at %s: %s", b.Number, shown.PlaceWords(&b.Place), b.Line.Why))
	}
	if a := s.After; a != nil {
		parts = append(parts, fmt.Sprintf("now reading %d at %s: %s", a.Number, shown.PlaceWords(&a.Place), a.Line.Why))
	}
	return strings.Join(parts, "; ")
}

// from says in which file the step stood, and where.
func (s *step) from() string {
	if s.SupersededBy != 0 && s.Kind == "fit" {
		return fmt.Sprintf("superseded by fit %d", s.SupersededBy)
	}
	if s.File.SHA256 == "" {
		return "-"
	}
	text := study.Shown(s.File.Name)
	if s.Column != 0 {
		text += fmt.Sprintf(" column %d", s.Column)
		if s.Heading != "" {
			text += fmt.Sprintf(" %q", s.Heading)
		}
	}
	switch {
	case s.FirstLine != 0 && s.FirstLine == s.LastLine:
		text += fmt.Sprintf(" line %d", s.FirstLine)
	case s.FirstLine != 0:
		text += fmt.Sprintf(" lines %d to %d", s.FirstLine, s.LastLine)
	}
	if s.Picture.SHA256 != "" {
		text += ", picture " + study.Shown(s.Picture.Name)
	}
	return text
}

// shownDigits is how many digits of a hash a table shows, enough for wane export to find it.
const shownDigits = 12

// sha256Text is the beginning of the SHA-256 of the file.
func (s *step) sha256Text() string { return dash(s.File.SHA256[:min(shownDigits, len(s.File.SHA256))]) }

// referenceText names the reference, with its certificate where that made the values absolute.
func (s *step) referenceText() string {
	if s.Certificate != "" {
		return s.Reference + ", certificate " + s.Certificate
	}
	return dash(s.Reference)
}

// statedText says what was stated of the export, and by which profile.
func (s *step) statedText() string {
	if s.Profile == "" {
		return dash(s.Stated)
	}
	by := fmt.Sprintf("profile %s version %d", s.Profile, s.ProfileVersion)
	if s.Stated == "" {
		return by
	}
	return s.Stated + ", " + by
}

func (s *step) logText() string {
	if s.Log.Number == 0 {
		return "-"
	}
	return fmt.Sprintf("%d %s", s.Log.Number, s.Log.Verb)
}
