package shown

import (
	"fmt"
	"math"

	"wane/study"
	"wane/study/desk"
)

// ListedRule is a rule with the last verdict on one group; without one, the rule alone.
type ListedRule struct {
	*desk.RuleState
	last    *desk.Issued
	changed string
}

// Rules is the columns of the list of rules. Outside programs rely on names and order.
func Rules() List[*ListedRule] {
	return List[*ListedRule]{
		Value("rule", func(r *ListedRule) any { return r.Name }).Ranked(1, "", nil),
		Value("group", func(r *ListedRule) any { return ofLast(r, func(v *desk.Issued) any { return v.Group }) }).
			Ranked(1, "", nil),
		Value("verdict", func(r *ListedRule) any { return ofLast(r, func(v *desk.Issued) any { return v.Verdict }) }).
			Ranked(1, "issued", nil),
		Value("issued_line", func(r *ListedRule) any { return ofLast(r, func(v *desk.Issued) any { return v.Line }) }).
			Ranked(3, "in line", nil),
		Value("issued_at", func(r *ListedRule) any { return ofLast(r, func(v *desk.Issued) any { return v.At }) }),
		Value("data_line", func(r *ListedRule) any { return ofLast(r, func(v *desk.Issued) any { return v.DataLine }) }),
		Value("changed", func(r *ListedRule) any { return OrEmpty(r.changed) }).Ranked(2, "", nil).Folded(24),
		Value("added_line", func(r *ListedRule) any { return r.Line }),
		Value("added_at", func(r *ListedRule) any { return r.At }).
			Ranked(4, "added", func(r *ListedRule) string { return r.Fixed() }),
		Value("added_by", func(r *ListedRule) any { return OrEmpty(r.Who) }),
		Value("after_the_fact", func(r *ListedRule) any { return r.AfterTheFact }).Ranked(1, "after the fact", nil),
		Value("quantity", func(r *ListedRule) any { return r.Quantity }).Ranked(5, "", nil),
		Value("weighting", func(r *ListedRule) any { return r.Weighting }),
		Value("condition", func(r *ListedRule) any { return r.Condition }),
		Value("exposure", func(r *ListedRule) any { return r.Exposure }).Ranked(6, "", nil),
		Value("dose", func(r *ListedRule) any { return r.Dose }).Ranked(7, "", nil),
		Value("dose_unit", func(r *ListedRule) any { return OrEmpty(r.DoseUnit) }),
		Value("by", func(r *ListedRule) any { return r.By }),
		Value("limit", func(r *ListedRule) any { return r.Limit }).Ranked(5, "", nil),
		Value("unit", func(r *ListedRule) any { return OrEmpty(r.Unit) }).Ranked(5, "", nil),
		Value("n", func(r *ListedRule) any { return r.Coupons }).Ranked(6, "", nil),
		Value("failures", func(r *ListedRule) any { return r.Failures }),
		Value("share", func(r *ListedRule) any { return OrNil(study.Num(r.Share)) }),
		Value("confidence", func(r *ListedRule) any { return OrNil(study.Num(r.Confidence)) }),
		Value("looks", func(r *ListedRule) any { return r.Looks }),
		Value("lost", func(r *ListedRule) any {
			if len(r.Lost) == 0 {
				return []string{"fail"}
			}
			return r.Lost
		}),
	}
}

func ofLast(r *ListedRule, of func(*desk.Issued) any) any {
	if r.last == nil {
		return nil
	}
	return of(r.last)
}

