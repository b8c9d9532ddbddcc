package main

import (
	"math"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"wane/study"
	"wane/study/desk"
	"wane/study/shown"
)

const moveLong = `Put readings where they belong, with a reason that stays in the study. The readings that were
in the wrong place are kept, and superseded by the ones that you make; the exports stay as
they are, and wane trace shows both places.

Choose readings by the numbers that wane trace and wane review show (17, or a range such as
196-199), or by place: --coupon, --pull, --spot, --session, --angle and --export together. Say
where they belong with --to-coupon and the other flags; what you do not say stays as it is:

  --to-coupon, --to-pull, --to-spot   the coupon was exchanged, or the spot misplaced
  --to-angle                          the angle was mistyped (degrees from the normal)
  --to-replicate, --to-mounting       the coupon was read twice, or set down anew
  --to-session                        the readings belong to another session
  --to-condition                      what was done to the coupon before they were read:
                                      as_found, rinsed, cleaned, or none if nothing is stated
  --to-polarisation s|p|u|n           the polariser was written down wrongly
  --to-position                       where the spot lies on the coupon, such as edge
  --to-unit fraction|percent          the values are read again from the export

--exchange A,B moves the readings of two coupons to each other in one step. All readings are
moved or none: a place that another reading has is refused, and the message names what is
there. Holds and reviews stay with the old readings; the guards look at the new ones. Fits
that depend on them are made again by wane fit; a spot that has no reading any more leaves the
results. --preview lists readings and fits, and changes nothing. For whole files, correct the
map and run wane intake --map MAP --replace. See wane help corrections.
`

type moveOptions struct {
	study    studyOptions
	list     listOptions
	columns  listing[*desk.MovedPair] // chosen
	of       desk.MoveSelection
	filter   filterOptions
	to       desk.MoveTo
	angle    string
	toAngle  string
	exchange string
	why      string
	preview  bool
}

func newMoveCommand() *cobra.Command {
	o := &moveOptions{of: desk.MoveSelection{Selection: desk.Everything()}}
	cmd := &cobra.Command{
		Use: "move [NUMBER...]", Short: "put readings where they belong, with a reason",
		Long: moveLong + columnsHelp(shown.Moved()) + exitCodes,
		Example: "  wane move --coupon A01 --pull 2 --to-coupon A02 --why 'the holder was labelled A02' --preview\n" +
			"  wane move --exchange A02,K01 --pull 1 --why 'their holders were exchanged'\n" +
			"  wane move 17 18 --to-angle 45 --why 'the stage stood at 45 degrees'\n" +
			"  wane move --export A01-pull2.csv --to-unit fraction --why 'the header of this instrument lacks the unit'",
		RunE: func(cmd *cobra.Command, args []string) error { return runMove(cmd, o, args) },
	}
	o.study.bind(cmd)
	bindListing(cmd, &o.list, shown.Moved())
	f := cmd.Flags()
	o.filter.bind(cmd, &o.study, "readings", "coupon", "pull", "spot", "session")
	f.StringVar(&o.angle, "angle", "", "only readings at this angle of incidence, in degrees")
	f.StringVar(&o.of.Export, "export", "", "only readings from this file: its name, or at least eight digits of its SHA-256")
	f.StringVar(&o.to.Coupon, "to-coupon", "", "the coupon that they are of")
	f.IntVar(&o.to.Pull, "to-pull", 0, "the pull that they are of")
	f.StringVar(&o.to.Spot, "to-spot", "", "the spot that they are of")
	f.StringVar(&o.toAngle, "to-angle", "", "their angle of incidence, in degrees from the normal")
	f.IntVar(&o.to.Replicate, "to-replicate", 0, "which replicate they are, from 1")
	f.IntVar(&o.to.Mounting, "to-mounting", 0, "how often the coupon had been set down for them, from 1")
	f.StringVar(&o.to.Session, "to-session", "", "the session in which they were read")
	f.StringVar(&o.to.Condition, "to-condition", "", "what was done to the coupon before: as_found, rinsed, cleaned or none")
	f.StringVar(&o.to.Polarisation, "to-polarisation", "", "their polarisation: s, p, u or n")
	f.StringVar(&o.to.Position, "to-position", "", "where their spot lies on the coupon, such as edge")
	f.StringVar(&o.to.Unit, "to-unit", "", "the unit of their values in the export: fraction or percent")
	f.StringVar(&o.exchange, "exchange", "", "two coupons whose readings change places: A,B")
	f.StringVar(&o.why, "why", "", "the reason, which stays in the study")
	f.BoolVar(&o.preview, "preview", false, "list what would move and which fits that concerns; change nothing")
	o.study.completeFlag(cmd, "to-coupon", func(c *desk.Codes) []string { return c.Coupons })
	o.study.completeFlag(cmd, "to-session", func(c *desk.Codes) []string { return c.Sessions })
	completeWords(cmd, moveWords)
	return cmd
}

