package main

import (
	"slices"

	"github.com/spf13/cobra"

	"wane/study"
	"wane/study/desk"
)

// codes returns the codes of the study, for the completion of a command line: none, and no
// word of it, if there is no study that can be read.
func (o *studyOptions) codes(cmd *cobra.Command) *desk.Codes {
	var codes *desk.Codes
	known := o.tryReading(cmd, func(d *desk.Desk) (err error) {
		codes, err = d.Codes(cmd.Context())
		return err
	})
	if !known {
		return &desk.Codes{}
	}
	return codes
}

// tryReading reads the study, if there is one that can be read, and reports whether it could.
func (o *studyOptions) tryReading(cmd *cobra.Command, read func(*desk.Desk) error) bool {
	path, err := o.path()
	if err != nil {
		return false
	}
	d, err := desk.OpenToRead(cmd.Context(), path, operator())
	if err != nil {
		return false
	}
	err = read(d)
	return d.Close() == nil && err == nil
}

// completeLog offers words of the history to the completion of a flag.
func (o *studyOptions) completeLog(cmd *cobra.Command, flag string, word func(*study.Entry) string) {
	complete := func(cmd *cobra.Command, _ []string, _ string) ([]string, cobra.ShellCompDirective) {
		var words []string
		known := o.tryReading(cmd, func(d *desk.Desk) error {
			return d.Log(cmd.Context(), func(e study.Entry) error {
				words = addOnce(words, word(&e))
				return nil
			})
		})
		if !known {
			words = nil
		}
		slices.Sort(words)
		return words, cobra.ShellCompDirectiveNoFileComp
	}
	if err := cmd.RegisterFlagCompletionFunc(flag, complete); err != nil {
		panic(err) // a flag that the command does not have
	}
}

// completeFlag offers codes of the study to the completion of a flag.
func (o *studyOptions) completeFlag(cmd *cobra.Command, flag string, of func(*desk.Codes) []string) {
	o.complete(cmd, flag, of, cobra.ShellCompDirectiveNoFileComp)
}

// completeFiles offers codes of the study, and files, to the completion of a flag.
func (o *studyOptions) completeFiles(cmd *cobra.Command, flag string, of func(*desk.Codes) []string) {
	o.complete(cmd, flag, of, cobra.ShellCompDirectiveDefault)
}

func (o *studyOptions) complete(
	cmd *cobra.Command, flag string, of func(*desk.Codes) []string, how cobra.ShellCompDirective,
) {
	err := cmd.RegisterFlagCompletionFunc(flag,
		func(cmd *cobra.Command, _ []string, _ string) ([]string, cobra.ShellCompDirective) {
			return of(o.codes(cmd)), how
		})
	if err != nil {
		panic(err) // a flag that the command does not have
	}
}

// completeArgs offers codes of the study to the completion of each argument.
func (o *studyOptions) completeArgs(cmd *cobra.Command, of func(*desk.Codes) []string) {
	cmd.ValidArgsFunction = func(cmd *cobra.Command, _ []string, _ string) ([]string, cobra.ShellCompDirective) {
		return of(o.codes(cmd)), cobra.ShellCompDirectiveNoFileComp
	}
}

// completeArg offers codes of the study to the completion of the first argument.
func (o *studyOptions) completeArg(cmd *cobra.Command, of func(*desk.Codes) []string) {
	cmd.ValidArgsFunction = func(cmd *cobra.Command, args []string, _ string) ([]string, cobra.ShellCompDirective) {
		if len(args) > 0 {
			return nil, cobra.ShellCompDirectiveNoFileComp
		}
		return of(o.codes(cmd)), cobra.ShellCompDirectiveNoFileComp
	}
}
