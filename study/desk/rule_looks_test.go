package desk

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/acceptance"
	"wane/study/bench"
)

// twoCoatings is a study of two coatings, K whose E1 fails and L whose E4 straddles, judged once in the line that is
// returned. Made up.
func twoCoatings(t *testing.T) (f folder, d *Desk, judged int64) {
	f = newFolder(t)
	f.write("coupons.csv", couponHeader+"E1,exposed,m,K,1,soda-lime,,matched,roof\n"+
		"E2,exposed,m,K,1,soda-lime,,matched,roof\nE3,exposed,m,L,1,soda-lime,,matched,roof\n"+
		"E4,exposed,m,L,1,soda-lime,,matched,roof\nC1,control,m,K,1,soda-lime,,matched,\n"+
		"C2,control,m,L,1,soda-lime,,matched,\n")
	f.write("exposures.csv", exposureHeader+"roof,rack,nowhere,days,2026-01-01\n")
	f.write("pulls.csv", pullHeader+"roof,0,0,2026-01-01\nroof,1,90,2026-04-01\nroof,2,180,2026-06-30\n")
	d = f.startFrom("coupons.csv", "exposures.csv", "pulls.csv")
	addRule(t, f, d, hazeRule)
	measureHaze(t, f, d, 0, "2026-01-02", "E1=1", "E2=1", "E3=1", "E4=1", "C1=1", "C2=1")
	measureHaze(t, f, d, 1, "2026-04-02", "E1=3", "E2=1.3", "E3=1.3", "E4=2", "C1=1", "C2=1")
	judgeRules(t, d)
	last := lastLogLine(t, d)
	require.Equal(t, "judged K by rule haze-90: reject; L by rule haze-90: undecided", last.Summary)
	return f, d, last.Number
}

// judgedAs returns what a rule says now of a group.
func judgedAs(t *testing.T, s *RuleState, group string) *RuleVerdict {
	t.Helper()
	for i := range s.Now {
		if s.Now[i].Group == group {
			return &s.Now[i]
		}
	}
	require.Failf(t, "no group", "%s", group)
	return nil
}

// A coupon that an amendment puts into another group was looked at there: it is no look, and its failure counts. The
// preview says which verdicts it changes, and a bench sheet that came between is not named.
func TestAnAmendmentOfTheRosterIsNoLook(t *testing.T) {
	ctx := context.Background()
	f, d, judged := twoCoatings(t)
	_, err := d.DrawSheet(ctx, SheetOptions{Wanted: bench.Wanted{Exposure: "roof", Pull: 2, AnglesDeg: []float64{8},
		Spots: []string{"1"}}}, 1)
	require.NoError(t, err)
	table := []string{f.write("amend.csv", "coupon,coating\nE1,L\n")}
	preview, err := d.Amend(ctx, table, "a mix-up", true)
	require.NoError(t, err)
	assert.Equal(t, []string{"rule haze-90, K: verdict was reject, becomes undecided",
		"rule haze-90, L: verdict was undecided, becomes reject"}, changeWords(preview.Verdicts))
	_, err = d.Amend(ctx, table, "a mix-up", false)
	require.NoError(t, err)

	listed, err := d.Rules(ctx, RuleOptions{Changes: true})
	require.NoError(t, err)
	assert.Equal(t, fmt.Sprintf("the verdict of line %d was undecided, and it is reject by what came since: "+
		"line %d (amend)", judged, judged+2), judgedAs(t, &listed[0], "L").Changed(), "the sheet is not named")
	again := judgeRules(t, d)[0]
	moved := judgedAs(t, &again, "L")
	assert.Equal(t, acceptance.Reject, moved.Verdict, moved.Why)
	assert.Contains(t, moved.Why, "1 failure (E1 rises by 2 ±")
	assert.Equal(t, []int{1, 1}, []int{moved.Looks, judgedAs(t, &again, "K").Looks})
	assert.False(t, moved.Void)
	rebuilt(t, d)
}

