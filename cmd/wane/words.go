package main

import (
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"wane/optics"
	"wane/study"
)

var (
	backWords         = wordsOf(optics.Matched, optics.Blackened, optics.Bare, optics.Coated, optics.Laminated)
	mixingWords       = wordsOf(optics.Bruggeman, optics.MaxwellGarnett, optics.LorentzLorenz, optics.VolumeAverage)
	polarisationWords = []string{"s", "p", "u", "n"}
	formats           = []string{"table", "json", "csv"}
)

func wordsOf[T fmt.Stringer](values ...T) []string {
	words := make([]string, len(values))
	for i, v := range values {
		words[i] = v.String()
	}
	return words
}

// oneOf refuses a flag's value that is not among words.
func oneOf(flag, value string, words []string) error {
	if slices.Contains(words, value) {
		return nil
	}
	known := slices.DeleteFunc(slices.Clone(words), func(w string) bool { return w == "" })
	if value == "" && flag == "back" {
		return usagef("write for example --"+flag+" "+known[0],
			"--%s is not given; it has no default and must be one of %s", flag, strings.Join(known, ", "))
	}
	return usagef(study.DidYouMean(value, known, "write for example --"+flag+" "+known[0]),
		"--%s must be one of %s, not %q", flag, strings.Join(known, ", "), value)
}

// completeWords offers fixed words to the shell's completion of flags.
func completeWords(cmd *cobra.Command, flags map[string][]string) {
	for name, words := range flags {
		err := cmd.RegisterFlagCompletionFunc(name, cobra.FixedCompletions(words, cobra.ShellCompDirectiveNoFileComp))
		if err != nil {
			panic(err) // a flag that the command does not have
		}
	}
}

func bindFormat(cmd *cobra.Command, format *string) {
	cmd.Flags().StringVar(format, "format", "table", "table, json or csv")
	completeWords(cmd, map[string][]string{"format": formats})
}

// completeLists offers words to the completion of a flag that takes several, with commas.
func completeLists(cmd *cobra.Command, flag string, words func() []string) {
	complete := func(_ *cobra.Command, _ []string, typed string) ([]string, cobra.ShellCompDirective) {
		before := typed[:strings.LastIndex(typed, ",")+1]
		var all []string
		for _, w := range words() {
			all = append(all, before+w)
		}
		return all, cobra.ShellCompDirectiveNoFileComp | cobra.ShellCompDirectiveNoSpace
	}
	if err := cmd.RegisterFlagCompletionFunc(flag, complete); err != nil {
		panic(err) // a flag that the command does not have
	}
}
