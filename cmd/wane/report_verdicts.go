package main

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"wane/study/acceptance"
	"wane/study/desk"
	"wane/study/report/document"
)

// verdictPart says what was decided: of each rule, the verdicts that were issued last.
func verdictPart(w *reporter) (document.Part, error) {
	p := document.Part{Name: "verdicts", Title: "Verdicts"}
	if n := w.of.Due.Spots(); n > 0 {
		p.Blocks = append(p.Blocks, document.Notice(fmt.Sprintf("%s not evaluated, or evaluated from readings and entries "+
			"that have changed since: this report may change when wane fit has run.", count(n, "spot")+isAre(n))))
	}
	if len(w.of.Rules) == 0 {
		p.Blocks = append(p.Blocks, document.Notice("No rule of acceptance was fixed in this study, so that it has no "+
			"verdict, and none may be quoted of it."), document.Text("A verdict takes a rule that is fixed before the first "+
			"exposed reading beyond pull 0: wane rule add RULE.yaml, and then wane rule judge. A rule that is made later is "+
			"after the fact, and every verdict by it says so."))
		return p, nil
	}
	for i := range w.of.Rules {
		p.Blocks = append(p.Blocks, ruleBlocks(&w.of.Rules[i])...)
	}
	return p, nil
}

// afterTheFact is what stands on each page of a report with rules that are younger than the data; empty: there is none.
func afterTheFact(rules []desk.ReportRule) string {
	var names []string
	for i := range rules {
		if rules[i].AfterTheFact {
			names = append(names, rules[i].Name)
		}
	}
	switch len(names) {
	case 0:
		return ""
	case 1:
		return "After the fact: the rule " + names[0] + " is younger than the data that it judges"
	}
	return "After the fact: the rules " + strings.Join(names, ", ") + " are younger than the data that they judge"
}

// ruleBlocks are the verdicts by one rule, below what it asks for.
func ruleBlocks(r *desk.ReportRule) []document.Block {
	blocks := []document.Block{document.Heading(ruleWordsOf(r)), document.Text(fixedWords(r))}
	if r.AfterTheFact {
		blocks = append(blocks, document.Notice(afterWords(r)))
	}
	lasts := map[string]*desk.Issued{}
	for i := range r.Issued {
		lasts[r.Issued[i].Group] = &r.Issued[i]
	}
	if len(lasts) == 0 {
		return append(blocks, document.Verdict{About: "Rule " + r.Name, Word: "not judged " +
			"yet", Tone: document.Open, Lines: []string{
			"No verdict was issued by this rule, and a report issues none: each look at the data counts. wane rule judge " +
				"" + r.Name +
				" issues it."}})
	}
	for _, group := range slices.Sorted(maps.Keys(lasts)) {
		blocks = append(blocks, issuedBlock(r, lasts[group]))
	}
	return blocks
}

func afterWords(r *desk.ReportRule) string {
	return fmt.Sprintf("After the fact: the rule was added in line %d of the history, and the first exposed reading "+
		"beyond the baseline (coupon %s at pull %d) came in line %d.", r.Line, r.First.Coupon, r.First.Pull, r.First.Line)
}

// ruleWordsOf says what a rule asks.
func ruleWordsOf(r *desk.ReportRule) string {
	return fmt.Sprintf("Rule %s: %s below %s after %s %s in %s", r.Name, r.Loss(),
		strings.TrimSpace(acceptance.Written(r.Limit)+" "+r.Unit), acceptance.Written(r.Dose), r.DoseUnit, r.Exposure)
}

func fixedWords(r *desk.ReportRule) string {
	words := fmt.Sprintf("The rule was fixed on %s by %s, in line %d of the history. It asks for %s or more a group and "+
		"allows %s.",
		r.Fixed(), dash(r.Who), r.Line, count(r.Coupons, "coupon"), count(r.Failures, "failure"))
	if r.Drawn() {
		words += fmt.Sprintf(" More than %s %% of what the coupons were drawn from is to conform, with a confidence of %s "+
			"%%.",
			acceptance.Written(100*r.Share), acceptance.Written(100*r.Confidence))
	}
	return words
}

