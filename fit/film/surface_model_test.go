package film

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/floats"

	"wane/fit"
	"wane/optics"
)

// Every column of the Jacobian against central differences at generic points,
// for every far face, with and without texture, native beam and pins.
func TestJacobianAgainstDifferences(t *testing.T) {
	base := func(back optics.Back) Spot {
		s := Spot{Setup: Setup{Glass: Glass{Index: optics.SodaLime(), ThicknessMM: 3.2, Back: back}}}
		for _, a := range []float64{8, 52} {
			c := Curve{AngleDeg: a, Pol: 0.3}
			for nm := 330.0; nm < 1200; nm += 87 {
				c.NM, c.R = append(c.NM, nm), append(c.R, 0.02)
			}
			s.Curves = append(s.Curves, c)
		}
		return s
	}
	cases := map[string]Spot{}
	for _, b := range []optics.Back{optics.Matched, optics.Blackened, optics.Bare, optics.Coated} {
		cases[b.String()] = base(b)
	}
	laminated := base(optics.Laminated)
	laminated.Glass.Return = returning(t, 0.05, 0.02)
	cases["laminated"] = laminated
	textured := base(optics.Matched)
	textured.Texture = true
	cases["textured"] = textured
	native := base(optics.Bare)
	native.Curves[0].Native = true
	cases["native beam"] = native
	absorbed := base(optics.Matched) // the usual curve, whose polarisations mix first
	absorbed.Curves[0].Native = true
	cases["native beam, nothing comes back"] = absorbed
	beam := base(optics.Matched)
	beam.Instrument = Instrument{ConeDeg: 4, SlitNM: 12}
	cases["cone and slit"] = beam
	polarised := base(optics.Bare)
	polarised.Instrument = Instrument{ConeDeg: 6}
	polarised.Curves[0].Pol, polarised.Curves[1].Pol = optics.P, optics.S
	cases["cone of polarised light"] = polarised
	divided := base(optics.Matched)
	divided.Divided, divided.Instrument = true, Instrument{JoinsNM: []float64{500, 860}, UJoin: 0.001}
	divided.Curves[0].Native, divided.Curves[1].Pol = true, optics.U
	cases["divided by a blank"] = divided
	joined := base(optics.Blackened)
	joined.Instrument = Instrument{JoinsNM: []float64{500, 860}, UJoin: 0.001}
	cases["detector joins"] = joined
	for _, back := range []optics.Back{optics.Bare, optics.Coated} {
		through := base(back)
		through.Curves[1].Through = true
		cases[fmt.Sprint("transmittance, ", back)] = through
		blank := base(back)
		blank.Glass.Blank = blankOf(t, blank.Glass, blank.Curves[0].NM)
		blank.Curves[0].Through, blank.Curves[1].Through = true, true
		blank.Instrument = Instrument{ConeDeg: 3, SlitNM: 9, JoinsNM: []float64{500, 860}, UJoin: 0.001}
		blank.Curves[0].Native = true
		cases[fmt.Sprint("transmittance alone, pane by a blank, wide beam, joins, ", back)] = blank
	}
	for _, p := range []Pins{{Thickness: 110}, {Porosity: 0.31}, {Thickness: 110, Porosity: 0.31}} {
		pinned := base(optics.Bare)
		pinned.Pins = p
		cases[fmt.Sprint(p)] = pinned
	}
	for name, spot := range cases {
		t.Run(name, func(t *testing.T) {
			for _, structured := range []bool{false, true} {
				m, err := NewFitter(spot.Setup).fullModel(&spot, []float64{0.0005, 0.0007})
				require.NoError(t, err)
				m.structured, m.structure = structured, 1
				checkJacobian(t, m)
			}
		})
	}
}

// blankOf is the blank of a pane whose transmittance was read 0.3 % too large.
func blankOf(t *testing.T, g Glass, nm []float64) *Blank {
	pane := optics.Pane{Glass: g.Index, GlassMM: g.ThicknessMM, Back: optics.Bare}
	_, through, err := pane.RT(nil, nil, nm, 0, optics.U)
	require.NoError(t, err)
	floats.Scale(1.003, through)
	b, err := NewBlank(g.Index, nm, through, 0)
	require.NoError(t, err)
	return b
}

