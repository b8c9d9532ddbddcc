package shown

import (
	"fmt"
	"strings"

	"wane/study"
	"wane/study/desk"
)

// Moved is the columns of readings that were moved: where they were, and where they are now.
func Moved() List[*desk.MovedPair] {
	return List[*desk.MovedPair]{
		Value("number", func(p *desk.MovedPair) any { return OrZero(p.Old) }).Ranked(1, "reading", nil),
		Cell("was", 1, "", func(p *desk.MovedPair) string {
			if p.Old == 0 {
				return "-"
			}
			return PlaceWords(&p.From)
		}).Folded(24),
		Value("superseded_by", func(p *desk.MovedPair) any { return p.New }).Ranked(1, "is now reading", nil),
		Cell("is", 1, "at", func(p *desk.MovedPair) string { return PlaceWords(&p.To) }).Folded(24),
		Cell("other", 1, "and", movedOtherwise).Folded(16),
		Value("export", func(p *desk.MovedPair) any { return p.Export }).Ranked(2, "from", func(p *desk.MovedPair) string {
			return fmt.Sprintf("%s column %d", study.Shown(p.Export), p.Column)
		}).Folded(16),
		Value("column", func(p *desk.MovedPair) any { return p.Column }),
		fromColumn("coupon", func(p *desk.MovedPair) any { return p.From.Coupon }),
		fromColumn("pull", func(p *desk.MovedPair) any { return p.From.Pull }),
		fromColumn("spot", func(p *desk.MovedPair) any { return p.From.Spot }),
		fromColumn("condition", func(p *desk.MovedPair) any { return OrEmpty(p.From.Condition) }),
		fromColumn("angle_deg", func(p *desk.MovedPair) any { return p.From.AngleDeg }),
		fromColumn("polarisation", func(p *desk.MovedPair) any { return p.From.Polarisation }),
		fromColumn("quantity", func(p *desk.MovedPair) any { return string(p.From.Quantity) }),
		fromColumn("replicate", func(p *desk.MovedPair) any { return p.From.Replicate }),
		fromColumn("mounting", func(p *desk.MovedPair) any { return p.FromMounting }),
		fromColumn("session", func(p *desk.MovedPair) any { return OrEmpty(p.FromSession) }),
		Value("to_coupon", func(p *desk.MovedPair) any { return p.To.Coupon }),
		Value("to_pull", func(p *desk.MovedPair) any { return p.To.Pull }),
		Value("to_spot", func(p *desk.MovedPair) any { return p.To.Spot }),
		Value("to_condition", func(p *desk.MovedPair) any { return OrEmpty(p.To.Condition) }),
		Value("to_angle_deg", func(p *desk.MovedPair) any { return p.To.AngleDeg }),
		Value("to_polarisation", func(p *desk.MovedPair) any { return p.To.Polarisation }),
		Value("to_quantity", func(p *desk.MovedPair) any { return string(p.To.Quantity) }),
		Value("to_replicate", func(p *desk.MovedPair) any { return p.To.Replicate }),
		Value("to_mounting", func(p *desk.MovedPair) any { return p.ToMounting }),
		Value("to_session", func(p *desk.MovedPair) any { return OrEmpty(p.ToSession) }),
		fromColumn("position", func(p *desk.MovedPair) any { return OrEmpty(p.FromPosition) }),
		Value("to_position", func(p *desk.MovedPair) any { return OrEmpty(p.ToPosition) }),
		Value("read_again", func(p *desk.MovedPair) any { return p.ReadAgain }),
	}
}

// fromColumn is a column of where a reading was; null where its column was not read before.
func fromColumn(name string, value func(*desk.MovedPair) any) Column[*desk.MovedPair] {
	return Value(name, func(p *desk.MovedPair) any {
		if p.Old == 0 {
			return nil
		}
		return value(p)
	})
}

// movedOtherwise says what changed beside the place.
func movedOtherwise(p *desk.MovedPair) string {
	var words []string
	if p.Old != 0 && p.FromSession != p.ToSession {
		words = append(words, "session "+Dash(p.FromSession)+" to "+Dash(p.ToSession))
	}
	if p.Old != 0 && p.FromMounting != p.ToMounting {
		words = append(words, fmt.Sprintf("mounting %d to %d", p.FromMounting, p.ToMounting))
	}
	if p.Old != 0 && p.FromPosition != p.ToPosition {
		words = append(words, "position "+Dash(p.FromPosition)+" to "+Dash(p.ToPosition))
	}
	if p.ReadAgain {
		words = append(words, "values read again")
	}
	return Dash(strings.Join(words, ", "))
}

