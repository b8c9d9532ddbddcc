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
	pointToGuide(root)
	rewordLibraryHelp(root)
	return root
}

// rewordLibraryHelp gives the two commands and the flag that the command library adds
// the words of the others.
func rewordLibraryHelp(root *cobra.Command) {
	root.InitDefaultHelpCmd()
	root.InitDefaultCompletionCmd()
	for _, cmd := range root.Commands() {
		switch cmd.Name() {
		case "help":
			cmd.Use = "help [COMMAND | TOPIC]"
			cmd.Short = "the guide: a page for each topic; and what a command does"
			cmd.Long = "help TOPIC prints a page of the guide, help COMMAND what COMMAND --help prints.\nWithout either it lists commands and topics.\n" + exitCodes
			cmd.Example = "  wane help\n  wane help guards\n  wane help quick"
			cmd.Run, cmd.RunE = nil, helpOf
		case "completion":
			cmd.Short = "a script that completes commands and flags in your shell"
			cmd.Long = `completion prints a script for the shell that you name. After the shell has read
it, the Tab key completes commands, flags and the words that a flag takes.
` + exitCodes
			cmd.Example = "  source <(wane completion bash)"
			for _, shell := range cmd.Commands() {
				rewordShell(shell)
			}
		}
	}
	addHelpFlag(root)
}

// rewordShell says how one shell reads its script.
func rewordShell(cmd *cobra.Command) {
	load := map[string]string{
		"bash":       "source <(wane completion bash)",
		"zsh":        "source <(wane completion zsh)",
		"fish":       "wane completion fish | source",
		"powershell": "wane completion powershell | Out-String | Invoke-Expression",
	}[cmd.Name()]
	cmd.Short = "the script for " + cmd.Name()
	cmd.Long = "Run the line of the example once in a shell, or write it into the file that your\nshell reads when it starts.\n" + exitCodes
	cmd.Example = "  " + load
	if f := cmd.Flags().Lookup("no-descriptions"); f != nil {
		f.Usage = "complete without the descriptions of commands and flags"
	}
}

// addHelpFlag adds the flag --help to cmd and to all commands below it.
func addHelpFlag(cmd *cobra.Command) {
	cmd.Flags().BoolP("help", "h", false, "print this text")
	for _, sub := range cmd.Commands() {
		addHelpFlag(sub)
	}
}
