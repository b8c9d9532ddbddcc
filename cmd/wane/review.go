package main

import (
	"fmt"
	"io"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"wane/study"
	"wane/study/desk"
)

const reviewLong = `Judge readings. Without --release and --aside, list those that do not enter results:
held by a guard, or set aside by a person. With one of them, change how readings stand,
for a reason that stays in the study:

  --release  they enter results, whatever a guard found, or after they were set aside
  --aside    they stay in the study, and enter no result

Name the readings by the numbers that the list and wane trace show, or by --coupon,
--pull, --spot, --angle, --polarisation and --session together. Nothing is deleted, and
the last word counts. Fits behind which a reading was reviewed say no more than that
until wane fit makes them again.
` + exitCodes

type reviewOptions struct {
	study          studyOptions
	format         string
	release, aside bool
	why            string
	of             desk.Selection
	pull           int
	angle          string
	placed         bool // readings are named by their place
}

func newReviewCommand() *cobra.Command {
	o := &reviewOptions{of: desk.Everything()}
	cmd := &cobra.Command{
		Use: "review [NUMBER...]", Short: "set readings aside, or count them again, with a reason", Long: reviewLong,
		Example: "  wane review\n  wane review 17 18 --release --why 'the blank was soiled, these are right'\n  wane review --coupon A01 --pull 2 --spot 1 --aside --why 'finger mark on the spot'",
		RunE:    func(cmd *cobra.Command, args []string) error { return runReview(cmd, o, args) },
	}
	o.study.bind(cmd)
	bindFormat(cmd, &o.format)
	f := cmd.Flags()
	f.BoolVar(&o.release, "release", false, "let the readings enter results")
	f.BoolVar(&o.aside, "aside", false, "set the readings aside")
	f.StringVar(&o.why, "why", "", "the reason, which stays in the study")
	f.StringVar(&o.of.Coupon, "coupon", "", "readings of this coupon")
	f.IntVar(&o.pull, "pull", 0, "readings at this pull")
	f.StringVar(&o.of.Spot, "spot", "", "readings of this spot")
	f.StringVar(&o.angle, "angle", "", "readings at this angle, in degrees")
	f.StringVar(&o.of.Polarisation, "polarisation", "", "readings in this polarisation: s, p, u or n")
	f.StringVar(&o.of.Session, "session", "", "readings of this session")
	return cmd
}

func runReview(cmd *cobra.Command, o *reviewOptions, args []string) error {
	if err := o.check(cmd, args); err != nil {
		return err
	}
	if !o.release && !o.aside {
		return o.list(cmd)
	}
	return o.study.with(cmd.Context(), func(d *desk.Desk) error {
		to := study.Counted
		if o.aside {
			to = study.Aside
		}
		reviewed, err := d.Review(cmd.Context(), o.of, to, o.why)
		if err != nil {
			return err
		}
		changed := reviewed.Changed
		tellLooked(cmd.ErrOrStderr(), &reviewed.Looked)
		if o.format != "table" {
			return listJudged(cmd.OutOrStdout(), o.format, changed)
		}
		done := fmt.Sprintf("released: %d", len(changed))
		if o.aside {
			done = fmt.Sprintf("set aside: %d", len(changed))
		} else if n := everHeld(changed); n > 0 {
			done += fmt.Sprintf(" (%d of them held by guards)", n)
		}
		_, err = fmt.Fprintf(cmd.OutOrStdout(), "%s; run wane fit\n", done)
		return err
	})
}

// list prints what was held or judged.
func (o *reviewOptions) list(cmd *cobra.Command) error {
	return o.study.reading(cmd.Context(), func(d *desk.Desk) error {
		all, err := d.Judgements(cmd.Context(), o.of)
		if err != nil {
			return err
		}
		if len(all) == 0 && o.placed {
			return &study.Refusal{Fault: "nothing was read there", Try: "see what was read with `wane trace COUPON`, or leave some of the flags out"}
		}
		return listJudged(cmd.OutOrStdout(), o.format, all)
	})
}

