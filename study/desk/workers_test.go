package desk

import (
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// 0 workers are one for each core; fewer are wrong usage.
func TestNumbersOfWorkers(t *testing.T) {
	ctx, cancel := context.WithTimeout(context.Background(), time.Minute) // a pipeline without workers would wait
	defer cancel()
	f := newFolder(t)
	d := f.start()
	f.export("a.csv", 120, 0, 1)
	m := f.write("map.csv", mapHeader+rows("a.csv", "E1", 0))
	in, err := d.Intake(ctx, m, nil, IntakeOptions{})
	require.NoError(t, err)
	assert.Equal(t, 1, in.Files)
	done, err := d.Fit(ctx, FitOptions{})
	require.NoError(t, err)
	assert.Equal(t, 1, done.Fits)
	v, err := d.Verify(ctx, VerifyOptions{Deep: true})
	require.NoError(t, err)
	assert.True(t, v.Sound(), "%+v", v)

	var usage *UsageError
	_, err = d.Intake(ctx, m, nil, IntakeOptions{Workers: -1})
	require.ErrorAs(t, err, &usage)
	_, err = d.Fit(ctx, FitOptions{Workers: -1})
	require.ErrorAs(t, err, &usage)
	_, err = d.Verify(ctx, VerifyOptions{Workers: -1})
	require.ErrorAs(t, err, &usage)
}
