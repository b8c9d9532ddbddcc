package main

import (
	"fmt"
	"github.com/spf13/cobra"

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
` + exitCodes

type newOptions struct {
	correction, mixing string
	overBlank          bool
}

func newNewCommand() *cobra.Command {
	o := &newOptions{}
	cmd := &cobra.Command{
		Use: "new FILE.wane", Short: "start a study", Long: newLong,
		Example: "  wane new roof.wane\n  wane new roof.wane --correction none",
		Args:    exactly(1, "name one file: wane new roof.wane"),
		RunE:    func(cmd *cobra.Command, args []string) error { return runNew(cmd, o, args[0]) },
	}
	f := cmd.Flags()
	f.StringVar(&o.correction, "correction", "controls", "how changes are corrected: controls, session or none")
	f.StringVar(&o.mixing, "mixing", "bruggeman",
		"mixing rule: bruggeman, maxwell-garnett, lorentz-lorenz or volume-average")
	f.BoolVar(&o.overBlank, "over-blank", false, "divide readings by those of the dark blank of their session")
	completeWords(cmd, map[string][]string{"correction": routes, "mixing": mixingWords})
	return cmd
}

var routes = []string{string(study.RouteControls), string(study.RouteSession), string(study.RouteNone)}

func runNew(cmd *cobra.Command, o *newOptions, path string) error {
	if err := oneOf("correction", o.correction, routes); err != nil {
		return err
	}
	if err := oneOf("mixing", o.mixing, mixingWords); err != nil {
		return err
	}
	settings := study.Settings{Correction: study.Route(o.correction), Mixing: o.mixing, OverBlank: o.overBlank}
	d, err := desk.New(cmd.Context(), path, settings, operator())
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
	return printLine(cmd.OutOrStdout(), "started %s, correction by %s, mixing rule %s%s", study.Shown(path),
		o.correction, o.mixing, over)
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
