package main

import (
	ics "github.com/arran4/golang-ical"
	"github.com/spf13/cobra"

	"wane/study"
	"wane/study/desk"
)

// writeCalendar writes the days of the study that are not done yet into a calendar.
func writeCalendar(cmd *cobra.Command, d *desk.Desk, path string) error {
	days, at, err := d.Calendar(cmd.Context())
	if err != nil {
		return err
	}
	calendar := ics.NewCalendarFor("wane")
	calendar.SetXWRCalName("coupon pulls")
	for i := range days {
		day := &days[i]
		event := calendar.AddEvent(day.ID + "@wane.invalid")
		event.SetDtStampTime(at)
		event.SetAllDayStartAt(day.Day)
		event.SetAllDayEndAt(day.Day.AddDate(0, 0, 1))
		event.SetSummary(study.OneLine(day.Summary))
		event.SetDescription(study.OneLine(day.What))
		event.SetTimeTransparency(ics.TransparencyTransparent)
	}
	if err := desk.WriteFile(path, 0, []byte(calendar.Serialize(ics.WithNewLineWindows))); err != nil {
		return err
	}
	return printLine(cmd.ErrOrStderr(), "note wrote %s: %s", study.Shown(path), count(len(days), "day"))
}
