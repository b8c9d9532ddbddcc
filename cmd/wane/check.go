package main

import (
	"fmt"
	"slices"

	"github.com/spf13/cobra"

	"wane/study"
	"wane/study/desk"
	"wane/study/drawn"
	"wane/study/shown"
)

const checkLong = `Check whether each session can be trusted, by the check standards that were read in it. There
is one row for each standard, angle and polarisation, and then a verdict on each session.

Until an instrument has 20 sessions in control, a value must lie within 2u of its certificate
of that day; these verdicts are provisional. The values of the 20 sessions then make a chart
of individuals (sigma is the mean moving range divided by 1.128), and later values must lie
within its limits; so must their EWMA (weight 0.2). Later sessions do not change the limits
or earlier verdicts. The limits are so wide that an instrument that does not change is called
out of control in 5 % of runs of 20 sessions. A chart belongs to one instrument. It starts
again when the lamp or the detector is changed, after a service, and with another reference
or another certificate of the reference.

The verdicts on a value are: in control, out of limits, expired certificate, no certificate,
no reading. A session is trusted if it has a reading, all its values are in control, its
reference has a valid certificate, and no guard holds one of its readings. CSV and JSON have
all columns, with the verdict on the session in each row. A session that is not trusted is a
finding, not a failure: the exit code is 0.

--session and --flagged (sessions that are not trusted) choose sessions. --standard chooses
rows. --coupon is only for --placement and --gauge: a check standard is not a coupon.

--figure draws the control charts of the standards over these sessions, up to four in a figure; if
there are more, their files are numbered: charts-1.svg, charts-2.svg ...
`

type checkOptions struct {
	study  studyOptions
	want   desk.CheckOptions
	list   listOptions
	filter filterOptions
	figure string
	all    int // sessions of the study, or of --session

	placement placementOptions
	gauge     gaugeOptions
}

func newCheckCommand() *cobra.Command {
	o := &checkOptions{}
	cmd := &cobra.Command{
		Use: "check", Short: "whether sessions can be trusted, by their check standards",
		Long: checkLong + checkPlacementLong + checkGaugeLong + columnsHelp(shown.Check()) + exitCodes,
		Example: "  wane check\n  wane check --session 2031-05-a\n  wane check --standard TILE-550 --format csv\n" +
			"  wane check --figure charts.svg\n" +
			"  wane check --placement --coupon B1 --session 2031-05-a\n  wane check --gauge --coupon B1 --coupon E1",
		Args: exactly(0, "wane check looks at the whole study; --session and --standard narrow it"),
		RunE: func(cmd *cobra.Command, args []string) error { return runCheck(cmd, o) },
	}
	o.study.bind(cmd)
	bindListing(cmd, &o.list, shown.Check())
	o.filter.bind(cmd, &o.study, "sessions", "session", "flagged")
	cmd.Flags().Lookup("session").Usage = "only this session; repeatable"
	cmd.Flags().Lookup("flagged").Usage = "only sessions that are not trusted"
	cmd.Flags().StringVar(&o.want.Standard, "standard", "",
		"only rows of this check standard; the verdict on the session still counts all")
	o.study.completeFlag(cmd, "standard", func(c *desk.Codes) []string { return c.Standards })
	cmd.Flags().StringVar(&o.figure, "figure", "", "draw the control charts into this file, .svg, .png or .pdf")
	o.placement.bind(cmd, &o.study)
	o.gauge.bind(cmd)
	return cmd
}

