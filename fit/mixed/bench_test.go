package mixed_test

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"wane/fit/mixed"
)

// ageing makes up observations of coupons of coatings in three lots each, all read at ten pulls, one session a pull, with spreads of
// slopes that differ tenfold.
func ageing(coatings, coupons, spots int) *mixed.Model {
	r := rand.New(rand.NewPCG(1, 2))
	const pulls = 10
	m := &mixed.Model{X: make([][]float64, 2*coatings)}
	terms := make([]mixed.Term, coatings+3)
	terms[0].Name, terms[coatings+1].Name, terms[coatings+2].Name = "coupon", "lot", "session"
	var sessions [pulls]float64
	for s := range sessions {
		sessions[s] = 0.02 * r.NormFloat64()
	}
	for c := range coatings {
		terms[c+1].Name, terms[c+1].Columns = fmt.Sprint("slope ", c), make([][]float64, 1)
		for i := range coupons {
			a, b := 0.05*r.NormFloat64(), -0.1+0.02*float64(1+c%10)*r.NormFloat64()
			for pull := range pulls {
				dose := float64(pull) / (pulls - 1)
				for range spots {
					m.Y = append(m.Y, a+b*dose+sessions[pull]+0.01*r.NormFloat64())
					for k := range coatings {
						is := 0.0
						if k == c {
							is = 1
						}
						m.X[2*k], m.X[2*k+1] = append(m.X[2*k], is), append(m.X[2*k+1], is*dose)
						of := -1
						if k == c {
							of = c*coupons + i
						}
						terms[k+1].Of = append(terms[k+1].Of, of)
						terms[k+1].Columns = [][]float64{nil}
					}
					terms[0].Of = append(terms[0].Of, c*coupons+i)
					terms[coatings+1].Of = append(terms[coatings+1].Of, 3*c+i%3)
					terms[coatings+2].Of = append(terms[coatings+2].Of, pull)
				}
			}
		}
	}
	var doses []float64
	for i := range m.Y {
		dose := 0.0
		for k := range coatings {
			dose += m.X[2*k+1][i]
		}
		doses = append(doses, dose)
	}
	for k := range coatings {
		terms[k+1].Columns[0] = doses
	}
	m.Terms = terms
	return m
}

// BenchmarkFit fits 30 coatings of which each has a slope and a variance of slopes of its own, three lots a coating and ten sessions.
func BenchmarkFit(b *testing.B) {
	for _, coupons := range []int{10, 100} {
		m := ageing(30, coupons, 1)
		b.Run(fmt.Sprint(len(m.Y)), func(b *testing.B) {
			for b.Loop() {
				_, err := m.Fit(b.Context())
				require.NoError(b, err)
			}
		})
	}
}
