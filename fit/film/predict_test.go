package film_test

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/fit/film"
	"wane/optics"
)

// A stated film is predicted as the general stack has it, which shares no code with the predictor: patchy, at several
// angles.
func TestPredictorAgreesWithTheStack(t *testing.T) {
	made := truth{thickness: 118, porosity: 0.36, bare: 0.15, scale: 1, skeleton: 1.458}
	nm := grid(380, 1100, 20)
	var curves []film.Curve
	for _, angle := range []float64{0, 30, 60, 85} {
		curves = append(curves, film.Curve{NM: nm, AngleDeg: angle, Pol: optics.U})
	}
	p, err := film.NewPredictor(film.Setup{Glass: film.Glass{Index: optics.SodaLime()}}, curves)
	require.NoError(t, err)
	s := film.NoSample()
	s.ThicknessNM, s.Porosity, s.Bare = made.thickness, made.porosity, made.bare
	require.NoError(t, p.Set(s))
	for k, values := range p.Values() {
		assert.InDeltaSlice(t, made.reflectance(t, nm, curves[k].AngleDeg, optics.SodaLime()), values, 2e-6, curves[k].AngleDeg)
	}
	assert.Nil(t, p.Bands(), "nothing is uncertain")
}

// What was set before changes no digit, a structure neither.
func TestPredictorHasNoMemory(t *testing.T) {
	p, err := film.NewPredictor(film.Setup{Glass: film.Glass{Index: optics.SodaLime()}},
		[]film.Curve{{NM: grid(380, 1100, 10), AngleDeg: 30, Pol: optics.U}})
	require.NoError(t, err)
	plain := film.NoSample()
	plain.ThicknessNM, plain.Porosity = 118, 0.36
	structured := plain
	structured.Gradient, structured.SkinNM, structured.SpreadNM = 0.05, 4, 6
	values := func(s film.Sample) []float64 {
		require.NoError(t, p.Set(s))
		return append([]float64(nil), p.Values()[0]...)
	}
	first := values(plain)
	other := values(structured)
	assert.Equal(t, first, values(plain))
	assert.Equal(t, other, values(structured))
	assert.NotEqual(t, first, other)
	found := p.Film()
	assert.InDeltaSlice(t, []float64{118, 0.36, 0, 0.05, 4, 6},
		[]float64{found.ThicknessNM, found.Porosity, found.Bare, found.Gradient, found.SkinNM, found.SpreadNM}, 1e-9)
}

// From a fit, the curves that were read are predicted as they were fitted, with their band; an angle that was not read is
// predicted within its band, which is wider; and a value that is stated anew counts.
func TestPredictorOfAFit(t *testing.T) {
	made := truth{thickness: 118, porosity: 0.36, bare: 0.1, scale: 1.004, skeleton: 1.458}
	nm := grid(400, 1000, 4)
	spot := made.spot(t, nm, []float64{8, 45}, 7)
	v, err := film.Fit(context.Background(), spot)
	require.NoError(t, err)
	fitted, err := v.Curves()
	require.NoError(t, err)
	unread := film.Curve{NM: nm, AngleDeg: 60, Pol: optics.U}
	p, err := v.Predictor(append(spot.Curves[:2:2], unread))
	require.NoError(t, err)
	require.NoError(t, p.Set(film.NoSample()))
	values, bands := p.Values(), p.Bands()
	for k := range fitted {
		assert.InDeltaSlice(t, fitted[k].Fitted, values[k], 1e-15)
		assert.InDeltaSlice(t, fitted[k].Band, bands[k], 1e-12)
	}
	truly := made.reflectance(t, nm, 60, optics.SodaLime())
	for i := range nm {
		assert.Less(t, math.Abs(values[2][i]-truly[i]), 1.5*bands[2][i], "%g nm", nm[i])
		assert.Greater(t, bands[2][i]/values[2][i], 0.019, "a factor of this angle is known to 1 %")
	}
	s := film.NoSample()
	s.Bare = 1
	require.NoError(t, p.Set(s))
	bare, _, err := optics.Stack{Substrate: optics.SodaLime()}.RT(nil, nil, nm, 60, optics.U)
	require.NoError(t, err)
	for i, r := range p.Values()[2] {
		assert.InDelta(t, v.Scale.Value*bare[i], r, 1e-5)
	}
}

// So it is where transmittance was read too, where detectors join, where the coupon was set down twice, and where readings
// were divided by those of a blank.
func TestPredictorOfOtherFits(t *testing.T) {
	nm := grid(400, 1000, 4)
	for name, change := range map[string]func(*film.Spot){
		"joins":     func(s *film.Spot) { s.Instrument = film.Instrument{JoinsNM: []float64{862}, UJoin: 0.001} },
		"divided":   func(s *film.Spot) { s.Divided = true },
		"mountings": func(s *film.Spot) { s.Curves[1].Mounting = 2 },
		"transmittance": func(s *film.Spot) {
			s.Glass.Back, s.Glass.ThicknessMM = optics.Bare, 3.2
			s.Known = nil
			for i := range s.Curves {
				for k := range nm {
					s.Curves[i].R[k] += 0.04 // the far face
				}
			}
			through := film.Curve{NM: nm, Pol: optics.U, Through: true}
			for k := range nm {
				through.R = append(through.R, 0.9+1e-4*float64(k%3))
			}
			s.Curves = append(s.Curves, through)
		},
	} {
		spot := truth{thickness: 118, porosity: 0.36, bare: 0.1, scale: 1.004, skeleton: 1.458}.spot(t, nm, []float64{8, 45}, 7)
		change(spot)
		v, err := film.Fit(context.Background(), spot)
		require.NoError(t, err, name)
		fitted, err := v.Curves()
		require.NoError(t, err)
		p, err := v.Predictor(spot.Curves[:2])
		require.NoError(t, err)
		require.NoError(t, p.Set(film.NoSample()))
		for k, values := range p.Values() {
			assert.InDeltaSlice(t, fitted[k].Fitted, values, 1e-14, name)
			assert.InDeltaSlice(t, fitted[k].Band, p.Bands()[k], 1e-10, name)
		}
	}
}

func TestPredictorRefuses(t *testing.T) {
	p, err := film.NewPredictor(film.Setup{Glass: film.Glass{Index: optics.SodaLime()}},
		[]film.Curve{{NM: grid(380, 1100, 10), AngleDeg: 30, Pol: optics.U}})
	require.NoError(t, err)
	for fault, set := range map[string]func(*film.Sample){
		"thickness of 5001 nm is outside 0 to 5000 nm": func(s *film.Sample) { s.ThicknessNM = 5001 },
		"porosity of -0.1 is outside":                  func(s *film.Sample) { s.Porosity = -0.1 },
		"bare fraction of 1.1 is outside":              func(s *film.Sample) { s.Bare = 1.1 },
		"gradient of 0.2 about a porosity of 0.1":      func(s *film.Sample) { s.Porosity, s.Gradient = 0.1, 0.2 },
		"skin of 31 nm is outside":                     func(s *film.Sample) { s.SkinNM = 31 },
		"spread of 60 nm is outside":                   func(s *film.Sample) { s.SpreadNM = 60 },
		"are not both stated":                          func(s *film.Sample) { s.Porosity = math.NaN() },
	} {
		s := film.NoSample()
		s.ThicknessNM, s.Porosity = 118, 0.36
		set(&s)
		err := p.Set(s)
		var input *film.InputError
		require.ErrorAs(t, err, &input)
		assert.Contains(t, err.Error(), fault)
	}
}
