package main

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/acceptance"
	"wane/study/desk"
	"wane/study/report/document"
)

const quotable = "By the rule loss-1, made up, 15 coupons of K7 are accepted."

// judgedRule is a rule with one verdict that was issued.
func judgedRule() *desk.ReportRule {
	issued := desk.Issued{Line: 40, At: "2031-09-01T10:00:00Z", Who: "ada", VerdictRow: desk.VerdictRow{Rule: "loss-1",
		Group:   "K7",
		Verdict: "accept", Why: "all 15 coupons pass", N: 15, Passed: 15, DataLine: 39, Sentence: quotable, Worst: 0.4,
		Mean:  0.3,
		Lower: 0.28, Upper: 0.32, MeanDoF: 14, Unit: "pp", Lots: []string{"L1", "L2"}, Notes: []string{"they come from 2 " +
			"lots"}}}
	return &desk.ReportRule{RuleState: desk.RuleState{Line: 3, At: "2031-05-01T09:00:00Z", Who: "bert", DoseUnit: "days",
		Rule: &acceptance.Rule{Name: "loss-1", Quantity: "solar_T", Weighting: "energy", Exposure: "rack", Dose: 365,
			Limit: 0.5,
			Unit:  "pp", Coupons: 15, Share: 0.8, Confidence: 0.95, Looks: 1},
		Issued: []desk.Issued{issued}, Now: []desk.RuleVerdict{{Judgement: &acceptance.Judgement{Group: "K7"},
			Row: issued.VerdictRow, Last: &issued}}}}
}

func verdictsOf(t *testing.T, r *desk.ReportRule) (v document.Verdict, before []document.Block) {
	t.Helper()
	blocks := ruleBlocks(r)
	v, is := blocks[len(blocks)-1].(document.Verdict)
	require.True(t, is)
	return v, blocks[:len(blocks)-1]
}

// A verdict is shown as it was issued, with its rule, its day, its numbers and the sentence that may be quoted.
func TestReportOfAVerdict(t *testing.T) {
	v, before := verdictsOf(t, judgedRule())
	assert.Equal(t, []document.Block{
		document.Heading("Rule loss-1: loss of solar_T (energy-weighted) below 0.5 pp after 365 days in rack"),
		document.Text("The rule was fixed on 2031-05-01 by bert, in line 3 of the history. It asks for 15 coupons or more " +
			"a group and allows 0 failures. More than 80 % of what the coupons were drawn from is to conform, with a " +
			"confidence of 95 %."),
	}, before)
	assert.Equal(t, document.Verdict{About: "K7, by the rule loss-1 of 2031-05-01", Word: "accept", Tone: document.Good,
		Quote: quotable, Lines: []string{"Why: all 15 coupons pass.",
			"15 coupons of lots L1, L2: 15 passed, 0 straddle the limit, 0 failed, 0 lost and counted as failures, 0 missing.",
			"Loss: worst 0.4, mean 0.3 pp (95 % interval 0.28 to 0.32, 14 degrees of freedom).",
			"Issued on 2031-09-01 by ada, in line 40 of the history, on data up to line 39.", "Note: they come from 2 " +
				"lots."}}, v)
	assert.Empty(t, afterTheFact([]desk.ReportRule{*judgedRule()}))
}

// What was issued and is another verdict now is shown as such, and may not be quoted.
func TestReportOfAVerdictThatACorrectionChanged(t *testing.T) {
	r := judgedRule()
	r.Now[0].Since = []study.Entry{{Number: 44, Verb: "amend"}}
	r.Now[0].Differs, r.Now[0].Row.Verdict, r.Now[0].Row.Why = true, "reject", "1 failure (E3 loses 0.7 pp), and the "+
		"rule allows 0"
	v, _ := verdictsOf(t, r)
	assert.Equal(t, []string{"Changed: the verdict of line 40 was accept, and it is reject by what came since: line 44 " +
		"(amend). By the data of this report: 1 failure (E3 loses 0.7 pp), and the rule allows 0."}, v.Notices)
	assert.Empty(t, v.Quote)
	assert.Equal(t, "accept", v.Word)

	r.Cannot = &study.Refusal{Fault: "no exposed coupon is enrolled in exposure rack", Try: "enrol its coupons"}
	v, _ = verdictsOf(t, r)
	assert.Equal(t, []string{"Whether the verdict still stands cannot be told: no exposed coupon is enrolled in " +
		"exposure rack. Next: enrol its coupons."}, v.Notices)
	assert.Empty(t, v.Quote)
}

// A verdict of a look too many says so, and one that was issued before such a look stands for its own data only.
func TestReportOfAVoidRule(t *testing.T) {
	r := judgedRule()
	r.Issued[0].Void, r.Issued[0].Verdict = true, "undecided"
	r.Now[0].Row.Void = true
	v, _ := verdictsOf(t, r)
	assert.Equal(t, []string{"The rule is void: it was judged more often than it allows."}, v.Notices)
	assert.Equal(t, document.Open, v.Tone)

	r = judgedRule()
	r.Now[0].Since = []study.Entry{{Number: 44, Verb: "intake"}}
	r.Now[0].Differs, r.Now[0].Row.Void, r.Now[0].Row.Verdict = true, true, "undecided"
	r.Now[0].Row.Why = "the rule is void: this is look 2, and it allows 1"
	v, _ = verdictsOf(t, r)
	assert.Equal(t, []string{"Changed: the verdict of line 40, accept, was issued before; the rule is void for this group by " +
		"what came since: line 44 (intake). By the data of this report: the rule is void: this is look 2, and it allows 1."},
		v.Notices)
	assert.Empty(t, v.Quote)
	assert.Equal(t, "accept", v.Word)
	assert.Equal(t, "What was issued stands for its own data, and its sentence may not be quoted of those of this report.",
		v.Lines[len(v.Lines)-1])
}

// A rule that is younger than its data is so at the verdict and on each page.
func TestReportOfARuleAfterTheFact(t *testing.T) {
	r := judgedRule()
	r.AfterTheFact, r.Line, r.First = true, 30, &desk.FirstExposed{Coupon: "E1", Pull: 1, Line: 12}
	r.Issued[0].AfterTheFact = true
	v, before := verdictsOf(t, r)
	assert.Equal(t, []string{"After the fact: the rule is younger than the data."}, v.Notices)
	assert.Equal(t, document.Notice("After the fact: the rule was added in line 30 of the history, and the first "+
		"exposed reading beyond the baseline (coupon E1 at pull 1) came in line 12."), before[len(before)-1])
	assert.Equal(t, "After the fact: the rule loss-1 is younger than the data that it "+
		"judges", afterTheFact([]desk.ReportRule{*r}))
	other := *judgedRule()
	two := afterTheFact([]desk.ReportRule{*r, other, *r})
	assert.True(t, strings.HasPrefix(two, "After the fact: the rules loss-1, loss-1 are younger"), two)
}

// A report is no look at the data: a rule by which nothing was issued has no verdict in it.
func TestReportOfARuleThatWasNotJudged(t *testing.T) {
	r := judgedRule()
	r.Issued, r.Now = nil, nil
	v, _ := verdictsOf(t, r)
	assert.Equal(t, "not judged yet", v.Word)
	assert.Equal(t, document.Open, v.Tone)
	assert.Empty(t, v.Quote)
}
