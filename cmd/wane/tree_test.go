package main

import (
	"regexp"
	"testing"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
	"github.com/stretchr/testify/assert"
)

// Every command of ours has an example and says its exit codes; every flag says
// what it does, and no short flag is taken twice.
func TestCommandTree(t *testing.T) {
	var walk func(cmd *cobra.Command)
	walk = func(cmd *cobra.Command) {
		assert.NotEmpty(t, cmd.Short, cmd.CommandPath())
		assert.NotEmpty(t, cmd.Example, cmd.CommandPath())
		assert.Contains(t, cmd.Long, "Exit codes", cmd.CommandPath())
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
