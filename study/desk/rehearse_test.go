package desk

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/scenario"
)

// smallPlan is a plan of few coupons that are read at few points, of two coatings that differ by 0.08 pp. more is added at its end.
func smallPlan(studies, tries int, more string) string {
	return fmt.Sprintf(`plan: small
studies: %d
tries: %d
exposure: {dose-unit: days, pulls: [0, 100]}
coatings:
  - {coating: A, coupons: 4, controls: 1, thickness: 118, porosity: 0.36, loss: {by: patches, law: normal, mean: 0.3, sd: 0.03}}
  - {coating: B, coupons: 4, controls: 1, thickness: 118, porosity: 0.36, loss: {by: patches, law: normal, mean: 0.38, sd: 0.06}}
blanks: 0
reading: {angles: [8, 45, 60], step: 16}
%s`, studies, tries, more)
}

const bothQuestions = "compare: {margin: 0.02}\nrule: {coating: A, limit: 0.45}\n"

// planFile writes a plan.
func planFile(t testing.TB, text string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "plan.yaml")
	require.NoError(t, os.WriteFile(path, []byte(text), 0o600))
	return path
}

func planOf(t testing.TB, text string) *scenario.Plan {
	t.Helper()
	p, err := scenario.ReadPlan([]byte(text))
	require.NoError(t, err)
	return p
}

// A made-up study gives the same series by its exports, the intake, the store and the fits as by its curves, but for the order in
// which sums are made: the exports have all digits. That holds by both routes,
// with light traps, second mountings, sessions apart and lost coupons.
func TestRehearsalByFilesAndByCurves(t *testing.T) {
	q, err := FindQuantity(rehearsedQuantity)
	require.NoError(t, err)
	for name, text := range map[string]string{
		"session": strings.Replace(smallPlan(1, 0, bothQuestions+"correction: session\nfaults: {lost: 0.3}\n"),
			"blanks: 0", "blanks: 1", 1),
		"apart": strings.Replace(smallPlan(1, 0, bothQuestions+"sessions: apart\nerrors: {zero: 0.0003, tilt: 0.1}\n"), "step: 16}",
			"step: 16, light-trap: yes, mountings: 2}", 1),
	} {
		p := planOf(t, text)
		made, err := p.Make(3)
		require.NoError(t, err)
		files, held, err := filesToSeries(context.Background(), p, made, q, filepath.Join(t.TempDir(), "study"))
		require.NoError(t, err, name)
		curves, err := curvesToSeries(context.Background(), p, made, q, &fitSpace{})
		require.NoError(t, err, name)
		assert.Zero(t, held, name)
		require.Len(t, files.Coupons, len(curves.Coupons), name)
		values := 0
		for i := range files.Coupons {
			a, b := &files.Coupons[i], &curves.Coupons[i]
			require.Equal(t, a.Coupon, b.Coupon)
			assert.Equal(t, a.Ended, b.Ended, a.Coupon)
			require.Len(t, b.Points, len(a.Points), a.Coupon)
			for k := range a.Points {
				x, y := &a.Points[k].Change, &b.Points[k].Change
				if math.IsNaN(x.Value) && math.IsNaN(y.Value) {
					continue
				}
				assert.InDelta(t, x.Value, y.Value, 1e-9, "%s: %s", name, a.Coupon)
				assert.InDelta(t, x.U(), y.U(), 1e-9, "%s: %s", name, a.Coupon)
				values++
			}
		}
		assert.Greater(t, values, 8, name)
	}
}

