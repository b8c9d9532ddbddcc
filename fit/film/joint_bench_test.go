package film_test

import (
	"context"
	"fmt"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"wane/fit/film"
)

// BenchmarkSession is one session, each of its spots of four curves of 361 points: a blank, a check standard of another
// glass, and coupons of made-up films with two spots each, with what is known by default of sessions, placements, coupons and
// structures. A whole session: every spot by itself, all together, covariances, verdicts. Its time rises in proportion to the
// number of spots.
func BenchmarkSession(b *testing.B) {
	for _, spots := range []int{100, 200, 300, 400} {
		b.Run(fmt.Sprint(spots), func(b *testing.B) {
			rng, truths := rand.New(rand.NewPCG(5, 6)), make([]truth, spots-2)
			for i := range truths {
				truths[i] = drawTruth(rng)
			}
			members := drifted.session(b, truths, grid(380, 1100, 2), fourAngles, 1)
			for i := range members {
				members[i].Spot.Known = nil
				members[i].Coupon = fmt.Sprintf("coupon %d", i/2)
			}
			members[1].Coupon = "standard"
			b.ReportAllocs()
			for b.Loop() {
				got, err := film.FitSession(context.Background(), members, 0)
				require.NoError(b, err)
				require.True(b, got.Converged)
			}
		})
	}
}