// mostUnitsNamed is how many spots a line about fits names.
const mostUnitsNamed = 4

// MovedNotes says what a move means for readings that were set aside, and for fits.
func MovedNotes(moved *desk.Moved) (lines []string) {
	if old, now := moved.AsideBefore(); len(old) > 0 {
		lines = append(lines, fmt.Sprintf("set aside before: %s; what stands instead counts: `wane review %s --aside` sets it "+
			"aside, too", desk.SpanWords(old), desk.SpanWords(now)))
	}
	for _, of := range []struct {
		units []study.Unit
		words string
	}{
		{moved.Fits.Stale, "out of date, to be made again by `wane fit`"},
		{moved.Fits.Missing, "to be made by `wane fit`"},
		{moved.Fits.Empty, "without readings, and in results no longer"},
	} {
		if len(of.units) == 0 {
			continue
		}
		var names []string
		for _, u := range of.units {
			names = append(names, fmt.Sprintf("%s pull %d spot %s", u.Coupon, u.Pull, u.Spot))
		}
		lines = append(lines, fmt.Sprintf("%s %s: %s", Count(len(of.units), "fit"), of.words, FirstOf(names, mostUnitsNamed)))
	}
	return lines
}

// mostAmendedShown is how many fits that become stale, and how many verdicts, are named where not all are wanted.
const mostAmendedShown = 10

// AmendedLines says what was amended, or would be.
func AmendedLines(done *desk.Amended, preview, all bool) (lines []string) {
	var verdicts, stale []string
	for _, c := range done.Changes {
		lines = append(lines, c.String())
	}
	for _, c := range done.Verdicts {
		verdicts = append(verdicts, c.String())
	}
	for _, u := range done.Stale {
		stale = append(stale, "the fit of "+describeUnit(u))
	}
	for _, part := range []struct {
		word string
		of   []string
	}{{"verdict: ", verdicts}, {"stale: ", stale}} {
		for i, line := range part.of {
			if i == mostAmendedShown && !all {
				line = fmt.Sprintf("%d more", len(part.of)-i)
				if preview {
					line += ": see them with --all"
				}
				lines = append(lines, part.word+line)
				break
			}
			lines = append(lines, part.word+line)
		}
	}
	return append(lines, amendedInWords(done, preview))
}

// amendedInWords is the last line.
func amendedInWords(done *desk.Amended, preview bool) string {
	if len(done.Changes) == 0 {
		return "nothing to amend: all rows are so already"
	}
	words := fmt.Sprintf("amended: %s", Count(len(done.Changes), "change"))
	if preview {
		words = fmt.Sprintf("preview: %s, and nothing is changed", Count(len(done.Changes), "change"))
	}
	if done.Same > 0 {
		words += fmt.Sprintf("; so already: %s", Count(done.Same, "row"))
	}
	switch {
	case len(done.Stale) == 0:
		return words + "; no fit becomes stale"
	case preview:
		return words + "; fits that would become stale: " + fmt.Sprint(len(done.Stale))
	}
	return words + fmt.Sprintf("; fits that became stale: %d; now run wane fit", len(done.Stale))
}

// describeUnit names a spot at a pull.
func describeUnit(u study.Unit) string {
	words := fmt.Sprintf("%s at pull %d, spot %s", u.Coupon, u.Pull, u.Spot)
	if u.Condition != "" {
		words += ", " + u.Condition
	}
	return words
}

// PlaceWords names a place.
func PlaceWords(p *study.Place) string {
	text := fmt.Sprintf("coupon %s, pull %d, spot %s", p.Coupon, p.Pull, p.Spot)
	if p.Condition != "" {
		text += ", " + p.Condition
	}
	text += fmt.Sprintf(", %g° %s %s", p.AngleDeg, p.Polarisation, p.Quantity)
	if p.Replicate > 1 {
		text += fmt.Sprintf(", replicate %d", p.Replicate)
	}
	return text
}
