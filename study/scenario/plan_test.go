package scenario

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat"

	"wane/protocols/fields"
	"wane/study/power"
	"wane/testdata/foreign"
)

// tiny is a plan of one reading a pull, without any error but those added.
func tiny(t testing.TB, more string) *Plan {
	t.Helper()
	var none strings.Builder
	for _, w := range lawWords {
		if !strings.Contains(more, w.name+":") {
			fmt.Fprintf(&none, "  %s: 0\n", w.name)
		}
	}
	p, err := ReadPlan([]byte(`plan: tiny
exposure: {pulls: [0, 100]}
coatings:
  - {coating: A, coupons: 1, controls: 0, thickness: 118, porosity: 0.36, loss: {mean: 0}}
blanks: 0
rule: {coating: A, limit: 1}
reading: {angles: [45], step: 16, noise: 0}
errors:
` + more + none.String()))
	require.NoError(t, err)
	return p
}

func made(t testing.TB, p *Plan, n int) *Made {
	t.Helper()
	m, err := p.Make(n)
	require.NoError(t, err)
	return m
}

// The example has every line that a plan can have, and can be made.
func TestExampleOfAPlan(t *testing.T) {
	p, err := ReadPlan([]byte(Example()))
	require.NoError(t, err)
	for _, names := range [][]string{planKeys, exposureKeys, coatingKeys, spreadKeys, lossKeys, readingKeys, faultKeys, faultParts,
		compareKeys, ruleKeys} {
		for _, name := range names {
			assert.Contains(t, Example(), name+":")
		}
	}
	assert.Equal(t, 72, p.Readings())
	m := made(t, p, 0)
	assert.NotEmpty(t, m.Readings)
	again := made(t, p, 0)
	assert.Equal(t, m.Readings, again.Readings, "always the same")
	assert.Equal(t, m.Losses, again.Losses)
	assert.NotEqual(t, m.Readings, made(t, p, 1).Readings)
}

// Every fault of a plan has its line and a remedy.
func TestFaultsOfPlans(t *testing.T) {
	const whole = `plan: a
exposure: {pulls: [0, 100]}
coatings:
  - {coating: A, coupons: 4, thickness: 118, porosity: 0.36, loss: {mean: 0.3}}
  - {coating: B, coupons: 4, thickness: 118, porosity: 0.36, loss: {mean: 0.3}}
compare: {by: dose}
rule: {coating: A, limit: 0.5}
`
	_, err := ReadPlan([]byte(whole))
	require.NoError(t, err)
	for _, c := range []struct {
		old, new string
		line     int
		what     string
	}{
		{"plan: a", "plan: a b", 1, `"a b" is not a name`},
		{"[0, 100]", "[0]", 2, "a study has 2 to 50 pulls, and this one has 1"},
		{"[0, 100]", "[10, 100]", 2, "the dose of pull 0 is 10, not 0"},
		{"[0, 100]", "[0, 100, 100]", 2, "the dose 100 of pull 2 is not above that of pull 1"},
		{"[0, 100]", "[0, 1.5]", 2, "a pull at 1.5 days has no date"},
		{"coupons: 4, ", "", 4, "a coating has no coupons"},
		{"coupons: 4", "coupons: 0", 4, "coupons must be from 1 to 2000, not 0"},
		{"coupons: 4", "coupons: 1", 4, "one coupon says nothing of coating A"},
		{"coupons: 4", "coupons: 4, lots: 5", 4, "4 coupons cannot come from 5 lots"},
		{"coating: B", "coating: A", 5, "A is a coating in line 4 already"},
		{"{mean: 0.3}", "{mean: -0.3}", 4, "mean must be from 0 to 5, not -0.3"},
		{"{mean: 0.3}", "{law: exponential, mean: 0.3, sd: 0.1}", 4, "the standard deviation of exponential losses is their mean"},
		{"{mean: 0.3}", "{law: lognormal, mean: 0}", 4, "lognormal losses have a mean above 0"},
		{"{mean: 0.3}", "{law: beta, mean: 0.3}", 4, `law is not "beta"`},
		{"rule: {coating: A", "rule: {coating: C", 7, "the plan has no coating C"},
		{"limit: 0.5", "limit: 0", 7, "a limit of 0 is passed by no loss"},
		{"limit: 0.5", "limit: 0.5, failures: 4", 7, "4 of 4 coupons may fail"},
		{"rule: {coating: A, limit: 0.5}", "reading: {step: 50}", 7, "a curve from 380 to 1100 nm has 15 points"},
		{"rule: {coating: A, limit: 0.5}", "reading: {angles: [8, 8]}", 7, "8 degrees stand there twice"},
		{"rule: {coating: A, limit: 0.5}", "faults: {lost: 2}", 7, "lost must be from 0 to 1, not 2"},
		{"rule: {coating: A, limit: 0.5}", "errors: {speed: 2}", 7, `the list of errors has no "speed"`},
		{"rule: {coating: A, limit: 0.5}", "errors: {zero: 1}", 7, "zero must be from 0 to 0.05, not 1"},
		{"rule: {coating: A, limit: 0.5}", "tries: 2000", 7, "2000 tries are more than the 1000 studies"},
		{"compare: {by: dose}\nrule: {coating: A, limit: 0.5}\n", "", 1, "the plan asks nothing: it has neither compare nor rule"},
		{"  - {coating: B, coupons: 4, thickness: 118, porosity: 0.36, loss: {mean: 0.3}}\n", "", 5, "there is nothing to compare"},
	} {
		_, err := ReadPlan([]byte(strings.Replace(whole, c.old, c.new, 1)))
		var faults fields.Faults
		require.ErrorAs(t, err, &faults, c.new)
		i := slices.IndexFunc(faults, func(f fields.Fault) bool { return strings.Contains(f.What, c.what) })
		require.GreaterOrEqual(t, i, 0, "%s: %v", c.new, err)
		assert.Equal(t, c.line, faults[i].Line, c.what)
		assert.NotEmpty(t, faults[i].Try)
	}
}

