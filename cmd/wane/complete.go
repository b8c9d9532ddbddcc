package main

import (
	"github.com/spf13/cobra"

	"wane/study/desk"
)

// codes returns the codes of the study, for the completion of a command line: none, and no
// word of it, if there is no study that can be read.
func (o *studyOptions) codes(cmd *cobra.Command) *desk.Codes {
	path, err := o.path()
	if err != nil {
		return &desk.Codes{}
	}
	ctx := cmd.Context()
	d, err := desk.OpenToRead(ctx, path, operator())
	if err != nil {
		return &desk.Codes{}
	}
	codes, err := d.Codes(ctx)
	if closing := d.Close(); err != nil || closing != nil {
		return &desk.Codes{}
	}
	return codes
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

// completeArg offers codes of the study to the completion of the first argument.
func (o *studyOptions) completeArg(cmd *cobra.Command, of func(*desk.Codes) []string) {
	cmd.ValidArgsFunction = func(cmd *cobra.Command, args []string, _ string) ([]string, cobra.ShellCompDirective) {
		if len(args) > 0 {
			return nil, cobra.ShellCompDirectiveNoFileComp
		}
		return of(o.codes(cmd)), cobra.ShellCompDirectiveNoFileComp
	}
}
