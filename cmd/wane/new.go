package main

import (
	"errors"
	"fmt"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"wane/study"
	"wane/study/desk"
)

const newLong = `Start a study in a new file. Here you choose, once, how changes are corrected and which
mixing rule gives the porosity:

  --correction controls  the mean change of the controls of the same coating is subtracted
  --correction session   all spots of a session are fitted together, and what they share
                         (scale, angles, s share) is removed
  --correction none      nothing is corrected

With --over-blank each reading is divided by the reading of the dark blank of the same
session, angle and polarisation. This removes a factor that both share, and nothing else;
the noise of the blank is added. A session without a reading of a blank is not evaluated.
--over-blank cannot be used with --correction session: both would correct the same error.

With --two-people nobody may release, set aside, amend, withdraw or move what they brought in
themselves: another person has to, under their own name (WANE_OPERATOR). The study believes the
names; it asks for no password. This cannot be changed later.

With --protocol the study begins with exposures and their pulls, as if you had enrolled them:
one for each protocol of the library (wane protocol list) or file of your own. Its code is the
name of the protocol, or CODE in CODE=NAME. --start is the first day of all of them. The day of
a pull follows from its dose if the exposure never stops; where the dose of a day depends on the
equipment, only the day of pull 0 is planned. wane amend corrects a site, a date or a dose; if the
pulls have to be others, enrol tables of your own instead. Then enrol the coupons.

With --from the study is made of a folder that wane export DIR wrote: an equal study, whose
results, history, times and hashes are those of the one that was exported. No line is added to
its history. An export that was changed is refused, with the file and the line.
` + exitCodes

type newOptions struct {
	correction, mixing string
	overBlank          bool
	twoPeople          bool

	protocols   []string
	start, site string
	from        string
}

func newNewCommand() *cobra.Command {
	o := &newOptions{}
	cmd := &cobra.Command{
		Use: "new FILE.wane", Short: "start a study", Long: newLong,
		Example: "  wane new roof.wane\n  wane new roof.wane --correction none\n" +
			"  wane new ageing.wane --protocol roof=field-rack,damp-heat --start 2031-05-12\n" +
			"  wane new copy.wane --from everything",
		Args: exactly(1, "name one file: wane new roof.wane"),
		RunE: func(cmd *cobra.Command, args []string) error { return runNew(cmd, o, args[0]) },
	}
	f := cmd.Flags()
	f.StringVar(&o.correction, "correction", "controls", "how changes are corrected: controls, session or none")
	f.StringVar(&o.mixing, "mixing", "bruggeman",
		"mixing rule: bruggeman, maxwell-garnett, lorentz-lorenz or volume-average")
	f.BoolVar(&o.overBlank, "over-blank", false, "divide readings by those of the dark blank of their session")
	f.BoolVar(&o.twoPeople, "two-people", false, "nobody judges, amends or moves what they brought in themselves")
	f.StringSliceVar(&o.protocols, "protocol", nil,
		"plan exposures and pulls by protocols: NAME, CODE=NAME or FILE.yaml, separated by commas")
	f.StringVar(&o.start, "start", "", "the first day of the planned exposures, such as 2031-05-12")
	f.StringVar(&o.site, "site", "", "the site of the planned exposures")
	f.StringVar(&o.from, "from", "", "make the study of this folder, which wane export wrote")
	completeLists(cmd, "protocol", protocolNames)
	completeWords(cmd, map[string][]string{"correction": routes, "mixing": mixingWords})
	return cmd
}

var routes = []string{string(study.RouteControls), string(study.RouteSession), string(study.RouteNone)}

func runNew(cmd *cobra.Command, o *newOptions, path string) error {
	if cmd.Flags().Changed("from") {
		return runRebuild(cmd, o, path)
	}
	if err := oneOf("correction", o.correction, routes); err != nil {
		return err
	}
	if err := oneOf("mixing", o.mixing, mixingWords); err != nil {
		return err
	}
	if (o.start != "" || o.site != "") && len(o.protocols) == 0 {
		return usagef("add --protocol NAME, or leave them out", "--start and --site are of exposures that --protocol plans")
	}
	if cmd.Flags().Changed("protocol") && len(o.protocols) == 0 {
		return usagef("name one: --protocol field-rack", "--protocol names none")
	}
	plan, err := desk.PlanExposures(o.protocols, o.start, o.site)
	if err != nil {
		return err
	}
	settings := study.Settings{Correction: study.Route(o.correction), Mixing: o.mixing, OverBlank: o.overBlank,
		TwoPeople: o.twoPeople}
	d, err := desk.NewPlanned(cmd.Context(), path, settings, plan, operator())
	if err != nil {
		return err
	}
	if err := d.Close(); err != nil {
		return err
	}
	over := ""
	if o.overBlank {
		over = ", readings divided by the dark blank"
	}
	if o.twoPeople {
		over += ", judged and corrected by a second person"
	}
	started := fmt.Sprintf("started %s, correction by %s, mixing rule %s%s", study.Shown(path), o.correction, o.mixing, over)
	for _, line := range append([]string{started}, plan.Lines()...) {
		if err := printLine(cmd.OutOrStdout(), "%s", line); err != nil {
			return err
		}
	}
	return nil
}

// runRebuild makes a study of an export.
func runRebuild(cmd *cobra.Command, o *newOptions, path string) error {
	other := ""
	cmd.Flags().Visit(func(f *pflag.Flag) {
		if f.Name != "from" && other == "" {
			other = f.Name
		}
	})
	if other != "" {
		return usagef("leave it out", "--%s cannot be stated with --from: everything comes from the export", other)
	}
	d, notes, err := desk.Rebuild(cmd.Context(), path, o.from, operator())
	if err != nil {
		return err
	}
	last := study.Entry{}
	err = d.Log(cmd.Context(), func(e study.Entry) error { last = e; return nil })
	if err = errors.Join(err, d.Close()); err != nil {
		return err
	}
	if err := printNotes(cmd.ErrOrStderr(), notes); err != nil {
		return err
	}
	return printLine(cmd.OutOrStdout(), "made %s of %s: log line %d, hash %x", study.Shown(path), study.Shown(o.from),
		last.Number, last.Hash)
}

// exactly refuses another number of arguments.
func exactly(n int, try string) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		if len(args) != n {
			takes := fmt.Sprintf("%d arguments", n)
			switch n {
			case 0:
				return usagef(try, "%s takes no arguments", cmd.CommandPath())
			case 1:
				takes = "1 argument"
			}
			return usagef(try, "%s takes %s, not %d", cmd.CommandPath(), takes, len(args))
		}
		return nil
	}
}

// atLeastOne refuses a call without arguments.
func atLeastOne(try string) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		if len(args) == 0 {
			return usagef(try, "%s takes at least one argument", cmd.CommandPath())
		}
		return nil
	}
}
