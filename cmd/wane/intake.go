package main

import (
	"errors"
	"fmt"
	"io"
	"runtime"
	"strings"

	"github.com/spf13/cobra"

	"wane/study"
	"wane/study/desk"
	"wane/study/intake/text"
	"wane/study/shown"
)

const intakeLong = `Take exports into the study. A map says where each curve belongs. It is a CSV table with
the columns

  file,column,coupon,pull,spot,angle_deg,polarisation,quantity,unit

and, if you need them, wavelength_unit, replicate, session, condition, operator, geometry,
half_angle_deg, orientation_deg and mounting. file is the path from the folder of the map. column is a heading, or
#3 for the third column (the wavelengths are #1). A file inside a zip file is named as if
the zip file were a folder: pull0.zip/roof/a.csv.

PATH is a file, a folder (all files in it and below it; hidden files and links are
skipped), a zip file, or a pattern in quotes such as 'exports/*.csv'. Without PATH, all
files that the map names are taken in. A file that you name yourself is refused if the map
has no row for it. A file found in a folder, in a zip file or by a pattern is then skipped
and reported.

A file is taken in completely or not at all. If a file is refused, the exit code is 1; the
other files are in the study. When you run the command again, it skips what is already in
the study. If an export leaves a question open, it is refused, and the message names the
flag that answers the question. --ask asks you on the terminal, for each file.
--save-profile NAME keeps your answers in the study: for the other files of this command,
and for later with --profile NAME.

A profile answers the open questions for all exports with certain file names, and can also
say where their curves belong (see wane profile --help). If a guard finds a curve
suspicious, the curve is in the study but held: it enters no result until somebody decides
with wane review. --preview shows where each curve would go. --explain shows what is found
in each file, why it is read so, and all notes on it. Both change nothing, and their exit
code is 0 also if a file would be refused.

--replace --why TEXT corrects what was taken in wrongly. Correct the map or the profile, and
run it over the same exports: curves that belong elsewhere, or whose unit was wrong, are put
right, columns with a new row are added, and what says the same stays. The readings before
are kept, and superseded (wane help corrections). All files are replaced or none. For single
readings use wane move.
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
	replace bool
	why     string
}

func newIntakeCommand() *cobra.Command {
	o := &intakeOptions{}
	cmd := &cobra.Command{
		Use: "intake [PATH...] [--map MAP.csv] [--profile PROFILE]", Short: "take exports in", Long: intakeLong,
		Example: "  wane intake --map pull0.csv\n  wane intake exports/*.csv --map map.csv\n" +
			"  wane intake exports pull0.zip --map map.csv",
		RunE: func(cmd *cobra.Command, args []string) error { return runIntake(cmd, o, args) },
	}
	o.study.bind(cmd)
	cmd.Flags().StringVar(&o.mapFile, "map", "", "the map: a CSV table that says where each curve belongs")
	cmd.Flags().StringVar(&o.profile, "profile", "",
		"a profile that answers open questions and may say where curves belong: a file, or a name that the study knows")
	cmd.Flags().StringVar(&o.save, "save-profile", "",
		"with --ask: keep the answers in the study as a profile of this name, and use it for the other exports")
	cmd.Flags().BoolVar(&o.preview, "preview", false,
		"show where each curve would go, with its first, middle and last point; change nothing")
	cmd.Flags().BoolVar(&o.replace, "replace", false,
		"read exports of the study again, as the corrected map or profile places them; the readings before are kept, superseded")
	cmd.Flags().StringVar(&o.why, "why", "", "with --replace: the reason, which stays in the study")
	o.study.completeFiles(cmd, "profile", func(c *desk.Codes) []string { return c.Profiles })
	o.reading.bind(cmd, &o.stated)
	bindWorkers(cmd, &o.workers)
	return cmd
}

func bindWorkers(cmd *cobra.Command, n *int) {
	cmd.Flags().IntVar(n, "workers", runtime.NumCPU(),
		"how many files or spots are processed at once; the results do not depend on it")
}

func checkWorkers(n int) error {
	if n < 1 {
		return usagef("write --workers 1 or more, or leave the flag out", "--workers must be at least 1, not %d", n)
	}
	return nil
}

func runIntake(cmd *cobra.Command, o *intakeOptions, paths []string) error {
	if err := o.reading.check(cmd, o.stated); err != nil {
		return err
	}
	switch {
	case o.mapFile == "" && o.profile == "":
		return usagef("name a map: wane intake --map map.csv; or a profile: wane intake exports --profile bench-1.yaml",
			"neither --map nor --profile is given")
	case o.mapFile == "" && len(paths) == 0:
		return usagef("name exports or folders: wane intake exports --profile bench-1.yaml",
			"a profile does not name files, and no export is given")
	case o.save != "" && !o.reading.ask:
		return usagef("add --ask", "--save-profile keeps answers, but without --ask nothing is asked")
	case o.replace && strings.TrimSpace(o.why) == "":
		return usagef("give the reason in a full sentence: --why TEXT", "--replace is given without --why")
	case !o.replace && o.why != "":
		return usagef("add --replace, or leave --why out", "--why is given without --replace")
	case o.replace && (o.reading.ask || o.reading.explain):
		return usagef("leave one of them out", "--replace cannot be used together with --ask or --explain")
	}
	if err := checkWorkers(o.workers); err != nil {
		return err
	}
	opt := desk.IntakeOptions{Workers: o.workers, Stated: o.stated, Profile: o.profile}
	if o.replace {
		return o.runReplace(cmd, paths, opt)
	}
	if o.preview || o.reading.explain {
		return o.study.open(cmd.Context(), desk.OpenToTry, func(d *desk.Desk) error { return o.show(cmd, d, paths, opt) })
	}
	return o.study.with(cmd.Context(), func(d *desk.Desk) error {
		bar := newProgress(cmd, "exports read")
		opt.Progress = bar.to
		in, err := d.Intake(cmd.Context(), o.mapFile, paths, opt)
		bar.end()
		if err != nil {
			if in != nil && in.Files > 0 {
				fmt.Fprintf(cmd.ErrOrStderr(), "note stored before the command stopped: %s with %s\n", count(in.Files, "export"),
					count(in.Curves, "curve"))
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
				fmt.Fprintf(cmd.ErrOrStderr(), "%s\n", shown.IntakeWords(in))
			}
			return &several{in.Refused}
		}
		_, err = fmt.Fprintln(cmd.OutOrStdout(), shown.IntakeWords(in))
		return err
	})
}

// runReplace puts the readings of known exports where the map says now.
func (o *intakeOptions) runReplace(cmd *cobra.Command, paths []string, opt desk.IntakeOptions) error {
	columns, err := shown.Moved().Choose("table", nil)
	if err != nil {
		return err
	}
	how := desk.Open
	if o.preview {
		how = desk.OpenToTry
	}
	return o.study.open(cmd.Context(), how, func(d *desk.Desk) error {
		moved, err := d.Replace(cmd.Context(), o.mapFile, paths, opt, o.why, o.preview)
		if err != nil {
			return err
		}
		for _, n := range moved.Notes {
			if err := printLine(cmd.ErrOrStderr(), "note %s", n); err != nil {
				return err
			}
		}
		if len(moved.Readings) > 0 {
			if err := reportMoved(cmd, moved, "table", columns, o.preview); err != nil {
				return err
			}
		}
		_, err = fmt.Fprintln(cmd.OutOrStdout(), shown.ReplacedWords(moved))
		return err
	})
}

// askOn asks about the files that the intake refused with a question, if --ask is given.
func (o *intakeOptions) askOn(cmd *cobra.Command, d *desk.Desk, in *desk.TakenIn, opt desk.IntakeOptions) error {
	ask := o.reading.asker(cmd)
	if ask == nil {
		return nil
	}
	how := desk.Asking{SaveAs: o.save}
	how.Ask = func(refused *study.Refusal, stated *text.Stated) error { return ask.settle(refused, stated) }
	saved, err := d.AskRefused(cmd.Context(), o.mapFile, in, how, opt)
	if saved != nil {
		err = errors.Join(sayKept(cmd.ErrOrStderr(), *saved), err)
	}
	return err
}

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
