package film_test

import (
	"context"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"wane/fit/film"
)

// BenchmarkSession is one session of 300 spots, each of four curves of 361 points: a
// blank, a check standard of another glass, and coupons of made-up films. A whole
// session: every spot by itself, all together, covariances, verdicts.
func BenchmarkSession(b *testing.B) {
	rng, truths := rand.New(rand.NewPCG(5, 6)), make([]truth, 298)
	for i := range truths {
		truths[i] = drawTruth(rng)
	}
	members := drifted.session(b, truths, grid(380, 1100, 2), fourAngles, 1)
	b.ReportAllocs()
	for b.Loop() {
		got, err := film.FitSession(context.Background(), members, 0)
		require.NoError(b, err)
		require.True(b, got.Converged)
	}
}
