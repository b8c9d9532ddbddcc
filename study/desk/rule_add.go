package desk

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"wane/protocols/fields"
	"wane/study"
	"wane/study/acceptance"
	"wane/study/intake/source"
	"wane/study/life"
	"wane/study/store"
)

// AddedRule is a rule that was given to a study.
type AddedRule struct {
	RuleState
	Added bool // the study did not have it
	Notes []string
}

// readRule reads the rule in a file, with all that is wrong with it; the rule has what could be read.
func readRule(path string) (*acceptance.Rule, fields.Faults, error) {
	data, err := source.ReadFile(path)
	if err != nil {
		return nil, nil, err
	}
	if err := checkLines(path, string(data)); err != nil {
		return nil, nil, err
	}
	var all, more fields.Faults
	r, err := acceptance.Read(data)
	if err != nil && !errors.As(err, &all) {
		return nil, nil, err
	}
	if r.Quantity == "" {
		return r, all, nil
	}
	q, err := FindQuantity(r.Quantity)
	var unknown *study.Refusal
	switch {
	case errors.As(err, &unknown):
		more = fields.Faults{{Line: r.LineOf("quantity"), What: unknown.Fault, Try: unknown.Try}}
	case err != nil:
		return nil, nil, err
	default:
		if err := r.Check(&q); err != nil && !errors.As(err, &more) {
			return nil, nil, err
		}
	}
	return r, withFaults(all, more...), nil
}

// withFaults returns faults with more of them, in the order of the lines. Of a line that has a fault already
// none is added.
func withFaults(all fields.Faults, more ...fields.Fault) fields.Faults {
	found := all
	for _, f := range more {
		if !slices.ContainsFunc(found, func(of fields.Fault) bool { return of.Line == f.Line }) {
			all = append(all, f)
		}
	}
	slices.SortStableFunc(all, func(a, b fields.Fault) int { return cmp.Compare(a.Line, b.Line) })
	return all
}

// AddRule puts the rule in a file into the study, where it stays as it is. The same text again adds nothing; another
// text under its name is refused, and so is a rule for an exposure that is not enrolled, or for a dose at which it has
// no pull. Everything that is wrong is refused at once.
func (d *Desk) AddRule(ctx context.Context, path string) (*AddedRule, error) {
	r, faults, err := readRule(path)
	if err != nil {
		return nil, err
	}
	roster, err := d.store.Roster(ctx)
	if err != nil {
		return nil, err
	}
	if faults = withFaults(faults, fitsRoster(r, roster)...); len(faults) > 0 {
		return nil, protocolRefusals(path, faults)
	}
	out := &AddedRule{}
	entry := d.entry(ruleVerb, fmt.Sprintf("added rule %s: %s below %s %s at %s in %s", r.Name, r.Loss(),
		acceptance.Written(r.Limit), r.Unit, acceptance.Written(r.Dose), r.Exposure))
	err = d.write(ctx, entry, func(tx *store.Tx) error {
		roster, err := tx.Roster()
		if err != nil {
			return err
		}
		if faults := fitsRoster(r, roster); len(faults) > 0 {
			return protocolRefusals(path, faults)
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
	if roster, err = d.store.Roster(ctx); err != nil {
		return nil, err
	}
	out.Notes = slices.Concat(out.notes(), out.smallGroups(roster), out.withoutPull(roster))
	return out, nil
}

// fitsRoster faults a rule for an exposure that is not there, or for a dose at which it has no pull.
func fitsRoster(r *acceptance.Rule, roster *study.Roster) fields.Faults {
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
	case r.Exposure == "":
	case !slices.Contains(names, r.Exposure):
		return fields.Faults{{Line: r.LineOf("exposure"), What: fmt.Sprintf("there is no exposure %q", r.Exposure),
			Try: study.DidYouMean(r.Exposure, names, "enrol it before the rule: wane enrol FILE.csv")}}
	case r.Dose > 0 && len(doses) > 0 && !near:
		return fields.Faults{{Line: r.LineOf("dose"),
			What: fmt.Sprintf("exposure %s has no pull within 5 %% of the dose %s", r.Exposure, acceptance.Written(r.Dose)),
			Try:  "write the dose of a pull (" + strings.Join(doses, ", ") + "), or enrol that pull first"}}
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

// withoutPull says which coupons have no planned pull near the dose of the rule, as those that went in later. They
// count, and leave the verdict open. Those that have ended do not.
func (s *RuleState) withoutPull(roster *study.Roster) []string {
	lives := life.New(roster)
	var names []string
	for i := range roster.Coupons {
		c := &roster.Coupons[i]
		if c.Role != study.Exposed || c.Exposure != s.Exposure {
			continue
		}
		of, known, near := lives.Of(c.Coupon), false, false
		for _, p := range of.Plan() {
			if dose := of.DoseAt(p.Pull).Value; p.Dose > 0 && dose.Valid() {
				known = true
				near = near || math.Abs(float64(dose)-s.Dose) <= acceptance.Near*s.Dose
			}
		}
		if known && !near && of.End() == nil {
			names = append(names, c.Coupon)
		}
	}
	if len(names) == 0 {
		return nil
	}
	return []string{fmt.Sprintf("no pull within 5 %% of the dose %s is planned for some coupons of exposure %s: %s; what "+
		"is not read there leaves the verdict open: plan such a pull for them, or enrol how they end",
		acceptance.Written(s.Dose), s.Exposure, codesInWords(names))}
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
