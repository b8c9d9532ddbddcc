package desk

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/acceptance"
	"wane/study/store"
)

// hazeRule is a rule on a quantity that another instrument reads. Made up.
const hazeRule = `rule: haze-90
quantity: haze
weighting: none
condition: cleaned
exposure: roof
dose: 90
by: coating
limit: 1
unit: pp
n: 2
failures: 0
share: 0.5
confidence: 0.5
looks: 1
`

// hazeStudy is a study of two exposed coupons and two controls whose haze is measured. Made up.
func hazeStudy(t *testing.T) (folder, *Desk) {
	f := newFolder(t)
	f.write("coupons.csv", couponHeader+"E1,exposed,m,K,1,soda-lime,,matched,roof\n"+
		"E2,exposed,m,K,2,soda-lime,,matched,roof\n"+
		"C1,control,m,K,1,soda-lime,,matched,\nC2,control,m,K,1,soda-lime,,matched,\n")
	f.write("exposures.csv", exposureHeader+"roof,rack,nowhere,days,2026-01-01\n")
	f.write("pulls.csv", pullHeader+"roof,0,0,2026-01-01\nroof,1,90,2026-04-01\nroof,2,180,2026-06-30\n")
	return f, f.startFrom("coupons.csv", "exposures.csv", "pulls.csv")
}

// measureHaze measures coupons at a pull, each as E1=1.25.
func measureHaze(t *testing.T, f folder, d *Desk, pull int, date string, values ...string) {
	t.Helper()
	rows := measuredHeader
	for _, v := range values {
		coupon, value, _ := strings.Cut(v, "=")
		rows += fmt.Sprintf("%s,%d,1,haze,%s,0.05,percent,haze meter,%s,ada,,\n", coupon, pull, value, date)
	}
	_, err := d.Measure(context.Background(), []string{f.write(fmt.Sprintf("haze-%d-%s.csv", pull, date), rows)})
	require.NoError(t, err)
}

func addRule(t *testing.T, f folder, d *Desk, text string) *AddedRule {
	t.Helper()
	added, err := d.AddRule(context.Background(), f.write("rule.yaml", text))
	require.NoError(t, err)
	return added
}

func judgeRules(t *testing.T, d *Desk, names ...string) []RuleState {
	t.Helper()
	all, err := d.JudgeRules(context.Background(), names)
	require.NoError(t, err)
	return all
}

func lastLogLine(t *testing.T, d *Desk) (last study.Entry) {
	t.Helper()
	require.NoError(t, d.Log(context.Background(), func(e study.Entry) error { last = e; return nil }))
	return last
}

// A rule that was there before the data is judged, its verdict is kept once as it is issued, and what an amendment
// changes is said, not overwritten.
func TestVerdictsAreKeptAsIssued(t *testing.T) {
	ctx := context.Background()
	f, d := hazeStudy(t)
	measureHaze(t, f, d, 0, "2026-01-02", "E1=1", "E2=1", "C1=1", "C2=1")
	added := addRule(t, f, d, hazeRule)
	assert.True(t, added.Added)
	assert.False(t, added.AfterTheFact)
	assert.Equal(t, "rule", lastLogLine(t, d).Verb)
	assert.False(t, addRule(t, f, d, hazeRule).Added, "the same again")
	measureHaze(t, f, d, 1, "2026-04-02", "E1=1.3", "E2=1.5", "C1=1", "C2=1")
	before := lastLogLine(t, d).Number

	all := judgeRules(t, d)
	require.Len(t, all, 1)
	require.Len(t, all[0].Now, 1)
	v := &all[0].Now[0]
	assert.Equal(t, acceptance.Accept, v.Verdict, v.Why)
	assert.InDelta(t, 0.5, v.Worst, 1e-9)
	assert.False(t, v.AfterTheFact)
	assert.Equal(t, before, v.Row.DataLine)
	issued := lastLogLine(t, d)
	assert.Equal(t, "judged K by rule haze-90: accept", issued.Summary)
	assert.Equal(t, issued.Number, v.Last.Line)
	judgeRules(t, d, "haze-90")
	assert.Equal(t, issued.Number, lastLogLine(t, d).Number, "the same data issue nothing again")

	_, err := d.Amend(ctx, []string{f.write("amend.csv", "coupon,pull,spot,quantity,method,date,value\n"+
		"E2,1,1,haze,haze meter,2026-04-02,2.9\n")}, "mistyped", false)
	require.NoError(t, err)
	listed, err := d.Rules(ctx, RuleOptions{Changes: true})
	require.NoError(t, err)
	require.Len(t, listed[0].Now, 1)
	assert.Equal(t, "accept", listed[0].Issued[0].Verdict, "as it was issued")
	assert.Contains(t, listed[0].Now[0].Changed(), fmt.Sprintf("the verdict of line %d was accept, and it is reject "+
		"by what came since: line %d (amend)", issued.Number, issued.Number+1))
	status, err := d.Status(ctx, StatusOptions{})
	require.NoError(t, err)
	assert.Equal(t, listed[0].Now[0].Changed(), status.Rules[0].Now[0].Changed())

	again := judgeRules(t, d)[0]
	assert.Equal(t, acceptance.Reject, again.Now[0].Verdict)
	assert.Equal(t, 1, again.Now[0].Looks, "a correction is no look")
	assert.Equal(t, []string{"accept", "reject"}, []string{again.Issued[0].Verdict, again.Issued[1].Verdict})
	past, err := d.Rules(ctx, RuleOptions{Judge: true, AsOf: issued.Number})
	require.NoError(t, err)
	assert.Equal(t, acceptance.Accept, past[0].Now[0].Verdict, "as of the line of the verdict")
	assert.Len(t, past[0].Issued, 1)
	rebuilt(t, d)
}

