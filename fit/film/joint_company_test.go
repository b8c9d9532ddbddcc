package film_test

import (
	"context"
	"encoding/csv"
	"fmt"
	"os"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/fit/film"
	"wane/optics"
)

// tooBright is a made-up film read at four angles with a reference that is off by a
// factor of 2.5, in percent: no film explains it.
func tooBright(t *testing.T, setup film.Setup) *film.Spot {
	file, err := os.Open("testdata/made-up-too-bright.csv")
	require.NoError(t, err)
	defer file.Close()
	rows, err := csv.NewReader(file).ReadAll()
	require.NoError(t, err)
	s := &film.Spot{Setup: setup}
	for k, angle := range []float64{8, 30, 45, 60} {
		c := film.Curve{AngleDeg: angle, Pol: optics.U}
		for _, row := range rows[1:] {
			nm, err := strconv.ParseFloat(row[0], 64)
			require.NoError(t, err)
			r, err := strconv.ParseFloat(row[k+1], 64)
			require.NoError(t, err)
			c.NM, c.R = append(c.NM, nm), append(c.R, r/100)
		}
		s.Curves = append(s.Curves, c)
	}
	return s
}

// A fitter gives a spot the same verdict to the last digit whatever it has fitted
// before, also where no film explains the curves and all points are looked at.
func TestVerdictsDoNotDependOnCompany(t *testing.T) {
	setup := film.Setup{Glass: film.Glass{Index: optics.SodaLime(), UIndex: 0.002},
		Coating: film.Coating{Mixing: optics.Bruggeman}}
	f, first := film.NewFitter(setup), ""
	for range 2 {
		v, err := f.Fit(context.Background(), tooBright(t, setup))
		require.NoError(t, err)
		require.Contains(t, v.Flags, "poor-fit")
		says := fmt.Sprint(v.Model, v.OpticalThicknessNM, v.Index, v.ThicknessNM, v.Porosity, v.Bare, v.SolidNM, v.Scale,
			v.ReducedChi2, v.RMSResidual, v.Flags)
		if first == "" {
			first = says
		}
		assert.Equal(t, first, says)
	}
}
