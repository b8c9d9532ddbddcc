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
		for _, first := range []int{0, len(spot.Curves) - 1} { // the last one by itself, too
			p, err := v.Predictor(spot.Curves[first:])
			require.NoError(t, err)
			require.NoError(t, p.Set(film.NoSample()))
			for k, values := range p.Values() {
				assert.InDeltaSlice(t, fitted[first+k].Fitted, values, 1e-14, name)
				assert.InDeltaSlice(t, fitted[first+k].Band, p.Bands()[k], 1e-10, name)
			}
		}
	}
}

// Which share of the light from a bare far face is captured is not known beyond 15 degrees: the band of an angle that was
// not read says so.
func TestPredictorKnowsNoCapture(t *testing.T) {
	nm := grid(400, 1000, 4)
	spot := truth{thickness: 118, porosity: 0.36, scale: 1, skeleton: 1.458}.spot(t, nm, []float64{8}, 7)
	spot.Glass.Back, spot.Glass.ThicknessMM, spot.Known = optics.Bare, 3.2, nil
	for k := range nm {
		spot.Curves[0].R[k] += 0.04
	}
	v, err := film.Fit(context.Background(), spot)
	require.NoError(t, err)
	p, err := v.Predictor([]film.Curve{{NM: nm, AngleDeg: 45, Pol: optics.U}})
	require.NoError(t, err)
	require.NoError(t, p.Set(film.NoSample()))
	// the far face returns some 4.6 % of 93 % of the light there; a share even between 0 and 1 has the standard deviation 1/√12
	assert.InDelta(t, 1.96*0.043/math.Sqrt(12), p.Bands()[0][len(nm)/2], 0.006)
}

// What rough facets reflect in the mirror direction, and what a pane lets through; the figures are those of
// ../../study/evaluate/testdata/predicted.py, by formulas of textbooks.
func TestPredictorOfRoughGlassAndOfAPane(t *testing.T) {
	s := film.NoSample()
	s.ThicknessNM, s.Porosity, s.RoughNM = 118, 0.36, 20
	nm := []float64{400, 550, 1000}
	var front, through []film.Curve
	for _, angle := range []float64{8, 60} {
		front = append(front, film.Curve{NM: nm, AngleDeg: angle, Pol: optics.U})
		through = append(through, film.Curve{NM: nm, AngleDeg: angle, Pol: optics.U, Through: true})
	}
	matched := film.Setup{Glass: film.Glass{Index: optics.SodaLime()}}
	p, err := film.NewPredictor(matched, front)
	require.NoError(t, err)
	require.NoError(t, p.Set(s))
	assert.InDeltaSlice(t, []float64{0.017010180673, 0.00227565246, 0.014872010298}, p.Values()[0], 1e-6)
	assert.InDeltaSlice(t, []float64{0.023835436939, 0.027047341956, 0.064192795569}, p.Values()[1], 1e-6)
	assert.InDelta(t, 20, p.Film().RoughNM, 1e-12)

	pane := film.Setup{Glass: film.Glass{Index: optics.SodaLime(), ThicknessMM: 3.2, Back: optics.Bare}}
	p, err = film.NewPredictor(pane, through)
	require.NoError(t, err)
	var in *film.InputError
	require.ErrorAs(t, p.Set(s), &in)
	assert.Contains(t, in.Fault, "a roughness is known of")
	s.RoughNM = math.NaN()
	require.NoError(t, p.Set(s))
	assert.InDeltaSlice(t, []float64{0.913168858437, 0.938895675758, 0.783823524248}, p.Values()[0], 1e-6)
	assert.InDeltaSlice(t, []float64{0.863670008587, 0.868766149411, 0.686628401276}, p.Values()[1], 1e-6)
	_, err = film.NewPredictor(matched, through)
	require.ErrorAs(t, err, &in)
	assert.Contains(t, in.Fault, "the light that should be measured is absorbed")
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
