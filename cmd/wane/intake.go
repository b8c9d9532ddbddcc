package main

import (
	"errors"
	"fmt"
	"io"
	"runtime"

	"github.com/spf13/cobra"

	"wane/study"
	"wane/study/desk"
	"wane/study/intake/text"
)

const intakeLong = `Take exports in, as a map says: a comma-separated table with the columns

  file,column,coupon,pull,spot,angle_deg,polarisation,quantity,unit

and, if wanted, wavelength_unit, replicate, session, condition, operator, geometry
and orientation_deg. file is relative to the map's folder; column is a heading, or
#3 counting the wavelength column as 1. A file in a zip file is read in place, and
named as if the zip file were a folder: pull0.zip/roof/a.csv.

A path is a file, a folder (the files in it and below it, but hidden ones and links),
a zip file, or a quoted pattern such as 'exports/*.csv'. Without paths, all that the
map names are taken. A file given by its name is refused if the map has no row for
it; one found in a folder, in a zip file or by a pattern is left, and told.
A file is taken in as a whole or not at all; the exit code is 1 if any was
refused, and the others are in. Run again, it skips what is in. An export that leaves something open is refused with
the flag that settles it; --ask offers the answers on a terminal, for each file by
itself, and --save-profile NAME keeps the answers in the study, for those that are left
and for the next time: --profile NAME.

A profile (see wane profile --help) answers for the exports whose names it is for, and
places the curves of those that the map has no row for. A curve that a guard finds
suspicious is in the study but held: it enters no result until somebody has judged it
with wane review. --preview shows where each curve would go and --explain what is seen in the
files and why; both change nothing, and what an intake would refuse is no failure of
theirs.
` + exitCodes

type intakeOptions struct {
	study   studyOptions
	mapFile string
	profile string
	save    string
	workers int
	stated  text.Stated
	reading readingOptions
	preview bool
}

func newIntakeCommand() *cobra.Command {
	o := &intakeOptions{}
	cmd := &cobra.Command{
		Use: "intake [PATH...] [--map MAP.csv] [--profile PROFILE]", Short: "take exports in", Long: intakeLong,
		Example: "  wane intake --map pull0.csv\n  wane intake exports/*.csv --map map.csv\n  wane intake exports pull0.zip --map map.csv",
		RunE:    func(cmd *cobra.Command, args []string) error { return runIntake(cmd, o, args) },
	}
	o.study.bind(cmd)
	cmd.Flags().StringVar(&o.mapFile, "map", "", "the map that says where each column belongs")
	cmd.Flags().StringVar(&o.profile, "profile", "", "a profile that answers for the exports and may place their curves: a file, or the name of one that the study keeps")
	cmd.Flags().StringVar(&o.save, "save-profile", "", "with --ask: keep the answers in the study as a profile of this name, which then also settles the exports that are left")
	cmd.Flags().BoolVar(&o.preview, "preview", false, "show where each curve would go, with its first, middle and last point, and change nothing")
	o.study.completeFiles(cmd, "profile", func(c *desk.Codes) []string { return c.Profiles })
	o.reading.bind(cmd, &o.stated)
	bindWorkers(cmd, &o.workers)
	return cmd
}

func bindWorkers(cmd *cobra.Command, n *int) {
	cmd.Flags().IntVar(n, "workers", runtime.NumCPU(), "how many files or spots are worked on at once; results do not depend on it")
}

func checkWorkers(n int) error {
	if n < 1 {
		return usagef("give at least 1, or leave the flag out", "--workers %d is no number of workers", n)
	}
	return nil
}

func runIntake(cmd *cobra.Command, o *intakeOptions, paths []string) error {
	if err := o.reading.check(cmd, o.stated); err != nil {
		return err
	}
	switch {
	case o.mapFile == "" && o.profile == "":
		return usagef("write a map and name it: wane intake --map map.csv; or a profile: wane intake exports --profile bench-1.yaml", "neither --map nor --profile is stated")
	case o.mapFile == "" && len(paths) == 0:
		return usagef("give them: wane intake exports --profile bench-1.yaml", "a profile names no files, and none are given")
	case o.save != "" && !o.reading.ask:
		return usagef("state --ask too", "--save-profile keeps answers, and nothing is asked without --ask")
	}
	if err := checkWorkers(o.workers); err != nil {
		return err
	}
	opt := desk.IntakeOptions{Workers: o.workers, Stated: o.stated, Profile: o.profile}
	if o.preview || o.reading.explain {
		return o.study.open(cmd.Context(), desk.OpenToTry, func(d *desk.Desk) error { return o.show(cmd, d, paths, opt) })
	}
	return o.study.with(cmd.Context(), func(d *desk.Desk) error {
		bar := newProgress(cmd, "exports")
		opt.Progress = bar.to
		in, err := d.Intake(cmd.Context(), o.mapFile, paths, opt)
		bar.end()
		if err != nil {
			if in != nil && in.Files > 0 {
				fmt.Fprintf(cmd.ErrOrStderr(), "note these are in: %s with %s\n", count(in.Files, "export"), count(in.Curves, "curve"))
			}
			return err
		}
		if err := o.askOn(cmd, d, in, opt); err != nil {
			return err
		}
		if err := printIntakeNotes(cmd.ErrOrStderr(), in); err != nil {
			return err
		}
		if len(in.Refused) > 0 {
			if in.Files+in.Known > 0 {
				fmt.Fprintf(cmd.ErrOrStderr(), "%s\n", summary(in))
			}
			return &several{in.Refused}
		}
		_, err = fmt.Fprintln(cmd.OutOrStdout(), summary(in))
		return err
	})
}

