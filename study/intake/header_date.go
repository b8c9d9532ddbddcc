package intake

import (
	"fmt"
	"strings"

	"wane/study/intake/heading"
	"wane/study/intake/text"
)

// date is the day of the measurement as a header gives it.
type date struct {
	text  string // the line
	day   string // as 2026-03-31, or "" if the line leaves it open
	doubt string // the two days that it may be
}

// note keeps the first line whose key, as letters only, is that of a date.
func (d *date) note(key, line string) {
	if d.text != "" || !strings.HasPrefix(key, "date") && !heading.IsAny(key, "measured", "measuredon", "acquired",
		"acquisitiondate", "measurementdate", "scandate", "created", "datum", "fecha") {
		return
	}
	d.text = strings.TrimSpace(line)
	i := strings.IndexAny(line, ":=,;\t")
	d.day, d.doubt = text.DayIn(line[i+1:])
}

// notes reports a date that may be two.
func (d date) notes() []string {
	if d.doubt == "" {
		return nil
	}
	return []string{fmt.Sprintf("the date %s is kept as text: it may be %s", text.Quoted(d.text), d.doubt)}
}