// issuedBlock is the verdict on one group as it was issued, and whether it still stands.
func issuedBlock(r *desk.ReportRule, v *desk.Issued) document.Verdict {
	b := document.Verdict{About: v.Group + ", by the rule " + r.Name + " of " + r.Fixed(), Word: v.Verdict,
		Quote: v.Sentence,
		Tone: map[string]document.Tone{string(acceptance.Accept): document.Good,
			string(acceptance.Reject): document.Bad}[v.Verdict]}
	if b.Tone == "" {
		b.Tone = document.Open
	}
	if v.AfterTheFact {
		b.Notices = []string{"After the fact: the rule is younger than the data."}
	}
	if v.Void {
		b.Notices = append(b.Notices, "The rule is void: it was judged more often than it allows.")
	}
	b.Lines = append(b.Lines, "Why: "+v.Why+".", countedWords(&v.VerdictRow))
	if words := lossesInWords(r.Rule, &v.VerdictRow); words != "" {
		b.Lines = append(b.Lines, words)
	}
	b.Lines = append(b.Lines, fmt.Sprintf("Issued on %s by %s, in line %d of the history, on data up to line "+
		"%d.", dayOf(v.At),
		dash(v.Who), v.Line, v.DataLine))
	for _, note := range v.Notes {
		if !strings.HasPrefix(note, "after the fact") { // which is said above
			b.Lines = append(b.Lines, "Note: "+note+".")
		}
	}
	b.Notices = append(b.Notices, standsWords(r, v, &b)...)
	return b
}

// standsWords say what came of a verdict since it was issued. One that is another one now may not be quoted.
func standsWords(r *desk.ReportRule, v *desk.Issued, b *document.Verdict) (notices []string) {
	if r.Cannot != nil {
		b.Quote = ""
		return []string{fmt.Sprintf("Whether the verdict still stands cannot be told: %s. Next: "+
			"%s.", r.Cannot.Fault, r.Cannot.Try)}
	}
	for i := range r.Now {
		now := &r.Now[i]
		if now.Group != v.Group || now.Changed() == "" {
			continue
		}
		notices = append(notices, "Changed: "+now.Changed()+". By the data of this report: "+now.Row.Why+".")
		b.Quote = ""
		if now.Voided() {
			b.Lines = append(b.Lines, "What was issued stands for its own data, and its sentence may not be quoted of those "+
				"of this report.")
			continue
		}
		b.Lines = append(b.Lines, "What was issued may not be quoted any more; wane rule judge "+r.Name+" issues the "+
			"verdict again.")
	}
	return notices
}

// countedWords count the coupons of a verdict.
func countedWords(v *desk.VerdictRow) string {
	parts := []string{fmt.Sprintf("%d passed", v.Passed), fmt.Sprintf("%d straddle the limit", v.Straddling),
		fmt.Sprintf("%d failed", v.Failed), fmt.Sprintf("%d lost and counted as "+
			"failures", v.Lost), fmt.Sprintf("%d missing", v.Missing)}
	words := fmt.Sprintf("%s of lots %s: %s", count(v.N, "coupon"), dash(strings.Join(v.Lots, ", ")), strings.Join(parts,
		", "))
	if v.NotCounted > 0 {
		words += fmt.Sprintf("; %d more ended with a cause that the rule names and do not count", v.NotCounted)
	}
	return words + "."
}

// lossesInWords say how large the losses are; empty: none is known.
func lossesInWords(r *acceptance.Rule, v *desk.VerdictRow) string {
	if !v.Mean.Valid() {
		return ""
	}
	noun, _ := r.LossWords()
	words := fmt.Sprintf("%s%s: worst %.3g, mean %.3g %s", strings.ToUpper(noun[:1]), noun[1:], float64(v.Worst),
		float64(v.Mean), v.Unit)
	if v.Lower.Valid() {
		words += fmt.Sprintf(" (95 %% interval %.3g to %.3g, %.3g degrees of freedom)", float64(v.Lower), float64(v.Upper),
			float64(v.MeanDoF))
	}
	return strings.TrimSpace(words) + "."
}
