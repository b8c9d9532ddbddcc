package main

import (
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"wane/study/acceptance"
	"wane/study/desk"
	"wane/study/shown"
)

const ruleLong = `A rule of acceptance says, before the data, what a coating may lose: the quantity, the exposure
and the dose at which coupons are judged, the limit, how many coupons and how many failures, and
what an acceptance says of the product. It is a text file that the study keeps as it is.

  wane rule add FILE.yaml    keep a rule, before the first exposed reading beyond pull 0
  wane rule list             the rules, the verdicts that were issued, and what changed since
  wane rule show NAME        the text of a rule, and how well it tells good from bad
  wane rule judge [NAME...]  judge the coupons, and keep the verdicts

The verdict takes no distribution of the losses for granted. A rule that is younger than the
first exposed reading is after the fact, and all its verdicts say so.
`

func newRuleCommand() *cobra.Command {
	cmd := &cobra.Command{
		Use: "rule", Short: "acceptance rules, fixed before the data, and their verdicts", Long: ruleLong + exitCodes,
		Example: "  wane rule add loss.yaml\n  wane rule judge",
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return nil
			}
			return noCommand(cmd, args[0])
		},
		RunE: func(cmd *cobra.Command, args []string) error { return cmd.Help() },
	}
	cmd.AddCommand(newRuleAddCommand(), newRuleListCommand(), newRuleShowCommand(), newRuleJudgeCommand())
	return cmd
}

// ruleKeysHelp lists the lines of a rule.
func ruleKeysHelp() string {
	var b strings.Builder
	b.WriteString("\nThe lines of a rule, all needed but those with a default:\n")
	for _, k := range acceptance.Keys() {
		about := k.About
		if k.Default != "" {
			about += " Default: " + k.Default + "."
		}
		lines := strings.Split(wrapped(about, guideWidth-13), "\n")
		fmt.Fprintf(&b, "  %-10s %s\n", k.Name, strings.Join(lines, "\n"+strings.Repeat(" ", 13)))
	}
	return b.String()
}

func newRuleAddCommand() *cobra.Command {
	o := &studyOptions{}
	cmd := &cobra.Command{
		Use: "add FILE.yaml", Short: "keep a rule in the study, before the data",
		Example: "  wane rule add loss.yaml",
		Long: "Keep a rule in the study, as it is written, with a line in its history. A name is used once: the\n" +
			"same text again adds nothing, another text under that name is refused. What is unknown, missing\n" +
			"or in the wrong unit is refused, all of it at once, each with its line.\n" + ruleKeysHelp() + exitCodes,
		Args: exactly(1, "name one file: wane rule add loss.yaml"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return o.with(cmd.Context(), func(d *desk.Desk) error {
				rule, err := d.AddRule(cmd.Context(), args[0])
				if err != nil {
					return err
				}
				for _, note := range rule.Notes {
					if err := printLine(cmd.ErrOrStderr(), "note %s", note); err != nil {
						return err
					}
				}
				text := "added rule %s, line %d of the history"
				if !rule.Added {
					text = "known already: rule %s, line %d of the history"
				}
				return printLine(cmd.OutOrStdout(), text, rule.Name, rule.Line)
			})
		},
	}
	o.bind(cmd)
	return cmd
}

func newRuleListCommand() *cobra.Command {
	o := &studyOptions{}
	var list listOptions
	var asOf asOfOptions
	cmd := &cobra.Command{
		Use: "list", Short: "rules, verdicts as they were issued, and what changed since",
		Example: "  wane rule list\n  wane rule list --format json",
		Long: "List the rules, with the last verdict that was issued on each group. Where a correction, a fit or\n" +
			"a reading that came since makes the rule say something else now, the column changed says so;\n" +
			"wane rule judge then issues the verdict of now, and the earlier one stays.\n" +
			columnsHelp(shown.Rules()) + exitCodes,
		Args: exactly(0, "see one with wane rule show NAME"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := list.check(cmd); err != nil {
				return err
			}
			columns, err := shown.Rules().Choose(list.format, list.named)
			if err != nil {
				return err
			}
			return o.reading(cmd.Context(), func(d *desk.Desk) error {
				moment, err := asOf.moment(cmd.Context(), d)
				if err != nil {
					return err
				}
				all, err := d.Rules(cmd.Context(), desk.RuleOptions{Changes: true, AsOf: moment.Line})
				if err != nil {
					return err
				}
				out := openRows(columns, pageOf(cmd), list.format)
				for i := range all {
					for _, row := range shown.ListedRules(&all[i]) {
						if err := out.write(row); err != nil {
							return err
						}
					}
				}
				return errors.Join(out.end(), noRules(cmd, len(all)))
			})
		},
	}
	o.bind(cmd)
	asOf.bind(cmd)
	bindListing(cmd, &list, shown.Rules())
	return cmd
}

// noRules says that there are none.
func noRules(cmd *cobra.Command, n int) error {
	if n > 0 {
		return nil
	}
	return printLine(cmd.ErrOrStderr(), "note the study has no rule; write one and add it: wane rule add FILE.yaml")
}

// completeRules completes the names of rules.
func completeRules(cmd *cobra.Command, o *studyOptions, most int) {
	cmd.ValidArgsFunction = func(cmd *cobra.Command, args []string, _ string) ([]string, cobra.ShellCompDirective) {
		var names []string
		if len(args) < most {
			o.tryReading(cmd, func(d *desk.Desk) error {
				all, err := d.Rules(cmd.Context(), desk.RuleOptions{})
				for i := range all {
					names = append(names, all[i].Name)
				}
				return err
			})
		}
		return names, cobra.ShellCompDirectiveNoFileComp
	}
}
