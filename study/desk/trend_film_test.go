package desk

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/optics"
	"wane/study"
	"wane/study/cause"
	"wane/study/scenario"
)

// Made-up films whose truth is known: 118 nm become 100 nm with a tenth of the glass bare. The parts are those of the
// truth, by the same division of the true films, within the noise of two angles.
func TestFilmChanges(t *testing.T) {
	f, ctx := newFolder(t), context.Background()
	d := f.start()
	conditioned := "file,column,coupon,pull,spot,angle_deg,polarisation,quantity,unit,session,condition\n"
	row := func(file, coupon, pull, session, condition string) string {
		place := coupon + "," + pull + ",1,"
		tail := ",u,R,percent," + session + "," + condition + "\n"
		return file + ",#2," + place + "8" + tail + file + ",#3," + place + "60" + tail
	}
	f.export("e0.csv", 118, 0, 1)
	f.export("e1.csv", 100, 0.1, 2)
	f.export("soiled.csv", 104, 0.14, 3)
	f.export("c0.csv", 118, 0, 4)
	f.export("c1.csv", 118, 0, 5)
	m := f.write("map.csv", conditioned+row("e0.csv", "E1", "0", "s0", "cleaned")+row("e1.csv", "E1", "1", "s1",
		"cleaned")+
		row("soiled.csv", "E1", "1", "s1", "as_found")+row("c0.csv", "C1", "0", "s0", "cleaned")+row("c1.csv", "C1", "1",
		"s1", "cleaned"))
	_, err := d.Intake(ctx, m, nil, IntakeOptions{})
	require.NoError(t, err)
	_, err = d.Fit(ctx, FitOptions{})
	require.NoError(t, err)

	var all []FilmChange
	require.NoError(t, d.FilmChanges(ctx, nil, 0, func(c *FilmChange) error {
		all = append(all, *c)
		return nil
	}))
	require.Len(t, all, 2, "as found and cleaned")
	soiled, clean := all[0], all[1]
	assert.Equal(t, []string{"as_found", "cleaned"}, []string{soiled.Row.Condition, clean.Row.Condition})
	x := clean.Explained
	require.Empty(t, x.Why)
	assert.InDelta(t, float64(clean.Row.CorrectedChange.Value), float64(x.Change.Value+clean.Correction), 1e-12)
	assert.Equal(t, []string{cause.Lost, cause.Thinned, cause.InPlaces}, x.Findings)
	assert.Contains(t, soiled.Explained.LookAlikes, cause.Soiling)
	sum := 0.0
	for i, part := range x.Parts {
		sum += float64(part.Value)
		assert.GreaterOrEqual(t, float64(part.U), 0.0, cause.Part(i))
	}
	assert.InDelta(t, float64(x.Change.Value), sum, 1e-9)
	// By the same division of the true films, testdata/parts.py of study/cause with 118, 0.35, 0 and 100, 0.35, 0.1.
	assert.InDelta(t, -0.28965, float64(x.Parts[cause.Bare].Value), 3*float64(x.Parts[cause.Bare].U))
	assert.InDelta(t, -0.08127, float64(x.Parts[cause.Thickness].Value), 3*float64(x.Parts[cause.Thickness].U))
	assert.Nil(t, soiled.Recovered)
	require.NotNil(t, clean.Recovered)
	r := clean.Recovered
	assert.InDelta(t, float64(r.Total.Value+r.ByCleaning.Value), float64(r.Permanent.Value), 1e-9)
	assert.InDelta(t, float64(clean.Row.Change.Value), float64(r.Permanent.Value), 1e-12, "another order of sums")
	assert.InEpsilon(t, float64(clean.Row.Change.U), float64(r.Permanent.U), 1e-9)

	n := 0
	count := func(*FilmChange) error { n++; return nil }
	require.NoError(t, d.FilmChanges(ctx, []string{"C1", "B1"}, 0, count))
	assert.Equal(t, 1, n, "a control where it is named; a blank has no film")
	err = d.FilmChanges(ctx, []string{"E9"}, 0, count)
	var refused *study.Refusal
	require.ErrorAs(t, err, &refused)
	assert.Contains(t, refused.Fault, "E9")
	stopped, stop := context.WithCancel(ctx)
	stop()
	assert.ErrorIs(t, d.FilmChanges(stopped, nil, 0, count), context.Canceled)
}

