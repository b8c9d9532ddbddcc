package acceptance_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"

	"wane/study/acceptance"
)

// The numbers of coupons for 80, 90 and 95 % of a product at 95 %: by ln 0.05/ln q, as in the tables of one-sided
// nonparametric tolerance intervals (59 for 95/95: ISO 16269-6, from memory), without the chance to pass at the limit
// 14, 29 and 59; with it, by hand, ln 0.05/ln(q + 0.05 (1-q)): 15, 31 and 62.
func TestCoupons(t *testing.T) {
	for share, want := range map[float64][2]int{0.8: {14, 15}, 0.9: {29, 31}, 0.95: {59, 62}} {
		assert.Equal(t, want[1], acceptance.Coupons(0, share, 0.95, 1000))
		assert.Equal(t, want[0], int(math.Ceil(math.Log(0.05)/math.Log(share))))
		n := want[1]
		assert.InDelta(t, 1-math.Pow(share+0.05*(1-share), float64(n)), acceptance.Confidence(n, 0, share, false), 1e-12)
		assert.InDelta(t, 1-(math.Pow(share, float64(n))+0.05*(1-math.Pow(share, float64(n)))),
			acceptance.Confidence(n, 0, share, true), 1e-12)
	}
	// One failure allowed at 95/95: by scipy.stats.binom 1.10, 98, and 93 if none passed by chance.
	assert.Equal(t, 98, acceptance.Coupons(1, 0.95, 0.95, 1000))
	assert.Zero(t, acceptance.Coupons(0, 0.99, 0.95, 100))
}

func TestGrades(t *testing.T) {
	assert.Equal(t, acceptance.Pass, acceptance.GradeOf(0.3, 0.1, 0.47))
	assert.Equal(t, acceptance.Straddle, acceptance.GradeOf(0.3, 0.1, 0.46))
	assert.Equal(t, acceptance.Straddle, acceptance.GradeOf(0.6, 0.1, 0.45))
	assert.Equal(t, acceptance.Fail, acceptance.GradeOf(0.6, 0.1, 0.43))
	assert.Equal(t, acceptance.Straddle, acceptance.GradeOf(0.3, 0.1, math.NaN()))
	assert.InDelta(t, 0.16/1.645, acceptance.DecidingU(0.3, 0.46), 1e-4)
}

func TestDecide(t *testing.T) {
	p, s, f := acceptance.Pass, acceptance.Straddle, acceptance.Fail
	for _, c := range []struct {
		grades         []acceptance.Grade
		lost, failures int
		want           acceptance.Verdict
	}{
		{[]acceptance.Grade{p, p, p}, 0, 0, acceptance.Accept},
		{[]acceptance.Grade{p, p, s}, 0, 0, acceptance.Undecided},
		{[]acceptance.Grade{p, p, s}, 0, 1, acceptance.Accept},
		{[]acceptance.Grade{p, s, s}, 0, 1, acceptance.Undecided},
		{[]acceptance.Grade{p, p, f}, 0, 0, acceptance.Reject},
		{[]acceptance.Grade{p, p, f}, 0, 1, acceptance.Accept},
		{[]acceptance.Grade{p, s, f}, 0, 1, acceptance.Undecided},
		{[]acceptance.Grade{p, p}, 1, 0, acceptance.Reject},
		{[]acceptance.Grade{p, p}, 1, 1, acceptance.Accept},
	} {
		assert.Equal(t, c.want, acceptance.Decide(c.grades, c.lost, c.failures), "%v", c)
	}
}

// Skewed losses of a product of which exactly the share of the rule conforms are accepted no more often than the
// confidence allows, with independent errors: exponential and lognormal losses, 40,000 draws.
func TestAcceptedNoMoreOftenThanStated(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	const n, share, draws = 15, 0.8, 40000
	for name, draw := range map[string]func() float64{
		"exponential": r.ExpFloat64, "lognormal": func() float64 { return math.Exp(r.NormFloat64()) },
	} {
		limit := map[string]float64{"exponential": -math.Log(1 - share), "lognormal": math.Exp(0.8416212336)}[name]
		accepted := 0
		for range draws {
			grades := make([]acceptance.Grade, n)
			for i := range grades {
				const u = 0.2
				grades[i] = acceptance.GradeOf(draw()+u*r.NormFloat64(), u, limit)
			}
			if acceptance.Decide(grades, 0, 0) == acceptance.Accept {
				accepted++
			}
		}
		most := 1 - acceptance.Confidence(n, 0, share, false)
		assert.LessOrEqual(t, float64(accepted)/draws, most+3*math.Sqrt(most/draws), name)
	}
	assert.InDelta(t, 0.05, acceptance.PassChance(1, 0.1, 1), 1e-9, "at the limit")
	assert.InDelta(t, 1.0, acceptance.PassChance(0, 0.1, 1), 1e-9)
	assert.InDelta(t, math.Pow(0.9, 3)+3*math.Pow(0.9, 2)*0.1, acceptance.Characteristic(3, 1, 0.9), 1e-12)
}
