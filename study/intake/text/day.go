package text

import (
	"regexp"
	"strconv"
	"strings"
	"time"
)

// The forms of a day: year first, all in digits, and the month in letters.
var (
	yearFirst  = regexp.MustCompile(`(?:^|\D)(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})(?:$|\D)`)
	yearLast   = regexp.MustCompile(`(?:^|\D)(\d{1,2})[-/.] ?(\d{1,2})[-/.] ?(\d{4})(?:$|\D)`)
	dayMonth   = regexp.MustCompile(`(?:^|\D)(\d{1,2})(?:st|nd|rd|th)?[-. ]+(\pL{3,})[-., ]+(\d{4})(?:$|\D)`)
	monthDay   = regexp.MustCompile(`(?:^|\PL)(\pL{3,})\.? (\d{1,2})(?:st|nd|rd|th)?,? (\d{4})(?:$|\D)`)
	monthClock = regexp.MustCompile(`(?:^|\PL)(\pL{3,}) +(\d{1,2}) \d{1,2}:\d\d:\d\d (\d{4})(?:$|\D)`)
)

// DayIn reads a day if one day only is possible: the year is in four
// digits, and the month in letters, or right behind the year, or distinguished from
// the day by its size. If two days are possible, doubt names both.
func DayIn(text string) (day, doubt string) {
	if m := yearFirst.FindStringSubmatch(text); m != nil { // nobody writes the day between year and month
		return dayOf(m[1], m[2], m[3]), ""
	}
	for _, form := range []*regexp.Regexp{dayMonth, monthDay, monthClock} {
		if m := form.FindStringSubmatch(text); m != nil {
			if form == dayMonth {
				m[1], m[2] = m[2], m[1]
			}
			return dayOf(m[3], strconv.Itoa(monthOf(m[1])), m[2]), ""
		}
	}
	m := yearLast.FindStringSubmatch(text)
	if m == nil {
		return "", ""
	}
	a, b := dayOf(m[3], m[2], m[1]), dayOf(m[3], m[1], m[2])
	switch {
	case a == b || b == "":
		return a, ""
	case a == "":
		return b, ""
	}
	return "", a + " or " + b
}

// monthOf returns the number of an English month, or of three letters or more of
// one, and 0 for other words.
func monthOf(word string) int {
	word = strings.ToLower(word)
	for m := time.January; m <= time.December; m++ {
		name := strings.ToLower(m.String())
		if len(word) >= 3 && strings.HasPrefix(name, word) {
			return int(m)
		}
	}
	return 0
}

// dayOf writes a day, "" if there is none such.
func dayOf(year, month, day string) string {
	t, err := time.Parse("2006-1-2", year+"-"+month+"-"+day)
	if err != nil {
		return ""
	}
	return t.Format(time.DateOnly)
}
