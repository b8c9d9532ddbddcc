package acceptance_test

import (
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study/acceptance"
	"wane/study/series"
)

// outside returns the rows of numbers of a part of testdata/outside.txt, which testdata/outside.R made.
func outside(t *testing.T, part string) (rows [][]float64) {
	t.Helper()
	text, err := os.ReadFile("testdata/outside.txt")
	require.NoError(t, err)
	in := false
	for line := range strings.Lines(string(text)) {
		var row []float64
		for _, word := range strings.Fields(line) {
			if x, err := strconv.ParseFloat(word, 64); err == nil {
				row = append(row, x)
			} else {
				row = nil
				break
			}
		}
		if row == nil {
			in = strings.HasPrefix(line, part)
		} else if in {
			rows = append(rows, row)
		}
	}
	require.NotEmpty(t, rows)
	return rows
}

// Source: R 4.2.2, qt with its noncentrality. The factors 4.20268, 3.70768, 2.91096 and 2.39600 for n = 5, 6, 10, 20
// are those of ISO 16269-6, too.
func TestToleranceFactors(t *testing.T) {
	for _, row := range outside(t, "tolerance factors") {
		assert.InEpsilon(t, row[3], acceptance.ToleranceFactor(int(row[0]), row[1], row[2]), 1e-7, "%v", row)
	}
	for n, want := range map[int]float64{5: 4.20268, 6: 3.70768, 10: 2.91096, 20: 2.39600} {
		assert.InDelta(t, want, acceptance.ToleranceFactor(n, 0.95, 0.95), 1e-5)
	}
	assert.True(t, math.IsNaN(acceptance.ToleranceFactor(1, 0.95, 0.95)))
}

// sharing returns errors of standard uncertainty 1 that share an effect with the correlation rho.
func sharing(n int, rho float64) []series.Errors {
	all := make([]series.Errors, n)
	for i := range all {
		all[i] = series.Errors{Known: true, Shared: []series.Share{{Effect: 0, By: math.Sqrt(rho)}}, Own: 1 - rho}
	}
	return all
}

// The chance that all coupons of a product of which only the share conforms pass, by R's integrate over the shared
// error, and by mvtnorm's pmvnorm over two of them. Ours is from 20,000 draws, and raised by what 99.9 % of them err at
// most.
func TestConfidenceWithSharedErrors(t *testing.T) {
	check := func(want float64, n, failures int, share float64, errors []series.Errors) {
		t.Helper()
		got := 1 - acceptance.SharedConfidence(n, failures, share, errors)
		assert.GreaterOrEqual(t, got, want-1e-9, "never below the chance")
		assert.InDelta(t, want, got, 0.004, "8 standard errors")
	}
	for _, row := range outside(t, "shared errors") {
		check(row[3], int(row[0]), 0, row[1], sharing(int(row[0]), row[2]))
	}
	for _, row := range outside(t, "the same with one failure") {
		check(row[3], int(row[0]), 1, row[1], sharing(int(row[0]), row[2]))
	}
	var two []series.Errors
	for range 3 {
		two = append(two, series.Errors{Known: true, Shared: []series.Share{{Effect: 3, By: 0.7}, {Effect: 5, By: 0.2}},
			Own: 1 - 0.49 - 0.04})
	}
	for range 3 {
		two = append(two, series.Errors{Known: true, Shared: []series.Share{{Effect: 5, By: 0.8}}, Own: 1 - 0.64})
	}
	check(outside(t, "two sessions")[0][0], 6, 0, 0.8, two)
	for i := range two { // in another unit
		two[i].Own *= 1e-4
		for k := range two[i].Shared {
			two[i].Shared[k].By *= 1e-2
		}
	}
	check(outside(t, "two sessions")[0][0], 6, 0, 0.8, two)

	assert.InDelta(t, acceptance.Confidence(15, 0, 0.8, false), acceptance.SharedConfidence(15, 0, 0.8, sharing(15,
		0)), 1e-15,
		"nothing is shared")
	assert.InDelta(t, acceptance.Confidence(15, 0, 0.8, true), acceptance.SharedConfidence(15, 0, 0.8, sharing(15,
		1)), 0.004,
		"all is shared: the worst case, in closed form")
	assert.GreaterOrEqual(t, acceptance.SharedConfidence(15, 0, 0.8, sharing(15, 1)), acceptance.Confidence(15, 0,
		0.8, true))
}

// Source: mvtnorm 1.1-3, pmvnorm of the true loss and the read one.
func TestRisks(t *testing.T) {
	for _, row := range outside(t, "global risks") {
		consumer, producer := acceptance.Risks(row[3], row[2], row[0], row[1])
		assert.InDelta(t, row[4], consumer, 1e-6, "%v", row)
		assert.InDelta(t, row[5], producer, 1e-6, "%v", row)
	}
}

// Source: R 4.2.2, pbeta; of three values the estimate is an arcsine, 1/6 at one standard deviation, by hand.
func TestBeyondLimit(t *testing.T) {
	row := outside(t, "share beyond")[0]
	assert.InDelta(t, row[0], acceptance.BeyondLimit(3, 1), 1e-9)
	assert.InDelta(t, 1.0/6, acceptance.BeyondLimit(3, 1), 1e-9)
	assert.InDelta(t, row[1], acceptance.BeyondLimit(10, 1.5), 1e-9)
	assert.Zero(t, acceptance.BeyondLimit(10, 9))
}