// summary says what became of the files.
func summary(in *desk.TakenIn) string {
	text := fmt.Sprintf("taken in: %s with %s; known already: %d; held: %s; refused: %d",
		count(in.Files, "export"), count(in.Curves, "curve"), in.Known, count(len(in.Held), "curve"), len(in.Refused))
	if in.Skipped > 0 {
		text += fmt.Sprintf("; skipped: %d", in.Skipped)
	}
	return text
}

// askOn asks what the refused exports leave open, one after the other, and takes
// those in that are settled.
func (o *intakeOptions) askOn(cmd *cobra.Command, d *desk.Desk, in *desk.TakenIn, opt desk.IntakeOptions) error {
	ask := o.reading.asker(cmd)
	if ask == nil {
		return nil
	}
	opt.Progress = nil
	refused := in.Refused
	in.Refused = nil
	for i, fault := range refused {
		opt.Stated = o.stated
		for {
			var r *study.Refusal
			err := ask.settle(fault, &opt.Stated)
			if cmd.Context().Err() != nil {
				return cmd.Context().Err()
			}
			if err != nil || !errors.As(fault, &r) {
				in.Refused = append(in.Refused, fault)
				break
			}
			more, err := d.Intake(cmd.Context(), o.mapFile, []string{r.File}, opt)
			if err != nil {
				return err
			}
			in.Files, in.Curves, in.Known = in.Files+more.Files, in.Curves+more.Curves, in.Known+more.Known
			in.Notes, in.Held = append(in.Notes, more.Notes...), append(in.Held, more.Held...)
			in.FileNotes = append(in.FileNotes, more.FileNotes...)
			if len(more.Refused) == 0 && o.save != "" {
				return o.saveAnswers(cmd, d, in, opt, refused[i+1:])
			}
			if len(more.Refused) == 0 {
				break
			}
			fault = more.Refused[0]
		}
	}
	return nil
}

// saveAnswers keeps the answers that settled an export as a profile, and takes in by it
// the exports that are left.
func (o *intakeOptions) saveAnswers(cmd *cobra.Command, d *desk.Desk, in *desk.TakenIn, opt desk.IntakeOptions, left []error) error {
	kept, err := d.SaveAnswers(cmd.Context(), o.save, opt.Stated)
	if err != nil {
		return err
	}
	if err := sayKept(cmd.ErrOrStderr(), kept); err != nil {
		return err
	}
	opt.Stated, opt.Profile = o.stated, o.save
	for _, fault := range left {
		var r *study.Refusal
		if !errors.As(fault, &r) || len(r.Choices) == 0 {
			in.Refused = append(in.Refused, fault)
			continue
		}
		more, err := d.Intake(cmd.Context(), o.mapFile, []string{r.File}, opt)
		if err != nil {
			return err
		}
		in.Files, in.Curves, in.Known = in.Files+more.Files, in.Curves+more.Curves, in.Known+more.Known
		in.Released, in.FileNotes = append(in.Released, more.Released...), append(in.FileNotes, more.FileNotes...)
		in.Notes, in.Held, in.Refused = append(in.Notes, more.Notes...), append(in.Held, more.Held...), append(in.Refused, more.Refused...)
	}
	return nil
}

// toldHeld is how many lines an intake, or a look of the guards, prints of held readings.
const toldHeld = 10

// show prints what an intake would do.
func (o *intakeOptions) show(cmd *cobra.Command, d *desk.Desk, paths []string, opt desk.IntakeOptions) error {
	all, err := d.Preview(cmd.Context(), o.mapFile, paths, opt)
	if err != nil {
		return err
	}
	return writePreviews(cmd.OutOrStdout(), all, o.reading.explain)
}

// writePreviews prints what would become of files, or with explain what is seen in them.
func writePreviews(out io.Writer, all []desk.Previewed, explain bool) error {
	for _, p := range all {
		lines := append([]string{study.Shown(p.File)}, p.Curves...)
		if explain {
			lines = append(lines, explainedLines(&p)...)
		} else {
			if p.Read != "" {
				lines = append(lines, p.Read)
			}
			for _, n := range p.Notes {
				lines = append(lines, "note "+n)
			}
		}
		if p.Refused != nil {
			lines = append(lines, "refused: "+p.Refused.Error())
			var r *study.Refusal
			if errors.As(p.Refused, &r) {
				lines = append(lines, "  try: "+r.Try)
			}
		}
		for i, line := range lines {
			if i > 0 {
				line = "  " + line
			}
			if err := printLine(out, "%s", line); err != nil {
				return err
			}
		}
	}
	return nil
}
