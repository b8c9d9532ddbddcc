package acceptance

import (
	"cmp"
	"fmt"
	"math"
	"strings"

	"wane/study"
	"wane/study/series"
)

// expanded says what stands after ± in a sentence.
const expanded = "± is U, k=2"

// why returns the verdict in a sentence.
func (j *Judgement) why() string {
	r := j.Rule
	switch j.Verdict {
	case Accept:
		if j.Passed == j.N {
			noun, _ := r.LossWords()
			return fmt.Sprintf("all %d coupons pass: each %s and 1.645 u are below %s", j.N, noun, r.limit())
		}
		return fmt.Sprintf("%d of %d coupons pass, and the rule allows %s", j.Passed, j.N, amount(r.Failures, "failure"))
	case Reject:
		names := j.named(func(c *Judged) bool { return c.Grade == Fail || c.Ended != "" && !c.Excused })
		if j.Failed > 0 {
			names = append(names, expanded)
		}
		return fmt.Sprintf("%s (%s), and the rule allows %d", amount(j.Failed+j.Lost, "failure"),
			strings.Join(names, "; "), r.Failures)
	}
	var parts []string
	if j.N < r.Coupons {
		parts = append(parts, fmt.Sprintf("this cannot be told from these data, because the group has %s that %s and the "+
			"rule asks for %d",
			amount(j.N, "coupon"), counts(j.N), r.Coupons))
	}
	if names := j.named(func(c *Judged) bool { return c.Missing != "" && !c.Excused }); len(names) > 0 {
		parts = append(parts, "not judged: "+strings.Join(names, "; "))
	}
	if names := j.named(func(c *Judged) bool { return c.Grade == Straddle }); len(names) > 0 {
		parts = append(parts, "too near to the limit, within 1.645 u of it: "+strings.Join(names, "; ")+
			" ("+expanded+")")
	}
	return strings.Join(append(parts, j.remedy()), "; ")
}

func counts(n int) string {
	if n == 1 {
		return "counts"
	}
	return "count"
}

// remedy says what would decide.
func (j *Judgement) remedy() string {
	r := j.Rule
	var ways []string
	withoutControl := 0
	for i := range j.Coupons {
		if j.Coupons[i].noControl {
			withoutControl++
		}
	}
	if withoutControl > 0 {
		ways = append(ways, "read controls of the coating in the same session, before and after")
	}
	if j.Missing > withoutControl {
		ways = append(ways, "read the coupons that are missing at that dose, or enrol how they ended")
	}
	if j.DecidingU > 0 && j.Missing == 0 {
		ways = append(ways, fmt.Sprintf("a standard uncertainty of the straddling coupons of %.2g %s decides",
			j.DecidingU, r.Unit))
	}
	if j.N < r.Coupons {
		ways = append(ways, "expose more coupons of it")
	}
	if j.NewCoupons > 0 {
		ways = append(ways, fmt.Sprintf("a new rule for new coupons with n: %d and failures: %d gives the same share and "+
			"confidence",
			j.NewCoupons, j.NewFailures))
	}
	if len(ways) == 0 {
		ways = append(ways, "only a new rule for new coupons decides")
	}
	return "what helps: " + strings.Join(ways, ", or ")
}

// named returns some coupons, with what is to be said of each.
func (j *Judgement) named(which func(*Judged) bool) (all []string) {
	const most = 6
	n := 0
	for i := range j.Coupons {
		c := &j.Coupons[i]
		if !which(c) {
			continue
		}
		if n++; n > most {
			continue
		}
		switch {
		case c.Ended != "":
			all = append(all, c.Coupon+" "+c.Ended)
		case c.Missing != "":
			all = append(all, c.Coupon+", "+c.Missing)
		default:
			_, verb := j.Rule.LossWords()
			all = append(all, strings.TrimSpace(fmt.Sprintf("%s %s %.3g ± %.2g %s", c.Coupon, verb, c.Loss, 2*c.U,
				j.Rule.Unit)))
		}
	}
	if n > most {
		all = append(all, fmt.Sprintf("and %d more", n-most))
	}
	return all
}

