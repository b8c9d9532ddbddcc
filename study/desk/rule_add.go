package desk

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"wane/study"
	"wane/study/acceptance"
	"wane/study/intake/source"
	"wane/study/store"
)

// AddedRule is a rule that was given to a study.
type AddedRule struct {
	RuleState
	Added bool // the study did not have it
	Notes []string
}

// ReadRule reads the rule in a file. Everything that is wrong with it is refused at once.
func ReadRule(path string) (*acceptance.Rule, error) {
	data, err := source.ReadFile(path)
	if err != nil {
		return nil, err
	}
	if err := checkLines(path, string(data)); err != nil {
		return nil, err
	}
	r, err := acceptance.Read(data)
	if err != nil {
		return nil, protocolRefusals(path, err)
	}
	q, err := FindQuantity(r.Quantity)
	var unknown *study.Refusal
	if errors.As(err, &unknown) {
		return nil, unknown.At(path, r.LineOf("quantity"))
	}
	return r, protocolRefusals(path, r.Check(&q))
}

// AddRule puts the rule in a file into the study, where it stays as it is. The same text again adds nothing; another
// text under its name is refused, and so is a rule for an exposure that is not enrolled, or for a dose at which it has
// no pull.
func (d *Desk) AddRule(ctx context.Context, path string) (*AddedRule, error) {
	r, err := ReadRule(path)
	if err != nil {
		return nil, err
	}
	out := &AddedRule{}
	entry := d.entry(ruleVerb, fmt.Sprintf("added rule %s: loss of %s below %s %s at %s in %s", r.Name, r.What(),
		acceptance.Written(r.Limit), r.Unit, acceptance.Written(r.Dose), r.Exposure))
	err = d.write(ctx, entry, func(tx *store.Tx) error {
		roster, err := tx.Roster()
		if err != nil {
			return err
		}
		if err := fitsRoster(r, roster); err != nil {
			return err.At(path, err.Line)
		}
		out.Added, err = tx.AddRule(study.KeptRule{Rule: r.Name, Text: r.Text})
		var taken *study.Refusal
		if errors.As(err, &taken) {
			return taken.At(path, r.LineOf("rule"))
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	all, err := d.Rules(ctx, RuleOptions{Names: []string{r.Name}})
	if err != nil {
		return nil, err
	}
	out.RuleState = all[0]
	roster, err := d.store.Roster(ctx)
	if err != nil {
		return nil, err
	}
	out.Notes = append(out.notes(), out.smallGroups(roster)...)
	return out, nil
}

// fitsRoster refuses a rule for an exposure that is not there, or for a dose at which it has no pull.
func fitsRoster(r *acceptance.Rule, roster *study.Roster) *study.Refusal {
	var names, doses []string
	near := false
	for _, e := range roster.Exposures {
		names = append(names, e.Exposure)
	}
	for _, p := range roster.Pulls {
		if p.Exposure == r.Exposure && p.Dose > 0 {
			doses = append(doses, acceptance.Written(p.Dose))
			near = near || math.Abs(p.Dose-r.Dose) <= acceptance.Near*r.Dose
		}
	}
	switch {
	case !slices.Contains(names, r.Exposure):
		return &study.Refusal{Line: r.LineOf("exposure"), Fault: fmt.Sprintf("there is no exposure %q", r.Exposure),
			Try: study.DidYouMean(r.Exposure, names, "enrol it before the rule: wane enrol FILE.csv")}
	case len(doses) > 0 && !near:
		return &study.Refusal{Line: r.LineOf("dose"),
			Fault: fmt.Sprintf("exposure %s has no pull within 5 %% of the dose %s", r.Exposure, acceptance.Written(r.Dose)),
			Try:   "write the dose of a pull (" + strings.Join(doses, ", ") + "), or enrol that pull first"}
	}
	return nil
}

// smallGroups says which groups have fewer coupons than the rule asks for.
func (s *RuleState) smallGroups(roster *study.Roster) (all []string) {
	counts := map[string]int{}
	for i := range roster.Coupons {
		if c := &roster.Coupons[i]; c.Role == study.Exposed && c.Exposure == s.Exposure {
			counts[s.GroupOf(c.Supplier, c.Coating, c.Lot, c.Exposure)]++
		}
	}
	if len(counts) == 0 {
		all = append(all, fmt.Sprintf("no exposed coupon is enrolled in exposure %s yet", s.Exposure))
	}
	for _, group := range slices.Sorted(maps.Keys(counts)) {
		if n := counts[group]; n < s.Coupons {
			all = append(all, fmt.Sprintf("%s has %s in exposure %s, and the rule asks for %d: it can be rejected, not accepted",
				group, amount(n, "coupon"), s.Exposure, s.Coupons))
		}
	}
	return all
}

// notes says what is to be known of a rule when it is added.
func (s *RuleState) notes() (all []string) {
	if s.AfterTheFact {
		all = append(all, s.afterTheFact()+"; every verdict by it will say so")
	}
	confidence, n := s.Least()
	switch {
	case !s.Drawn():
		all = append(all, "its coupons are no random draw, so that its verdicts speak of these coupons alone")
	case confidence < s.Confidence && n > 0:
		all = append(all, fmt.Sprintf("n: %d gives a confidence of %.3g at most, and not %s: that takes %d coupons",
			s.Coupons, confidence, acceptance.Written(s.Confidence), n))
	case confidence < s.Confidence:
		all = append(all, fmt.Sprintf("n: %d gives a confidence of %.3g at most, and not %s: that takes more than a "+
			"thousand coupons", s.Coupons, confidence, acceptance.Written(s.Confidence)))
	}
	return all
}
