package evaluate_test

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/fit/film"
	"wane/optics"
	"wane/study"
	"wane/study/evaluate"
)

// porous is a film of silica of index 1.458 at 550 nm and of the given porosity.
func porous(t *testing.T, porosity float64) optics.Index {
	ref, err := optics.FusedSilica().At(550)
	require.NoError(t, err)
	var nm, n, k []float64
	for x := 300.0; x <= 2500; x += 5 {
		solid, err := optics.FusedSilica().Shifted(1.458 - real(ref)).At(x)
		require.NoError(t, err)
		eps, _, _ := optics.Bruggeman.MixReal(real(solid)*real(solid), 1, porosity)
		nm, n, k = append(nm, x), append(n, math.Sqrt(eps)), append(k, 0)
	}
	index, err := optics.Table("porous silica", nm, n, k)
	require.NoError(t, err)
	return index
}

func budget(t *testing.T, e *evaluate.Evaluator, v, base *film.Verdict, b film.Budget) map[string]film.BudgetRow {
	rows, err := e.Budget(context.Background(), v, base, b)
	require.NoError(t, err)
	byTerm := map[string]film.BudgetRow{}
	for _, r := range rows {
		t.Logf("%-16s %8.4g %-16s %8.4f nm %8.5f pp %8.5f pp", r.Term, r.Size, r.Unit, r.ThicknessNM, r.SolarPP, r.ChangePP)
		byTerm[r.Term] = r
	}
	return byTerm
}

// uniformEvaluator returns an evaluator of films that are known to be uniform, by a mixing rule.
func uniformEvaluator(t *testing.T, mixing optics.Mixing) *evaluate.Evaluator {
	known := film.DefaultKnown(optics.Matched)
	known.Structure = film.Structure{}
	e, err := evaluate.NewEvaluator(evaluate.Setup{Glass: film.Glass{Index: optics.SodaLime()},
		Coating: film.Coating{Mixing: mixing}, Known: &known})
	require.NoError(t, err)
	return e
}

// The budget of a film whose dried index is near the best, and of one on a slope, is that of its row: water moves
// solar_T by 0.10053 and 0.07268 pp, by testdata/pore_water.py, and no thickness.
func TestBudgetOfPoreWater(t *testing.T) {
	films := []optics.Film{{Index: porous(t, 0.36), ThicknessNM: 118}}
	soaked := []optics.Film{{Index: porous(t, 0.28312), ThicknessNM: 118}} // the index of 0.36 with three tenths filled
	for _, c := range []struct {
		films []optics.Film
		water film.Water
		want  float64
	}{
		{films, film.Water{Share: 0.3, UShare: 0.3 / math.Sqrt(3)}, 0.10053},
		{soaked, film.Water{Share: 0.3, UShare: 0.1}, 0.07268},
	} {
		known := film.DefaultKnown(optics.Matched)
		known.Structure = film.Structure{} // uniform, as that of the script
		e, err := evaluate.NewEvaluator(evaluate.Setup{Glass: film.Glass{Index: optics.SodaLime()},
			Known: &known, Water: c.water})
		require.NoError(t, err)
		result, v, err := e.Spot(context.Background(), simulate(t, c.films, []float64{8, 30, 45, 60}, 1), nil, nil)
		require.NoError(t, err)
		rows := budget(t, e, v, nil, film.Budget{Seed: 1})
		water := rows["pore water"]
		assert.InDelta(t, c.water.UShare, water.Size, 1e-15)
		// three Monte Carlo errors: √((κ-1)/(4·400)) is 2.2 % for κ = 1.8 of an even error, 5 % for κ = 5
		assert.InEpsilon(t, c.want, water.SolarPP, 0.15)
		assert.Less(t, water.ThicknessNM, 1e-9, "nm: as read")
		assert.InEpsilon(t, 100*float64(result.SolarT.U), rows["total"].SolarPP, 0.15)
	}
}

// unseenT is the part of solar_T outside the wavelengths of the readings.
func unseenT(t *testing.T, mixing optics.Mixing, curves []film.Curve) float64 {
	var readings []study.Reading
	for _, c := range curves {
		r := study.Reading{NM: c.NM, Values: c.R}
		r.AngleDeg, r.Polarisation = c.AngleDeg, "u"
		readings = append(readings, r)
	}
	f, err := uniformEvaluator(t, mixing).Unit(context.Background(), study.Exposed, study.Unit{}, readings)
	require.NoError(t, err)
	return float64(f.Result.SolarT.Value - f.SeenT)
}

// The extrapolation is the choice between structures that explain the curves as well: the
// four mixing rules, whose unseen parts other functions give here. Both pulls draw the same.
func TestBudgetOfExtrapolation(t *testing.T) {
	e := uniformEvaluator(t, optics.Bruggeman)
	films := []optics.Film{{Index: porous(t, 0.36), ThicknessNM: 118}}
	curves := simulate(t, films, []float64{8, 30, 45, 60}, 1)
	r, v, err := e.Spot(context.Background(), curves, nil, nil)
	require.NoError(t, err)
	rows := budget(t, e, v, v, film.Budget{Draws: 1000, Known: &film.Known{}})
	row := rows["extrapolation"]
	assert.InDelta(t, 1-float64(r.SolarShareCovered), row.Size, 1e-9, "0.22 of the irradiance is not seen")
	own, sum := unseenT(t, optics.Bruggeman, curves), 0.0
	for _, rule := range []optics.Mixing{optics.MaxwellGarnett, optics.LorentzLorenz, optics.VolumeAverage} {
		d := 100 * (unseenT(t, rule, curves) - own)
		t.Logf("%v: %.5f pp", rule, d)
		sum += d * d
	}
	// Four equal chances. The squares scatter by 0.9 times their mean, which leaves 1.4 %
	// of the root of the mean of 1,000.
	assert.InEpsilon(t, math.Sqrt(sum/4), row.SolarPP, 3*0.014)
	assert.Less(t, row.ChangePP, 1e-9, "the same film twice")

	// Without a film there is nothing to choose.
	_, bare, err := e.Spot(context.Background(), simulate(t, nil, []float64{8, 30, 45, 60}, 1), nil, nil)
	require.NoError(t, err)
	require.Equal(t, film.ModelBare, bare.Model)
	rows = budget(t, e, bare, nil, film.Budget{Draws: 50, Known: &film.Known{}})
	assert.Less(t, rows["extrapolation"].SolarPP, 1e-9)
	assert.Zero(t, rows["total"].ThicknessNM)
}