// notes returns what else is to be known of a verdict.
func (j *Judgement) notes(d *series.Data) (all []string) {
	r := j.Rule
	if d.Route == study.RouteNone && !d.Quantity.Measured {
		all = append(all, "the changes are as measured, not corrected: what ages in the dark, and the session, are in them")
	}
	if d.Quantity.Worse == 0 {
		all = append(all, "a change in either direction is a loss, since it is not known in which one "+d.Quantity.Name+
			" gets worse")
	}
	if j.Excused > 0 {
		names := j.named(func(c *Judged) bool { return c.Excused })
		all = append(all, "not counted, for the causes that the rule names: "+strings.Join(names, "; "))
	}
	switch {
	case !r.Drawn():
		all = append(all, "the coupons are no random draw: the verdict speaks of these coupons alone")
	case j.Verdict == Accept && len(j.Lots) == 1:
		all = append(all, fmt.Sprintf("they come from one lot (%s): the verdict speaks of this lot", j.Lots[0]))
	case j.Verdict == Accept && len(j.Lots) > 1:
		all = append(all, fmt.Sprintf("they come from %d lots (%s): the verdict speaks of these lots, drawn as they were",
			len(j.Lots), strings.Join(j.Lots, ", ")))
	}
	if j.Verdict == Accept && j.Confidence < r.Confidence {
		all = append(all, fmt.Sprintf("the confidence is %.4g and not the %.4g that the rule names: %s", j.Confidence,
			r.Confidence,
			j.short()))
	}
	if r.Looks > 1 {
		all = append(all, fmt.Sprintf("the rule may be judged %d times, and the confidence pays for it", r.Looks))
	}
	return all
}

// short says why a confidence falls short of that of the rule.
func (j *Judgement) short() string {
	r := j.Rule
	_, n := r.Least()
	switch {
	case j.Independent >= r.Confidence:
		return "the coupons share errors, such as that of one session"
	case n > 0:
		return fmt.Sprintf("it takes %d coupons with independent errors", n)
	}
	return fmt.Sprintf("it takes more than %d coupons", mostCoupons)
}

// limit is the limit with its unit.
func (r *Rule) limit() string { return strings.TrimSpace(Written(r.Limit) + " " + r.Unit) }

// Loss says in words what the rule limits: loss of solar_T (energy-weighted), or rise of haze, where more is worse.
func (r *Rule) Loss() string {
	noun, _ := r.LossWords()
	text := noun + " of " + r.Quantity
	if r.Weighting != noWord {
		text += fmt.Sprintf(" (%s-weighted)", r.Weighting)
	}
	return text
}

// LossWords are the noun and the verb for what gets worse: loss and loses, rise and rises by, or change and
// changes by.
func (r *Rule) LossWords() (noun, verb string) {
	q, _ := series.Find(r.Quantity)
	switch {
	case q.Worse < 0:
		return "loss", "loses"
	case q.Worse > 0:
		return "rise", "rises by"
	}
	return "change", "changes by"
}

// Sentence is what a purchaser may quote. fixed is the day on which the rule was logged, unit that of the dose.
func (j *Judgement) Sentence(fixed, unit string) string {
	r := j.Rule
	when := "fixed on " + fixed + " before the first exposed reading"
	switch {
	case j.AfterTheFact:
		when = "made after the fact on " + fixed
	case j.Predated != "":
		when = fmt.Sprintf("fixed on %s before the first exposed reading was taken in (those judged are dated from %s on)",
			fixed, j.Predated)
	}
	is := map[Verdict]string{Accept: "are accepted", Reject: "are rejected",
		Undecided: "are neither accepted nor rejected"}[j.Verdict]
	text := fmt.Sprintf("By the rule %s, %s, %s of %s %s: %s after %s %s in %s, limit %s",
		r.Name, when, amount(j.N, "coupon"), j.Group, is, r.Loss(), Written(r.Dose), unit, r.Exposure, r.limit())
	switch {
	case j.Void:
		return text + fmt.Sprintf("; the rule is void, since it was judged %d times and allows %d.", j.Looks, r.Looks)
	case j.Verdict != Accept:
		return text + "."
	case !r.Drawn() || math.IsNaN(j.Confidence):
		return text + "; this holds of these coupons."
	}
	text += fmt.Sprintf("; if they are a random draw, more than %s %% of what they were drawn from (%s) "+
		"conforms, with a confidence of %s %%",
		inPercent(r.Share), cmp.Or(strings.Join(j.Lots, ", "), j.Group), percent(j.Confidence))
	if j.Confidence < r.Confidence {
		text += fmt.Sprintf(": the rule asks for %s %%, which these coupons do not give", inPercent(r.Confidence))
	}
	return text + "."
}

// inPercent writes a share as it stands in a rule in percent, without the rounding of the product.
func inPercent(x float64) string { return Written(math.Round(1e10*x) / 1e8) }

// percent writes a chance in percent, rounded down.
func percent(x float64) string { return Written(math.Floor(1000*x) / 10) }

func amount(n int, thing string) string {
	if n == 1 {
		return "1 " + thing
	}
	return fmt.Sprintf("%d %ss", n, thing)
}
