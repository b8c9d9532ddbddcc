package main

import (
	"encoding/csv"
	"math"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A fitted spot is predicted as it was fitted: every point of export --curves, digit by digit, and its band.
func TestPredictedSpotIsTheFittedOne(t *testing.T) {
	require.NotEmpty(t, smallStudy(t))
	table := func(line string) [][]string {
		code, out, errs := waneLine(t, line)
		require.Zero(t, code, errs)
		rows, err := csv.NewReader(strings.NewReader(out)).ReadAll()
		require.NoError(t, err)
		return rows[1:]
	}
	fitted := table("export --curves --coupon E1 --pull 1 --spot 1 --study s.wane")
	predicted := table("predict --from E1 --pull 1 --spectrum --study s.wane")
	require.NotEmpty(t, fitted)
	require.Len(t, predicted, len(fitted))
	number := func(text string) float64 {
		v, err := strconv.ParseFloat(text, 64)
		require.NoError(t, err)
		return v
	}
	for i, row := range fitted {
		p := predicted[i]
		require.Equal(t, row[4:7], p[:3])
		require.Equal(t, row[9], p[3])
		assert.InDelta(t, number(row[10]), number(p[4]), 1e-12)
		assert.InDelta(t, number(row[11]), number(p[5]), 1e-12)
		assert.InDelta(t, number(row[8])-number(row[9]), number(row[12]), 1e-15)
		require.False(t, math.IsNaN(number(row[8])))
	}
	code, out, _ := waneLine(t, "predict --from E1 --pull 1 --angles 75 --bare 1 --format csv --study s.wane")
	require.Zero(t, code)
	assert.Contains(t, out, ",75,u,")
	code, _, errs := waneLine(t, "predict --from E1 --pull 7 --study s.wane")
	assert.Equal(t, 1, code)
	assert.Contains(t, errs, "has no such result at pull 7")
}
