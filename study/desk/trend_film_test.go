package desk

import (
	"context"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/cause"
)

// Made-up films whose truth is known: 118 nm become 100 nm with a tenth of the glass bare. The parts are those of the
// truth, by the same division of the true films, within the noise of two angles.
func TestFilmChanges(t *testing.T) {
	f, ctx := newFolder(t), context.Background()
	d := f.start()
	conditioned := "file,column,coupon,pull,spot,angle_deg,polarisation,quantity,unit,session,condition\n"
	row := func(file, coupon, pull, session, condition string) string {
		place := coupon + "," + pull + ",1,"
		tail := ",u,R,percent," + session + "," + condition + "\n"
		return file + ",#2," + place + "8" + tail + file + ",#3," + place + "60" + tail
	}
	f.export("e0.csv", 118, 0, 1)
	f.export("e1.csv", 100, 0.1, 2)
	f.export("soiled.csv", 104, 0.14, 3)
	f.export("c0.csv", 118, 0, 4)
	f.export("c1.csv", 118, 0, 5)
	m := f.write("map.csv", conditioned+row("e0.csv", "E1", "0", "s0", "cleaned")+row("e1.csv", "E1", "1", "s1",
		"cleaned")+
		row("soiled.csv", "E1", "1", "s1", "as_found")+row("c0.csv", "C1", "0", "s0", "cleaned")+row("c1.csv", "C1", "1",
		"s1", "cleaned"))
	_, err := d.Intake(ctx, m, nil, IntakeOptions{})
	require.NoError(t, err)
	_, err = d.Fit(ctx, FitOptions{})
	require.NoError(t, err)

	var all []FilmChange
	require.NoError(t, d.FilmChanges(ctx, nil, func(c *FilmChange) error {
		all = append(all, *c)
		return nil
	}))
	require.Len(t, all, 2, "as found and cleaned")
	soiled, clean := all[0], all[1]
	assert.Equal(t, []string{"as_found", "cleaned"}, []string{soiled.Row.Condition, clean.Row.Condition})
	x := clean.Explained
	require.Empty(t, x.Why)
	assert.InDelta(t, float64(clean.Row.CorrectedChange.Value), float64(x.Change.Value+clean.Correction), 1e-12)
	assert.Equal(t, []string{cause.Lost, cause.Thinned, cause.InPlaces}, x.Findings)
	assert.Contains(t, soiled.Explained.LookAlikes, cause.Soiling)
	sum := 0.0
	for i, part := range x.Parts {
		sum += float64(part.Value)
		assert.GreaterOrEqual(t, float64(part.U), 0.0, cause.Part(i))
	}
	assert.InDelta(t, float64(x.Change.Value), sum, 1e-9)
	// By the same division of the true films, testdata/parts.py of study/cause with 118, 0.35, 0 and 100, 0.35, 0.1.
	assert.InDelta(t, -0.28965, float64(x.Parts[cause.Bare].Value), 3*float64(x.Parts[cause.Bare].U))
	assert.InDelta(t, -0.08127, float64(x.Parts[cause.Thickness].Value), 3*float64(x.Parts[cause.Thickness].U))
	assert.Nil(t, soiled.Recovered)
	require.NotNil(t, clean.Recovered)
	r := clean.Recovered
	assert.InDelta(t, float64(r.Total.Value+r.ByCleaning.Value), float64(r.Permanent.Value), 1e-9)
	assert.InDelta(t, float64(clean.Row.Change.Value), float64(r.Permanent.Value), 1e-12, "another order of sums")
	assert.InEpsilon(t, float64(clean.Row.Change.U), float64(r.Permanent.U), 1e-9)

	n := 0
	count := func(*FilmChange) error { n++; return nil }
	require.NoError(t, d.FilmChanges(ctx, []string{"C1", "B1"}, count))
	assert.Equal(t, 1, n, "a control where it is named; a blank has no film")
	err = d.FilmChanges(ctx, []string{"E9"}, count)
	var refused *study.Refusal
	require.ErrorAs(t, err, &refused)
	assert.Contains(t, refused.Fault, "E9")
	stopped, stop := context.WithCancel(ctx)
	stop()
	assert.ErrorIs(t, d.FilmChanges(stopped, nil, count), context.Canceled)
}
