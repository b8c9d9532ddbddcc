package main

import (
	"regexp"
	"strings"
	"testing"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Every command of ours has an example and says its exit codes; every flag says
// what it does, and no short flag is taken twice.
func TestCommandTree(t *testing.T) {
	var walk func(cmd *cobra.Command)
	walk = func(cmd *cobra.Command) {
		assert.NotEmpty(t, cmd.Short, cmd.CommandPath())
		assert.NotEmpty(t, cmd.Example, cmd.CommandPath())
		assert.Contains(t, cmd.Long, "Exit codes", cmd.CommandPath())
		assert.NotContains(t, cmd.Long, "\t", "%s: a line that is no help", cmd.CommandPath())
		for _, file := range regexp.MustCompile(`testdata/\S+`).FindAllString(cmd.Example, -1) {
			assert.FileExists(t, "../../"+file, "an example of %s", cmd.CommandPath())
		}
		short := map[string]bool{}
		cmd.Flags().VisitAll(func(f *pflag.Flag) {
			assert.NotEmpty(t, f.Usage, "%s --%s", cmd.CommandPath(), f.Name)
			if f.Shorthand != "" {
				assert.False(t, short[f.Shorthand], "%s -%s twice", cmd.CommandPath(), f.Shorthand)
				short[f.Shorthand] = true
			}
		})
		for _, sub := range cmd.Commands() {
			walk(sub)
		}
	}
	walk(newRootCommand())
}

// The commands that the library adds speak as ours do.
func TestLibraryHelpIsReworded(t *testing.T) {
	var out, errs strings.Builder
	for _, args := range [][]string{{"--help"}, {"help", "help"}, {"completion", "--help"},
		{"completion", "fish", "--help"}} {
		require.Equal(t, 0, run(t.Context(), args, &out, &errs), errs.String())
	}
	for _, theirs := range []string{"Generate the autocompletion", "Help provides help", "Help about any command",
		"help for ", "Simply type"} {
		assert.NotContains(t, out.String(), theirs)
	}
	assert.Contains(t, out.String(), "wane completion fish | source")
}
