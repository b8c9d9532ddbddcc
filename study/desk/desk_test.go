package desk

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
)

// The whole job does not depend on the number of workers.
func TestWorkersDoNotMatter(t *testing.T) {
	var first []study.Result
	for _, workers := range []int{1, 2, 7} {
		f := newFolder(t)
		d := f.start()
		var text string
		for i, pull := range []int{0, 1} {
			for k, coupon := range []string{"E1", "C1", "B1"} {
				name := fmt.Sprintf("%s-%d.csv", coupon, pull)
				f.export(name, []float64{120, 119, 0}[k]-float64(10*i), []float64{0, 0, 1}[k], 3*i+k)
				text += rows(name, coupon, pull)
			}
		}
		in, err := d.Intake(context.Background(), f.write("map.csv", mapHeader+text), nil, IntakeOptions{Workers: workers})
		require.NoError(t, err)
		require.Empty(t, in.Refused)
		n, err := d.Fit(context.Background(), FitOptions{Workers: workers})
		require.NoError(t, err)
		assert.Equal(t, 6, n.Fits)
		rows := results(t, d)
		require.Len(t, rows, 6)
		if first == nil {
			first = rows
		}
		assert.Equal(t, printed(first...), printed(rows...), "%d workers", workers)
	}
}

// printed returns rows as a text, since a null is NaN and equals nothing. Excluded are their fits, of which only the place
// in memory would be printed, and what their changes are sums of:
// their uncertainties follow from it.
func printed(rows ...study.Result) string {
	rows = slices.Clone(rows)
	for i := range rows {
		rows[i].ChangeTerms, rows[i].CorrectedTerms, rows[i].Fit = nil, nil, nil
	}
	return fmt.Sprintf("%+v", rows)
}

// Repeating an intake or a fit changes nothing. New readings make their own fit stale, and no other.
func TestOnlyTheStaleIsDone(t *testing.T) {
	ctx := context.Background()
	f := newFolder(t)
	d := f.start()
	f.export("a.csv", 120, 0, 1)
	m := f.write("map.csv", mapHeader+rows("a.csv", "E1", 0))
	opt := IntakeOptions{Workers: 2}
	in, err := d.Intake(ctx, m, nil, opt)
	require.NoError(t, err)
	assert.Equal(t, TakenIn{Files: 1, Curves: 2}, *in)
	before := dump(t, d)
	in, err = d.Intake(ctx, m, nil, opt)
	require.NoError(t, err)
	assert.Equal(t, TakenIn{Known: 1}, *in)
	assert.Equal(t, before, dump(t, d), "known exports leave the study as it was")

	fitted, err := d.Fit(ctx, FitOptions{Workers: 2})
	require.NoError(t, err)
	assert.Equal(t, 1, fitted.Fits)
	before = dump(t, d)
	fitted, err = d.Fit(ctx, FitOptions{Workers: 2})
	require.NoError(t, err)
	assert.Equal(t, Fitted{Current: 1}, *fitted)
	assert.Equal(t, before, dump(t, d))

	f.export("b.csv", 118, 0, 2)
	_, err = d.Intake(ctx, f.write("map2.csv", mapHeader+rows("b.csv", "E1", 1)), nil, opt)
	require.NoError(t, err)
	fitted, err = d.Fit(ctx, FitOptions{Workers: 2})
	require.NoError(t, err)
	assert.Equal(t, Fitted{Fits: 1, Current: 1}, *fitted)

	due := func() FitsDue {
		due, err := d.FitsDue(ctx, 0)
		require.NoError(t, err)
		return due
	}
	assert.Equal(t, FitsDue{}, due())

	// a replicate of the first spot makes its fit stale
	f.export("c.csv", 120, 0, 3)
	replicate := "file,column,coupon,pull,spot,angle_deg,polarisation,quantity,unit,replicate\n" +
		"c.csv,#2,E1,0,1,8,u,R,percent,2\nc.csv,#3,E1,0,1,60,u,R,percent,2\n"
	_, err = d.Intake(ctx, f.write("map3.csv", replicate), nil, opt)
	require.NoError(t, err)
	f.export("d.csv", 117, 0, 4)
	_, err = d.Intake(ctx, f.write("map4.csv", mapHeader+rows("d.csv", "C1", 1)), nil, opt)
	require.NoError(t, err)
	assert.Equal(t, FitsDue{Stale: 1, Missing: 1}, due())
	traced, err := d.Trace(ctx, "E1", AllPulls, "")
	require.NoError(t, err)
	assert.Equal(t, 1, CountStale(traced.Steps(study.NewSieve(study.Filter{}), nil)))
	fitted, err = d.Fit(ctx, FitOptions{Workers: 2})
	require.NoError(t, err)
	assert.Equal(t, Fitted{Fits: 2, Current: 1}, *fitted)
	assert.Equal(t, FitsDue{}, due())
	assert.EqualValues(t, 4*31, results(t, d)[1].Points)
}