// A group under a new name has the looks at its coupons, so that a name buys no look. Where a rule has become void,
// that is what is said of the verdict before.
func TestANewNameBuysNoLook(t *testing.T) {
	ctx := context.Background()
	f, d, _ := twoCoatings(t)
	_, err := d.Amend(ctx, []string{f.write("amend.csv", "coupon,coating\nE3,M\nE4,M\nC2,M\n")}, "a mix-up", false)
	require.NoError(t, err)
	for range 2 { // as it is issued first, and on the same data
		all := judgeRules(t, d)
		assert.Equal(t, 1, judgedAs(t, &all[0], "M").Looks)
	}
	named := lastLogLine(t, d).Number
	_, err = d.Enrol(ctx, []string{f.write("more.csv", couponHeader+"E5,exposed,m,M,1,soda-lime,,matched,roof\n")})
	require.NoError(t, err)
	measureHaze(t, f, d, 0, "2026-01-03", "E5=1")
	measureHaze(t, f, d, 1, "2026-04-05", "E5=1.2")
	listed, err := d.Rules(ctx, RuleOptions{Changes: true})
	require.NoError(t, err)
	now := judgedAs(t, &listed[0], "M")
	assert.True(t, now.Void)
	assert.Equal(t, 2, now.Looks)
	assert.Equal(t, fmt.Sprintf("the verdict of line %d, undecided, was issued before; the rule is void for this group by "+
		"what came since: line %d (enrol), line %d (measure), line %d (measure)", named, named+1, named+2, named+3),
		now.Changed())
	assert.Empty(t, judgedAs(t, &listed[0], "K").Changed())
}

// Everything that is wrong with a rule and can be seen is refused at once, in the order of the lines.
func TestAllFaultsOfARuleAtOnce(t *testing.T) {
	f, d := hazeStudy(t)
	_, err := d.AddRule(context.Background(), f.write("rule.yaml", strings.NewReplacer("n: 2", "n: 0", "share: 0.5",
		"share: 50", "weighting: none", "weighting: energy", "unit: pp", "unit: percent", "exposure: roof", "exposure: rof",
		"limit: 1", "limit: -1").Replace(hazeRule)))
	var all study.Refusals
	require.ErrorAs(t, err, &all)
	var lines []int
	for _, r := range all {
		var one *study.Refusal
		require.True(t, errors.As(r, &one))
		lines = append(lines, one.Line)
	}
	assert.Equal(t, []int{3, 5, 8, 9, 10, 12}, lines, "%v", err)
	assert.ErrorContains(t, err, "limit must be 0 or more, not -1")
	assert.ErrorContains(t, err, `there is no exposure "rof"`)
}

// Coupons without a pull near the dose of a rule are named when it is added.
func TestCouponsWithoutAPullAreNamed(t *testing.T) {
	f, d := hazeStudy(t)
	_, err := d.Enrol(context.Background(), []string{
		f.write("more.csv", "coupon,role,supplier,coating,lot,glass,glass_mm,back,exposure,baseline_pull\n"+
			"E3,exposed,m,K,1,soda-lime,,matched,roof,1\n"),
		f.write("events.csv", "coupon,event,pull,date\nE3,start,1,2026-04-01\n")})
	require.NoError(t, err)
	late := strings.NewReplacer("haze-90", "haze-180", "dose: 90", "dose: 180").Replace(hazeRule)
	assert.Contains(t, addRule(t, f, d, late).Notes, "no pull within 5 % of the dose 180 is planned for some "+
		"coupons of exposure roof: E3; what is not read there leaves the verdict open: plan such a pull for them, or enrol "+
		"how they end")
	assert.NotContains(t, strings.Join(addRule(t, f, d, hazeRule).Notes, "\n"), "is planned for")
	_, err = d.Enrol(context.Background(), []string{f.write("end.csv",
		"coupon,event,pull,date\nE3,broken,2,2026-06-01\n")})
	require.NoError(t, err)
	assert.NotContains(t, strings.Join(addRule(t, f, d, late).Notes, "\n"), "is planned for", "it has ended")
}