func runMove(cmd *cobra.Command, o *moveOptions, args []string) error {
	if err := o.check(cmd, args); err != nil {
		return err
	}
	how := desk.Open
	if o.preview {
		how = desk.OpenToTry
	}
	return o.study.open(cmd.Context(), how, func(d *desk.Desk) error {
		moved, err := d.Move(cmd.Context(), o.of, o.to, o.why, o.preview)
		if err != nil {
			return err
		}
		return reportMoved(cmd, moved, o.list.format, o.columns, o.preview)
	})
}

// check refuses a wrong call and completes what is asked for.
func (o *moveOptions) check(cmd *cobra.Command, args []string) (err error) {
	if err := o.list.check(cmd); err != nil {
		return err
	}
	if o.columns, err = shown.Moved().Choose(o.list.format, o.list.named); err != nil {
		return err
	}
	numbers, err := numberSpans(args, "reading", "wane trace COUPON")
	if err != nil {
		return err
	}
	o.of.Numbers = numbers.Numbers()
	if err := o.filter.check(cmd); err != nil {
		return err
	}
	o.of.Filter = o.filter.of
	if o.of.AngleDeg, err = oneAngle(cmd, "angle", o.angle); err != nil {
		return err
	}
	if err := o.checkTo(cmd); err != nil {
		return err
	}
	placed := o.of.Export != ""
	for _, name := range []string{"coupon", "pull", "spot", "session", "angle"} {
		placed = placed || cmd.Flags().Changed(name)
	}
	switch {
	case strings.TrimSpace(o.why) == "":
		return usagef("give the reason in a full sentence: --why TEXT", "--why is not given")
	case len(args) > 0 && placed:
		return usagef("leave the numbers or the flags out", "readings are named both by number and by place")
	case o.exchange != "" && (len(args) > 0 || cmd.Flags().Changed("coupon")):
		return usagef("leave them out, and choose with --pull, --spot or --session",
			"--exchange names the coupons, and numbers or --coupon name readings too")
	case len(args) == 0 && !placed && o.exchange == "":
		return usagef("give numbers that `wane trace COUPON` lists, or a place: --coupon, --pull, --spot, --export and so on",
			"no reading is named")
	}
	return nil
}