// A spot that cannot be fitted has a flag, and the others are fitted.
func TestSpotThatCannotBeFitted(t *testing.T) {
	ctx := context.Background()
	f := newFolder(t)
	d := f.start()
	f.export("a.csv", 120, 0, 1)
	f.write("short.csv", "nm,8 deg %R\n400,2\n450,1.8\n500,1.7\n550,1.6\n600,1.9\n")
	m := f.write("map.csv", mapHeader+rows("a.csv", "E1", 1)+"short.csv,#2,E1,0,1,8,u,R,percent\n")
	_, err := d.Intake(ctx, m, nil, IntakeOptions{Workers: 1})
	require.NoError(t, err)
	n, err := d.Fit(ctx, FitOptions{Workers: 1})
	require.NoError(t, err)
	assert.Equal(t, 2, n.Fits)
	require.Len(t, n.Refused, 1)
	assert.Contains(t, n.Refused[0].Error(), "coupon E1, pull 0, spot 1: curve 1: 5 points are too few")
	rows := results(t, d)
	assert.Equal(t, []string{"not-evaluated", "no-baseline"}, rows[0].Flags)
	assert.Equal(t, study.Unclear, rows[0].State)
	assert.NotContains(t, rows[1].Flags, "not-evaluated")
	assert.True(t, rows[1].SolarT.Value.Valid())
}

// If an intake is stopped, the finished exports stay, and the next intake takes in the others.
func TestStoppedAndResumed(t *testing.T) {
	f := newFolder(t)
	d := f.start()
	var text string
	for i := range 250 {
		name := fmt.Sprintf("%03d.csv", i)
		f.export(name, 100+float64(i%30), 0, i)
		text += fmt.Sprintf("%s,#2,E1,0,s%d,8,u,R,percent\n%s,#3,E1,0,s%d,60,u,R,percent\n", name, i, name, i)
	}
	m := f.write("map.csv", mapHeader+text)
	ctx, cancel := context.WithCancel(context.Background())
	in, err := d.Intake(ctx, m, nil, IntakeOptions{Workers: 2, Progress: func(done, total int) {
		assert.Equal(t, 250, total)
		cancel()
	}})
	require.ErrorIs(t, err, context.Canceled)
	kept := in.Files
	assert.GreaterOrEqual(t, kept, fewestExports)
	in, err = d.Intake(context.Background(), m, nil, IntakeOptions{Workers: 2})
	require.NoError(t, err)
	assert.Equal(t, 250-kept, in.Files)
	assert.Equal(t, kept, in.Known)
}

func TestInOrder(t *testing.T) {
	items := make([]int, 1000)
	for i := range items {
		items[i] = i
	}
	var got []int
	twice := func(_ context.Context, _ int, i int) (int, error) { return 2 * i, nil }
	take := func(i int) error { got = append(got, i); return nil }
	require.NoError(t, inOrder(context.Background(), 5, slices.Values(items), twice, take))
	for i := range items {
		require.Equal(t, 2*i, got[i])
	}

	boom := errors.New("boom")
	got = nil
	err := inOrder(context.Background(), 5, slices.Values(items), func(_ context.Context, _ int, i int) (int, error) {
		if i == 300 {
			return 0, boom
		}
		return i, nil
	}, take)
	assert.ErrorIs(t, err, boom)
	assert.Len(t, got, 300, "everything before the fault is taken, nothing after")

	err = inOrder(context.Background(), 3, slices.Values(items), twice, func(int) error { return boom })
	assert.ErrorIs(t, err, boom)
}