// What a rehearsal finds does not hang on the number of workers, nor on whether it was stopped and went on. What is finished is
// not made again; a changed plan begins anew.
func TestRehearsalGoesOn(t *testing.T) {
	// a study of files takes most of the time: one is enough here
	text := smallPlan(4, 1, "compare: {margin: 0.02}\n")
	rehearse := func(path string, workers int, stopAt int) (*Rehearsal, error) {
		ctx, stop := context.WithCancel(context.Background())
		defer stop()
		return rehearse(ctx, path, 1, RehearseOptions{Workers: workers, Progress: func(done, _ int) {
			if done == stopAt {
				stop()
			}
		}})
	}
	whole, err := rehearse(planFile(t, text), 2, -1)
	require.NoError(t, err)
	assert.Equal(t, 4, whole.Planned.Studies)
	assert.Equal(t, 1, whole.Planned.ThroughFiles)
	assert.Len(t, whole.Tries, 5)

	path := planFile(t, text)
	_, err = rehearse(path, 1, 4)
	require.ErrorIs(t, err, context.Canceled)
	lines, err := os.ReadFile(path + rehearsedSuffix)
	require.NoError(t, err)
	finished := strings.Count(string(lines), "\n") - 1
	assert.InDelta(t, 4, finished, 1)
	require.NoError(t, os.WriteFile(path+rehearsedSuffix, append(lines, `{"scene":"pl`...), 0o600)) // cut off by a crash
	again, err := rehearse(path, 2, -1)
	require.NoError(t, err)
	assert.Equal(t, finished, again.Kept)
	again.Kept = 0
	one, err := json.Marshal(withoutNaN(whole))
	require.NoError(t, err)
	two, err := json.Marshal(withoutNaN(again))
	require.NoError(t, err)
	assert.JSONEq(t, string(one), string(two))

	require.NoError(t, os.WriteFile(path, []byte(strings.Replace(text, "mean: 0.38", "mean: 0.39", 1)), 0o600))
	_, err = rehearse(path, 1, 1)
	require.ErrorIs(t, err, context.Canceled)
	lines, err = os.ReadFile(path + rehearsedSuffix)
	require.NoError(t, err)
	assert.LessOrEqual(t, strings.Count(string(lines), "\n"), 3, "what the other plan had finished is gone")

	require.NoError(t, os.WriteFile(path+rehearsedSuffix, []byte("my notes\n"), 0o600))
	_, err = rehearse(path, 1, -1)
	var refused *study.Refusal
	require.ErrorAs(t, err, &refused)
	assert.Contains(t, refused.Fault, "no file of a rehearsal")
}

// By hand, one question: of four studies one is right with the means more and was not before. The gain is 1/4; with half a study added to
// each of the four outcomes, of 6 the squares are 1 + 1 and the sum 1: u² = (2/6 - 1/36)/6. The paired studies of the same number count.
func TestGainOfAnImprovement(t *testing.T) {
	p := planOf(t, smallPlan(4, 4, "rule: {coating: A, limit: 0.45}\n"))
	r := &rehearsal{plan: p, kept: &rehearsed{byKey: map[studyKey]*madeStudy{}}}
	s := scene{name: sceneTry + string(scenario.OneCoupon), studies: 4}
	for n := range 4 {
		verdict := ruleUndecided
		if n == 2 {
			verdict = ruleAccept
		}
		r.kept.byKey[studyKey{s.name, n}] = &madeStudy{Rule: verdict}
		r.kept.byKey[studyKey{scenePlanned, n}] = &madeStudy{Rule: ruleUndecided}
	}
	found := r.try(&s)
	assert.Equal(t, 4, found.Readings, "two coupons at two pulls")
	assert.InDelta(t, 0.25, found.Gain, 1e-15)
	assert.InDelta(t, math.Sqrt((2.0/6-1.0/36)/6), found.UGain, 1e-15)
	assert.False(t, found.Told())
}

// withoutNaN sets the formulas that do not hold to 0, which JSON can write.
func withoutNaN(r *Rehearsal) *Rehearsal {
	for _, o := range []*Outcomes{&r.Planned, r.Alike} {
		for i := range o.Pairs {
			if math.IsNaN(o.Pairs[i].Formula) {
				o.Pairs[i].Formula = 0
			}
		}
	}
	return r
}

