package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"wane/study"
	"wane/study/desk"
	"wane/study/drawn"
)

const ruleShowLong = `Print a rule: when it was added and by whom, its text, the verdicts that were issued by it, and
its operating characteristic: the chance that it accepts a product, by the share of the product
that conforms. The chance is the largest that can be: all that does not conform lies at the limit, and
passes in 5 % of the cases. Beside it stands the chance if losses were read without error.

--figure FILE draws the characteristic (.svg, .png or .pdf). --format yaml prints the text alone, --format json all but
the changes as one object.
`

func newRuleShowCommand() *cobra.Command {
	o := &studyOptions{}
	var format, figure string
	formats := []string{"page", "yaml", "json"}
	cmd := &cobra.Command{
		Use: "show NAME", Short: "print a rule, its verdicts and its operating characteristic",
		Example: "  wane rule show loss-1\n  wane rule show loss-1 --figure loss-1.svg",
		Long:    ruleShowLong + exitCodes,
		Args:    exactly(1, "name one that wane rule list shows"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := errors.Join(oneOf("format", format, formats), checkFigure(figure)); err != nil {
				return err
			}
			return o.reading(cmd.Context(), func(d *desk.Desk) error {
				all, err := d.Rules(cmd.Context(), desk.RuleOptions{Names: args, Changes: true})
				if err != nil {
					return err
				}
				s := &all[0]
				if figure != "" {
					f := drawn.Characteristic(s.Rule)
					if f.Stamp, err = d.Stamp(cmd.Context(), 0); err != nil {
						return err
					}
					if err := drawFigure(cmd, d, figure, f); err != nil {
						return err
					}
				}
				switch format {
				case "yaml":
					_, err := io.WriteString(cmd.OutOrStdout(), s.Text)
					return err
				case "json":
					return writeRuleJSON(cmd.OutOrStdout(), s)
				}
				return showRule(pageOf(cmd), s)
			})
		},
	}
	o.bind(cmd)
	cmd.Flags().StringVar(&format, "format", "page", "page, yaml or json")
	cmd.Flags().StringVar(&figure, "figure", "", "draw the operating characteristic into FILE.svg, FILE.png or FILE.pdf")
	completeWords(cmd, map[string][]string{"format": formats})
	completeRules(cmd, o, 1)
	return cmd
}

// shownShares are the shares of a product at which the characteristic is printed.
var shownShares = []float64{0.5, 0.6, 0.7, 0.8, 0.85, 0.9, 0.95, 0.98, 0.99, 0.995, 0.999, 1}

func showRule(p page, s *desk.RuleState) error {
	lines := []string{fmt.Sprintf("rule %s, added in line %d of the history on %s%s", s.Name, s.Line, s.Fixed(),
		by(s.Who))}
	switch {
	case s.AfterTheFact:
		lines = append(lines, fmt.Sprintf("after the fact: the first exposed reading beyond the baseline (coupon %s at "+
			"pull %d) came in line %d, before the rule", s.First.Coupon, s.First.Pull, s.First.Line))
	case s.First != nil:
		lines = append(lines, fmt.Sprintf("before the first exposed reading beyond the baseline (coupon %s at pull %d), "+
			"which came in line %d", s.First.Coupon, s.First.Pull, s.First.Line))
	default:
		lines = append(lines, "no exposed reading beyond the baseline has come yet")
	}
	for _, line := range lines {
		if err := writeWrapped(p, "", line); err != nil {
			return err
		}
	}
	if err := writeLine(p, ""); err != nil {
		return err
	}
	if err := writeRuleText(p, s.Text); err != nil {
		return err
	}
	if err := writeLines(p, "", "chance to be accepted, by the share of the product that conforms:"); err != nil {
		return err
	}
	out := newTable(p, tableColumn{name: "share", rank: 1}, tableColumn{name: "at most", rank: 1},
		tableColumn{name: "read without error", rank: 1})
	for _, c := range s.Curve(shownShares) {
		if err := out.row(fmt.Sprintf("%g", c.Conforming), fmt.Sprintf("%.4f", c.Accepted),
			fmt.Sprintf("%.4f", c.Certain)); err != nil {
			return err
		}
	}
	if err := out.end(); err != nil {
		return err
	}
	return showIssued(p, s)
}

// writeRuleJSON prints a rule as one object.
func writeRuleJSON(w io.Writer, s *desk.RuleState) error {
	type point struct {
		Share    float64 `json:"share"`
		Accepted float64 `json:"accepted_at_most"`
		Certain  float64 `json:"accepted_without_error"`
	}
	type issued struct {
		Line int64  `json:"issued_line"`
		At   string `json:"issued_at"`
		desk.VerdictRow
	}
	object := struct {
		Rule         string   `json:"rule"`
		Line         int64    `json:"added_line"`
		At           string   `json:"added_at"`
		Who          any      `json:"added_by"`
		AfterTheFact bool     `json:"after_the_fact"`
		Text         string   `json:"text"`
		Curve        []point  `json:"characteristic"`
		Verdicts     []issued `json:"verdicts"`
	}{s.Name, s.Line, s.At, orEmpty(s.Who), s.AfterTheFact, s.Text, []point{}, []issued{}}
	for _, c := range s.Curve(shownShares) {
		object.Curve = append(object.Curve, point{c.Conforming, c.Accepted, c.Certain})
	}
	for i := range s.Issued {
		object.Verdicts = append(object.Verdicts, issued{s.Issued[i].Line, s.Issued[i].At, s.Issued[i].VerdictRow})
	}
	encoder := json.NewEncoder(w)
	encoder.SetEscapeHTML(false)
	encoder.SetIndent("", " ")
	return encoder.Encode(object)
}

// by is who did something, if that is known.
func by(who string) string {
	if who == "" {
		return ""
	}
	return " by " + study.Shown(who)
}

// writeRuleText prints the text of a rule, its lines as they are.
func writeRuleText(p page, text string) error {
	for line := range strings.Lines(text) {
		if err := printLine(p, "  %s", strings.TrimRight(line, "\r\n")); err != nil {
			return err
		}
	}
	return nil
}

func showIssued(p page, s *desk.RuleState) error {
	confidence, n := s.Least()
	if s.Drawn() {
		text := fmt.Sprintf("if all pass that have to, %d coupons give a confidence of %.3f that more than %g of the "+
			"product conforms", s.Coupons,
			confidence, s.Share)
		if confidence < s.Confidence && n > 0 {
			text += fmt.Sprintf("; %g takes %d coupons", s.Confidence, n)
		}
		if err := writeWrapped(p, "", text); err != nil {
			return err
		}
	}
	for i := range s.Issued {
		v := &s.Issued[i]
		line := fmt.Sprintf("verdict of line %d, %s, on data up to line %d: %s %s: %s", v.Line, v.At, v.DataLine,
			v.Group, v.Verdict, v.Why)
		if err := writeWrapped(p, "", line); err != nil {
			return err
		}
	}
	for i := range s.Now {
		if changed := s.Now[i].Changed(); changed != "" {
			if err := writeWrapped(p, "", s.Now[i].Group+": "+changed); err != nil {
				return err
			}
		}
	}
	return nil
}
