package shown

import (
	"fmt"
	"regexp"
	"slices"
	"strings"

	"wane/study"
	"wane/study/desk"
)

const (
	mostSettingsNamed = 6 // of the readings of a spot of which the same is said
	mostSpotsNamed    = 3 // of those of which the same is said
	mostReasonsShown  = 2 // of a spot in its line
)

// mostHeldShown is how many lines name held readings.
const mostHeldShown = 10

// GuardLines says which readings guards hold now, and which they hold no more.
func GuardLines(changes *desk.GuardChanges) (lines []string) {
	lines = foldedLines("held", foldReadings(changes.Held, holdReasons), "wane review --explain")
	why := func(j *desk.Judged) []string { return []string{j.Released} }
	lines = append(lines, foldedLines("released", foldReadings(changes.Released, why), "wane log and wane trace")...)
	if n := len(changes.Waiting); n > 0 {
		lines = append(lines, fmt.Sprintf("no guard finds a fault any more in %d of the readings that you took in; they stay held "+
			"until another person releases them with wane review --release", n))
	}
	return lines
}

// foldedLines has the first lines; then it counts the readings that none of these is on, and says where they are.
func foldedLines(did string, folded []foldedLine, where string) (lines []string) {
	named, rest := map[int64]bool{}, map[int64]bool{}
	shortened := false
	for i, line := range folded {
		for _, j := range line.of {
			if i < mostHeldShown {
				named[j.Number] = true
			} else if !named[j.Number] {
				rest[j.Number] = true
			}
		}
		if i < mostHeldShown {
			shortened = shortened || line.shortened
			lines = append(lines, study.OneLine(did+" "+line.text))
		}
	}
	switch {
	case len(rest) > 0:
		lines = append(lines, fmt.Sprintf("%s %d more: see %s", did, len(rest), where))
	case shortened || len(folded) > mostHeldShown:
		lines = append(lines, fmt.Sprintf("%s: for all readings and reasons see %s", did, where))
	}
	return lines
}

// holdReasons are the reasons why guards hold a reading.
func holdReasons(j *desk.Judged) (reasons []string) {
	for _, h := range j.Holds {
		reasons = AddOnce(reasons, study.HoldWords([]study.Hold{h}))
	}
	return reasons
}

// foldedLine is a line about readings of one spot, or about one reason at several spots.
type foldedLine struct {
	text      string
	of        []*desk.Judged
	shortened bool // it does not name all reasons, settings or spots
}

// foldReadings puts what is said of readings into few lines, each sentence once: a line for each
// spot, with what is said of this spot only, and a line for each sentence on several spots. They
// come in the order of their first readings.
func foldReadings(all []desk.Judged, says func(*desk.Judged) []string) (lines []foldedLine) {
	spots, on := BySpot(all), map[string][]*desk.Judged{} // readings by the sentence
	for _, spot := range spots {
		for _, j := range spot {
			for _, text := range says(j) {
				on[text] = append(on[text], j)
			}
		}
	}
	printed := map[string]bool{}
	for _, spot := range spots {
		var own []string
		for _, j := range spot {
			for _, text := range says(j) {
				if printed[text] {
					continue
				}
				printed[text] = true
				if severalSpots(on[text]) {
					lines = append(lines, reasonLine(text, on[text]))
				} else {
					own = append(own, text)
				}
			}
		}
		if len(own) > 0 {
			lines = append(lines, spotLine(own, on))
		}
	}
	return lines
}

// reasonLine is the line of a sentence on several spots.
func reasonLine(text string, of []*desk.Judged) foldedLine {
	var spots []string
	for _, j := range of {
		spots = AddOnce(spots, strings.ReplaceAll(spotWords(j), ",", ""))
	}
	return foldedLine{
		text: fmt.Sprintf("%s of %d spots: %s (%s)", Count(len(of), "reading"), len(spots), text,
			FirstOf(spots, mostSpotsNamed)),
		of: of, shortened: len(spots) > mostSpotsNamed,
	}
}

// spotLine is the line of a spot with sentences of its own. Of sentences that differ only in numbers
// it has the first.
func spotLine(own []string, on map[string][]*desk.Judged) foldedLine {
	var of []*desk.Judged
	var kinds []string // of sentences
	alike := map[string][]string{}
	for _, text := range own {
		kind := digits.ReplaceAllString(text, "0")
		kinds = AddOnce(kinds, kind)
		alike[kind] = append(alike[kind], text)
		for _, j := range on[text] {
			if !slices.Contains(of, j) {
				of = append(of, j)
			}
		}
	}
	line := foldedLine{of: of, shortened: len(own) > 1}
	reading := fmt.Sprintf("reading %d", of[0].Number)
	if len(of) > 1 {
		reading = Count(len(of), "reading")
	}
	if len(own) == 1 {
		settings := settingsOf(of)
		line.shortened = len(settings) > mostSettingsNamed
		line.text = fmt.Sprintf("%s, %s, %s: %s", reading, spotWords(of[0]),
			FirstOf(settings, mostSettingsNamed), own[0])
		return line
	}
	var parts []string
	for _, kind := range kinds[:min(mostReasonsShown, len(kinds))] {
		parts = append(parts, alikeWords(alike[kind], on))
	}
	line.text = fmt.Sprintf("%s, %s: %s", reading, spotWords(of[0]), strings.Join(parts, "; "))
	if n := len(kinds) - mostReasonsShown; n > 0 {
		line.text = fmt.Sprintf("%s; and %s", line.text, Count(n, "more reason"))
	}
	return line
}

// digits are the numbers in a sentence, and the digits of codes and names.
var digits = regexp.MustCompile(`[0-9]+([.][0-9]+)?`)

// alikeWords is the first of sentences that differ only in numbers, and of which readings each is.
func alikeWords(texts []string, on map[string][]*desk.Judged) string {
	var others []string
	for _, text := range texts[1:] {
		others = AddOnce(others, settingsOf(on[text])...)
	}
	settings := FirstOf(settingsOf(on[texts[0]]), mostSettingsNamed)
	if len(others) > 0 {
		settings += "; alike, with other numbers: " + FirstOf(others, mostSettingsNamed)
	}
	return fmt.Sprintf("%s (%s)", texts[0], settings)
}

// BySpot puts together the readings of a spot at a pull, in the order of the first of each.
func BySpot(all []desk.Judged) (groups [][]*desk.Judged) {
	at := map[study.Unit]int{}
	for i := range all {
		j := &all[i]
		n, known := at[unitOf(j)]
		if !known {
			n, groups = len(groups), append(groups, nil)
			at[unitOf(j)] = n
		}
		groups[n] = append(groups[n], j)
	}
	return groups
}

// unitOf is the spot at the pull of a reading.
func unitOf(j *desk.Judged) study.Unit {
	return study.Unit{Coupon: j.Coupon, Pull: j.Pull, Spot: j.Spot, Condition: j.Condition}
}

func severalSpots(of []*desk.Judged) bool {
	return slices.ContainsFunc(of, func(j *desk.Judged) bool { return unitOf(j) != unitOf(of[0]) })
}

// spotWords says where a reading is.
func spotWords(j *desk.Judged) string {
	place := fmt.Sprintf("coupon %s, pull %d, spot %s", j.Coupon, j.Pull, j.Spot)
	if j.Condition != "" {
		place += ", " + j.Condition
	}
	return place
}

// settingsOf are the angles and polarisations of readings, each once.
func settingsOf(of []*desk.Judged) (settings []string) {
	for _, j := range of {
		settings = AddOnce(settings, fmt.Sprintf("%g° %s", j.AngleDeg, j.Polarisation))
	}
	return settings
}
