package main

import (
	"fmt"
	"math"

	"github.com/spf13/cobra"

	"wane/study"
	"wane/study/acceptance"
	"wane/study/desk"
	"wane/study/shown"
)

// judgedCoupon is a coupon with the verdict that it is a part of.
type judgedCoupon struct {
	of *desk.RuleVerdict
	*acceptance.Judged
}

// judgedCouponColumns are the columns of rule judge --coupons.
var judgedCouponColumns = listing[*judgedCoupon]{
	valueColumn("rule", func(c *judgedCoupon) any { return c.of.Row.Rule }).Ranked(2, "", nil),
	valueColumn("group", func(c *judgedCoupon) any { return c.of.Row.Group }).Ranked(1, "", nil),
	valueColumn("coupon", func(c *judgedCoupon) any { return c.Coupon }).Ranked(1, "", nil),
	valueColumn("lot", func(c *judgedCoupon) any { return orEmpty(c.Lot) }).Ranked(3, "", nil),
	valueColumn("pull", func(c *judgedCoupon) any {
		if c.Session == "" && c.Grade == "" {
			return nil
		}
		return c.Pull
	}).Ranked(2, "", nil),
	valueColumn("dose", func(c *judgedCoupon) any { return orNil(study.Num(c.Dose)) }).Ranked(3, "", nil),
	valueColumn("session", func(c *judgedCoupon) any { return orEmpty(c.Session) }).Ranked(4, "", nil),
	judgedNumber("loss", func(c *judgedCoupon) float64 { return c.Loss }),
	judgedNumber("u_loss", func(c *judgedCoupon) float64 { return c.U }),
	valueColumn("limit", func(c *judgedCoupon) any { return c.of.Row.Limit }),
	valueColumn("unit", func(c *judgedCoupon) any { return orEmpty(c.of.Row.Unit) }).Ranked(3, "", nil),
	valueColumn("grade", func(c *judgedCoupon) any { return orEmpty(string(c.Grade)) }).Ranked(1, "", nil),
	judgedNumber("chance_that_it_conforms", func(c *judgedCoupon) float64 { return c.Conforms }),
	valueColumn("ended", func(c *judgedCoupon) any { return orEmpty(c.Ended) }).Ranked(3, "", nil),
	valueColumn("counts", func(c *judgedCoupon) any { return !c.Excused }),
	valueColumn("missing", func(c *judgedCoupon) any { return orEmpty(c.Missing) }).Ranked(2, "", nil).Folded(24),
	valueColumn("after_the_fact", func(c *judgedCoupon) any { return c.of.Row.AfterTheFact }).
		Ranked(4, "after the fact", nil),
}

func judgedNumber(name string, of func(*judgedCoupon) float64) column[*judgedCoupon] {
	head := name
	if name == "chance_that_it_conforms" {
		head = "conforms"
	}
	return valueColumn(name, func(c *judgedCoupon) any { return orNil(study.Num(of(c))) }).
		Ranked(2, head, func(c *judgedCoupon) string {
			if math.IsNaN(of(c)) {
				return "-"
			}
			return fmt.Sprintf("%.3g", of(c))
		})
}

const ruleJudgeLong = `Judge the coupons of each group by the rules, and keep each verdict as it is issued, with the
line of the history up to which its data go. The same data again issue nothing again.

A coupon passes when its loss and 1.645 u are below the limit, fails when its loss less 1.645 u
is above it, and straddles it in between. The group is accepted when all its coupons pass but at
most as many as may fail, rejected when more fail, and undecided otherwise; the column why says
what would decide. The confidence of an acceptance comes from the draw of the coupons and from
the errors that they share, and takes no distribution of the losses for granted.

--coupons lists the coupons instead, each with its loss, its grade and the chance that its true
loss is below the limit by its reading alone. See: wane help acceptance
`

type ruleJudgeOptions struct {
	study       studyOptions
	list        listOptions
	couponList  bool
	verdicts    listing[*desk.RuleVerdict]
	couponTable listing[*judgedCoupon]
}

