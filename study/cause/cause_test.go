package cause_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/optics"
	"wane/optics/solar"
	"wane/study"
	"wane/study/cause"
)

// The glove game: player 0 has a left glove, 1 and 2 have right ones, and a pair is worth 1. Of the six orders player 0
// completes the pair in four, the others in one each. By hand.
func TestShapleyOfGloves(t *testing.T) {
	shares := cause.Shapley(3, func(set uint) float64 {
		if set&1 != 0 && set != 1 {
			return 1
		}
		return 0
	})
	assert.InDeltaSlice(t, []float64{4. / 6, 1. / 6, 1. / 6}, shares, 1e-15)
	// What only adds is its own share; nobody gets nothing.
	assert.InDeltaSlice(t, []float64{1, 2}, cause.Shapley(2, func(set uint) float64 { return float64(set) }), 1e-15)
	assert.Empty(t, cause.Shapley(0, func(uint) float64 { return 5 }))
	assert.Panics(t, func() { cause.Shapley(17, func(uint) float64 { return 0 }) })
}

// The mean over all orders, walked one by one.
func TestShapleyOverAllOrders(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for n := 1; n <= 6; n++ {
		worths := make([]float64, 1<<n)
		for i := range worths {
			worths[i] = rng.NormFloat64()
		}
		want, orders := make([]float64, n), 0
		var walk func(set uint, gains []float64)
		walk = func(set uint, gains []float64) {
			if set == 1<<n-1 {
				orders++
				for i, g := range gains {
					want[i] += g
				}
				return
			}
			for i := range n {
				if set>>i&1 == 0 {
					gains[i] = worths[set|1<<i] - worths[set]
					walk(set|1<<i, gains)
				}
			}
		}
		walk(0, make([]float64, n))
		sum := 0.0
		got := cause.Shapley(n, func(set uint) float64 { return worths[set] })
		for i := range want {
			assert.InDelta(t, want[i]/float64(orders), got[i], 1e-12)
			sum += got[i]
		}
		assert.InDelta(t, worths[len(worths)-1]-worths[0], sum, 1e-12, "the shares add exactly")
	}
}

func surface(t *testing.T) *cause.Surface {
	f, err := cause.NewSurface(optics.SodaLime(), optics.Bruggeman, 1.458)
	require.NoError(t, err)
	return f
}

// reading is a fit with these values; its errors are an own one of solar_T, material left and thickness each, and one
// of the coating that both readings share.
func reading(pull int, solarT, bare, thickness, index, solid float64) *study.Fit {
	f := study.NewFit(study.Unit{Coupon: "A1", Pull: pull, Spot: "1"})
	r := &f.Result
	r.Model, r.SolarT = "film", study.Measure{Value: study.Num(solarT), U: 0.0003}
	r.BareFraction = study.Measure{Value: study.Num(bare), U: 0.004}
	r.Thickness, r.Solid = study.Measure{Value: study.Num(thickness), U: 0.5}, study.Measure{Value: study.Num(solid),
		U: 2.06}
	r.FilmIndex, r.Porosity = study.Measure{Value: study.Num(index), U: 0.001}, study.Measure{Value: 0.3, U: 0.01}
	f.AnglesDeg = []float64{8, 60}
	f.Errors.SetOwn(study.OutSolarT, study.OutSolarT, 0.0001*0.0001)
	f.Errors.SetOwn(study.OutSolid, study.OutSolid, 0.25)
	f.Errors.SetOwn(study.OutThickness, study.OutThickness, 0.16)
	s := study.Sensitivity{Effect: study.Effect{Owner: study.OwnerCoating, Of: "K", Name: "skeleton_index"}}
	s.By[study.OutSolid] = 2
	f.Errors.Shared = []study.Sensitivity{s}
	return f
}

