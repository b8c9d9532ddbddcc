package evaluate_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/optics"
	"wane/study"
	"wane/study/evaluate"
)

const fusedSilica = "sellmeier:0.6961663,0.00467915,0.4079426,0.01351206,0.8974794,97.934"

// Source: the table of I. H. Malitson, J. Opt. Soc. Am. 55, 1205-1208 (1965), which prints five decimals (from memory,
// but the d line: refractiveindex.info). The coefficients are those of the paper, C rounded to seven decimals.
func TestFormulaOfFusedSilica(t *testing.T) {
	index, err := evaluate.Formula(fusedSilica)
	require.NoError(t, err)
	for nm, want := range map[float64]float64{404.656: 1.46962, 486.133: 1.46313, 587.562: 1.45846, 656.272: 1.45637,
		1013.98: 1.45024} {
		n, err := index.At(nm)
		require.NoError(t, err)
		assert.InDelta(t, want, real(n), 5e-6, "half a unit of the last decimal at %g nm", nm)
		named, err := optics.FusedSilica().At(nm)
		require.NoError(t, err)
		assert.InDelta(t, real(named), real(n), 1e-7)
	}
	_, err = index.At(2501)
	var outside *optics.RangeError
	require.ErrorAs(t, err, &outside)
	assert.InDelta(t, 0.0005, evaluate.GlassUncertainty(fusedSilica), 0)
}

// M. Rubin's formula of soda-lime glass, see [optics.SodaLime], in our way of writing: with blanks too.
func TestFormulaOfSodaLime(t *testing.T) {
	for _, text := range []string{"cauchy:1.5130,0.003962,0,-0.003169", "cauchy: 1.5130  0.003962 0 -0.003169"} {
		index, known, err := evaluate.GlassIndex(text)
		require.NoError(t, err)
		require.True(t, known)
		for _, nm := range []float64{300, 550, 2500} {
			want, err := optics.SodaLime().At(nm)
			require.NoError(t, err)
			n, err := index.At(nm)
			require.NoError(t, err)
			assert.InDelta(t, real(want), real(n), 1e-14)
			assert.Zero(t, imag(n))
		}
	}
}

func TestFormulaRefuses(t *testing.T) {
	for text, says := range map[string]string{
		"cauchy:":                     "cauchy with 0 values is no formula",
		"cauchy:1.5,0,0,0,0":          "cauchy with 5 values is no formula",
		"cauchy:1.5,x":                `cauchy: value 2, "x", is not a number`,
		"cauchy:1,5 0":                "n of cauchy:1,5 0 is 56.556: it must be at most 3 at all wavelengths",
		"cauchy:0.9":                  "n of cauchy:0.9 is 0.9: it must be above 1 and finite at all wavelengths",
		"cauchy:1.5,4200":             "n of cauchy:1.5,4200 is 46668",
		"cauchy:NaN":                  "n of cauchy:NaN is NaN",
		"sellmeier:0.7":               "sellmeier with 1 values is no formula",
		"sellmeier:-0.7,0.01":         "strength B of sellmeier:-0.7,0.01 is -0.7: it must be at least 0",
		"sellmeier:0.7,0.684,0.4,100": "C of sellmeier:0.7,0.684,0.4,100 is 0.684: it must be at least 0 and a resonance outside",
	} {
		_, err := evaluate.Formula(text)
		var r *study.Refusal
		require.ErrorAs(t, err, &r, text)
		assert.Contains(t, r.Error(), says)
		assert.NotEmpty(t, r.Try)
	}
}

// A batch whose index is given as a formula has this index, and the absorption of its glass.
func TestBatchWithFormula(t *testing.T) {
	roster := &study.Roster{Batches: []study.GlassBatch{
		{Glass: "soda-lime", Batch: "melt 7", Model: "cauchy:1.5130 0.005962 0 -0.003169"},
		{Glass: "soda-lime", Batch: "melt 8", Model: "a prism of May"},
		{Glass: "low-iron", Batch: "melt 7", UIndex: study.Stated{Value: 0.0001, Is: true}, Model: fusedSilica}}}
	of := func(glass, batch string) evaluate.Setup {
		setup, err := evaluate.CouponSetup(&study.Coupon{Coupon: "A", Role: study.Exposed, Glass: glass, Back: "matched",
			GlassMM: study.Null(), Batch: batch}, "bruggeman", roster)
		require.NoError(t, err)
		return setup
	}
	n := func(s evaluate.Setup, nm float64) complex128 {
		v, err := s.Glass.Index.At(nm)
		require.NoError(t, err)
		return v
	}
	named, formula, words := of("soda-lime", ""), of("soda-lime", "melt 7"), of("soda-lime", "melt 8")
	assert.InDelta(t, 0.002/0.36, real(n(formula, 600)-n(named, 600)), 1e-14)
	assert.Equal(t, imag(n(named, 600)), imag(n(formula, 600)))
	assert.Equal(t, n(named, 600), n(words, 600))
	assert.Equal(t, []float64{0.002, 0.0005, 0.002, 0.0001}, []float64{named.Glass.UIndex, formula.Glass.UIndex,
		words.Glass.UIndex, of("low-iron", "melt 7").Glass.UIndex})

	coupon := study.Coupon{Coupon: "A", Glass: "soda-lime", Back: "matched", Batch: "melt 7"}
	before := evaluate.Digest(&coupon, "bruggeman", [32]byte{}, roster)
	assert.Equal(t, []evaluate.Known{{What: "dispersion cauchy:1.5130 0.005962 0 -0.003169", By: "glass batch melt 7"}},
		evaluate.GivenOfCoupon(&coupon, roster))
	roster.Batches[0].Model = "cauchy:1.5130 0.005963 0 -0.003169"
	assert.NotEqual(t, before, evaluate.Digest(&coupon, "bruggeman", [32]byte{}, roster), "the fit is stale then")
}