func newRuleJudgeCommand() *cobra.Command {
	o := &ruleJudgeOptions{}
	cmd := &cobra.Command{
		Use: "judge [NAME...]", Short: "judge coupons by the rules, and keep the verdicts",
		Example: "  wane rule judge\n  wane rule judge loss-1 --format json\n  wane rule judge loss-1 --coupons",
		Long:    ruleJudgeLong + columnsHelp(shown.RuleVerdicts()) + exitCodes,
		RunE:    func(cmd *cobra.Command, args []string) error { return o.run(cmd, args) },
	}
	o.study.bind(cmd)
	bindListing(cmd, &o.list, shown.RuleVerdicts())
	cmd.Flags().BoolVar(&o.couponList, "coupons", false, "list the coupons that were judged, not the verdicts")
	completeRules(cmd, &o.study, 100)
	return cmd
}

func (o *ruleJudgeOptions) run(cmd *cobra.Command, names []string) (err error) {
	if err := o.list.check(cmd); err != nil {
		return err
	}
	if o.couponList {
		o.couponTable, err = judgedCouponColumns.Choose(o.list.format, o.list.named)
	} else {
		o.verdicts, err = shown.RuleVerdicts().Choose(o.list.format, o.list.named)
	}
	if err != nil {
		return err
	}
	defer holdWhole()()
	return o.study.with(cmd.Context(), func(d *desk.Desk) error {
		all, err := d.JudgeRules(cmd.Context(), names)
		if err != nil {
			return err
		}
		var verdicts []*desk.RuleVerdict
		for i := range all {
			for k := range all[i].Now {
				verdicts = append(verdicts, &all[i].Now[k])
			}
		}
		if o.couponList {
			return o.listCoupons(pageOf(cmd), verdicts)
		}
		return o.listVerdicts(pageOf(cmd), verdicts)
	})
}

func (o *ruleJudgeOptions) listCoupons(p page, verdicts []*desk.RuleVerdict) error {
	out := openRows(o.couponTable, p, o.list.format)
	for _, v := range verdicts {
		for i := range v.Coupons {
			if err := out.write(&judgedCoupon{v, &v.Coupons[i]}); err != nil {
				return err
			}
		}
	}
	return out.end()
}

func (o *ruleJudgeOptions) listVerdicts(p page, verdicts []*desk.RuleVerdict) error {
	out := openRows(o.verdicts, p, o.list.format)
	for _, v := range verdicts {
		if err := out.write(v); err != nil {
			return err
		}
	}
	if err := out.end(); err != nil || o.list.format != "table" || len(o.list.named) > 0 {
		return err
	}
	for _, v := range verdicts {
		for _, words := range verdictWords(&v.Row) {
			if err := writeWrapped(p, words.indent, words.text); err != nil {
				return err
			}
		}
	}
	return nil
}

type indented struct{ indent, text string }

// verdictWords are what stands below the table of verdicts.
func verdictWords(r *desk.VerdictRow) (all []indented) {
	all = append(all, indented{"", fmt.Sprintf("%s by rule %s, data up to line %d of the history:", r.Group, r.Rule,
		r.DataLine)})
	for _, note := range r.Notes {
		all = append(all, indented{"  ", note})
	}
	if r.NormalBound.Valid() {
		within := "below"
		if float64(r.NormalBound) > r.Limit {
			within = "above"
		}
		all = append(all, indented{"  ", fmt.Sprintf("beside, and no part of the verdict, since losses are not normally "+
			"distributed: the normal tolerance bound (ISO 16269-6, factor %.3f) is %.3g %s, %s the limit",
			float64(r.NormalFactor),
			float64(r.NormalBound), r.Unit, within)})
	}
	if r.NormalQuality.Valid() && r.NormalBeyond.Valid() {
		all = append(all, indented{"  ", fmt.Sprintf("beside, by the k method for normal losses: quality %.3g, share "+
			"beyond the limit about %.2g", float64(r.NormalQuality), float64(r.NormalBeyond))})
	}
	if r.NormalConsumer.Valid() {
		all = append(all, indented{"  ", fmt.Sprintf("beside, for normal losses spread like these (JCGM 106): of a "+
			"coupon, the chance to pass and not to conform is %.2g, and not to pass and to conform %.2g",
			float64(r.NormalConsumer),
			float64(r.NormalProducer))})
	}
	return append(all, indented{"  ", "to quote: " + r.Sentence})
}