func runCheck(cmd *cobra.Command, o *checkOptions) error {
	if err := o.list.check(cmd); err != nil {
		return err
	}
	if err := o.filter.check(cmd); err != nil {
		return err
	}
	if err := o.placement.check(cmd, o.filter.of.Sessions); err != nil {
		return err
	}
	if err := o.gauge.check(cmd, o.placement.coupons); err != nil {
		return err
	}
	if err := checkFigure(o.figure); err != nil {
		return err
	}
	if o.figure != "" && (o.gauge.asked || o.placement.asked) {
		return usagef("leave one of them out", "--figure draws control charts, and not --placement or --gauge")
	}
	if o.gauge.asked {
		return runGauge(cmd, o)
	}
	if o.placement.asked {
		return runPlacement(cmd, o)
	}
	columns, err := shown.Check().Choose(o.list.format, o.list.named)
	if err != nil {
		return err
	}
	return o.study.reading(cmd.Context(), func(d *desk.Desk) error {
		sessions, err := o.sessions(cmd, d)
		if err != nil {
			return err
		}
		if o.figure != "" {
			if err := o.draw(cmd, d, sessions); err != nil {
				return err
			}
		}
		if o.list.format == "table" && len(o.list.named) == 0 && (len(sessions) > 0 || o.all == 0) {
			return checkTables(pageOf(cmd), sessions)
		}
		out := openRows(columns, pageOf(cmd), o.list.format)
		for _, r := range shown.CheckedRows(sessions) {
			if err := out.write(r); err != nil {
				return err
			}
		}
		return out.end()
	})
}

// draw draws the control charts of sessions.
func (o *checkOptions) draw(cmd *cobra.Command, d *desk.Desk, sessions []desk.SessionCheck) error {
	charts := drawn.Charts(sessions, nil)
	if len(charts) == 0 {
		return &study.Refusal{Fault: "there is no chart to draw: no check standard was read in these sessions",
			Try: "enrol its readings: wane help sessions"}
	}
	stamp, err := d.Stamp(cmd.Context(), 0)
	if err != nil {
		return err
	}
	first, last := sessions[0].Session.Session, sessions[len(sessions)-1].Session.Session
	for i, c := range charts {
		c.Figure.Stamp = stamp
		c.Figure.Title = "Control charts of check standards"
		c.Figure.Caption = []string{fmt.Sprintf("Session 1 is %s, session %d is %s; those between stand in the order of "+
			"wane check.", first, len(sessions), last)}
		path := o.figure
		if len(charts) > 1 {
			path = numbered(path, i+1)
		}
		if err := drawFigure(cmd, d, path, c.Figure); err != nil {
			return err
		}
	}
	return nil
}

// sessions are those that are asked for.
func (o *checkOptions) sessions(cmd *cobra.Command, d *desk.Desk) ([]desk.SessionCheck, error) {
	want := o.want
	if err := d.CheckCodes(cmd.Context(), o.filter.of, desk.Moment{}); err != nil {
		return nil, err
	}
	if len(o.filter.of.Sessions) == 1 {
		want.Session = o.filter.of.Sessions[0]
	}
	all, err := d.Check(cmd.Context(), want)
	o.all = len(all)
	if err != nil || o.filter.of.IsZero() {
		return all, err
	}
	sieve := study.NewSieve(o.filter.of)
	kept := slices.DeleteFunc(all, func(s desk.SessionCheck) bool {
		row := study.Row{Pull: -1, Sessions: []string{s.Session.Session}}
		if !s.Trust {
			row.Flags = []string{study.FlagSessionNotTrusted}
		}
		return !sieve.Keep(row)
	})
	return kept, sayMissed(cmd.ErrOrStderr(), sieve)
}

// checkTables is the listing for people: what was read, and what it says of each session.
func checkTables(p page, sessions []desk.SessionCheck) error {
	if len(sessions) == 0 {
		return writeLine(p, "no session yet; enrol sessions and readings of check standards with wane enrol")
	}
	read := openRows(shown.CheckRead(), p, "table")
	rows := 0
	for _, r := range shown.CheckedRows(sessions) {
		if r.Standard == nil {
			continue
		}
		rows++
		if err := read.write(r); err != nil {
			return err
		}
	}
	if rows > 0 {
		if err := read.end(); err != nil {
			return err
		}
		if err := writeLine(p, "fractions; certified ± U (k=2)\n"); err != nil {
			return err
		}
	}
	verdicts := openRows(shown.CheckVerdicts(), p, "table")
	for i := range sessions {
		if err := verdicts.write(shown.Checked{Session: &sessions[i]}); err != nil {
			return err
		}
	}
	return verdicts.end()
}
