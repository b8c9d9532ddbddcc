package desk

import (
	"context"
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"time"

	"wane/study"
	"wane/study/acceptance"
	"wane/study/store"
)

// RuleState is a rule of the study, the verdicts that were issued by it, and what it says now.
type RuleState struct {
	*acceptance.Rule
	Line     int64  // of the log under which it was added
	At, Who  string // of that line
	DoseUnit string

	// AfterTheFact says that the rule is younger than the first reading, or measurement, of a coupon of its exposure
	// beyond its baseline; First is that one.
	AfterTheFact bool
	First        *FirstExposed // nil: none has come yet

	number int64

	Issued []Issued      // in the order in which they were issued
	Now    []RuleVerdict // what it says of each group by the study as it is, if that was asked for
}

// Fixed is the day on which the rule was added.
func (s *RuleState) Fixed() string { return s.At[:min(len(s.At), len(time.DateOnly))] }

// FirstExposed is when the first exposed reading beyond a baseline came into the study.
type FirstExposed struct {
	Coupon string
	Pull   int
	Line   int64 // of the log
	At     string
}

// Issued is a verdict as it was issued.
type Issued struct {
	VerdictRow
	Line    int64 // of the log under which it is kept
	At, Who string

	digest [sha256.Size]byte
	looked []look
}

// RuleVerdict is what a rule says of a group now.
type RuleVerdict struct {
	*acceptance.Judgement
	Row VerdictRow

	// Last is the verdict that was issued last on this group; nil: none was. Differs says that its data were others than
	// those of now.
	Last    *Issued
	Differs bool
	Since   []study.Entry // lines of the log since the data of Last that can bear on it

	digest [sha256.Size]byte
	looked []look
}

// Voided reports whether the rule has become void for the group since the last verdict that was issued on it.
func (v *RuleVerdict) Voided() bool { return v.Last != nil && v.Differs && v.Row.Void && !v.Last.Void }

// Changed says in words how the last verdict that was issued differs from what the rule says now; empty: it does not,
// or none was issued.
func (v *RuleVerdict) Changed() string {
	switch {
	case v.Last == nil || !v.Differs:
		return ""
	case v.Voided():
		return fmt.Sprintf("the verdict of line %d, %s, was issued before; the rule is void for this group by what came "+
			"since: %s", v.Last.Line, v.Last.Verdict, v.since())
	case v.Last.Verdict != v.Row.Verdict:
		return fmt.Sprintf("the verdict of line %d was %s, and it is %s by what came since: %s", v.Last.Line, v.Last.Verdict,
			v.Row.Verdict, v.since())
	}
	return fmt.Sprintf("the verdict of line %d, %s, stands, and its numbers are others by what came since: %s",
		v.Last.Line,
		v.Last.Verdict, v.since())
}

// since names the first lines that came since.
func (v *RuleVerdict) since() string {
	const most = 3
	var words []string
	for i, e := range v.Since {
		if i == most {
			words = append(words, fmt.Sprintf("and %d more", len(v.Since)-most))
			break
		}
		words = append(words, fmt.Sprintf("line %d (%s)", e.Number, e.Verb))
	}
	return strings.Join(words, ", ")
}

// look is a coupon at a pull, as a session read it. What the same session adds later, such as a repeat, is averaged with
// what it read before, and is no other look: were it one, an intake in two parts would make a rule void. Of readings without a session it has the line of the log under which
// the last of them came.
type look struct {
	Coupon  string `json:"coupon"`
	Pull    int    `json:"pull"`
	Session string `json:"session"`
	Line    int64  `json:"line,omitempty"`
}

// RuleOptions say what of the rules is wanted.
type RuleOptions struct {
	Names   []string // of the rules; none: all
	Judge   bool     // also what they say now
	Changes bool     // what those say now by which verdicts were issued, if anything came since
	Workers int      // coupons whose rows are made at once; 0: one for each core
	AsOf    int64    // the line of the log as of which the study is looked at; 0: the last one
}

// Rules returns the rules in the order in which they were added, all of one moment.
func (d *Desk) Rules(ctx context.Context, opt RuleOptions) (all []RuleState, err error) {
	err = d.view(ctx, opt.AsOf, func(v *store.View) error {
		all, err = d.rules(ctx, v, opt)
		return err
	})
	return all, err
}