// The chances of a rehearsal, through the whole evaluation with all errors of the law, are those of package power, whose
// formulas the tests there hold to R: of a difference, of a false one, of an acceptance and of a false one. With WANE_LONG 1,000
// studies, else few; the exact 99.9 % interval of the count has the chance in it.
func TestRehearsalAgainstTheFormulas(t *testing.T) {
	studies := 12
	if os.Getenv("WANE_LONG") != "" {
		studies = 1000
	}
	r, err := rehearse(context.Background(), planFile(t, smallPlan(studies, 0, bothQuestions)), 0, RehearseOptions{})
	require.NoError(t, err)
	inside := func(what string, c Chance, formula float64) {
		require.False(t, math.IsNaN(formula), what)
		lower, upper := binomialInterval(c.Of, c.N, 0.999)
		t.Logf("%-20s %5d of %5d, %.4f by the formula, 99.9 %% interval %.4f to %.4f", what, c.Of, c.N, formula, lower, upper)
		assert.True(t, lower <= formula && formula <= upper, what)
	}
	inside("different", r.Planned.Pairs[0].Different, r.Planned.Pairs[0].Formula)
	inside("falsely different", r.Alike.Pairs[0].Different, r.Alike.Pairs[0].Formula)
	inside("accepted", r.Planned.Rule.Accept, r.Planned.Rule.Formula.Accept)
	inside("falsely accepted", r.Unfit.Rule.Accept, r.Unfit.Rule.Formula.Accept)
	assert.LessOrEqual(t, r.Unfit.Rule.Accept.Lower, r.Unfit.Rule.Allowed, "no more often than the rule states")
}

// In rate, coatings that differ by 0.08 pp at the last pull are never equal within 0.001 pp, and always within 5 pp: the margin is that
// of the last pull.
func TestMarginOfRates(t *testing.T) {
	for margin, want := range map[string]int{"0.001": 0, "5": 3} {
		text := smallPlan(3, 0, "compare: {by: rate, margin: "+margin+"}\n")
		text = strings.Replace(text, "[0, 100]", "[0, 50, 100]", 1)
		r, err := rehearse(context.Background(), planFile(t, text), 0, RehearseOptions{})
		require.NoError(t, err)
		pair := &r.Planned.Pairs[0]
		assert.Equal(t, want, pair.Equal.Of, margin)
		assert.Zero(t, pair.CannotTell.Of)
		assert.False(t, math.IsNaN(pair.Formula), "the doses rise by even steps")
	}
}

// Faults of a plan are refused with file, line and remedy, all of them at once.
func TestPlanFaultsHaveTheirPlace(t *testing.T) {
	path := planFile(t, smallPlan(0, 0, "compare: {by: mood}\n"))
	_, err := Rehearse(context.Background(), path, RehearseOptions{})
	require.Error(t, err)
	var all study.Refusals
	require.ErrorAs(t, err, &all)
	require.Len(t, all, 2)
	assert.Equal(t, path+":2: studies must be from 1 to 1e+06, not 0", all[0].Error())
	assert.Equal(t, path+`:10: by is not "mood"`, all[1].Error())
	assert.NotEmpty(t, all[1].Try)
	assert.NoFileExists(t, path+rehearsedSuffix)
}

// BenchmarkRehearsal times studies of 16 coupons, of which 4 are controls, read at 4 pulls, with 2 dark blanks beside.
func BenchmarkRehearsal(b *testing.B) {
	p := planOf(b, scenario.Example())
	q, err := FindQuantity(rehearsedQuantity)
	require.NoError(b, err)
	r := &rehearsal{plan: p, quantity: q, scratch: b.TempDir()}
	for name, s := range map[string]scene{"curves": {scenePlanned, p, 1, 0}, "files": {scenePlanned, p, 1 << 30, 1 << 30}} {
		b.Run(name, func(b *testing.B) {
			var space fitSpace
			n := 0
			for b.Loop() {
				_, err := r.study(context.Background(), &space, task{&s, n})
				require.NoError(b, err)
				n++
			}
		})
	}
}
