package main

import (
	"errors"
	"fmt"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"wane/study"
	"wane/study/desk"
)

const rootLong = `wane keeps a coupon-ageing study: coated glass coupons go out, come back at
intervals and are measured in reflectance. From the spectra it calculates the
remaining film and how much transmittance is lost, each with its uncertainty.

First time? Run wane demo. Words: wane help words.

The usual order: new, enrol, intake, review, check, fit, results; then trace,
verify and backup. Without a study: quick and plan.`

const exitCodes = `
Exit codes: 0 done, with or without flags; 1 refused or failed; 2 wrong usage.`

func newRootCommand() *cobra.Command {
	root := &cobra.Command{
		Use:           "wane",
		Short:         "the remaining antireflective film, and how much transmittance is lost",
		Long:          rootLong + "\n" + exitCodes,
		Example:       "  wane quick G07.csv --back matched",
		SilenceErrors: true,
		SilenceUsage:  true,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return nil
			}
			return noCommand(cmd, args[0])
		},
	}
	in := &studyOptions{cmd: root}
	root.RunE = func(cmd *cobra.Command, args []string) error { return overview(cmd, in) }
	root.SetFlagErrorFunc(flagError)
	root.Version = desk.Software()
	root.SetVersionTemplate("{{.Version}}\n")
	root.Flags().Bool("version", false, "print the version of wane and of its model")
	root.AddCommand(newQuickCommand(), newPlanCommand(), newPredictCommand(), newNewCommand(), newEnrolCommand(), newIntakeCommand(),
		newFitCommand(), newResultsCommand(), newTintCommand(), newTrendCommand(), newCheckCommand(), newStatusCommand(), newDueCommand(),
		newDemoCommand(), newLogCommand(), newVerifyCommand(), newBackupCommand(),
		newReviewCommand(), newAmendCommand(), newMoveCommand(), newProfileCommand(), newProtocolCommand(), newSheetCommand(),
		newRuleCommand(),
		newMeasureCommand(), newCompareCommand(), newTraceCommand(), newExportCommand(), newReportCommand(),
		newServeCommand(),
		newVersionCommand())
	pointToGuide(root)
	rewordLibraryHelp(root)
	return root
}

// noCommand refuses the name of a command that cmd does not have.
func noCommand(cmd *cobra.Command, name string) error {
	of := ""
	if cmd.HasParent() {
		of = " of " + cmd.CommandPath()
	}
	otherwise := fmt.Sprintf("see the list of commands: %s --help", cmd.CommandPath())
	return usagef(study.DidYouMean(name, commandNames(cmd), otherwise), "there is no command %q%s", name, of)
}

// commandNames are the names of the commands of cmd.
func commandNames(cmd *cobra.Command) (names []string) {
	for _, c := range cmd.Commands() {
		if c.IsAvailableCommand() || c.Name() == "help" {
			names = append(names, c.Name())
		}
	}
	return names
}

// flagError says in plain words what is wrong with a flag.
func flagError(cmd *cobra.Command, err error) error {
	try := fmt.Sprintf("see %s --help", cmd.CommandPath())
	var unknown *pflag.NotExistError
	var empty *pflag.ValueRequiredError
	var wrong *pflag.InvalidValueError
	switch {
	case errors.As(err, &unknown):
		var known []string
		cmd.Flags().VisitAll(func(f *pflag.Flag) { known = append(known, f.Name) })
		name := unknown.GetSpecifiedName()
		if near := study.Nearest(name, known); near != "" && len(name) > 1 {
			try = fmt.Sprintf("did you mean --%s? otherwise %s", near, try)
		}
		return usagef(try, "%s has no flag %s", cmd.CommandPath(), dashes(name))
	case errors.As(err, &empty):
		return usagef(try, "%s needs a value", dashes(empty.GetSpecifiedName()))
	case errors.As(err, &wrong):
		flag := wrong.GetFlag()
		kind, known := flagKinds[flag.Value.Type()]
		if !known {
			kind = "another value"
		}
		return usagef(try, "--%s takes %s, not %q", flag.Name, kind, wrong.GetValue())
	}
	return usagef(try, "%w", err)
}

// flagKinds says what flags of a type take.
var flagKinds = map[string]string{"int": "a whole number", "uint64": "a whole number from 0", "float64": "a number", "float": "a number",
	"bool": "no value"}

// dashes writes the name of a flag.
func dashes(name string) string {
	if len(name) == 1 {
		return "-" + name
	}
	return "--" + name
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
			cmd.Long = "help TOPIC prints a page of the guide, help COMMAND what COMMAND --help prints.\n" +
				"Without either it lists commands and topics.\n" + exitCodes
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
	cmd.Long = "Run the line of the example once in a shell, or write it into the file that your\n" +
		"shell reads when it starts.\n" + exitCodes
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