// Each thing that is said to be known is the prior of its own parameter, with its own size
// and about the value that [Session] states.
func TestWhatIsSaidToBeKnownIsThePrior(t *testing.T) {
	spot := noisySpot(t, Glass{Index: optics.SodaLime()}, 150, 0.1, 1)
	spot.Glass.UIndex, spot.Coating = 0.0021, Coating{Skeleton: 1.449, USkeleton: 0.011}
	spot.Known = &Known{Session: Session{UScale: 0.012, UFactor: 0.013, UAngle: 0.31, UShare: 0.06,
		UWavelengthNM: 0.33, Zero: 0.0001, UZero: 0.0004},
		Placement: Placement{UFactor: 0.003, UTiltDeg: 0.32, UZero: 0.0003}, Coupon: Coupon{UIndex: 0.0006, Leak: 0.0002, ULeak: 0.0001}}
	spot.Instrument = Instrument{JoinsNM: []float64{860}, UJoin: 0.0014}
	for k := range spot.Curves {
		spot.Curves[k].Native = true
	}
	m, err := NewFitter(spot.Setup).fullModel(spot, []float64{1, 1, 1, 1})
	require.NoError(t, err)
	want := map[string]fit.Prior{
		"glass_index": {SD: math.Hypot(0.0021, 0.0006)}, "skeleton_index": {Mean: 1.449, SD: 0.011}, "scale": {Mean: 1, SD: 0.012},
		"s_share_native": {Mean: 0.5, SD: 0.06}, "tilt": {SD: 0.32}, "join@860": {SD: 0.0014},
		"wavelength_error": {SD: 0.33}, "zero": {Mean: 0.0001, SD: 0.0005}, "leak": {Mean: 0.0002, SD: 0.0001},
	}
	for _, angle := range []string{"8", "30", "45", "60"} {
		want["factor@"+angle] = fit.Prior{Mean: 1, SD: math.Hypot(0.013, 0.003)}
		want["angle@"+angle] = fit.Prior{SD: 0.31}
	}
	got := map[string]fit.Prior{}
	for _, p := range m.params(0) {
		if p.Prior != (fit.Prior{}) {
			assert.False(t, p.Fixed, p.Name)
			got[p.Name] = p.Prior
		}
	}
	assert.Equal(t, want, got)
}

// returning returns a return spectrum that falls from lo at 250 nm to hi at 2600 nm.
func returning(t testing.TB, lo, hi float64) optics.Share {
	share, err := optics.NewShare("laminate.csv", []float64{250, 2600}, []float64{lo, hi})
	require.NoError(t, err)
	return share
}

func checkJacobian(t *testing.T, m *model) {
	x := []float64{151.3, 1.287, 0.137, 1.4521, 0.0123, -0.0007, 1.013, 0.49, 0.46, 529, 0.06, -0.02, -6.1, 1.2, -0.004, 0.0013,
		0.013, 0.7, 1.004, -0.0007, 0.998, 1.2, 1.003, 0.17, 0.4, 0.0006, -0.0003, 0.0004, 0.991, 0.93, 0.21, 1.017, 0.71, -0.34}
	for k := range m.spot.Curves {
		x = append(x, 1.003-0.002*float64(k))
	}
	for k := range m.countJoins() {
		x = append(x, 0.002+0.003*float64(k))
	}
	if !leaks(m.spot.Glass.Back) {
		x[pLeak] = 0 // what comes back has its own terms
	}
	size := m.size()
	require.Len(t, x, size)
	res, got := make([]float64, m.points), make([]float64, m.points*size)
	m.evaluate(x, res, got)
	params := m.params(0)
	for j := range x {
		if params[j].Fixed && (j == pRough2 || j == pShare || j == pNative || j == pLeak) {
			continue // not in the model
		}
		// a difference of five points: the second derivative by thickness, which the variance brings in, is itself a
		// difference, so that its rounding asks for wide steps
		h := 1e-3 * math.Max(1, math.Abs(x[j]))
		if m.spot.Divided && (j == pZero || j >= m.pJoin(0)) { // what the blank reads is small, and divides
			h /= 4
		}
		want, at := make([]float64, m.points), make([]float64, m.points)
		xx := append([]float64(nil), x...)
		for _, c := range [][2]float64{{-2, 1. / 12}, {-1, -8. / 12}, {1, 8. / 12}, {2, -1. / 12}} {
			xx[j] = x[j] + c[0]*h
			m.residuals(at, xx)
			floats.AddScaled(want, c[1]/h, at)
		}
		for i, want := range want {
			assert.InDelta(t, want, got[i*size+j], 1e-6*math.Max(1, math.Abs(want)), "point %d, parameter %s", i, params[j].Name)
		}
	}
	// The normal equations are those of residuals and Jacobian.
	m.setFreeParams(params)
	jj, jr := make([]float64, size*size), make([]float64, size)
	cost := m.fillNormalEquations(jj, jr, x)
	assert.InDelta(t, 1, cost/floats.Dot(res, res), 1e-12)
	for a := range x {
		for b := a; b < size; b++ {
			want, r := 0.0, 0.0
			for i := range res {
				want += got[i*size+a] * got[i*size+b]
				r += got[i*size+a] * res[i]
			}
			if params[a].Fixed || params[b].Fixed {
				want = 0
			}
			assert.InDelta(t, want, jj[a*size+b], 1e-10*math.Abs(want)+1e-12)
			if !params[a].Fixed {
				assert.InDelta(t, r, jr[a], 1e-8*math.Abs(r)+1e-7)
			}
		}
	}
}