// testdata/parts.py: SciPy's solver and NumPy's sums, and the six orders. 2e-4 pp: ours has the absorption of the
// glass and another rule for the ends of trapezoids.
func TestPartsAgainstSciPy(t *testing.T) {
	f := surface(t)
	for _, c := range []struct {
		then, now *study.Fit
		want      [3]float64
		structure float64
	}{
		{reading(0, 0.987052, 0, 118, 1.28788949, 75), reading(2, 0.981094-0.0002, 0.12, 96, 1.31629131, 59),
			[3]float64{-0.33830, -0.11840, -0.13907}, -0.02},
		{reading(0, 0.980242, 0.02, 150, 1.33998301, 110), reading(1, 0.985048, 0.05, 140, 1.26899211, 80),
			[3]float64{-0.07852, 0.10371, 0.45539}, 0},
	} {
		x := f.Explain(c.then, c.now)
		require.Empty(t, x.Why)
		sum := 0.0
		for _, p := range x.Parts {
			sum += float64(p.Value)
		}
		assert.InDelta(t, float64(x.Change.Value), sum, 1e-12, "the parts add to the change")
		assert.InDelta(t, 0.0001*math.Sqrt2*100, float64(x.Change.U), 1e-12)
		for i, want := range c.want {
			assert.InDelta(t, want, float64(x.Parts[i].Value), 2e-4, cause.Part(i))
		}
		assert.InDelta(t, c.structure, float64(x.Parts[cause.Structure].Value), 3e-4)
		assert.Equal(t, study.Measure{}, x.Parts[cause.Absorbed])
	}
}

// The uncertainty of a part is not below that of parameters whose errors are independent, drawn at random, nor of
// ones that move together.
func TestPartsUncertaintyIsAnUpperLimit(t *testing.T) {
	f := surface(t)
	then, now := reading(0, 0.987, 0.01, 118, 1.288, 75), reading(1, 0.981, 0.12, 96, 1.316, 59)
	limit := f.Explain(then, now).Parts
	for _, together := range []bool{false, true} {
		rng, squares, n := rand.New(rand.NewPCG(3, 4)), [3]float64{}, 150
		for range n {
			z := rng.NormFloat64()
			draw := func(m study.Measure, sign float64) study.Measure {
				e := sign * z
				if !together {
					e = rng.NormFloat64()
				}
				return study.Measure{Value: m.Value + study.Num(e)*m.U, U: m.U}
			}
			a, b := *then, *now
			a.Result.BareFraction, b.Result.BareFraction = draw(a.Result.BareFraction, -1), draw(b.Result.BareFraction, 1)
			a.Result.Thickness, b.Result.Thickness = draw(a.Result.Thickness, -1), draw(b.Result.Thickness, 1)
			a.Result.FilmIndex, b.Result.FilmIndex = draw(a.Result.FilmIndex, 1), draw(b.Result.FilmIndex, -1)
			for i, p := range f.Explain(&a, &b).Parts[:3] {
				off := float64(p.Value - limit[i].Value)
				squares[i] += off * off / float64(n)
			}
		}
		for i, s := range squares {
			assert.Less(t, math.Sqrt(s), 1.18*float64(limit[i].U), "%v: 150 draws determine a deviation to 6 %%, three "+
				"times that", cause.Part(i))
			assert.Greater(t, math.Sqrt(s), 0.25*float64(limit[i].U), "%v: the limit is not idle", cause.Part(i))
		}
	}
}

func TestFindings(t *testing.T) {
	f := surface(t)
	base := reading(0, 0.987, 0, 118, 1.288, 75)
	humid := reading(1, 0.9868, 0, 117.5, 1.300, 75.5)
	humid.Condition = "as_found"
	stripped := reading(1, 0.957, 1, 0, 1.3, 0)
	stripped.Result.Model, stripped.Result.FilmIndex = "bare", study.NoMeasure()
	for name, c := range map[string]struct {
		now       *study.Fit
		want, and []string
	}{
		"thinner": {reading(1, 0.984, 0, 100, 1.288, 64), []string{cause.Lost, cause.Thinned}, nil},
		"scratched": {reading(1, 0.984, 0.1, 118, 1.288, 67), []string{cause.Lost, cause.InPlaces},
			[]string{cause.Peeling}},
		"from within": {reading(1, 0.988, 0, 118, 1.26, 68), []string{cause.Lost}, []string{cause.Residue}},
		"denser":      {humid, []string{cause.Densified}, []string{cause.PoreWater, cause.Organics, cause.Soiling}},
		"filled": {reading(1, 0.985, 0, 118, 1.32, 79), []string{cause.Filled}, []string{cause.PoreWater,
			cause.Organics, cause.Residue}},
		"as it was":           {reading(1, 0.98695, 0.001, 118.3, 1.2885, 75.9), []string{cause.Unchanged}, nil},
		"index alone is less": {reading(1, 0.98695, 0, 118.3, 1.28, 74.9), nil, nil},
		"stripped":            {stripped, []string{cause.Lost}, nil},
	} {
		x := f.Explain(base, c.now)
		assert.Equal(t, c.want, x.Findings, name)
		assert.Equal(t, c.and, x.LookAlikes, name)
		for _, word := range x.Findings {
			_, explained := study.FindTerm(cause.Findings(), word)
			assert.True(t, explained, word)
		}
		for _, word := range x.LookAlikes {
			_, explained := study.FindTerm(cause.LookAlikes(), word)
			assert.True(t, explained, word)
		}
	}
	assert.InDelta(t, math.Sqrt(0.5), float64(f.Explain(base, humid).Solid.U), 1e-12, "the skeleton index cancels")
}