// checkTo reads the flags that say where the readings belong.
func (o *moveOptions) checkTo(cmd *cobra.Command) (err error) {
	flags := cmd.Flags()
	if o.to.AngleDeg, err = oneAngle(cmd, "to-angle", o.toAngle); err != nil {
		return err
	}
	if !flags.Changed("to-pull") {
		o.to.Pull = desk.AllPulls
	} else if o.to.Pull < 0 {
		return usagef("count pulls from 0", "--to-pull must be 0 or more, not %d", o.to.Pull)
	}
	for name, n := range map[string]int{"to-replicate": o.to.Replicate, "to-mounting": o.to.Mounting} {
		if flags.Changed(name) && n < 1 {
			return usagef("count from 1", "--%s must be 1 or more, not %d", name, n)
		}
	}
	given := flags.Changed("to-pull") || o.to.AngleDeg.Valid() || o.to.Replicate+o.to.Mounting > 0
	for name, code := range map[string]string{"to-coupon": o.to.Coupon, "to-spot": o.to.Spot, "to-session": o.to.Session,
		"to-unit": o.to.Unit, "to-condition": o.to.Condition, "to-polarisation": o.to.Polarisation, "to-position": o.to.Position} {
		if !flags.Changed(name) {
			continue
		}
		given = true
		if fault, try := study.CheckCode(code); strings.TrimSpace(code) == "" || fault != "" {
			return usagef(orWord(try, "name it, or leave the flag out"), "--%s: %s", name, orWord(fault, "it is empty"))
		}
	}
	for name, word := range map[string]string{"to-unit": o.to.Unit, "to-condition": o.to.Condition,
		"to-polarisation": o.to.Polarisation} {
		if !flags.Changed(name) {
			continue
		}
		if err := oneOf(name, word, moveWords[name]); err != nil {
			return err
		}
	}
	if !flags.Changed("exchange") {
		if !given {
			return usagef("say it with --to-coupon, --to-pull, --to-spot, --to-angle, --to-unit and so on, or with --exchange",
				"it is not said where the readings belong")
		}
		return nil
	}
	o.to.Exchange = strings.Split(o.exchange, ",")
	for i := range o.to.Exchange {
		o.to.Exchange[i] = strings.TrimSpace(o.to.Exchange[i])
	}
	if n := o.to.Exchange; len(n) != 2 || n[0] == "" || n[1] == "" || n[0] == n[1] {
		return usagef("name two: --exchange A02,K01", "--exchange takes two coupons, not %q", o.exchange)
	}
	if given {
		return usagef("leave the others out, and run a second move",
			"--exchange cannot be used together with --to-coupon and its like")
	}
	return nil
}

// moveWords are the words that flags take.
var moveWords = map[string][]string{"to-unit": {"fraction", "percent"}, "to-polarisation": {"s", "p", "u", "n"},
	"to-condition": {"as_found", "rinsed", "cleaned", desk.NoCondition}}

// orWord is a text, or another one if it is empty.
func orWord(text, otherwise string) string {
	if text == "" {
		return otherwise
	}
	return text
}

// oneAngle reads a flag with one angle of incidence; null if it is not given.
func oneAngle(cmd *cobra.Command, flag, text string) (study.Num, error) {
	if !cmd.Flags().Changed(flag) {
		return study.Null(), nil
	}
	angle, err := strconv.ParseFloat(text, 64)
	if err != nil || math.IsNaN(angle) {
		return study.Null(), usagef("write degrees from the normal, for example --"+flag+" 8", "--%s: %q is not a number", flag, text)
	}
	if !(angle >= 0 && angle < 90) {
		return study.Null(), usagef("state the angle from the normal, in degrees", "--%s %g is outside 0 to below 90 degrees", flag, angle)
	}
	return study.Num(angle), nil
}

// reportMoved prints what was moved, or would be, and what that means for fits.
func reportMoved(cmd *cobra.Command, moved *desk.Moved, format string, columns listing[*desk.MovedPair], preview bool) error {
	reportGuards(cmd.ErrOrStderr(), &moved.Guards)
	out := openRows(columns, pageOf(cmd), format)
	for i := range moved.Readings {
		if err := out.write(&moved.Readings[i]); err != nil {
			return err
		}
	}
	if err := out.end(); err != nil {
		return err
	}
	for _, line := range shown.MovedNotes(moved) {
		if err := printLine(cmd.ErrOrStderr(), "note %s", line); err != nil {
			return err
		}
	}
	if preview {
		return printLine(cmd.ErrOrStderr(), "note nothing was changed: leave --preview out to do it")
	}
	return nil
}