// noisyExport writes a made-up export of a surface at 8, 45 and 60 degrees, with normal noise of 0.03 %.
func (f folder) noisyExport(name string, surface scenario.Surface, rng *rand.Rand) {
	var b strings.Builder
	b.WriteString("made up\nnm,8 deg %R,45 deg %R,60 deg %R\n")
	var nm []float64
	for x := 400.0; x <= 1100; x += 10 {
		nm = append(nm, x)
	}
	var columns [3][]float64
	for k, angle := range []float64{8, 45, 60} {
		var err error
		columns[k], err = surface.Reflectance(nm, angle)
		require.NoError(f.tb, err)
	}
	for i := range nm {
		fmt.Fprintf(&b, "%g", nm[i])
		for _, c := range columns {
			fmt.Fprintf(&b, ",%.5f", 100*(c[i]+0.0003*rng.NormFloat64()))
		}
		b.WriteString("\n")
	}
	f.write(name, b.String())
}

// Made-up films whose truth is drawn at random: the parts of the change lie within twice their uncertainty of those
// of the true films, which is an upper limit, in all but what 95 % of 30 leave out in 99.9 % of cases (R:
// qbinom(.001, 30, .95) is 24). The index of porosity 0.35 is that of study/scenario, by Bruggeman's equation.
func TestFilmPartsAgainstTruth(t *testing.T) {
	f, ctx, rng := newFolder(t), context.Background(), rand.New(rand.NewPCG(51, 52))
	const n = 10
	coupons, rows := couponHeader, "file,column,coupon,pull,spot,angle_deg,polarisation,quantity,unit,session\n"
	truth := map[string][2]cause.Film{}
	eps, _, _ := optics.Bruggeman.MixReal(1.458*1.458, 1, 0.35)
	for i := range n {
		code := fmt.Sprintf("E%d", i+1)
		coupons += code + ",exposed,m,K,1,soda-lime,3.2,matched,roof\n"
		films := [2]cause.Film{{ThicknessNM: 110 + 15*rng.Float64(), Bare: 0.02 * rng.Float64()}}
		films[1] = cause.Film{ThicknessNM: films[0].ThicknessNM - 20*rng.Float64(), Bare: films[0].Bare + 0.15*rng.Float64()}
		truth[code] = films
		for pull, film := range films {
			name := fmt.Sprintf("%s-%d.csv", code, pull)
			f.noisyExport(name, scenario.Surface{ThicknessNM: film.ThicknessNM, Porosity: 0.35, Bare: film.Bare}, rng)
			for k, angle := range []int{8, 45, 60} {
				rows += fmt.Sprintf("%s,#%d,%s,%d,1,%d,u,R,percent,s%d\n", name, k+2, code, pull, angle, pull)
			}
		}
	}
	d := f.startFrom(f.write("many.csv", coupons), f.rosters()[1], f.rosters()[2])
	in, err := d.Intake(ctx, f.write("map.csv", rows), nil, IntakeOptions{})
	require.NoError(t, err)
	require.Empty(t, in.Refused)
	_, err = d.Fit(ctx, FitOptions{})
	require.NoError(t, err)
	surface, err := cause.NewSurface(optics.SodaLime(), optics.Bruggeman, 1.458)
	require.NoError(t, err)
	covered, told := 0, 0
	require.NoError(t, d.FilmChanges(ctx, nil, 0, func(c *FilmChange) error {
		require.Empty(t, c.Explained.Why, c.Row.Coupon)
		films := truth[c.Row.Coupon]
		want := cause.Shapley(2, func(set uint) float64 { // bare fraction, thickness
			at := cause.Film{Bare: films[set&1].Bare, ThicknessNM: films[set>>1].ThicknessNM, Index: math.Sqrt(eps)}
			return 100 * surface.SolarT(at)
		})
		for i, part := range []cause.Part{cause.Bare, cause.Thickness, cause.Porosity} {
			off := float64(c.Explained.Parts[part].Value) - append(want, 0)[i]
			if told++; math.Abs(off) <= 2*float64(c.Explained.Parts[part].U) {
				covered++
			} else {
				t.Log(c.Row.Coupon, part, off, c.Explained.Parts[part])
			}
		}
		return nil
	}))
	assert.Equal(t, 3*n, told)
	assert.GreaterOrEqual(t, covered, 24)
}
