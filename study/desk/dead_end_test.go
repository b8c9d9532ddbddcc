package desk

import (
	"context"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
)

// Before the first fit there are no results. A refusal for an unknown coupon then names the enrolled ones.
func TestTraceBeforeTheFirstFitSaysWhatWorks(t *testing.T) {
	f := newFolder(t)
	d := f.start()
	_, err := d.Trace(context.Background(), "X9", AllPulls, "")
	var r *study.Refusal
	require.ErrorAs(t, err, &r)
	assert.NotContains(t, r.Try, "wane results")
	assert.Contains(t, r.Try, "E1")
}

// Haze has no unit GU. The refusal names the quantity that has it and the units of haze, and with each of
// them the table is taken in.
func TestHazeInGlossUnitsSaysWhatWorks(t *testing.T) {
	ctx, f := context.Background(), newFolder(t)
	d := f.start()
	table := func(unit string) string {
		return f.write("haze-"+unit+".csv", "coupon,pull,spot,quantity,value,u,unit,method,date,operator,picture,note\n"+
			"E1,0,1,haze,0.4,,"+unit+",haze-1,2026-01-02,ada,,\n")
	}
	in, err := d.Measure(ctx, []string{table("GU")})
	require.NoError(t, err)
	require.Len(t, in.Refused, 1)
	var r *study.Refusal
	require.ErrorAs(t, in.Refused[0], &r)
	assert.Contains(t, r.Try, "write gloss as its quantity")
	assert.Contains(t, r.Try, "read it in percent")
	in, err = d.Measure(ctx, []string{table("percent")})
	require.NoError(t, err)
	assert.Equal(t, 1, in.Rows)
}
