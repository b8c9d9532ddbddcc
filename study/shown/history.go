package shown

import (
	"fmt"
	"strings"

	"wane/study"
	"wane/study/desk"
)

// History is the columns of the history of a coupon.
func History() List[*study.Result] {
	all := Results()
	for i := range all {
		switch all[i].Name {
		case "date":
			all[i].Rank = 5
		case "condition":
			all[i].Rank = 6
		case "change_pp":
			all[i].Rank = 2
		case "solid_nm":
			all[i].Rank = 4
		}
	}
	dose := Cell("dose", 3, "", func(r *study.Result) string {
		if !r.Dose.Valid() {
			return "-"
		}
		return fmt.Sprintf("%g %s", float64(r.Dose), r.DoseUnit)
	})
	columns := all.Pick("pull", "date")
	columns = append(columns, dose)
	return append(columns, all.Pick("spot", "condition", "state", "solar_T", "change_pp", "corrected_change_pp",
		"solid_nm",
		"flags")...)
}

// CouponWords says what the coupon is.
func CouponWords(h *desk.History) string {
	c := &h.Coupon
	words := []string{c.Coupon + ": " + string(c.Role)}
	if c.Coating != "" {
		words = append(words, fmt.Sprintf("%s of %s, lot %s", c.Coating, Dash(c.Supplier), Dash(c.Lot)))
	}
	glass := c.Glass
	if c.GlassMM.Valid() {
		glass += fmt.Sprintf(" %g mm", float64(c.GlassMM))
	}
	words = append(words, glass+", far face "+c.Back)
	if c.Exposure != "" {
		exposure := "exposure " + c.Exposure
		if h.Protocol != "" {
			exposure += " (" + h.Protocol + ")"
		}
		if h.Start != "" {
			exposure += ", from " + h.Start
		}
		words = append(words, exposure)
	}
	if c.Position != "" {
		words = append(words, "hangs at "+c.Position)
	}
	if c.BaselinePull > 0 {
		words = append(words, fmt.Sprintf("joined at pull %d, which is its baseline", c.BaselinePull))
	}
	return strings.Join(words, "; ")
}

// ProtocolLines says which version of a protocol each pull remembers.
func ProtocolLines(h *desk.History) []string {
	var parts []string
	for i := 0; i < len(h.Pulls); {
		first := i
		for i < len(h.Pulls) && h.Pulls[i].Protocol == h.Pulls[first].Protocol {
			i++
		}
		if h.Pulls[first].Protocol == "" {
			continue
		}
		words := fmt.Sprintf("pull %d", h.Pulls[first].Pull)
		if last := h.Pulls[i-1].Pull; i-1 > first {
			words = fmt.Sprintf("pulls %d to %d", h.Pulls[first].Pull, last)
		}
		parts = append(parts, words+" by "+h.Pulls[first].Protocol)
	}
	if len(parts) == 0 {
		return nil
	}
	return []string{"protocol: " + strings.Join(parts, "; ")}
}

// LifeLines lists the events of the coupon.
func LifeLines(h *desk.History) (lines []string) {
	for i := range h.Life {
		e := &h.Life[i]
		words := string(e.Event)
		switch {
		case e.Date == "" && !e.Pull.Is:
			words = "baseline " + words
		case e.Date == "":
			words = fmt.Sprintf("pull %d %s", int(e.Pull.Value), e.Event)
		case e.Pull.Is:
			words = fmt.Sprintf("%s %s at pull %d", e.Date, e.Event, int(e.Pull.Value))
		default:
			words = e.Date + " " + words
		}
		if e.Exposure != "" {
			words += " into " + e.Exposure
		}
		if e.Dose.Is {
			if e.Event.Cleans() {
				words += fmt.Sprintf(", %g times", e.Dose.Value)
			} else {
				words += fmt.Sprintf(", dose %g", e.Dose.Value)
			}
		}
		for _, more := range []string{e.By, e.Note} {
			if more != "" {
				words += ", " + more
			}
		}
		if e.Picture != "" {
			words += ", picture " + e.Picture
		}
		lines = append(lines, words)
	}
	return lines
}

