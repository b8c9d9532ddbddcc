package drawn

import (
	"fmt"
	"strconv"
	"strings"

	"wane/study/difference"
	"wane/study/report"
	"wane/study/shown"
)

// Differences returns the figure of a comparison.
func Differences(c *difference.Comparison) *report.Differences {
	what := "change"
	if c.InRate {
		what = "rate"
	}
	f := &report.Differences{Title: fmt.Sprintf("Differences by %s: %s of %s", c.By, what, c.Quantity.Name), Unit: c.Unit,
		Quantity: "Difference", Margin: c.Margin,
		Caption: []string{fmt.Sprintf("First name less second. %s.", strings.ToUpper(shown.CompareHead(c)[:1])+shown.CompareHead(c)[1:])}}
	if c.Unit != "" {
		unit := c.Unit
		if strings.ContainsAny(unit, " /") {
			unit = "(" + unit + ")"
		}
		f.Quantity += " / " + unit
	}
	for _, v := range []difference.Verdict{difference.Different, difference.NotDistinguished, difference.Equivalent,
		difference.DifferentWithin, difference.CannotTell} {
		f.Verdicts = append(f.Verdicts, pairVerdictWords[v])
	}
	lots := false
	for i := range c.Pairs {
		p := &c.Pairs[i]
		lots = lots || p.Is(difference.FlagTheseLots)
		f.Rows = append(f.Rows, report.DifferenceRow{A: c.Groups[p.A].Name, B: c.Groups[p.B].Name,
			Difference: p.Difference, Lo: p.Lower, Hi: p.Upper, Verdict: pairVerdictWords[p.Verdict]})
	}
	if lots {
		f.Caption = append(f.Caption, "Where a group has fewer than three lots, what is said holds for these lots only.")
	}
	if c.Level != 0.95 {
		f.Caption = append(f.Caption, "Level of confidence: "+strconv.FormatFloat(100*c.Level, 'f', -1, 64)+" %.")
	}
	return f
}

// pairVerdictWords are the verdicts as people read them.
var pairVerdictWords = map[difference.Verdict]string{
	difference.Different:        "different",
	difference.NotDistinguished: "not distinguished",
	difference.Equivalent:       "equivalent",
	difference.DifferentWithin:  "different, within the margin",
	difference.CannotTell:       "cannot be told",
}