// The pane of the fit against the general pane of optics, which sums the passes
// on its own from the films. In absorbing glass the power that crosses a face is
// itself only defined to the order of k, 5e-6 here.
func TestFarFaceAgainstPane(t *testing.T) {
	for _, c := range []struct {
		glass optics.Index
		tol   float64
	}{{optics.BorosilicateCrown(), 1e-13}, {optics.SodaLime(), 1e-6}} {
		for _, back := range []optics.Back{optics.Matched, optics.Blackened, optics.Bare, optics.Coated} {
			for _, pol := range []optics.Polarisation{optics.S, optics.P} {
				checkFarFace(t, Glass{Index: c.glass, ThicknessMM: 3.2, Back: back}, pol, c.tol)
			}
		}
		laminated := Glass{Index: c.glass, ThicknessMM: 3.2, Back: optics.Laminated, Return: returning(t, 0.05, 0.02)}
		checkFarFace(t, laminated, optics.S, c.tol)
	}
}

// A laminate that returns what Fresnel's equations say of glass in air is the bare far face: at normal incidence a fit
// finds the same film under both.
func TestLaminateThatReturnsWhatAirDoes(t *testing.T) {
	var nm, returned []float64
	for x := 360.0; x <= 1100; x += 4 {
		n, err := optics.BorosilicateCrown().At(x)
		require.NoError(t, err)
		nm, returned = append(nm, x), append(returned, math.Pow((real(n)-1)/(real(n)+1), 2))
	}
	share, err := optics.NewShare("air.csv", nm, returned)
	require.NoError(t, err)
	films := []optics.Film{{Index: optics.Constant("film", 1.28), ThicknessNM: 118}}
	bare := Glass{Index: optics.BorosilicateCrown(), ThicknessMM: 3.2, Back: optics.Bare}
	r, _, err := optics.Pane{Films: films, Glass: bare.Index, GlassMM: 3.2, Back: optics.Bare}.RT(nil, nil, nm, 0, optics.S)
	require.NoError(t, err)
	rng := rand.New(rand.NewPCG(5, 1))
	for i := range r {
		r[i] += 0.0003 * rng.NormFloat64()
	}
	laminated := bare
	laminated.Back, laminated.Return = optics.Laminated, share
	known := DefaultKnown(optics.Bare)
	var found [2]*Verdict
	for k, glass := range []Glass{bare, laminated} {
		spot := &Spot{Setup: Setup{Glass: glass, Known: &known}, Curves: []Curve{{NM: nm, R: r, Pol: optics.S}}}
		found[k], err = NewFitter(spot.Setup).Fit(context.Background(), spot)
		require.NoError(t, err)
	}
	// The index of the glass is free, and moves what bare glass returns and not what a laminate does: hence no equality.
	assert.InDelta(t, found[0].OpticalThicknessNM.Value, found[1].OpticalThicknessNM.Value, 0.1*found[0].OpticalThicknessNM.U)
	assert.InDelta(t, found[0].ReducedChi2, found[1].ReducedChi2, 1e-3)
	assert.NotContains(t, found[1].Flags, flagPoorFit)

	short, err := optics.NewShare("short.csv", nm[:100], returned[:100])
	require.NoError(t, err)
	for _, c := range []struct {
		share optics.Share
		says  string
	}{
		{short, "film: curve 1: it runs from 360 to 1100 nm, and the return spectrum short.csv of the laminated far face from " +
			"360 to 756 nm"},
		{optics.Share{}, "film: curve 1: the far face is laminated, and its return spectrum is not given"},
	} {
		laminated.Return = c.share
		spot := &Spot{Setup: Setup{Glass: laminated}, Curves: []Curve{{NM: nm, R: r, Pol: optics.S}}}
		_, err := NewFitter(spot.Setup).Fit(context.Background(), spot)
		assert.EqualError(t, err, c.says)
	}
}

