package desk

import (
	"context"
	"fmt"
	"strconv"
	"time"

	"wane/study"
	"wane/study/intake/text"
	"wane/study/store"
)

// view runs do on the study as it was after a line of the log; 0: as it is.
func (d *Desk) view(ctx context.Context, line int64, do func(*store.View) error) error {
	if line == 0 {
		return d.store.View(ctx, do)
	}
	return d.store.ViewAsOf(ctx, line, do)
}

// Moment is a moment of the history of a study. The zero Moment is now.
type Moment struct {
	Line int64  // of the log; 0: the last one
	Day  string // that counts as today, ISO 8601; empty: that of the clock
}

// MomentOf returns the moment that a person means by the number of a line of the log, or by a day: the
// end of that day, in UTC. A line that is not there, a day before the study and what is neither are
// refused.
func (d *Desk) MomentOf(ctx context.Context, words string) (m Moment, err error) {
	if m.Line, err = strconv.ParseInt(words, 10, 64); err == nil && m.Line > 0 {
		err = d.store.ViewAsOf(ctx, m.Line, func(v *store.View) error {
			line, err := v.Line(m.Line)
			m.Day = line.At[:min(len(line.At), len(time.DateOnly))]
			return err
		})
		return m, err
	}
	var doubt string
	switch m.Day, doubt = text.DayIn(words); {
	case doubt != "":
		return m, &study.Refusal{Fault: fmt.Sprintf("%q can be two days", words), Try: "write it as " + doubt}
	case m.Day == "":
		return m, &study.Refusal{Fault: fmt.Sprintf("%q is neither a line of the history nor a day", words),
			Try: "write the number of a line that `wane log` lists, or a day such as 2031-03-23"}
	}
	m.Line, err = d.store.LineOn(ctx, m.Day)
	if err == nil && m.Line == 0 {
		err = &study.Refusal{Fault: "the study was begun after " + m.Day, Try: "see its history with `wane log`"}
	}
	return m, err
}