// What cannot be told is not told, and says why.
func TestCannotBeTold(t *testing.T) {
	f := surface(t)
	with := func(change func(*study.Fit)) *study.Fit {
		x := reading(1, 0.98, 0.1, 100, 1.29, 60)
		change(x)
		return x
	}
	flag := func(words ...string) *study.Fit { return with(func(x *study.Fit) { x.Result.Flags = words }) }
	base := reading(0, 0.987, 0, 118, 1.288, 75)
	for name, c := range map[string]struct {
		then, now *study.Fit
		want      []cause.Why
	}{
		"not separable": {base, flag("not-separable:thickness", "structure", "not-separable:bare"),
			[]cause.Why{{1, "not-separable:thickness"}, {1, "not-separable:bare"}}},
		"at pull 0, too": {with(func(x *study.Fit) { x.Pull, x.Result.Flags = 0, []string{"misfit"} }), flag("poor-fit"),
			[]cause.Why{{0, "misfit"}, {1, "poor-fit"}}},
		"stripped": {base, with(func(x *study.Fit) { x.Result.Model = "bare" }), []cause.Why{{1, cause.WhyStripped}}},
		"unclear": {base, with(func(x *study.Fit) { x.Result.State = study.Unclear }),
			[]cause.Why{{1, cause.WhyUnclear}}},
		"pinned": {base, with(func(x *study.Fit) { x.Result.BareFraction.U = study.Null() }),
			[]cause.Why{{1, cause.WhyNoValue}}},
		"no value": {base, with(func(x *study.Fit) { x.Result.SolarT = study.NoMeasure() }),
			[]cause.Why{{1, cause.WhyNoValue}}},
		"an old fit": {base, with(func(x *study.Fit) { x.Errors = study.Errors{} }), []cause.Why{{1, cause.WhyNoErrors}}},
		"absorption": {base, with(func(x *study.Fit) { x.Result.Absorbed = study.Measure{Value: 0.1, U: 0.1} }),
			[]cause.Why{{1, cause.WhyAbsorbing}}},
		"other angles": {base, with(func(x *study.Fit) {
			x.Result.Flags, x.AnglesDeg = []string{"structure"}, []float64{8}
		}), []cause.Why{{1, cause.WhyAngles}}},
		"not evaluated": {base, flag("not-evaluated"), []cause.Why{{1, "not-evaluated"}}},
	} {
		x := f.Explain(c.then, c.now)
		assert.Equal(t, c.want, x.Why, name)
		for _, p := range x.Parts {
			assert.False(t, p.Value.Valid(), name)
		}
		assert.NotContains(t, x.Findings, cause.Unchanged, name)
	}
	_, err := cause.NewSurface(optics.SodaLime(), optics.Bruggeman, 1)
	assert.Error(t, err)
}

// What transmittance shows to be absorbed is a part of its own.
func TestAbsorbedIsAPart(t *testing.T) {
	then, now := reading(0, 0.987, 0, 118, 1.288, 75), reading(1, 0.984, 0, 118, 1.288, 75)
	then.Result.Absorbed, now.Result.Absorbed = study.Measure{Value: 0.1, U: 0.02}, study.Measure{Value: 0.35, U: 0.03}
	x := surface(t).Explain(then, now)
	assert.InDelta(t, -0.25, float64(x.Parts[cause.Absorbed].Value), 1e-12)
	assert.InDelta(t, 0.05, float64(x.Parts[cause.Absorbed].U), 1e-12)
	assert.InDelta(t, -0.05, float64(x.Parts[cause.Structure].Value), 1e-9)
}