// Without any error the reading is that of the simulator of testdata/foreign, which shares no optics with the project.
func TestReadingWithoutErrors(t *testing.T) {
	m := made(t, tiny(t, ""), 0)
	require.Len(t, m.Readings, 2)
	setup := foreign.Standard()
	setup.AnglesDeg, setup.Band = []float64{45}, foreign.NewBand(380, 1100, 46)
	want := foreign.Surface{Glass: foreign.SodaLime, Skeleton: 1.458, Thickness: 118, Porosity: 0.36}.Ideal(setup)[0]
	assert.InDeltaSlice(t, want.WavelengthNM, m.Readings[0].NM, 1e-9)
	assert.InDeltaSlice(t, want.Reflectance, m.Readings[1].Values, 1e-5)
	assert.InDelta(t, 0, m.Losses[Seen{"A-001", 1}], 1e-12, "an unchanged surface")
}

// One effect at a time scatters as it says, and shifts a reading as the law of a curve says: the zero by itself, the scale, factor
// and place by the reading, over studies; five standard errors of a standard deviation.
func TestEffectsScatterAsTheySay(t *testing.T) {
	const studies = 120
	ideal := made(t, tiny(t, ""), 0).Readings[0].Values
	for name, of := range map[string]func(values []float64) float64{
		"zero":       func(v []float64) float64 { return v[10] - ideal[10] },
		"place-zero": func(v []float64) float64 { return v[10] - ideal[10] },
		"scale":      func(v []float64) float64 { return v[10]/ideal[10] - 1 },
		"factor":     func(v []float64) float64 { return v[10]/ideal[10] - 1 },
		"place":      func(v []float64) float64 { return v[10]/ideal[10] - 1 },
	} {
		p, sd := tiny(t, "  "+name+": 0.003\n"), 0.003
		found := make([]float64, studies)
		for n := range found {
			m := made(t, p, n)
			found[n] = of(m.Readings[0].Values)
			assert.NotEqual(t, m.Readings[0].Values, m.Readings[1].Values, "%s is not shared by two sessions", name)
		}
		mean, scatter := stat.MeanStdDev(found, nil)
		assert.InDelta(t, 0, mean, 5*sd/math.Sqrt(studies), name)
		assert.InDelta(t, sd, scatter, 5*sd/math.Sqrt(2*studies), name)
	}
}