// A look that brings new readings beyond those that the rule allows makes it void; verdicts of before stand.
func TestAnotherLookMakesARuleVoid(t *testing.T) {
	f, d := hazeStudy(t)
	addRule(t, f, d, hazeRule)
	measureHaze(t, f, d, 0, "2026-01-02", "E1=1", "E2=1", "C1=1", "C2=1")
	measureHaze(t, f, d, 1, "2026-04-02", "E1=1.3", "C1=1", "C2=1")
	early := judgeRules(t, d)[0].Now[0]
	assert.Equal(t, acceptance.Undecided, early.Verdict)
	assert.Zero(t, early.Looks, "fewer coupons than the rule asks for")
	assert.Contains(t, early.Why, "not judged: E2, it is not read within 5 % of the dose 90")
	measureHaze(t, f, d, 1, "2026-04-03", "E2=2")
	first := judgeRules(t, d)[0].Now[0]
	assert.Equal(t, acceptance.Undecided, first.Verdict, "it straddles")
	assert.Equal(t, 1, first.Looks)
	_, err := d.Enrol(context.Background(), []string{f.write("more.csv",
		couponHeader+"E3,exposed,m,K,1,soda-lime,,matched,roof\n")})
	require.NoError(t, err)
	measureHaze(t, f, d, 0, "2026-01-03", "E3=1")
	measureHaze(t, f, d, 1, "2026-04-04", "E3=1.2")
	second := judgeRules(t, d)[0]
	assert.Equal(t, acceptance.Undecided, second.Now[0].Verdict)
	assert.True(t, second.Now[0].Void)
	assert.Contains(t, second.Now[0].Why, "the rule is void: this is look 2, and it allows 1")
	assert.Contains(t, second.Now[0].Row.Sentence, "the rule is void")
	assert.False(t, second.Issued[1].Void, "as it was issued")
}

// A rule that is younger than the first exposed measurement beyond the baseline is after the fact in all that is said
// of it; one whose readings are dated before it is noted.
func TestAfterTheFact(t *testing.T) {
	f, d := hazeStudy(t)
	measureHaze(t, f, d, 0, "2026-01-02", "E1=1", "E2=1", "C1=1", "C2=1")
	measureHaze(t, f, d, 1, "2026-04-02", "C1=1", "C2=1")
	addRule(t, f, d, hazeRule)
	measureHaze(t, f, d, 1, "2026-04-03", "E1=1.3", "E2=1.4")
	late := addRule(t, f, d, strings.Replace(hazeRule, "haze-90", "haze-late", 1))
	assert.True(t, late.AfterTheFact)
	assert.Contains(t, late.Notes[0], "after the fact: the rule was added in line")
	all := judgeRules(t, d)
	assert.False(t, all[0].Now[0].Row.AfterTheFact, "controls are not exposed")
	assert.True(t, all[1].Now[0].Row.AfterTheFact)
	assert.Contains(t, all[1].Now[0].Row.Notes[0], "after the fact")
	assert.Contains(t, all[1].Now[0].Row.Sentence, "made after the fact on")
	assert.Contains(t, all[0].Now[0].Row.Sentence, "before the first exposed reading")
}

