package main

import (
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"wane/study"
	"wane/study/acceptance"
	"wane/study/desk"
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

// listedRule is a rule with the last verdict on one group; without one, the rule alone.
type listedRule struct {
	*desk.RuleState
	last    *desk.Issued
	changed string
}

// ruleColumns are the columns of the list of rules. Outside programs rely on names and order.
var ruleColumns = listing[*listedRule]{
	valueColumn("rule", func(r *listedRule) any { return r.Name }).Ranked(1, "", nil),
	valueColumn("group", func(r *listedRule) any { return ofLast(r, func(v *desk.Issued) any { return v.Group }) }).
		Ranked(1, "", nil),
	valueColumn("verdict", func(r *listedRule) any { return ofLast(r, func(v *desk.Issued) any { return v.Verdict }) }).
		Ranked(1, "issued", nil),
	valueColumn("issued_line", func(r *listedRule) any { return ofLast(r, func(v *desk.Issued) any { return v.Line }) }).
		Ranked(3, "in line", nil),
	valueColumn("issued_at", func(r *listedRule) any { return ofLast(r, func(v *desk.Issued) any { return v.At }) }),
	valueColumn("data_line", func(r *listedRule) any { return ofLast(r, func(v *desk.Issued) any { return v.DataLine }) }),
	valueColumn("changed", func(r *listedRule) any { return textOrNil(r.changed) }).Ranked(2, "", nil).Folded(24),
	valueColumn("added_line", func(r *listedRule) any { return r.Line }),
	valueColumn("added_at", func(r *listedRule) any { return r.At }).
		Ranked(4, "added", func(r *listedRule) string { return r.Fixed() }),
	valueColumn("added_by", func(r *listedRule) any { return textOrNil(r.Who) }),
	valueColumn("after_the_fact", func(r *listedRule) any { return r.AfterTheFact }).Ranked(1, "after the fact", nil),
	valueColumn("quantity", func(r *listedRule) any { return r.Quantity }).Ranked(5, "", nil),
	valueColumn("weighting", func(r *listedRule) any { return r.Weighting }),
	valueColumn("condition", func(r *listedRule) any { return r.Condition }),
	valueColumn("exposure", func(r *listedRule) any { return r.Exposure }).Ranked(6, "", nil),
	valueColumn("dose", func(r *listedRule) any { return r.Dose }).Ranked(7, "", nil),
	valueColumn("dose_unit", func(r *listedRule) any { return textOrNil(r.DoseUnit) }),
	valueColumn("by", func(r *listedRule) any { return r.By }),
	valueColumn("limit", func(r *listedRule) any { return r.Limit }).Ranked(5, "", nil),
	valueColumn("unit", func(r *listedRule) any { return textOrNil(r.Unit) }).Ranked(5, "", nil),
	valueColumn("n", func(r *listedRule) any { return r.Coupons }).Ranked(6, "", nil),
	valueColumn("failures", func(r *listedRule) any { return r.Failures }),
	valueColumn("share", func(r *listedRule) any { return orNil(study.Num(r.Share)) }),
	valueColumn("confidence", func(r *listedRule) any { return orNil(study.Num(r.Confidence)) }),
	valueColumn("looks", func(r *listedRule) any { return r.Looks }),
	valueColumn("lost", func(r *listedRule) any {
		if len(r.Lost) == 0 {
			return []string{"fail"}
		}
		return r.Lost
	}),
}

func ofLast(r *listedRule, of func(*desk.Issued) any) any {
	if r.last == nil {
		return nil
	}
	return of(r.last)
}

// listed returns a row for each rule and group on which a verdict was issued.
func listed(s *desk.RuleState) (rows []*listedRule) {
	at := map[string]*listedRule{}
	for i := range s.Issued {
		v := &s.Issued[i]
		if at[v.Group] == nil {
			at[v.Group] = &listedRule{RuleState: s}
			rows = append(rows, at[v.Group])
		}
		at[v.Group].last = v
	}
	for i := range s.Now {
		if r := at[s.Now[i].Group]; r != nil {
			r.changed = s.Now[i].Changed()
		}
	}
	if len(rows) == 0 {
		rows = append(rows, &listedRule{RuleState: s})
	}
	return rows
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
			columnsHelp(ruleColumns) + exitCodes,
		Args: exactly(0, "see one with wane rule show NAME"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := list.check(cmd); err != nil {
				return err
			}
			columns, err := ruleColumns.Choose(list.format, list.named)
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
					for _, row := range listed(&all[i]) {
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
	bindListing(cmd, &list, ruleColumns)
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
