package desk

import (
	"context"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A preview refuses what an intake would refuse, and leaves the study as it is.
func TestPreviewRefusesAsAnIntakeWould(t *testing.T) {
	ctx := context.Background()
	f := newFolder(t)
	d := f.start()
	f.export("in.csv", 120, 0, 1)
	f.takeIn(d, "first.csv", mapHeader+rows("in.csv", "E1", 0))
	f.export("again.csv", 118, 0, 2)
	f.export("twice.csv", 117, 0, 3)
	f.export("good.csv", 116, 0, 4)
	before := dump(t, d)
	text := rows("in.csv", "C1", 0) + rows("again.csv", "E1", 0) + rows("good.csv", "E1", 1) + rows("twice.csv", "E1", 1)
	all, err := d.Preview(ctx, f.write("map.csv", mapHeader+text), nil, IntakeOptions{Workers: 1})
	require.NoError(t, err)
	require.Len(t, all, 4)
	assert.ErrorContains(t, all[0].Refused, "the same bytes were taken in as coupon E1")
	assert.ErrorContains(t, all[1].Refused, "which was read before")
	assert.NoError(t, all[2].Refused)
	assert.Len(t, all[2].Curves, 2)
	assert.ErrorContains(t, all[3].Refused, "column 2 has the same place as a curve of "+f.path+"/good.csv")
	assert.Equal(t, before, dump(t, d))
}
