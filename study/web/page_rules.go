package web

import (
	"context"
	"fmt"

	"wane/study"
	"wane/study/desk"
	"wane/study/drawn"
	"wane/study/shown"
)

// rulesPage is the list of rules with their verdicts.
type rulesPage struct {
	Rules *grid
	Lines []string // what changed
}

// readRules reads all rules, with what they say by the study as it is.
func (s *Server) readRules(ctx context.Context) ([]desk.RuleState, error) {
	return s.desk.Rules(ctx, desk.RuleOptions{Changes: true})
}

// rules is the page of rules.
func (s *Server) rules(q *request) (answer, error) {
	all, upTo, err := s.whole.rules.get(q.Context(), q.head.Number)
	if err != nil {
		return nil, err
	}
	var rows []*shown.ListedRule
	for i := range all {
		rows = append(rows, shown.ListedRules(&all[i])...)
	}
	p := &rulesPage{Lines: shown.RuleLines(all)}
	p.Rules = gridOf("Rules and their last verdicts, as they were issued", shown.Rules().Table(), rows,
		func(column string, r *shown.ListedRule) string {
			if column == "rule" {
				return ruleAt(r.Name)
			}
			return ""
		})
	return &view{Name: "rules", Title: "Rules", Topic: "acceptance", Nav: rulesAt, Data: p, UpTo: upTo,
		Rows: rowsFile(shown.Rules(), rows)}, nil
}

// rulePage is one rule.
type rulePage struct {
	*desk.RuleState
	Added   string
	Picture picture
	Now     []string
}

// rule is the page of a rule.
func (s *Server) rule(q *request) (answer, error) {
	all, upTo, err := s.whole.rules.get(q.Context(), q.head.Number)
	if err != nil {
		return nil, err
	}
	name := q.PathValue("rule")
	var names []string
	for i := range all {
		r := &all[i]
		names = append(names, r.Name)
		if r.Name != name {
			continue
		}
		p := &rulePage{RuleState: r, Added: fmt.Sprintf("Added in line %d of the log on %s by %s.", r.Line, r.Fixed(),
			study.Shown(shown.Dash(r.Who))), Now: shown.RuleLines(all[i : i+1])}
		f := drawn.Characteristic(r.Rule)
		if f.Stamp, err = s.desk.Stamp(q.Context(), 0); err != nil {
			return nil, err
		}
		if q.format == "" {
			if p.Picture, err = pictureOf(q.Context(), f); err != nil {
				return nil, err
			}
		}
		return &view{Name: "rule", Title: "Rule " + name, Topic: "acceptance", Nav: rulesAt, Data: p, UpTo: upTo,
			File: "rule-" + name, Figure: f.Write, Rows: rowsFile(shown.Rules(), shown.ListedRules(r))}, nil
	}
	return nil, absent(&study.Refusal{Fault: "there is no rule " + study.Shown(name),
		Try: study.DidYouMean(name, names, "choose one of the page of rules")})
}