func TestRulesRefused(t *testing.T) {
	ctx := context.Background()
	f, d := hazeStudy(t)
	_, err := d.JudgeRules(ctx, nil)
	assert.ErrorContains(t, err, "the study has no rule")
	addRule(t, f, d, hazeRule)
	for _, c := range []struct{ name, from, to, says, try string }{
		{"another text", "limit: 1", "limit: 2", "rule.yaml:1: the study has a rule haze-90 already", "a name of its own"},
		{"unit", "unit: pp", "unit: percent", "rule.yaml:9: a change of haze is in pp, and the limit is in percent",
			"write the limit in that unit"},
		{"quantity", "quantity: haze", "quantity: hase", `rule.yaml:2: there is no quantity "hase"`, "did you mean haze?"},
		{"exposure", "exposure: roof", "exposure: rof", `rule.yaml:5: there is no exposure "rof"`, "did you mean roof?"},
		{"dose", "dose: 90", "dose: 100", "rule.yaml:6: exposure roof has no pull within 5 % of the dose 100", "(90, 180)"},
	} {
		before := lastLogLine(t, d).Number
		_, err := d.AddRule(ctx, f.write("rule.yaml", strings.Replace(hazeRule, c.from, c.to, 1)))
		require.Error(t, err, c.name)
		assert.Contains(t, strings.ReplaceAll(err.Error(), f.path+string(os.PathSeparator), ""), c.says, c.name)
		var r *study.Refusal
		require.ErrorAs(t, err, &r)
		assert.Contains(t, r.Try, c.try, c.name)
		assert.Equal(t, before, lastLogLine(t, d).Number, "nothing is added")
	}
	_, err = d.Rules(ctx, RuleOptions{Names: []string{"haze-9"}})
	assert.ErrorContains(t, err, `there is no rule "haze-9"`)
	all := judgeRules(t, d)
	assert.Equal(t, acceptance.Undecided, all[0].Now[0].Verdict, "nothing is measured")
}

// A merge takes rules along, in the order in which they and the readings came there; verdicts stay.
func TestMergedRules(t *testing.T) {
	for _, before := range []bool{true, false} {
		f, d := hazeStudy(t)
		if before {
			addRule(t, f, d, hazeRule)
		}
		measureHaze(t, f, d, 0, "2026-01-02", "E1=1", "E2=1", "C1=1", "C2=1")
		measureHaze(t, f, d, 1, "2026-04-02", "E1=1.3", "E2=1.5", "C1=1", "C2=1")
		if !before {
			addRule(t, f, d, hazeRule)
		}
		judgeRules(t, d)
		g := newFolder(t)
		here, err := New(context.Background(), filepath.Join(g.path, "here.wane"), d.Settings(), tester())
		require.NoError(t, err)
		_, err = here.EnrolFrom(context.Background(), filepath.Join(f.path, "made.wane"))
		require.NoError(t, err)
		all, err := here.Rules(context.Background(), RuleOptions{Judge: true})
		require.NoError(t, err)
		require.Len(t, all, 1)
		assert.Equal(t, !before, all[0].AfterTheFact)
		assert.Empty(t, all[0].Issued)
		assert.Equal(t, acceptance.Accept, all[0].Now[0].Verdict)
		_, err = here.AddRule(context.Background(), g.write("rule.yaml", strings.Replace(hazeRule, "haze-90", "of-here", 1)))
		require.NoError(t, err)
		_, err = d.AddRule(context.Background(), f.write("rule.yaml", strings.NewReplacer("haze-90", "of-here", "limit: 1",
			"limit: 2").Replace(hazeRule)))
		require.NoError(t, err)
		_, err = here.EnrolFrom(context.Background(), filepath.Join(f.path, "made.wane"))
		assert.ErrorContains(t, err, "the study has a rule of-here already", "two rules of one name")
		require.NoError(t, here.store.View(context.Background(), func(v *store.View) error {
			of, err := v.Origin("rule", 1)
			require.NotNil(t, of)
			assert.Equal(t, "rule", of.Verb)
			return err
		}))
		require.NoError(t, here.Close())
	}
}
