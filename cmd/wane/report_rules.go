package main

import (
	"fmt"
	"slices"
	"strings"

	"wane/study/acceptance"
	"wane/study/desk"
	"wane/study/drawn"
	"wane/study/report/document"
	"wane/study/shown"
)

// rulesPart says what rules were fixed, what each accepts, and which verdicts were issued.
func rulesPart(w *reporter) (document.Part, error) {
	p := document.Part{Name: "rules", Title: "Rules, and what they accept"}
	if len(w.of.Rules) == 0 {
		p.Blocks = []document.Block{document.Text("No rule was fixed in this study.")}
		return p, nil
	}
	var verdicts []*desk.RuleVerdict
	var coupons []*judgedCoupon
	for i := range w.of.Rules {
		r := &w.of.Rules[i]
		blocks, err := ruleText(r, i+1)
		if err != nil {
			return p, err
		}
		p.Blocks = append(p.Blocks, blocks...)
		for k := range r.Issued {
			verdicts = append(verdicts, &desk.RuleVerdict{Row: r.Issued[k].VerdictRow, Last: &r.Issued[k]})
		}
		for k := range r.Now {
			for c := range r.Now[k].Coupons {
				coupons = append(coupons, &judgedCoupon{&r.Now[k], &r.Now[k].Coupons[c]})
			}
		}
	}
	if len(verdicts) == 0 {
		return p, nil
	}
	t, err := tableOf("verdicts", "Every verdict as it was issued", shown.RuleVerdicts().Pick("rule", "group", "verdict",
		"limit", "n",
		"worst", "mean", "share", "confidence", "after_the_fact", "data_line", "issued_line"), shown.RuleVerdicts(), verdicts)
	if err != nil {
		return p, err
	}
	p.Blocks = append(p.Blocks, t)
	if len(coupons) == 0 {
		return p, nil
	}
	t, err = couponsAgainstLimits(coupons)
	p.Blocks = append(p.Blocks, t)
	return p, err
}

// couponsAgainstLimits is the table of coupons that were judged. Of many the page has those that did not pass.
func couponsAgainstLimits(coupons []*judgedCoupon) (document.Table, error) {
	caption := "Each coupon against its limit, by the data of this report: its loss, its standard uncertainty, and the " +
		"chance that its true loss is below the limit by its reading alone"
	shown := judgedCouponColumns.Pick("rule", "group", "coupon", "lot", "pull", "session", "loss", "u_loss", "grade",
		"chance_that_it_conforms", "ended", "missing")
	if len(coupons) <= mostRowsShown/3 {
		return tableOf("judged-coupons", caption, shown, judgedCouponColumns, coupons)
	}
	all, err := tableOf("judged-coupons", caption, nil, judgedCouponColumns, coupons)
	if err != nil {
		return all, err
	}
	some := slices.DeleteFunc(slices.Clone(coupons), func(c *judgedCoupon) bool { return c.Grade == acceptance.Pass })
	t, err := tableOf("judged-coupons", fmt.Sprintf("%s. Here are the %d of %d that did not "+
		"pass", caption, len(some), len(coupons)),
		shown, judgedCouponColumns, some)
	t.CSV = all.CSV
	return t, err
}

// ruleText is a rule as it was written, with its operating characteristic.
func ruleText(r *desk.ReportRule, number int) ([]document.Block, error) {
	blocks := []document.Block{document.Heading("Rule " + r.Name), document.Text(fixedWords(r))}
	if r.AfterTheFact {
		blocks = append(blocks, document.Notice(afterWords(r)))
	}
	blocks = append(blocks, document.Text("A coupon passes when its loss and 1.645 u are below the limit, fails when "+
		"its loss less 1.645 u is above it, and straddles it in between (guard bands as in JCGM 106). The group is "+
		"accepted when all coupons pass but at most as many as may fail, rejected when more fail, and undecided otherwise. "+
		"No distribution of the losses is assumed. As it was written:"), document.Formula(strings.TrimRight(r.Text, "\r\n")))
	figure, err := drawnBlock(fmt.Sprintf("characteristic-%d", number), "Operating characteristic of the rule "+
		""+r.Name+": the chance that it accepts a product, against the share of the product that "+
		"conforms.", "Chance of acceptance against the share that conforms, for losses read with and without error. The "+
		"table below has some of its points.", drawn.Characteristic(r.Rule))
	if err != nil {
		return nil, err
	}
	t, err := tableOf(fmt.Sprintf("characteristic-%d", number), "Chance that the rule "+
		""+r.Name+" accepts", curveColumns, curveColumns,
		r.Curve(shownShares))
	return append(blocks, figure, t), err
}

var curveColumns = listing[acceptance.CurvePoint]{
	valueColumn("share_conforming", func(c acceptance.CurvePoint) any { return c.Conforming }),
	valueColumn("accepted_at_most", func(c acceptance.CurvePoint) any { return c.Accepted }).
		Ranked(1, "at most", func(c acceptance.CurvePoint) string { return fmt.Sprintf("%.4f", c.Accepted) }),
	valueColumn("accepted_read_without_error", func(c acceptance.CurvePoint) any { return c.Certain }).
		Ranked(1, "read without error", func(c acceptance.CurvePoint) string { return fmt.Sprintf("%.4f", c.Certain) }),
}