// ListedRules returns a row for each rule and group on which a verdict was issued.
func ListedRules(s *desk.RuleState) (rows []*ListedRule) {
	at := map[string]*ListedRule{}
	for i := range s.Issued {
		v := &s.Issued[i]
		if at[v.Group] == nil {
			at[v.Group] = &ListedRule{RuleState: s}
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
		rows = append(rows, &ListedRule{RuleState: s})
	}
	return rows
}

// RuleVerdicts is the columns of verdicts. Outside programs rely on names and order.
func RuleVerdicts() List[*desk.RuleVerdict] {
	return List[*desk.RuleVerdict]{
		Value("rule", func(v *desk.RuleVerdict) any { return v.Row.Rule }).Ranked(1, "", nil),
		Value("group", func(v *desk.RuleVerdict) any { return v.Row.Group }).Ranked(1, "", nil),
		Value("verdict", func(v *desk.RuleVerdict) any { return v.Row.Verdict }).Ranked(1, "", nil),
		Value("quantity", func(v *desk.RuleVerdict) any { return v.Row.Quantity }).Ranked(5, "", nil),
		Value("limit", func(v *desk.RuleVerdict) any { return v.Row.Limit }).Ranked(3, "",
			func(v *desk.RuleVerdict) string {
				return fmt.Sprintf("%g %s", v.Row.Limit, v.Row.Unit)
			}),
		Value("n", func(v *desk.RuleVerdict) any { return v.Row.N }).Ranked(2, "", nil),
		verdictNumber("worst", 3, func(r *desk.VerdictRow) study.Num { return r.Worst }),
		verdictNumber("mean", 4, func(r *desk.VerdictRow) study.Num { return r.Mean }),
		verdictNumber("lower", 0, func(r *desk.VerdictRow) study.Num { return r.Lower }),
		verdictNumber("upper", 0, func(r *desk.VerdictRow) study.Num { return r.Upper }),
		verdictNumber("share", 4, func(r *desk.VerdictRow) study.Num { return r.Share }),
		verdictNumber("confidence", 2, func(r *desk.VerdictRow) study.Num { return r.Confidence }),
		Value("after_the_fact", func(v *desk.RuleVerdict) any { return v.Row.AfterTheFact }).
			Ranked(2, "after the fact", nil),
		Value("why", func(v *desk.RuleVerdict) any { return v.Row.Why }).Ranked(1, "", nil).Folded(30),
		Value("unit", func(v *desk.RuleVerdict) any { return OrEmpty(v.Row.Unit) }),
		Value("weighting", func(v *desk.RuleVerdict) any { return v.Row.Weighting }),
		Value("exposure", func(v *desk.RuleVerdict) any { return v.Row.Exposure }),
		Value("dose", func(v *desk.RuleVerdict) any { return v.Row.Dose }),
		Value("dose_unit", func(v *desk.RuleVerdict) any { return OrEmpty(v.Row.DoseUnit) }),
		Value("passed", func(v *desk.RuleVerdict) any { return v.Row.Passed }),
		Value("straddling", func(v *desk.RuleVerdict) any { return v.Row.Straddling }),
		Value("failed", func(v *desk.RuleVerdict) any { return v.Row.Failed }),
		Value("lost", func(v *desk.RuleVerdict) any { return v.Row.Lost }),
		Value("missing", func(v *desk.RuleVerdict) any { return v.Row.Missing }),
		Value("not_counted", func(v *desk.RuleVerdict) any { return v.Row.NotCounted }),
		Value("lots", func(v *desk.RuleVerdict) any { return append([]string{}, v.Row.Lots...) }),
		verdictNumber("df", 0, func(r *desk.VerdictRow) study.Num { return r.MeanDoF }),
		Value("looks", func(v *desk.RuleVerdict) any { return v.Row.Looks }),
		Value("void", func(v *desk.RuleVerdict) any { return v.Row.Void }),
		verdictNumber("u_that_decides", 0, func(r *desk.VerdictRow) study.Num { return r.DecidingU }),
		Value("new_n", func(v *desk.RuleVerdict) any { return v.Row.NewN }),
		Value("new_failures", func(v *desk.RuleVerdict) any { return v.Row.NewFailures }),
		verdictNumber("normal_factor", 0, func(r *desk.VerdictRow) study.Num { return r.NormalFactor }),
		verdictNumber("normal_bound", 0, func(r *desk.VerdictRow) study.Num { return r.NormalBound }),
		verdictNumber("normal_quality", 0, func(r *desk.VerdictRow) study.Num { return r.NormalQuality }),
		verdictNumber("normal_beyond", 0, func(r *desk.VerdictRow) study.Num { return r.NormalBeyond }),
		verdictNumber("normal_consumer_risk", 0, func(r *desk.VerdictRow) study.Num { return r.NormalConsumer }),
		verdictNumber("normal_producer_risk", 0, func(r *desk.VerdictRow) study.Num { return r.NormalProducer }),
		Value("data_line", func(v *desk.RuleVerdict) any { return v.Row.DataLine }),
		Value("issued_line", func(v *desk.RuleVerdict) any { return v.Last.Line }),
		Value("rule_added", func(v *desk.RuleVerdict) any { return v.Row.Fixed }),
		Value("notes", func(v *desk.RuleVerdict) any { return append([]string{}, v.Row.Notes...) }),
		Value("sentence", func(v *desk.RuleVerdict) any { return v.Row.Sentence }),
	}
}

func verdictNumber(name string, rank int, of func(*desk.VerdictRow) study.Num) Column[*desk.RuleVerdict] {
	c := Value(name, func(v *desk.RuleVerdict) any { return OrNil(of(&v.Row)) })
	if rank == 0 {
		return c
	}
	return c.Ranked(rank, "", func(v *desk.RuleVerdict) string {
		n := of(&v.Row)
		if !n.Valid() {
			return "-"
		}
		if name == "confidence" { // rounded down
			return fmt.Sprintf("%.3f", math.Floor(1000*float64(n))/1000)
		}
		return fmt.Sprintf("%.3g", float64(n))
	})
}