// GapLines says which pulls have no row of results, and why.
func GapLines(h *desk.History) (lines []string) {
	for i := range h.Pulls {
		r := &h.Pulls[i]
		words := fmt.Sprintf("pull %d", r.Pull)
		if r.Date != "" {
			words += ", " + r.Date
		}
		switch {
		case r.State == desk.PullEnded:
			words += ": " + r.Ended
		case r.State != desk.PullRead:
			words += ": " + string(r.State) + strings.TrimSuffix(" ("+strings.Join(r.Attention, ", ")+")", " ()")
		case len(h.Rows) == 0:
			words += ": read and not evaluated; run wane fit"
		default:
			continue
		}
		lines = append(lines, study.OneLine(words))
	}
	return lines
}

// sparks are the heights of a spark line, the lowest first.
const sparks = "▁▂▃▄▅▆▇█"

// ChangeLines draws, for each spot, the change since the baseline as a line of text. All spots have one scale,
// from the lowest change, or 0, to the highest, or 0.
func ChangeLines(h *desk.History) (lines []string) {
	changes, spots := map[string]map[int]float64{}, []string{}
	low, high := 0.0, 0.0
	for _, r := range h.Rows {
		value := float64(r.Change.Value)
		if !r.Change.Value.Valid() && !(int(r.Pull) == h.Coupon.BaselinePull && r.SolarT.Value.Valid()) {
			continue
		}
		if !r.Change.Value.Valid() {
			value = 0 // it is the baseline
		}
		if changes[r.Spot] == nil {
			changes[r.Spot], spots = map[int]float64{}, append(spots, r.Spot)
		}
		changes[r.Spot][int(r.Pull)] = value
		low, high = min(low, value), max(high, value)
	}
	if high == low {
		return nil
	}
	heights := []rune(sparks)
	for _, spot := range spots {
		var line []rune
		last, at := 0.0, 0
		for i := range h.Pulls {
			value, there := changes[spot][h.Pulls[i].Pull]
			if !there {
				line = append(line, '.')
				continue
			}
			last, at = value, h.Pulls[i].Pull
			line = append(line, heights[int((value-low)/(high-low)*float64(len(heights)-1)+0.5)])
		}
		lines = append(lines, study.OneLine(fmt.Sprintf("spot %s  %s  change %s pp at pull %d; lowest %s, highest %s",
			spot, string(line), Decimal(study.Num(last), 3), at, Decimal(study.Num(low), 3), Decimal(study.Num(high), 3))))
	}
	return lines
}

// MeasuredLines lists what other instruments measured.
func MeasuredLines(h *desk.History) (lines []string) {
	for i := range h.Measured {
		m := &h.Measured[i]
		spot := "the coupon"
		if m.Spot != "" {
			spot = "spot " + m.Spot
		}
		lines = append(lines, fmt.Sprintf("pull %d, %s: %s %s by %s, %s", m.Pull, spot, m.Quantity,
			PlusMinus(study.Measure{Value: m.Value, U: m.U}, 1, m.Unit()), m.Method, m.Date))
	}
	return lines
}

// JudgedLines says which readings are held, and what people decided.
func JudgedLines(h *desk.History) (lines []string) {
	for i := range h.Judged {
		j := &h.Judged[i]
		words := fmt.Sprintf("reading %d, pull %d, spot %s, %g° %s: %s", j.Number, j.Pull, j.Spot, j.AngleDeg, j.Polarisation,
			j.Standing.Words())
		for k := range j.Reviews {
			r := &j.Reviews[k]
			words += fmt.Sprintf("; line %d, %s, %s: %s", r.Line.Number, r.Line.At, r.Line.Who, r.Why)
		}
		if len(j.Reviews) == 0 && len(j.Holds) > 0 {
			words += "; " + study.HoldWords(j.Holds)
		}
		lines = append(lines, words)
	}
	return lines
}

// CorrectedLines says what was corrected, and by whom, when and why.
func CorrectedLines(h *desk.History) (lines []string) {
	for i := range h.Corrected {
		c := &h.Corrected[i]
		day, _, _ := strings.Cut(c.Line.At, "T")
		words := fmt.Sprintf("corrected on line %d, %s, %s: %s; why: %s", c.Line.Number, day, Dash(c.Line.Who),
			c.Words(h.Coupon.Coupon), c.Line.Why)
		lines = append(lines, words)
	}
	return lines
}
