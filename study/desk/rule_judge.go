package desk

import (
	"context"
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"strings"

	"wane/study"
	"wane/study/acceptance"
	"wane/study/series"
	"wane/study/store"
)

// ruleVerb is what lines of the log say that add a rule or issue verdicts.
const ruleVerb = "rule"

// JudgeRules judges the rules of these names, none: all, by the study as it is, and keeps each verdict with the line of
// the log of its data. A verdict on the same data as the last one on its group is not kept again.
func (d *Desk) JudgeRules(ctx context.Context, names []string) (all []RuleState, err error) {
	err = d.store.View(ctx, func(v *store.View) error {
		if all, err = d.rules(ctx, v, RuleOptions{Names: names, Judge: true}); err != nil {
			return err
		}
		if len(all) == 0 {
			return &study.Refusal{Fault: "the study has no rule", Try: "write one and add it: wane rule add FILE.yaml"}
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	entry := d.entry(ruleVerb, "")
	err = d.write(ctx, entry, func(tx *store.Tx) error {
		var words []string
		for i := range all {
			for k := range all[i].Now {
				v := &all[i].Now[k]
				if v.Last != nil && !v.Differs {
					continue
				}
				if err := issue(tx, all[i].number, v); err != nil {
					return err
				}
				late := ""
				if v.Row.AfterTheFact {
					late = " (after the fact)"
				}
				words = append(words, fmt.Sprintf("%s by rule %s: %s%s", v.Group, v.Rule.Name, v.Row.Verdict, late))
			}
		}
		entry.Summary = "judged " + strings.Join(words, "; ")
		return nil
	})
	if err != nil {
		return nil, err
	}
	kept, err := d.Rules(ctx, RuleOptions{Names: names})
	for i := range kept {
		for k := range all {
			if all[k].number == kept[i].number {
				all[k].issuedNow(kept[i].Issued)
			}
		}
	}
	return all, err
}

// issuedNow takes the verdicts that were issued up to now.
func (s *RuleState) issuedNow(issued []Issued) {
	s.Issued = issued
	for i := range s.Now {
		v := &s.Now[i]
		for k := range issued {
			if issued[k].Group == v.Group {
				v.Last = &issued[k]
			}
		}
		v.Differs = v.Last.digest != v.digest
	}
}

// issue keeps a verdict.
func issue(tx *store.Tx, rule int64, v *RuleVerdict) error {
	row, err := json.Marshal(&v.Row)
	if err != nil {
		return err
	}
	looked, err := json.Marshal(v.looked)
	if err != nil {
		return err
	}
	return tx.AddVerdict(rule, study.IssuedVerdict{Group: v.Group, Line: v.Row.DataLine, Digest: v.digest,
		Verdict: v.Row.Verdict, Looked: string(looked), Row: string(row)})
}

// judgeNow judges a rule by the study as it is.
func (d *Desk) judgeNow(ctx context.Context, v *store.View, roster *study.Roster, s *RuleState, workers int) error {
	q, err := FindQuantity(s.Quantity)
	if err != nil {
		return err
	}
	last, err := v.LastLine()
	if err != nil {
		return err
	}
	data, err := d.series(ctx, v, roster, []series.Quantity{q}, SeriesOptions{AsFound: s.AsFound(), Workers: workers,
		Keep: func(c *series.Coupon) bool { return c.Exposure == s.Exposure }})
	if err != nil {
		return err
	}
	judged := acceptance.Judge(s.Rule, data[0])
	if len(judged) == 0 {
		return &study.Refusal{
			Fault: fmt.Sprintf("the rule %s cannot be judged: no exposed coupon is enrolled in exposure %s", s.Name, s.Exposure),
			Try:   "enrol its coupons: wane enrol FILE.csv"}
	}
	for _, j := range judged {
		r := RuleVerdict{Judgement: j, digest: digestOf(s, j)}
		if r.looked, err = looksOf(v, j); err != nil {
			return err
		}
		var groups []Issued
		for i := range s.Issued {
			if s.Issued[i].Group == j.Group {
				groups = append(groups, s.Issued[i])
			}
		}
		if len(groups) > 0 {
			r.Last = &groups[len(groups)-1]
			r.Differs = r.Last.digest != r.digest
			if r.Since, err = linesSince(v, r.Last.DataLine); err != nil {
				return err
			}
		}
		s.finish(&r)
		r.Row = verdictRow(s, j, last)
		if r.Last != nil && !r.Differs {
			r.Row = r.Last.VerdictRow
		}
		s.Now = append(s.Now, r)
	}
	return nil
}

// finish adds to a judgement what is known of its rule and of the looks before it. A look counts when as many coupons
// were read, or had ended, as the rule asks for, and when it brings a reading that no look before it had; a correction
// alone is none.
func (s *RuleState) finish(r *RuleVerdict) {
	j := r.Judgement
	j.Looks = s.looksAt(r)
	j.AfterTheFact = s.AfterTheFact
	if j.Looks > s.Looks {
		j.Void = true
		j.Verdict, j.Confidence = acceptance.Undecided, math.NaN()
		j.Why = fmt.Sprintf("the rule is void: this is look %d, and it allows %d; what helps: a new rule for new coupons; "+
			"verdicts that were issued before stand", j.Looks, s.Looks)
	}
	if s.AfterTheFact {
		j.Notes = append([]string{s.afterTheFact()}, j.Notes...)
	} else if day := earliest(j); day != "" && day < s.Fixed() {
		j.Predated = day
		j.Notes = append(j.Notes, fmt.Sprintf("a reading that is judged, or its pull, is dated %s, before the rule was "+
			"added on %s: who wrote the rule may have known it", day, s.Fixed()))
	}
}

// looksAt counts the looks at a group, with that of now. What was looked at under another group, from which an
// amendment took a coupon, was looked at; it is no look at this group. Verdicts of one line of the log are one look.
func (s *RuleState) looksAt(r *RuleVerdict) (looks int) {
	seen, moved, line := map[look]bool{}, s.movedHere(r), int64(0)
	for i := range s.Issued {
		is := &s.Issued[i]
		fresh, own := false, is.Group == r.Group
		if own {
			moved = nil
		}
		for _, l := range is.looked {
			fresh = fresh || (own || moved[l.Coupon]) && !seen[l]
			seen[l] = true
		}
		if fresh && is.Line != line {
			looks, line = looks+1, is.Line
		}
	}
	if slices.ContainsFunc(r.looked, func(l look) bool { return !seen[l] }) {
		looks++
	}
	return looks
}

// movedHere returns the coupons by which a group has the looks of others: those with which it was first judged, if all
// of them were looked at under other names before, as after an amendment that renames a group or divides it.
func (s *RuleState) movedHere(r *RuleVerdict) map[string]bool {
	first, before := r.looked, map[string]bool{}
	for i := range s.Issued {
		if s.Issued[i].Group == r.Group {
			first = s.Issued[i].looked
			break
		}
		for _, l := range s.Issued[i].looked {
			before[l.Coupon] = true
		}
	}
	moved := map[string]bool{}
	for _, l := range first {
		if !before[l.Coupon] {
			return nil
		}
		moved[l.Coupon] = true
	}
	return moved
}

// afterTheFact says why a rule is after the fact.
func (s *RuleState) afterTheFact() string {
	return fmt.Sprintf("after the fact: the rule was added in line %d of the history, and the first exposed reading "+
		"beyond the baseline (coupon %s at pull %d) came in line %d", s.Line, s.First.Coupon, s.First.Pull, s.First.Line)
}

// earliest returns the earliest date of the readings that were judged, empty if none is known.
func earliest(j *acceptance.Judgement) (day string) {
	for i := range j.Coupons {
		if c := &j.Coupons[i]; c.Date != "" && (day == "" || c.Date < day) {
			day = c.Date
		}
	}
	return day
}

// looksOf returns what was looked at; none while fewer coupons were read or had ended than the rule asks for.
func looksOf(v *store.View, j *acceptance.Judgement) (all []look, err error) {
	all = []look{}
	if j.N-j.Missing < j.Rule.Coupons {
		return all, nil
	}
	for i := range j.Coupons {
		c := &j.Coupons[i]
		if c.Grade == "" {
			continue
		}
		l := look{Coupon: c.Coupon, Pull: c.Pull, Session: c.Session}
		if c.Session == "" {
			if l.Line, err = v.LastRead(c.Coupon, c.Pull); err != nil {
				return nil, err
			}
		}
		all = append(all, l)
	}
	return all, nil
}

// digestOf returns the digest of what went into a judgement. Numbers go in with nine digits, so that machines that
// round otherwise agree; words do not, so that programs that say it otherwise do too.
func digestOf(s *RuleState, j *acceptance.Judgement) (sum [sha256.Size]byte) {
	h := sha256.New()
	write := func(format string, args ...any) { _, _ = fmt.Fprintf(h, format, args...) } // a hash takes all
	write("%q %q %t\n", s.Text, j.Group, s.AfterTheFact)
	for i := range j.Coupons {
		c := &j.Coupons[i]
		write("%q %q %d %q %.9g %.9g %.9g %q %t\n", c.Coupon, c.Lot, c.Pull, c.Session, c.Dose, c.Loss, c.U, c.Ended,
			c.Missing != "")
	}
	write("%.9g %.6g\n", j.MeanU, j.Confidence)
	h.Sum(sum[:0])
	return sum
}