// check refuses a wrong call and completes the selection.
func (o *reviewOptions) check(cmd *cobra.Command, args []string) error {
	if err := oneOf("format", o.format, formats); err != nil {
		return err
	}
	for _, a := range args {
		n, err := strconv.ParseInt(a, 10, 64)
		if err != nil || n < 1 {
			return usagef("give the numbers that `wane review` lists", "%q is no number of a reading", a)
		}
		o.of.Numbers = append(o.of.Numbers, n)
	}
	if cmd.Flags().Changed("pull") {
		o.of.Pull = study.Num(o.pull)
	}
	if cmd.Flags().Changed("angle") {
		angle, err := strconv.ParseFloat(o.angle, 64)
		if err != nil || !(angle >= 0 && angle < 90) {
			return usagef("write it in degrees from the normal, such as --angle 8", "--angle %s is no angle of incidence", o.angle)
		}
		o.of.AngleDeg = study.Num(angle)
	}
	if cmd.Flags().Changed("pull") && o.pull < 0 {
		return usagef("write a pull, counting from 0", "--pull %d is no pull", o.pull)
	}
	for _, name := range []string{"coupon", "pull", "spot", "angle", "polarisation", "session"} {
		o.placed = o.placed || cmd.Flags().Changed(name)
	}
	judging := o.release || o.aside
	switch {
	case o.release && o.aside:
		return usagef("leave one of them out", "--release and --aside are stated together")
	case judging && cmd.Flags().Changed("why") && strings.TrimSpace(o.why) == "":
		return usagef("say why, in words that will be understood in ten years: --why TEXT", "--why is empty")
	case judging && o.why == "":
		return usagef("say why, in words that will be understood in ten years: --why TEXT", "--why is not stated")
	case judging && len(args) == 0 && !o.placed:
		return usagef("give the numbers that `wane review` lists, or --coupon, --pull, --spot, --angle, --polarisation and --session", "no reading is named")
	case !judging && o.why != "":
		return usagef("state --release or --aside too", "--why gives a reason, but neither --release nor --aside is given")
	case len(args) > 0 && o.placed:
		return usagef("leave one of them out", "readings are named by number and by place together")
	}
	return nil
}

// everHeld counts the readings that a guard ever held.
func everHeld(all []desk.Judged) (n int) {
	for i := range all {
		if len(all[i].Holds) > 0 {
			n++
		}
	}
	return n
}

// standingWord says how a reading stands.
func standingWord(s study.Standing) string {
	switch s {
	case study.Counted:
		return "counted"
	case study.Aside:
		return "set aside"
	}
	return string(s)
}

// reasonWords says what guards found.
func reasonWords(holds []study.Hold) string {
	words := make([]string, len(holds))
	for i, h := range holds {
		words[i] = h.Guard + ": " + h.Reason
	}
	return strings.Join(words, "; ")
}

var judgedColumns = []string{"number", "standing", "coupon", "pull", "spot", "condition", "angle_deg", "polarisation", "replicate", "session", "export", "column",
	"guards", "held_for", "reviewer", "reviewed_at", "why"}

func listJudged(w io.Writer, format string, all []desk.Judged) error {
	if format != "table" {
		out := newRecords(w, format, judgedColumns)
		for i := range all {
			j := &all[i]
			var guards []string
			for _, h := range j.Holds {
				guards = append(guards, h.Guard)
			}
			by, at, why := lastReview(j)
			err := out.write(j.Number, standingWord(j.Standing), j.Coupon, j.Pull, j.Spot, orEmpty(j.Condition), j.AngleDeg, j.Polarisation, j.Replicate, orEmpty(j.Session),
				j.Export, j.Column, orEmpty(strings.Join(guards, " ")), orEmpty(reasonWords(j.Holds)), orEmpty(by), orEmpty(at), orEmpty(why))
			if err != nil {
				return err
			}
		}
		return out.end()
	}
	if len(all) == 0 {
		_, err := fmt.Fprintln(w, "all readings enter results: none is held, none is set aside")
		return err
	}
	out := newColumnWriter(w, "number", "standing", "coupon", "pull", "spot", "setting", "export", "held for", "reviewed by", "why")
	for i := range all {
		j := &all[i]
		by, _, why := lastReview(j)
		spot := j.Spot
		if j.Condition != "" {
			spot += ", " + j.Condition
		}
		err := out.row(strconv.FormatInt(j.Number, 10), standingWord(j.Standing), j.Coupon, strconv.Itoa(j.Pull), spot,
			fmt.Sprintf("%g° %s", j.AngleDeg, j.Polarisation), fmt.Sprintf("%s column %d", study.Shown(j.Export), j.Column), dash(reasonWords(j.Holds)), dash(by), dash(why))
		if err != nil {
			return err
		}
	}
	return out.flush()
}

// lastReview returns who judged a reading last, when and why.
func lastReview(j *desk.Judged) (by, at, why string) {
	if len(j.Reviews) == 0 {
		return "", "", ""
	}
	r := &j.Reviews[len(j.Reviews)-1]
	return r.Line.Who, r.Line.At, r.Why
}
