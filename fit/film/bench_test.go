package film_test

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"

	"wane/fit/film"
)

// BenchmarkFit is one whole four-angle fit of 4 x 361 points with the default
// model: noise estimate, starts found, both models, covariance, flags.
func BenchmarkFit(b *testing.B) {
	spot := truth{118, 0.36, 0.05, 1, 1.458}.spot(b, grid(380, 1100, 2), fourAngles, 1)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := film.Fit(context.Background(), spot); err != nil {
			require.NoError(b, err)
		}
	}
}

// BenchmarkFitter is the same fit as one of many: the tables of the grid are there.
func BenchmarkFitter(b *testing.B) {
	spot := truth{118, 0.36, 0.05, 1, 1.458}.spot(b, grid(380, 1100, 2), fourAngles, 1)
	f := film.NewFitter(spot.Setup)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := f.Fit(context.Background(), spot); err != nil {
			require.NoError(b, err)
		}
	}
}
