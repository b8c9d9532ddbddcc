package main

import (
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"wane/study"
	"wane/study/desk"
	"wane/study/shown"
)

const dueLong = `List what the study is waiting for, what is overdue for longest first: coupons to pull and to
measure, sessions of which no export is taken in, readings to judge, spots to fit, and
certificates that have expired or expire within 30 days.

A pull is due from its planned day on; one without a day from when the first coupon of its
exposure is read at it. What was not read before a later pull was read is not listed: its dose
has passed (wane status calls it missed). overdue_days counts from the planned day, or from the
day on which a certificate expires.

The table has one row for tasks that are alike, and names their coupons; CSV and JSON have one
row for each coupon. --date shows what will be due on another day. --calendar writes all planned
days that are not done yet, and the expiry of certificates, into a file that calendar programs
read (iCalendar, RFC 5545).
`

type dueOptions struct {
	study    studyOptions
	list     listOptions
	filter   filterOptions
	date     string
	calendar string
}

func newDueCommand() *cobra.Command {
	o := &dueOptions{}
	cmd := &cobra.Command{
		Use: "due", Short: "what to pull, measure, take in, judge and fit next",
		Long:    dueLong + columnsHelp(shown.Tasks()) + exitCodes,
		Example: "  wane due\n  wane due --date 2031-03-23 --format json\n  wane due --calendar pulls.ics",
		Args:    exactly(0, "wane due looks at the whole study; --coupon and --pull narrow it"),
		RunE:    func(cmd *cobra.Command, args []string) error { return runDue(cmd, o) },
	}
	o.study.bind(cmd)
	bindListing(cmd, &o.list, shown.Tasks())
	o.filter.bind(cmd, &o.study, "tasks", "coupon", "pull")
	cmd.Flags().StringVar(&o.date, "date", "", "what is due on this day; else today")
	cmd.Flags().StringVar(&o.calendar, "calendar", "", "write the planned days that are not done into this file, .ics")
	return cmd
}

func (o *dueOptions) check(cmd *cobra.Command) (day string, err error) {
	if err := o.list.check(cmd); err != nil {
		return "", err
	}
	if err := o.filter.check(cmd); err != nil {
		return "", err
	}
	if cmd.Flags().Changed("calendar") && !strings.HasSuffix(strings.ToLower(o.calendar), ".ics") {
		return "", usagef("name it .ics: --calendar pulls.ics", "--calendar %q: a calendar is a file .ics", o.calendar)
	}
	if !cmd.Flags().Changed("date") {
		return "", nil
	}
	if day, err = desk.Day(o.date); err != nil {
		return "", usagef("write it as 2031-03-23", "--date: %w", err)
	}
	return day, nil
}

func runDue(cmd *cobra.Command, o *dueOptions) error {
	day, err := o.check(cmd)
	if err != nil {
		return err
	}
	columns, err := shown.Tasks().Choose(o.list.format, o.list.named)
	if err != nil {
		return err
	}
	return o.study.reading(cmd.Context(), func(d *desk.Desk) error {
		if err := d.CheckCodes(cmd.Context(), o.filter.of, desk.Moment{}); err != nil {
			return err
		}
		s, err := d.Status(cmd.Context(), desk.StatusOptions{AsOf: desk.Moment{Day: day}})
		if err != nil {
			return err
		}
		sieve := study.NewSieve(o.filter.of)
		tasks := slices.DeleteFunc(slices.Clone(s.Tasks), func(t desk.Task) bool {
			row := study.Row{Coupon: t.Coupon, Pull: -1}
			if t.Pull.Valid() {
				row.Pull = int64(t.Pull)
			}
			return !sieve.Keep(row)
		})
		if o.calendar != "" {
			if err := writeCalendar(cmd, d, o.calendar); err != nil {
				return err
			}
		}
		if o.list.format == "table" && len(o.list.named) == 0 {
			err = dueTable(pageOf(cmd), s, tasks)
		} else {
			out := openRows(columns, pageOf(cmd), o.list.format)
			for i := range tasks {
				if err := out.write(&tasks[i]); err != nil {
					return err
				}
			}
			err = out.end()
		}
		if err != nil {
			return err
		}
		return sayMissed(cmd.ErrOrStderr(), sieve)
	})
}

// dueTable prints a row for tasks that are alike, and what comes next.
func dueTable(p page, s *desk.Status, tasks []desk.Task) error {
	out := openRows(shown.TaskGroups(), p, "table")
	out.table.remedy = tableRemedy
	groups := shown.GroupTasks(tasks)
	for i := range groups {
		if err := out.write(&groups[i]); err != nil {
			return err
		}
	}
	if err := out.end(); err != nil {
		return err
	}
	if len(groups) == 0 {
		if err := writeLine(p, "nothing is due on "+s.Day); err != nil {
			return err
		}
	}
	if s.NextPull != "" {
		if err := writeWrapped(p, "", "next planned: "+s.NextPull); err != nil {
			return err
		}
	}
	return nil
}
