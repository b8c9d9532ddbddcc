package lifetime_test

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/fit/lifetime"
)

// lung are the lives of survival::lung, exact or right-censored, and as if somebody had looked every 180 days.
func lung(t *testing.T) (exact, looks []lifetime.Life) {
	file, err := os.Open("testdata/lung.csv")
	require.NoError(t, err)
	defer file.Close()
	rows, err := csv.NewReader(file).ReadAll()
	require.NoError(t, err)
	for _, row := range rows[1:] {
		days, err := strconv.ParseFloat(row[0], 64)
		require.NoError(t, err)
		last := 180 * math.Floor(days/180)
		if row[1] == "2" {
			exact, looks = append(exact, lifetime.Life{After: days, By: days}), append(looks, lifetime.Life{After: last, By: last + 180})
			continue
		}
		exact, looks = append(exact, lifetime.Life{After: days, By: math.Inf(1)}), append(looks, lifetime.Life{After: last, By: math.Inf(1)})
	}
	return exact, looks
}

// Location and log of the scale with their standard errors, and the log-likelihood, by survreg of survival 3.5, R 4.2.2
// (testdata/survival_and_planning.R for Weibull; the lognormal ones by the same calls with dist = "lognormal").
func TestAgainstSurvreg(t *testing.T) {
	exact, looks := lung(t)
	for _, c := range []struct {
		name                                   string
		shape                                  lifetime.Shape
		lives                                  []lifetime.Life
		location, u, logScale, uLogScale, logL float64
	}{
		{"Weibull", lifetime.Weibull, exact, 6.0349039102, 0.05913591051, -0.2752350574, 0.06243030635, -1153.851188},
		{"Weibull, looks", lifetime.Weibull, looks, 5.9818540632, 0.05661380323, -0.3393652931, 0.07377061484, -284.6419513},
		{"lognormal", lifetime.Lognormal, exact, 5.6633049622, 0.07799593933, 0.0931617552, 0.05636198515, -1169.269055},
		{"lognormal, looks", lifetime.Lognormal, looks, 5.658657799, 0.05704200524, -0.272147539, 0.07473377774, -286.3755968},
	} {
		t.Run(c.name, func(t *testing.T) {
			l, err := lifetime.FitLaw(c.shape, c.lives)
			require.NoError(t, err)
			assert.InDelta(t, c.location, l.Location, 1e-6)
			assert.InDelta(t, c.logScale, l.LogScale, 1e-6)
			assert.InEpsilon(t, c.u, math.Sqrt(l.Cov.At(0, 0)), 1e-5)
			assert.InEpsilon(t, c.uLogScale, math.Sqrt(l.Cov.At(1, 1)), 1e-5)
			assert.InDelta(t, c.logL, l.LogLikelihood, 1e-6)
			assert.InDelta(t, 0.9, l.Survival(l.Quantile(0.1)), 1e-12)
		})
	}
}

// Profile intervals of the median and of the tenth part, Weibull, exact lives: by uniroot and optimize of R on the same
// likelihood, written apart.
func TestProfileIntervals(t *testing.T) {
	exact, _ := lung(t)
	l, err := lifetime.FitLaw(lifetime.Weibull, exact)
	require.NoError(t, err)
	for p, want := range map[float64][3]float64{0.5: {316.263695, 279.4281809, 356.943064}, 0.1: {75.64031148, 58.26665513, 94.72287051}} {
		lo, hi := l.Interval(p, 0.95)
		assert.InEpsilon(t, want[0], l.Quantile(p), 1e-6)
		assert.InEpsilon(t, want[1], lo, 1e-6)
		assert.InEpsilon(t, want[2], hi, 1e-6)
	}
}

// Survival at the looks by survfit of R on the same intervals.
func TestTurnbull(t *testing.T) {
	_, looks := lung(t)
	steps, err := lifetime.Turnbull(looks)
	require.NoError(t, err)
	want := map[float64]float64{180: 0.72072072072, 360: 0.40360360360, 540: 0.22574438846, 720: 0.10898004960, 900: 0.03269401488}
	left := 1.0
	for _, s := range steps {
		left -= s.Share
		if w, ok := want[s.By]; ok {
			assert.InDelta(t, w, left, 1e-6, "by %g", s.By)
			delete(want, s.By)
		}
	}
	assert.Empty(t, want)
	// Intervals that overlap, 0-2, 1-3 and 2-4: by hand, p of 1-2 and q of 2-3 have the likelihood p (p + q) q, largest
	// at 1/2.
	steps, err = lifetime.Turnbull([]lifetime.Life{{After: 0, By: 2}, {After: 1, By: 3}, {After: 2, By: 4}})
	require.NoError(t, err)
	require.Len(t, steps, 2)
	assert.InDelta(t, 0.5, steps[0].Share, 1e-6)
	assert.Equal(t, [4]float64{1, 2, 2, 3}, [4]float64{steps[0].After, steps[0].By, steps[1].After, steps[1].By})
}

func TestRefusals(t *testing.T) {
	for fault, lives := range map[string][]lifetime.Life{
		"no life has ended":                {{After: 100, By: math.Inf(1)}, {After: 200, By: math.Inf(1)}},
		"say nothing of how far":           {{After: 100, By: 200}, {After: 100, By: 200}},
		"nothing of how far":               {{After: 100, By: 200}, {After: 100, By: 200}, {After: 200, By: math.Inf(1)}},
		"life 1 is from 3 to 2":            {{After: 1, By: 1}, {After: 3, By: 2}},
		"life 0 is from NaN to 2":          {{After: math.NaN(), By: 2}},
		"life 0 is from 0 to 0: it must":   {{}},
		"life 0 is from +Inf to +Inf: it ": {{After: math.Inf(1), By: math.Inf(1)}},
	} {
		_, err := lifetime.FitLaw(lifetime.Weibull, lives)
		var p *lifetime.ProblemError
		require.ErrorAs(t, err, &p, fault)
		assert.Contains(t, p.Fault, fault)
	}
}
