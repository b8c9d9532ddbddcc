package desk

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"

	"wane/study"
	"wane/study/store"
)

// verdicts are what the study says of sessions and of rows of results at one moment, and by its rules.
type verdicts struct {
	sessions []SessionCheck
	rows     []rowVerdict
	rules    map[string]string // by rule and group, of those on which a verdict was issued
}

// rowVerdict is what a row of results says, in the words of rowFields.
type rowVerdict struct {
	unit study.Unit
	said [4]string
}

// rowFields are the columns of results that are compared.
var rowFields = [...]string{"flags", "state", "dose", "corrected_change_pp"}

// verdicts returns what is said of all sessions and, with rows, of all rows of results by the fits as they are, and by
// the rules of which a verdict was issued.
func (d *Desk) verdicts(ctx context.Context, v *store.View, rows bool) (*verdicts, error) {
	roster, err := v.Roster()
	if err != nil {
		return nil, err
	}
	out := &verdicts{}
	if out.sessions, err = sessionChecks(v, roster); err != nil || !rows {
		return out, err
	}
	err = d.results(ctx, v, roster, ResultsOptions{}, func(r *study.Result) error {
		out.rows = append(out.rows, rowVerdict{
			unit: study.Unit{Coupon: r.Coupon, Pull: int(r.Pull), Spot: r.Spot, Condition: r.Condition},
			said: [...]string{wordOrNone(strings.Join(r.Flags, " ")), wordOrNone(string(r.State)), numberWords("%g", r.Dose),
				numberWords("%.3f", r.CorrectedChange.Value)},
		})
		return nil
	})
	if err == nil {
		out.rules, err = d.ruleVerdicts(ctx, v)
	}
	return out, err
}

// ruleVerdicts returns what each rule says of the groups on which a verdict was issued; nothing of a rule that cannot
// be judged.
func (d *Desk) ruleVerdicts(ctx context.Context, v *store.View) (map[string]string, error) {
	all, err := d.rules(ctx, v, RuleOptions{})
	if err != nil || len(all) == 0 {
		return nil, err
	}
	roster, err := v.Roster()
	if err != nil {
		return nil, err
	}
	said := map[string]string{}
	for i := range all {
		s := &all[i]
		if len(s.Issued) == 0 {
			continue
		}
		var cannot *study.Refusal
		if err := d.judgeNow(ctx, v, roster, s, 0); err != nil && !errors.As(err, &cannot) {
			return nil, err
		}
		for k := range s.Now {
			if n := &s.Now[k]; n.Last != nil {
				said[fmt.Sprintf("rule %s, %s", s.Name, n.Group)] = n.Row.said()
			}
		}
	}
	return said, nil
}

// said is the verdict of a row, and whether the rule is void.
func (r *VerdictRow) said() string {
	if r.Void {
		return r.Verdict + " (the rule is void)"
	}
	return r.Verdict
}

// wordOrNone is a text, and a word for none.
func wordOrNone(text string) string {
	if text == "" {
		return "none"
	}
	return text
}

// numberWords writes a number, and a word for null.
func numberWords(format string, n study.Num) string {
	if !n.Valid() {
		return "none"
	}
	return fmt.Sprintf(format, float64(n))
}

// changesTo returns what is said otherwise now: first of sessions, then by rules, then of rows.
func (before *verdicts) changesTo(now *verdicts) (all []Change) {
	was := map[string]string{}
	for i := range before.sessions {
		was[before.sessions[i].Session.Session] = before.sessions[i].verdict()
	}
	for i := range now.sessions {
		s := &now.sessions[i]
		if old, known := was[s.Session.Session]; known && old != s.verdict() {
			all = append(all, Change{What: "session " + s.Session.Session, Field: "check", Was: old, Becomes: s.verdict()})
		}
	}
	for _, of := range slices.Sorted(maps.Keys(before.rules)) {
		if was, is := before.rules[of], wordOrNone(now.rules[of]); was != is {
			all = append(all, Change{What: of, Field: "verdict", Was: was, Becomes: is})
		}
	}
	rows := map[study.Unit]rowVerdict{}
	for _, r := range now.rows {
		rows[r.unit] = r
	}
	for _, old := range before.rows {
		what := fmt.Sprintf("results of %s", describeUnit(old.unit))
		is, there := rows[old.unit]
		if !there {
			all = append(all, Change{What: what, Field: "row", Was: "there", Becomes: "none"})
			continue
		}
		for i, field := range rowFields {
			if old.said[i] != is.said[i] {
				all = append(all, Change{What: what, Field: field, Was: old.said[i], Becomes: is.said[i]})
			}
		}
	}
	return all
}

// verdict is what the check says of a session, with its reasons.
func (s *SessionCheck) verdict() string {
	if s.Trust {
		return "trust"
	}
	return "do not trust (" + s.Why + ")"
}
