package main

import (
	"fmt"

	"github.com/spf13/cobra"
)

const rootLong = `wane keeps a coupon-ageing study: coated glass coupons go out, come back at
intervals and are measured in reflectance. From the spectra it works out what
is left of each coating and what the loss costs in sunlight, with an honest
uncertainty.`

const exitCodes = `
Exit codes: 0 done, with or without flags; 1 refused or failed; 2 wrong usage.`

func newRootCommand() *cobra.Command {
	root := &cobra.Command{
		Use:           "wane",
		Short:         "what is left of an antireflective coating, and what its loss costs",
		Long:          rootLong + "\n" + exitCodes,
		Example:       "  wane quick G07.csv --back matched",
		SilenceErrors: true,
		SilenceUsage:  true,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return nil
			}
			return usagef("see the list of commands with wane --help", "there is no command %q", args[0])
		},
		RunE: func(cmd *cobra.Command, args []string) error { return cmd.Help() },
	}
	root.SetFlagErrorFunc(func(cmd *cobra.Command, err error) error {
		return usagef(fmt.Sprintf("see %s --help", cmd.CommandPath()), "%v", err)
	})
	root.AddCommand(newQuickCommand(), newPlanCommand(), newNewCommand(), newEnrolCommand(), newIntakeCommand(), newFitCommand(), newResultsCommand(), newCheckCommand(),
		newDemoCommand(), newLogCommand(), newVerifyCommand(), newBackupCommand(),
		newReviewCommand(), newProfileCommand(), newMeasureCommand(), newTraceCommand(), newExportCommand())
	return root
}
