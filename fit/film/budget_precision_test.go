package film_test

import (
	"context"
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/fit/film"
	"wane/optics"
)

// precision is a row of [precisions].
type precision struct {
	angles                    []float64
	all                       bool // else noise and scale only
	thickness, porosity, bare string
}

// precisions are standard uncertainties of thickness (nm), porosity and bare fraction for a film
// of 118 nm, porosity 0.36 and bare fraction 0.05 on soda-lime glass, 380-1100 nm
// by 2 nm, noise 0.0005, the skeleton fused silica and fixed. Source: the Fisher information by
// testdata/precision.py (NumPy 1.24.2), to the digits that it prints.
func precisions() []precision {
	return []precision{
		{[]float64{8, 30, 45, 60}, false, "0.08", "0.0012", "0.0012"},
		{[]float64{8, 60}, false, "0.09", "0.0014", "0.0017"},
		{[]float64{8, 45}, false, "0.24", "0.0046", "0.0040"},
		{[]float64{8, 30, 45, 60}, true, "0.16", "0.0022", "0.0021"},
		{[]float64{8, 60}, true, "0.17", "0.0024", "0.0025"},
		{[]float64{8, 45}, true, "0.30", "0.0057", "0.0051"},
	}
}

func TestPrecisionTable(t *testing.T) {
	for _, c := range precisions() {
		t.Run(fmt.Sprint(c.angles, c.all), func(t *testing.T) {
			silica, err := optics.FusedSilica().At(550)
			require.NoError(t, err)
			tr := truth{thickness: 118, porosity: 0.36, bare: 0.05, scale: 1, skeleton: real(silica)}
			spot := &film.Spot{}
			spot.Glass.Index = optics.SodaLime()
			spot.Coating = film.Coating{Skeleton: tr.skeleton}
			spot.Known = sessionOnly(film.Session{UScale: 0.01})
			if c.all {
				spot.Known = sessionOnly(film.Session{UScale: 0.01, UFactor: 0.01, UAngle: 0.3, UShare: 0.05})
			}
			nm := grid(380, 1100, 2)
			for _, a := range c.angles {
				spot.Curves = append(spot.Curves, film.Curve{NM: nm, R: tr.reflectance(t, nm, a, optics.SodaLime()), AngleDeg: a,
					Pol:    optics.U,
					Native: c.all, NoiseSD: 0.0005})
			}
			v, err := film.Fit(context.Background(), spot)
			require.NoError(t, err)
			assert.Equal(t, c.thickness, fmt.Sprintf("%.2f", v.ThicknessNM.U), "u of thickness")
			assert.Equal(t, c.porosity, fmt.Sprintf("%.4f", v.Porosity.U), "u of porosity")
			assert.Equal(t, c.bare, fmt.Sprintf("%.4f", v.Bare.U), "u of bare fraction")
		})
	}
}