// A declared share of water: the index of the dry film counts, which follows from the porosity. At 550 nm and
// porosity 0.36, testdata/parts.py has 1.28788949.
func TestDriedFilmsCountDry(t *testing.T) {
	then, now := reading(0, 0.987, 0, 118, 1.28788949, 75), reading(1, 0.984, 0, 118, 1.31, 75)
	now.Result.Flags, now.Result.Porosity = []string{study.FlagDried}, study.Measure{Value: 0.36, U: 0.002}
	x := surface(t).Explain(then, now)
	assert.InDelta(t, 0, float64(x.Index.Value), 1e-7)
	assert.InDelta(t, 0, float64(x.Parts[cause.Porosity].Value), 1e-6)
	assert.Greater(t, float64(x.Index.U), 0.0015)
}

func TestRecover(t *testing.T) {
	at := func(condition string, solarT float64) *study.Fit {
		f := reading(2, solarT, 0, 118, 1.288, 75)
		f.Condition = condition
		return f
	}
	base := reading(0, 0.987, 0, 118, 1.288, 75)
	// By hand: soil costs 0.9 pp, of which rain would take 0.5 and a cloth 0.3; 0.1 pp of the film is gone.
	r, ok := cause.Recover(base, []*study.Fit{at("as_found", 0.978), at("cleaned", 0.986), at("rinsed", 0.983),
		at("", 0.5)})
	require.True(t, ok)
	u := 0.01 * math.Sqrt2
	for name, m := range map[string][2]study.Measure{
		"by rinsing": {{Value: 0.5, U: study.Num(u)}, r.ByRinsing}, "by cleaning": {{Value: 0.3, U: study.Num(u)},
			r.ByCleaning},
		"permanent": {{Value: -0.1, U: study.Num(u)}, r.Permanent}, "total": {{Value: -0.9, U: study.Num(u)}, r.Total}} {
		assert.InDelta(t, float64(m[0].Value), float64(m[1].Value), 1e-12, name)
		assert.InDelta(t, float64(m[0].U), float64(m[1].U), 1e-12, name)
	}
	assert.True(t, r.Lossless)
	r, ok = cause.Recover(nil, []*study.Fit{at("rinsed", 0.983), at("cleaned", 0.986)})
	require.True(t, ok)
	assert.False(t, r.ByRinsing.Value.Valid() || r.Permanent.Value.Valid() || r.Total.Value.Valid())
	assert.InDelta(t, 0.3, float64(r.ByCleaning.Value), 1e-12)
	for _, few := range [][]*study.Fit{nil, {at("cleaned", 0.98)}, {at("as_found", 0.98), at("rinsed", 0.98)},
		{at("as_found", math.NaN()), at("cleaned", 0.98)}} {
		_, ok = cause.Recover(base, few)
		assert.False(t, ok)
	}
	soiled := *base
	soiled.Condition = "as_found"
	r, _ = cause.Recover(&soiled, []*study.Fit{at("as_found", 0.978), at("cleaned", 0.986)})
	assert.False(t, r.Permanent.Value.Valid(), "a soiled baseline says nothing of the film")
}

// Some nodes give the solar mean of a smooth glass; of a table with a kink they would be off, so all wavelengths count.
// Both against the general stack at each wavelength of the solar table.
func TestSolarTOfSmoothAndOfTabulatedGlass(t *testing.T) {
	kinked, err := optics.Table("made up, with a kink", []float64{300, 640, 650, 2500}, []float64{1.56, 1.53, 1.48, 1.49},
		[]float64{0, 0, 0, 0})
	require.NoError(t, err)
	nm := solar.Grid(300, 2500)
	weights, _, err := solar.Weights(nm, 300, 2500, solar.Energy)
	require.NoError(t, err)
	ref, err := optics.FusedSilica().At(550)
	require.NoError(t, err)
	for _, glass := range []optics.Index{optics.SodaLime(), kinked} {
		f, err := cause.NewSurface(glass, optics.Bruggeman, real(ref))
		require.NoError(t, err)
		index, err := optics.Porous(optics.FusedSilica(), nm, optics.Bruggeman, 0.36)
		require.NoError(t, err)
		r, _, err := optics.Stack{Films: []optics.Film{{Index: index, ThicknessNM: 118}}, Substrate: glass}.RT(nil, nil, nm, 0,
			optics.U)
		require.NoError(t, err)
		eps, _, _ := optics.Bruggeman.MixReal(real(ref)*real(ref), 1, 0.36)
		want := 1.0
		for i, w := range weights {
			want -= w * r[i]
		}
		assert.InDelta(t, want, f.SolarT(cause.Film{ThicknessNM: 118, Index: math.Sqrt(eps)}), 1e-8, glass.Name())
	}
}
