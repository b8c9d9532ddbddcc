package web

import (
	"fmt"

	"wane/study"
	"wane/study/shown"
)

// addRule keeps a rule in the study.
func (s *Server) addRule(q *request) (answer, error) {
	d, err := q.desk()
	if err != nil {
		return nil, err
	}
	return s.withTables(q, "rule.yaml", func(t *tray) (answer, error) {
		if len(t.Files) != 1 {
			return nil, oneRule()
		}
		rule, err := d.AddRule(q.Context(), t.at(t.Files[0]))
		if err != nil {
			return nil, err
		}
		text := "added rule %s, line %d of the history"
		if !rule.Added {
			text = "known already: rule %s, line %d of the history"
		}
		return &done{To: rulesAt, Said: fmt.Sprintf(text, rule.Name, rule.Line), Notes: t.plainAll(rule.Notes)}, nil
	})
}

// judgeRules judges the coupons by the rules, and keeps the verdicts.
func (s *Server) judgeRules(q *request) (answer, error) {
	d, err := q.desk()
	if err != nil {
		return nil, err
	}
	var names []string
	if name := q.PostFormValue("rule"); name != "" {
		names = []string{name}
	}
	all, err := d.JudgeRules(q.Context(), names)
	if err != nil {
		return nil, err
	}
	out := &done{To: rulesAt}
	n := 0
	for i := range all {
		for k := range all[i].Now {
			v := &all[i].Now[k]
			out.Notes = append(out.Notes, fmt.Sprintf("%s by rule %s: %s", v.Row.Group, v.Row.Rule, v.Row.Sentence))
			n++
		}
	}
	out.Said = "judged: " + shown.Count(n, "verdict")
	return out, nil
}

func oneRule() error {
	return &study.Refusal{Fault: "one rule is added at once", Try: "choose one file, or write the rule on the page"}
}