func checkFarFace(t *testing.T, glass Glass, pol optics.Polarisation, tol float64) {
	const d, index, angle = 120, 1.28, 47
	nm := []float64{380, 550, 800, 1100}
	films := []optics.Film{{Index: optics.Constant("film", index), ThicknessNM: d}}
	pane := optics.Pane{Films: films, Glass: glass.Index, GlassMM: glass.ThicknessMM, Back: glass.Back, BackFilms: films,
		Far: glass.Return}
	want, _, err := pane.RT(nil, nil, nm, angle, pol)
	require.NoError(t, err)

	spot := &Spot{Setup: Setup{Glass: glass}, Curves: []Curve{{NM: nm, R: make([]float64, len(nm)), AngleDeg: angle,
		Pol: pol}}}
	m, err := NewFitter(spot.Setup).fullModel(spot, []float64{1})
	require.NoError(t, err)
	c := &m.curves[0]
	eps := []float64{index * index, index * index, index * index, index * index}
	c.surface.Film(c.uniform[0], c.uniform[1], d, eps)
	for q := range c.faces {
		c.faces[q] = newFaceSlopes(len(nm))
		copy(c.faces[q].r, c.uniform[q].R)
	}
	c.state = curveState{capture: 1, share: float64(pol), scale: 1, factor: 1, place: 1}
	var slopes [kinds]float64
	for i := range nm {
		assert.InDelta(t, want[i], c.point(i, &slopes), tol, "%s, %v, s share %g, %g nm", glass.Index.Name(), glass.Back,
			float64(pol), nm[i])
	}
}

// The inner loops of a fit allocate nothing, at one film after the other.
func TestEvaluateAllocatesNothing(t *testing.T) {
	nm := []float64{400, 450, 500, 550, 600, 650, 700, 750}
	spot := &Spot{Setup: Setup{Glass: Glass{Index: optics.SodaLime(), ThicknessMM: 3, Back: optics.Bare}}}
	spot.Curves = []Curve{{NM: nm, R: make([]float64, 8), AngleDeg: 8, Pol: 0.5},
		{NM: nm, R: make([]float64, 8), AngleDeg: 45, Pol: 0.5}}
	uniform, err := NewFitter(spot.Setup).fullModel(spot, []float64{1, 1})
	require.NoError(t, err)
	m, params := uniform, uniform.params(0)
	x, res, jac := startVector(params), make([]float64, m.points), make([]float64, m.points*m.size())
	for _, m := range []*model{uniform, uniform.withStructure(100)} {
		assert.Zero(t, testing.AllocsPerRun(20, func() {
			x[pTau] += 0.1
			m.evaluate(x, res, jac)
		}))
		m.setFreeParams(m.params(0))
		jj, jr := make([]float64, m.size()*m.size()), make([]float64, m.size())
		assert.Zero(t, testing.AllocsPerRun(20, func() {
			x[pTau] += 0.1
			m.fillNormalEquations(jj, jr, x)
		}))
	}
	scratch := trial{m: m, params: params, x: x, res: res, xx: make([]float64, 2), xy: make([]float64, 2)}
	assert.Zero(t, testing.AllocsPerRun(20, func() { scratch.profileFactors() }))
}