// Losses have the mean and the standard deviation of their law, lots too, and the product that must not be accepted conforms to the
// share of the rule, by counting.
func TestLossesFollowTheirLaw(t *testing.T) {
	const draws = 20000
	for _, l := range []Loss{
		{Losses: power.Losses{Law: power.Normal, Mean: 0.3, SD: 0.05}, Lot: 0.03},
		{Losses: power.Losses{Law: power.Lognormal, Mean: 0.3, SD: 0.2}, Lot: 0.1},
		{Losses: power.Losses{Law: power.Exponential, Mean: 0.3, SD: 0.3}},
	} {
		p := &Plan{Rule: &Rule{Coating: "A", Limit: 0.5, Share: 0.8}, Coatings: []Coating{{Coating: "A", Loss: l}}}
		unfit := p.Unfit().Coatings[0].Loss
		assert.InDelta(t, 0.8, unfit.Whole().Below(0.5), 1e-9)
		found, conforms := make([]float64, draws), 0.0
		for i := range found {
			d := dice{7, uint64(i)}
			found[i] = d.loss(&l, "lot", "coupon")
			if d.loss(&unfit, "lot", "coupon") < 0.5 {
				conforms += 1.0 / draws
			}
		}
		mean, sd := stat.MeanStdDev(found, nil)
		assert.InDelta(t, 0.3, mean, 5*l.Whole().SD/math.Sqrt(draws), l.Law)
		assert.InEpsilon(t, l.Whole().SD, sd, 0.08, l.Law)
		assert.InDelta(t, 0.8, conforms, 5*math.Sqrt(0.8*0.2/draws), l.Law)
	}
}

// Films lose by either dial exactly what was drawn for their coupon, in proportion to the dose, although their structure deviates
// at each pull.
func TestFilmsLoseWhatWasDrawn(t *testing.T) {
	for _, by := range []string{"thinning", "patches"} {
		p, err := ReadPlan([]byte(strings.Replace(Example(), "by: thinning ", "by: "+by+" ", 1)))
		require.NoError(t, err)
		p.Faults = Faults{}
		m := made(t, p, 2)
		require.Zero(t, m.Capped)
		for i := range m.Roster.Coupons {
			c := &m.Roster.Coupons[i]
			last := m.Losses[Seen{c.Coupon, 3}]
			if c.Role != "exposed" {
				assert.InDelta(t, 0, last, 1e-12, c.Coupon)
				continue
			}
			want := dice{p.Seed, 2}.loss(&p.Coatings[strings.Index("AB", c.Coating)].Loss, c.Lot, c.Coupon)
			assert.InDelta(t, want, last, 1e-5, "%s by %s", c.Coupon, by)
			assert.InDelta(t, want*180/365, m.Losses[Seen{c.Coupon, 2}], 1e-5, "%s by %s", c.Coupon, by)
		}
	}
}

// A plan with one means more has everything else alike: the same curves of the same coupons on the same day.
func TestImprovementsLeaveTheRestAlone(t *testing.T) {
	p, err := ReadPlan([]byte(strings.Replace(Example(), "step: 4", "step: 16", 1)))
	require.NoError(t, err)
	type place struct {
		coupon, session string
		angle           float64
		mounting        int
	}
	curves := func(p *Plan) map[place][]float64 {
		all := map[place][]float64{}
		for _, r := range made(t, p, 5).Readings {
			all[place{r.Coupon, r.Session, r.AngleDeg, r.Mounting}] = r.Values
		}
		return all
	}
	before := curves(p)
	for _, i := range p.Improvements() {
		with, cost := p.With(i)
		assert.Positive(t, cost, i)
		after := curves(with)
		kept := 0
		for at, values := range before {
			if after[at] != nil {
				require.Equal(t, values, after[at], "%s: %+v", i, at)
				kept++
			}
		}
		assert.Greater(t, kept, len(before)*9/10, "%s", i)
	}
	with, _ := p.With(Trap)
	assert.NotContains(t, with.Improvements(), Trap)
}

func BenchmarkMake(b *testing.B) {
	p, err := ReadPlan([]byte(Example()))
	require.NoError(b, err)
	n := 0
	for b.Loop() {
		_, err := p.Make(n)
		require.NoError(b, err)
		n++
	}
}
