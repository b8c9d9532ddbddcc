package evaluate

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat"

	"wane/fit/film"
	"wane/optics"
	"wane/study"
)

// trapRoster is the register of an instrument with these readings of a light trap at 8 degrees, in slices of a session.
func trapRoster(sessions [][]float64) *study.Roster {
	r := &study.Roster{Standards: []study.Standard{{Standard: "TRAP", AngleDeg: 8, Polarisation: "u", Quantity: "zero"},
		{Standard: "TILE", AngleDeg: 8, Polarisation: "u", Quantity: "R"}}}
	for i, values := range sessions {
		name := fmt.Sprintf("s%02d", i)
		r.Sessions = append(r.Sessions, study.Session{Session: name, Instrument: "bench"})
		r.Checks = append(r.Checks, study.StandardReading{Session: name, Standard: "TILE", AngleDeg: 8, Polarisation: "u",
			Replicate: 1, Value: 0.04})
		for k, v := range values {
			r.Checks = append(r.Checks, study.StandardReading{Session: name, Standard: "TRAP", AngleDeg: 8, Polarisation: "u",
				Replicate: k + 1, Value: v})
		}
	}
	return r
}

// The yields of six batches of an intermediate product of dyestuffs, five of each: O. L. Davies, P. L. Goldsmith,
// Statistical Methods in Research and Production, 4th ed. (1972), as Dyestuff of lme4 1.1-31 has them. lmer(Yield ~ 1 +
// (1|Batch)) in R 4.2.2: 42.0005946 between batches, mean 1527.5 with standard error 19.3834119.
func TestMeasureZeroAgainstLme4(t *testing.T) {
	yields := [][]float64{{1545, 1440, 1440, 1520, 1580}, {1540, 1555, 1490, 1560, 1495}, {1595, 1550, 1605, 1510, 1560},
		{1445, 1440, 1595, 1465, 1545}, {1595, 1630, 1515, 1635, 1625}, {1520, 1455, 1450, 1480, 1445}}
	for i := range yields {
		for k := range yields[i] {
			yields[i][k] *= 1e-6
		}
	}
	z, err := MeasureZero(trapRoster(yields), "bench", 0.95)
	require.NoError(t, err)
	require.NotNil(t, z)
	assert.InEpsilon(t, 42.0005946e-6, z.SD, 1e-6)
	assert.InEpsilon(t, 1527.5e-6, float64(z.Mean.Value), 1e-9)
	assert.InEpsilon(t, 19.3834119e-6, float64(z.Mean.U), 1e-6)
	assert.Equal(t, 6, z.Sessions)
	assert.True(t, z.Replicated)
	assert.Less(t, z.Lower, z.SD)
	assert.Greater(t, z.Upper, z.SD)
	u, biased := z.About()
	assert.True(t, biased, "the mean is 79 times its uncertainty")
	assert.InEpsilon(t, math.Hypot(42.0005946e-6, 1527.5e-6), u, 1e-6)
}

// Single readings give their standard deviation; a mean within 2u of 0 is no bias.
func TestMeasureZeroOfSingleReadings(t *testing.T) {
	values := []float64{0.0003, -0.0004, 0.0001, -0.0002, 0.0005}
	var sessions [][]float64
	for _, v := range values {
		sessions = append(sessions, []float64{v})
	}
	z, err := MeasureZero(trapRoster(append(sessions, nil)), "bench", 0.95)
	require.NoError(t, err)
	assert.InEpsilon(t, stat.StdDev(values, nil), z.SD, 1e-9)
	assert.Equal(t, 5, z.Sessions, "one session has no light trap")
	assert.False(t, z.Replicated)
	u, biased := z.About()
	assert.False(t, biased)
	assert.Equal(t, z.SD, u)
}

func TestMeasureZeroNeedsReadings(t *testing.T) {
	for name, r := range map[string]*study.Roster{
		"no light trap": {}, "two sessions": trapRoster([][]float64{{1e-4}, {2e-4}}),
		"all equal": trapRoster([][]float64{{1e-4}, {1e-4}, {1e-4}}),
	} {
		z, err := MeasureZero(r, "bench", 0.95)
		require.NoError(t, err, name)
		assert.Nil(t, z, name)
	}
	// angles that not all sessions have do not count; here none is left
	r := trapRoster([][]float64{{1e-4}, {2e-4}, {4e-4}})
	r.Checks[len(r.Checks)-1].AngleDeg = 45
	z, err := MeasureZero(r, "bench", 0.95)
	require.NoError(t, err)
	assert.Nil(t, z)
}

// mounted returns readings of 8 and 60 degrees in n placements; change alters them.
func mounted(n int, change func([]study.Reading) []study.Reading) []study.Reading {
	var readings []study.Reading
	for m := range n {
		for _, angle := range []float64{60, 8} {
			r := study.Reading{Place: study.Place{Coupon: "E1", Spot: "1", AngleDeg: angle, Polarisation: "u",
				Quantity: study.Reflectance, Replicate: m + 1}}
			for x := 400.0; x <= 1100; x += 10 {
				r.NM = append(r.NM, x)
				r.Values = append(r.Values, 0.04+0.001*angle+1e-4*math.Sin(x*x*float64(m+1)))
			}
			readings = append(readings, r)
		}
	}
	return change(readings)
}

func TestPlacementsOf(t *testing.T) {
	p := PlacementsOf(mounted(4, func(r []study.Reading) []study.Reading { return append(r[:2:2], r[3:]...) }))
	assert.Equal(t, []int{1, 3, 4}, p.Numbers)
	assert.Equal(t, []int{2}, p.LeftOut)
	assert.Equal(t, []float64{8, 60}, p.AnglesDeg)
	means, series, err := p.series()
	require.NoError(t, err)
	require.Len(t, series, 2)
	assert.Equal(t, optics.U, means[1].Pol)
	for k, s := range series {
		assert.Len(t, s.R, 3)
		assert.InDelta(t, (s.R[0][7]+s.R[1][7]+s.R[2][7])/3, means[k].R[7], 1e-15)
	}
}

// Where mountings are stated, they are the placements, and replicates of one are averaged.
func TestPlacementsOfMountings(t *testing.T) {
	p := PlacementsOf(mounted(6, func(r []study.Reading) []study.Reading {
		for i := range r {
			r[i].Mounting = 1 + (r[i].Replicate-1)/2
		}
		return r
	}))
	assert.Equal(t, []int{1, 2, 3}, p.Numbers)
	_, series, err := p.series()
	require.NoError(t, err)
	assert.Len(t, series[0].R, 3)
}

func TestPlacementRefusals(t *testing.T) {
	e, err := NewEvaluator(Setup{Glass: film.Glass{Index: optics.SodaLime()}})
	require.NoError(t, err)
	for says, readings := range map[string][]study.Reading{
		"2 placements are too few to say how they scatter; at least 3 are needed": mounted(2,
			func(r []study.Reading) []study.Reading { return r }),
		"the wavelengths at 8 degrees, u differ between placements": mounted(3, func(r []study.Reading) []study.Reading {
			r[3].NM, r[3].Values = r[3].NM[1:], r[3].Values[1:]
			return r
		}),
		"the reading of coupon E1 at 60 degrees cannot be evaluated": mounted(3, func(r []study.Reading) []study.Reading {
			r[2].Geometry = "total_included"
			return r
		}),
	} {
		_, err := e.Placement(t.Context(), PlacementsOf(readings), 0.95)
		var refused *study.Refusal
		require.ErrorAs(t, err, &refused)
		assert.Equal(t, says, refused.Fault)
		assert.NotEmpty(t, refused.Try)
	}
}