// The gradients of derived quantities and of weighted means against central
// differences, free and with pins.
func TestGradientsAgainstDifferences(t *testing.T) {
	nm := []float64{400, 500, 600, 700, 800, 900, 1000, 1100}
	w := []float64{0.05, 0.2, 0.2, 0.15, 0.1, 0.1, 0.1, 0.1}
	probe, err := NewProbe(nm, w, 0, optics.U, optics.SodaLime(), Coating{})
	require.NoError(t, err)
	for _, pins := range []Pins{nil, {Thickness: 110}, {Porosity: 0.31}, {Thickness: 110, Porosity: 0.31}} {
		t.Run(fmt.Sprint(pins), func(t *testing.T) {
			spot := &Spot{Setup: Setup{Glass: Glass{Index: optics.SodaLime()}}, Pins: pins}
			spot.Curves = []Curve{{NM: nm, R: make([]float64, 8), AngleDeg: 8, Pol: 0.5}}
			m, err := NewFitter(spot.Setup).fullModel(spot, []float64{1})
			require.NoError(t, err)
			m.structured, m.structure, m.through = true, 1, true
			v := &Verdict{model: m, structured: m, full: &solution{}}
			gain, absorbed := v.gainOf(probe), v.absorbedOf(probe)
			quantities := func(x []float64) []derived {
				d := m.derive(x)
				g := m.filmAt(x)
				return []derived{d.tau, d.index, d.thickness, d.porosity, d.solid, probe.mean(x, &g), gain.of(x), absorbed.of(x)}
			}
			x := startVector(m.params(0))
			x[pTau], x[pIndex], x[pBare], x[pSkeleton], x[pGlass] = 151.3, 1.287, 0.137, 1.4521, 0.004
			x[kGradient], x[kSkin], x[kVariance], x[kLoss], x[kResidue] = -0.06, -3.1, -0.002, 0.013, 0.7
			got := quantities(x)
			for j := pTau; j < pAngles; j++ {
				h := 1e-6 * max(x[j], 1) // the index of the glass is 0 off
				up, down := append([]float64(nil), x...), append([]float64(nil), x...)
				up[j] += h
				down[j] -= h
				hi, lo := quantities(up), quantities(down)
				for k := range got {
					want := (hi[k].value - lo[k].value) / (2 * h)
					// rounding of the difference: 1e-16 of the value over h
					assert.InDelta(t, want, got[k].grad[j], 1e-7*math.Max(1, math.Abs(want)), "quantity %d, parameter %d", k, j)
				}
			}
		})
	}
}

// The median of seeded slices, with and without ties, is that of the sorted slice.
func TestMedian(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 5))
	for n := 1; n < 60; n++ {
		for _, levels := range []int{2, 5, 1 << 30} {
			v := make([]float64, n)
			for i := range v {
				v[i] = float64(rng.IntN(levels))
			}
			sorted := slices.Clone(v)
			slices.Sort(sorted)
			assert.Equal(t, (sorted[(n-1)/2]+sorted[n/2])/2, median(v), "%v", sorted)
		}
	}
	assert.Zero(t, median(nil))
}

// The bound of the bare fit lies below the fit.
func TestBareAtLeastIsABound(t *testing.T) {
	for seed := range uint64(10) {
		spot := noisySpot(t, Glass{Index: optics.BorosilicateCrown()}, 30*float64(seed), 0.3, seed)
		f := NewFitter(spot.Setup)
		sigma, err := spot.noise()
		require.NoError(t, err)
		m, err := f.packedModel(spot, sigma, 0)
		require.NoError(t, err)
		m.coarse = m
		bare, err := m.fitBare(context.Background())
		require.NoError(t, err)
		assert.LessOrEqual(t, m.bareCostBound(), bare.cost, "seed %d", seed)
	}
}

// A perfect fit, whose cost may round to below 0, is still the lowest, and costs
// that are no numbers give no candidate instead of a crash.
func TestLowest(t *testing.T) {
	a, b := candidate{1, -1e-9}, candidate{3, 5}
	assert.Equal(t, []candidate{a, b}[:1], lowest([]candidate{{0, 9}, a, {2, 7}, b}))
	a.cost = 2
	assert.Equal(t, []candidate{a, b}, lowest([]candidate{{0, 3}, a, {2, 9}, b}))
	assert.Empty(t, lowest([]candidate{{0, math.NaN()}, {1, math.NaN()}}))
}

// A view that is asked for the film that it holds computes nothing, although another angle, which shares its coating, has
// seen another film since.
func TestFilmIsThereAlready(t *testing.T) {
	nm := []float64{400, 450, 500, 550, 600, 650, 700, 750}
	f := NewFitter(Setup{Glass: Glass{Index: optics.SodaLime()}})
	seenAt := func(angle float64) *model {
		spot := &Spot{Setup: f.setup, Curves: []Curve{{NM: nm, R: make([]float64, 8), AngleDeg: angle, Pol: 0.5}}}
		m, err := f.fullModel(spot, []float64{1})
		require.NoError(t, err)
		m.setFreeParams(m.params(0))
		return m
	}
	steep, normal := seenAt(45), seenAt(8)
	at := func(m *model, tau, index float64) []float64 {
		x, jac := startVector(m.params(0)), make([]float64, m.points*m.size())
		x[pTau], x[pIndex] = tau, index
		m.jacobian(jac, x)
		return jac
	}
	want := at(steep, 150, 1.3)
	at(normal, 120, 1.25)
	assert.Equal(t, want, at(steep, 150, 1.3))
	assert.NotEqual(t, want, at(steep, 150, 1.31))
	assert.Equal(t, want, at(steep, 150, 1.3))
}
