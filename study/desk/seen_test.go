package desk

import (
	"context"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
)

// What is seen of the spots of a coupon: the curves as they were read, and sunlight by bands that add to the solar
// transmittance of the results; the shares of the bands add to all sunlight.
func TestSeen(t *testing.T) {
	f, ctx := newFolder(t), context.Background()
	d := f.start()
	f.export("e0.csv", 118, 0, 1)
	f.export("e1.csv", 100, 0.1, 2)
	m := f.write("m1.csv", mapHeader+rows("e0.csv", "E1", 0)+rows("e1.csv", "E1", 1))
	_, err := d.Intake(ctx, m, nil, IntakeOptions{})
	require.NoError(t, err)
	_, err = d.Fit(ctx, FitOptions{})
	require.NoError(t, err)

	var all []*SeenSpot
	seen := func(s *SeenSpot) error {
		all = append(all, s)
		return nil
	}
	require.NoError(t, d.Seen(ctx, ResultsOptions{Coupon: "E1"}, seen))
	require.Len(t, all, 2)
	for _, s := range all {
		require.Nil(t, s.Why)
		require.NotEmpty(t, s.Curves)
		assert.Len(t, s.Polarisation, len(s.Curves))
	}
	all = nil
	require.NoError(t, d.SeenInSunlight(ctx, ResultsOptions{Coupon: "E1"}, seen))
	require.Len(t, all, 2)
	for _, s := range all {
		require.Nil(t, s.Why)
		through, share, last := 0.0, 0.0, 300.0
		for _, b := range s.Sunlight {
			assert.Equal(t, last, b.LoNM, "bands without gaps")
			through, share, last = through+b.T, share+b.Share, b.HiNM
		}
		assert.Equal(t, 2500.0, last)
		// 1e-8: each mean comes from a quadrature of its own with an error of 1e-9 of its weights at most.
		assert.InDelta(t, float64(s.Row.SolarT.Value), through, 1e-8)
		assert.InDelta(t, 1, share, 1e-12)
	}
	assert.NotEqual(t, all[0].Row.SolarT, all[1].Row.SolarT)

	_, err = d.Review(ctx, Selection{Filter: study.Filter{Coupons: []string{"E1"}, Pulls: study.Spans{{From: 1, To: 1}}},
		AngleDeg: study.Null()}, study.Aside, "made up")
	require.NoError(t, err)
	all = nil
	require.NoError(t, d.Seen(ctx, ResultsOptions{Coupon: "E1"}, seen))
	for _, s := range all {
		assert.Equal(t, s.Row.Pull == study.Num(1), s.Why != nil, "set aside")
	}
}

// The stamp of a study is its name, the day of the clock, and the last line of its log, or the one that is asked for.
func TestStamp(t *testing.T) {
	f, ctx := newFolder(t), context.Background()
	d := f.start()
	s, err := d.Stamp(ctx, 0)
	require.NoError(t, err)
	var lines []study.Entry
	require.NoError(t, d.Log(ctx, func(e study.Entry) error {
		lines = append(lines, e)
		return nil
	}))
	last := lines[len(lines)-1]
	assert.Equal(t, study.Stamp{Study: d.store.Name(), Made: s.Made, Line: last.Number, Head: last.Hash}, s)
	assert.WithinRange(t, s.Made, d.now().Add(-1e11), d.now().Add(1e11))
	first, err := d.Stamp(ctx, 1)
	require.NoError(t, err)
	assert.Equal(t, lines[0].Hash, first.Head)
	assert.Equal(t, int64(1), first.Line)
}
