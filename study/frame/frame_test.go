package frame_test

import (
	"fmt"
	"math"
	"testing"

	"github.com/go-gota/gota/dataframe"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/frame"
)

func made(coating string, change float64) *study.Result {
	r := study.NewResult()
	r.Coating, r.Change.Value = coating, study.Num(change)
	return &r
}

// Group by coating and take the mean change (made-up rows).
func ExampleOf() {
	rows := []*study.Result{made("A", -0.25), made("A", -0.75), made("B", -0.125), made("B", 0.125)}
	means := frame.Of(rows).GroupBy("coating").
		Aggregation([]dataframe.AggregationType{dataframe.Aggregation_MEAN}, []string{"change_pp"}).
		Arrange(dataframe.Sort("coating"))
	for i := range means.Nrow() {
		fmt.Println(means.Col("coating").Elem(i), means.Col("change_pp_MEAN").Elem(i).Float())
	}
	// Output:
	// A -0.5
	// B 0
}

func TestOf(t *testing.T) {
	f := frame.Of([]*study.Result{made("A", -0.123456789), made("B", math.NaN())})
	require.NoError(t, f.Err)
	assert.Equal(t, 2, f.Nrow())
	assert.Len(t, f.Names(), len(study.Columns()))
	assert.Equal(t, -0.123456789, f.Col("change_pp").Elem(0).Float(), "no rounding inside")
	assert.True(t, f.Col("change_pp").Elem(1).IsNA())
}