// rules is Rules of one moment.
func (d *Desk) rules(ctx context.Context, v *store.View, opt RuleOptions) (all []RuleState, err error) {
	kept, err := v.Rules()
	if err != nil || len(kept) == 0 && len(opt.Names) == 0 {
		return nil, err
	}
	if err := namedRules(kept, opt.Names); err != nil {
		return nil, err
	}
	roster, err := v.Roster()
	if err != nil {
		return nil, err
	}
	issued, err := issuedVerdicts(v)
	if err != nil {
		return nil, err
	}
	for _, k := range kept {
		if len(opt.Names) > 0 && !slices.Contains(opt.Names, k.Row.Rule) {
			continue
		}
		s, err := ruleState(v, roster, k)
		if err != nil {
			return nil, err
		}
		s.Issued = issued[k.Number]
		judge := opt.Judge
		if opt.Changes && len(s.Issued) > 0 {
			judge, err = cameSince(v, s.Issued)
		}
		if err == nil && judge {
			err = d.judgeNow(ctx, v, roster, s, opt.Workers)
		}
		if err != nil {
			return nil, err
		}
		all = append(all, *s)
	}
	return all, nil
}

// namedRules refuses names that no rule has.
func namedRules(kept []store.Kept[study.KeptRule], names []string) error {
	known := make([]string, len(kept))
	for i := range kept {
		known[i] = kept[i].Row.Rule
	}
	for _, name := range names {
		if !slices.Contains(known, name) {
			return &study.Refusal{Fault: fmt.Sprintf("there is no rule %q", name),
				Try: study.DidYouMean(name, known, "take one that wane rule list shows, or add one: wane rule add FILE.yaml")}
		}
	}
	return nil
}

// ruleState returns a rule with when it was added, and whether that was before the readings.
func ruleState(v *store.View, roster *study.Roster, k store.Kept[study.KeptRule]) (*RuleState, error) {
	r, err := acceptance.Read([]byte(k.Row.Text))
	if err != nil {
		return nil, protocolRefusals("rule "+k.Row.Rule, err)
	}
	added, err := v.Line(k.Line)
	if err != nil {
		return nil, err
	}
	s := &RuleState{Rule: r, number: k.Number, Line: k.Line, At: added.At, Who: added.Who}
	if i := slices.IndexFunc(roster.Exposures, func(e study.Exposure) bool { return e.Exposure == r.Exposure }); i >= 0 {
		s.DoseUnit = roster.Exposures[i].DoseUnit
	}
	came, err := v.FirstExposed(r.Exposure)
	if came == nil || err != nil {
		return s, err
	}
	line, err := v.Line(came.Line)
	if err != nil {
		return nil, err
	}
	s.First = &FirstExposed{came.Coupon, came.Pull, came.Line, line.At}
	s.AfterTheFact = came.Line < k.Line
	if came.Line == k.Line { // one merge brought both
		s.AfterTheFact, err = cameBefore(v, came, k.Number)
	}
	return s, err
}

// cameBefore reports whether a row came into the study that was merged into this one before the rule of a number did.
func cameBefore(v *store.View, came *store.Came, rule int64) (bool, error) {
	of, err := v.Origin("rule", rule)
	if err != nil {
		return false, err
	}
	row, err := v.Origin(came.Table, came.Number)
	if err != nil {
		return false, err
	}
	return of == nil || row == nil || row.Number < of.Number, nil
}

// issuedVerdicts returns the verdicts by the numbers of their rules.
func issuedVerdicts(v *store.View) (map[int64][]Issued, error) {
	all := map[int64][]Issued{}
	err := v.Verdicts(func(rule int64, k store.Kept[study.IssuedVerdict]) error {
		is := Issued{Line: k.Line, digest: k.Row.Digest}
		if err := json.Unmarshal([]byte(k.Row.Row), &is.VerdictRow); err != nil {
			return fmt.Errorf("verdict %d: %w", k.Number, err)
		}
		if err := json.Unmarshal([]byte(k.Row.Looked), &is.looked); err != nil {
			return fmt.Errorf("verdict %d: %w", k.Number, err)
		}
		all[rule] = append(all[rule], is)
		return nil
	})
	for _, list := range all {
		for i := range list {
			line, err := v.Line(list[i].Line)
			if err != nil {
				return nil, err
			}
			list[i].At, list[i].Who = line.At, line.Who
		}
	}
	return all, err
}

// cameSince reports whether anything that can bear on verdicts came since the data of one of the verdicts that were
// issued last on each group.
func cameSince(v *store.View, issued []Issued) (bool, error) {
	lasts := map[string]int64{}
	for i := range issued {
		lasts[issued[i].Group] = issued[i].DataLine
	}
	oldest := issued[len(issued)-1].DataLine
	for _, line := range lasts {
		oldest = min(oldest, line)
	}
	lines, err := linesSince(v, oldest)
	return len(lines) > 0, err
}

// noData are the verbs of lines that change nothing that is judged.
var noData = []string{ruleVerb, "sheet", "profile"}

// linesSince returns the lines of the log after one that can bear on verdicts.
func linesSince(v *store.View, line int64) (all []study.Entry, err error) {
	last, err := v.LastLine()
	for line++; line <= last && err == nil; line++ {
		var e study.Entry
		if e, err = v.Line(line); err == nil && !slices.Contains(noData, e.Verb) {
			all = append(all, e)
		}
	}
	return all, err
}
