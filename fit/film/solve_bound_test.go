package film_test

import (
	"context"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/fit/film"
)

// bounded are the flags that a value is on a limit of the fit.
func bounded(v *film.Verdict) []string {
	return slices.DeleteFunc(slices.Clone(v.Flags), func(f string) bool { return !strings.HasPrefix(f, "at-bound:") })
}

// Sound films have no bare glass: noise puts the best bare fraction of about half of them
// on zero, which is no fault and carries no flag, and the profile interval of each is
// one-sided and reaches down to it.
func TestNoFlagAtPhysicalZero(t *testing.T) {
	ctx, nm := context.Background(), grid(380, 1100, 8)
	zeros := 0
	for seed := range uint64(30) {
		v, err := film.Fit(ctx, truth{118, 0.36, 0, 1, 1.458}.spot(t, nm, fourAngles, seed))
		require.NoError(t, err)
		assert.Empty(t, bounded(v), "seed %d", seed)
		if v.Bare.Value > 0 {
			continue
		}
		zeros++
		if zeros <= 2 {
			in, err := v.Profile(ctx, film.Bare, 0.95)
			require.NoError(t, err)
			assert.Zero(t, in.Lower)
			assert.True(t, in.LowerOpen)
			assert.Positive(t, in.Upper)
		}
	}
	// 30 spots of which half are on zero: 7 to 23 in all but 1 of 400 cases (binomial)
	assert.GreaterOrEqual(t, zeros, 7)
	assert.LessOrEqual(t, zeros, 23)
}

// A film denser than the solid that it is said to be made of, and a reference that is off
// by more than the fit follows, are on limits of the fit, and say so.
func TestFlagAtLimitsOfTheFit(t *testing.T) {
	ctx, nm := context.Background(), grid(380, 1100, 8)
	v, err := film.Fit(ctx, truth{100, 0, 0, 1, 1.50}.spot(t, nm, fourAngles, 1))
	require.NoError(t, err)
	assert.Contains(t, bounded(v), "at-bound:"+film.FilmIndex)
	free := usualSession
	free.UScale = 10
	spot := truth{118, 0.36, 0, 2, 1.458}.spot(t, nm, fourAngles, 1)
	spot.Known = sessionOnly(free)
	v, err = film.Fit(ctx, spot)
	require.NoError(t, err)
	assert.Equal(t, []string{"at-bound:" + film.Scale}, bounded(v))
}
