package optics_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/optics"
)

// A pane with an absorbing film on its front, by the fast path with all passes, against
// the general stack and pane, which share no code with the film's part of it: both
// polarisations, all backs, lossy glass.
func TestAbsorbingPaneAgainstStack(t *testing.T) {
	rng := seeded(41)
	for i := range 400 {
		n := complex(uniform(rng, 1.05, 2.2), uniform(rng, 0, 0.1))
		if i%4 == 0 {
			n = complex(real(n), 0)
		}
		d, angle := uniform(rng, 0, 500), uniform(rng, 0, 80)
		nm := []float64{uniform(rng, 300, 2500)}
		pane := optics.Pane{Films: []optics.Film{film(n, d)}, Glass: medium(complex(uniform(rng, 1.4, 1.9), 3e-6)),
			GlassMM: 3.2, Back: optics.Back(rng.IntN(4)), BackFilms: []optics.Film{film(1.3+0.002i, 90)}}
		face, err := optics.NewSurface(nm, angle, pane.Glass)
		require.NoError(t, err)
		s, p := optics.NewAbsorbingResponse(1), optics.NewAbsorbingResponse(1)
		face.Absorbing(s, p, d, []complex128{n * n})
		farS, farP, pass, err := pane.FarFaces(nm, angle)
		require.NoError(t, err)
		for _, c := range []struct {
			pol optics.Polarisation
			got optics.AbsorbingResponse
			far optics.FarFace
		}{{optics.S, s, farS[0]}, {optics.P, p, farP[0]}} {
			stack := optics.Stack{Films: pane.Films, Substrate: pane.Glass}
			wantR, wantT := one(t, stack.RT, nm[0], angle, c.pol)
			assert.InDelta(t, wantR, c.got.R.Value[0], 1e-12, "R: n %g, %g nm, %g°, s share %g", n, d, angle, c.pol)
			assert.InDelta(t, wantT, c.got.T.Value[0], 1e-12, "T: n %g, %g nm, %g°, s share %g", n, d, angle, c.pol)
			front := optics.Front{R: c.got.R.Value[0], T: c.got.T.Value[0], Inside: c.got.Inside.Value[0],
				InsideT: c.got.InsideT.Value[0]}
			whole := optics.Passes(front, c.far, pass[0])
			wantR, wantT = one(t, pane.RT, nm[0], angle, c.pol)
			assert.InDelta(t, wantR, whole.R, 1e-12, "R of the pane, back %v", pane.Back)
			assert.InDelta(t, wantT, whole.T, 1e-12, "T of the pane, back %v", pane.Back)
		}
	}
}

// Light that is neither reflected nor transmitted is absorbed: none in lossless film
// and glass; in a film of little loss, by Poynting's theorem, 2π/λ·Im ε·∫|E|² of s light,
// summed over depth in the standing wave of the lossless film.
func TestEnergyOfPane(t *testing.T) {
	const nm, angle, d = 550.0, 40.0, 120.0
	face, err := optics.NewSurface([]float64{nm}, angle, medium(1.52))
	require.NoError(t, err)
	pane := optics.Pane{Glass: medium(1.52), GlassMM: 3.2, Back: optics.Bare}
	farS, farP, pass, err := pane.FarFaces([]float64{nm}, angle)
	require.NoError(t, err)
	s, p := optics.NewAbsorbingResponse(1), optics.NewAbsorbingResponse(1)
	face.Absorbing(s, p, d, []complex128{1.69})
	for _, c := range []struct {
		got optics.AbsorbingResponse
		far optics.FarFace
	}{{s, farS[0]}, {p, farP[0]}} {
		front := optics.Front{R: c.got.R.Value[0], T: c.got.T.Value[0], Inside: c.got.Inside.Value[0],
			InsideT: c.got.InsideT.Value[0]}
		assert.InDelta(t, 1, front.R+front.T, 1e-13)
		whole := optics.Passes(front, c.far, pass[0])
		assert.InDelta(t, 1, whole.R+whole.T, 1e-13)
	}

	const loss = 1e-6
	face.Absorbing(s, p, d, []complex128{complex(1.69, loss)})
	sin := math.Sin(angle * deg)
	q, q2 := math.Sqrt(1.69-sin*sin), math.Sqrt(1.52*1.52-sin*sin)
	k := 2 * math.Pi / nm
	sum := 0.0
	const slices = 2000
	for i := range slices {
		x := k * q * d * (float64(i) + 0.5) / slices // phase above the glass, where |E| = 1
		sum += math.Pow(math.Cos(x), 2) + math.Pow(q2/q*math.Sin(x), 2)
	}
	absorbed := k * loss * d * sum / slices * s.T.Value[0] / q2 // the power into the glass is q2·|E|²
	assert.InDelta(t, absorbed, 1-s.R.Value[0]-s.T.Value[0], 1e-4*absorbed)
}

// The derivatives against central differences.
func TestAbsorbingDerivatives(t *testing.T) {
	rng := seeded(42)
	for range 100 {
		eps := complex(uniform(rng, 1.2, 3), uniform(rng, 0, 0.3))
		d, angle, nm := uniform(rng, 0, 400), uniform(rng, 2, 75), uniform(rng, 350, 1500)
		face, err := optics.NewSurface([]float64{nm}, angle, medium(1.52+0.01i))
		require.NoError(t, err)
		at := func(d float64, eps complex128, angle, shift float64) [2]optics.AbsorbingResponse {
			face.Set(angle, shift)
			s, p := optics.NewAbsorbingResponse(1), optics.NewAbsorbingResponse(1)
			face.Absorbing(s, p, d, []complex128{eps})
			return [2]optics.AbsorbingResponse{s, p}
		}
		got := at(d, eps, angle, 0)
		const h = 1e-5
		for name, c := range map[string]struct {
			up, lo [2]optics.AbsorbingResponse
			by     func(s optics.Slopes) []float64
			step   float64
		}{
			"thickness": {at(d+100*h, eps, angle, 0), at(d-100*h, eps, angle, 0),
				func(s optics.Slopes) []float64 { return s.DNM }, 100 * h},
			"eps": {at(d, eps+h, angle, 0), at(d, eps-h, angle, 0), func(s optics.Slopes) []float64 { return s.DEps }, h},
			"loss": {at(d, eps+1i*h, angle, 0), at(d, eps-1i*h, angle, 0),
				func(s optics.Slopes) []float64 { return s.DLoss }, h},
			"angle": {at(d, eps, angle+100*h, 0), at(d, eps, angle-100*h, 0),
				func(s optics.Slopes) []float64 { return s.DAngle }, 100 * h},
			"glass": {at(d, eps, angle, h), at(d, eps, angle, -h), func(s optics.Slopes) []float64 { return s.DGlass }, h},
		} {
			for q := range got {
				four := func(a optics.AbsorbingResponse) []optics.Slopes {
					return []optics.Slopes{a.R, a.T, a.Inside, a.InsideT}
				}
				for j, want := range four(got[q]) {
					difference := (four(c.up[q])[j].Value[0] - four(c.lo[q])[j].Value[0]) / (2 * c.step)
					assert.InDelta(t, difference, c.by(want)[0], 1e-8*(1+math.Abs(difference)),
						"%s of quantity %d, polarisation %d: ε %g, d %g nm, %g°, %g nm", name, j, q, eps, d, angle, nm)
				}
			}
		}
	}
}

func TestDerivativesOfPasses(t *testing.T) {
	rng := seeded(43)
	for range 100 {
		at := [7]float64{rng.Float64(), rng.Float64(), rng.Float64(), rng.Float64(), rng.Float64(), rng.Float64(),
			rng.Float64()}
		sum := func(x [7]float64) optics.PanePowers {
			return optics.Passes(optics.Front{R: x[0], T: x[1], Inside: 0.9 * x[2], InsideT: x[3]},
				optics.FarFace{R: 0.9 * x[4], T: x[5]}, x[6])
		}
		v := sum(at)
		byR := [7]float64{v.RBy.R, v.RBy.T, 0.9 * v.RBy.Inside, v.RBy.InsideT, 0.9 * v.RByFar, 0, v.RByPass}
		byT := [7]float64{v.TBy.R, v.TBy.T, 0.9 * v.TBy.Inside, v.TBy.InsideT, 0.9 * v.TByFar.R, v.TByFar.T, v.TByPass}
		for i := range at {
			const h = 1e-6
			up, lo := at, at
			up[i] += h
			lo[i] -= h
			assert.InDelta(t, (sum(up).R-sum(lo).R)/(2*h), byR[i], 1e-7*(1+math.Abs(byR[i])), "R by %d at %v", i, at)
			assert.InDelta(t, (sum(up).T-sum(lo).T)/(2*h), byT[i], 1e-7*(1+math.Abs(byT[i])), "T by %d at %v", i, at)
		}
	}
}

func TestAbsorbingAllocatesNothing(t *testing.T) {
	face, err := optics.NewSurface([]float64{400, 500}, 8, optics.SodaLime())
	require.NoError(t, err)
	s, p, eps := optics.NewAbsorbingResponse(2), optics.NewAbsorbingResponse(2), []complex128{1.6, 1.6 + 0.01i}
	assert.Zero(t, testing.AllocsPerRun(10, func() { face.Absorbing(s, p, 100, eps) }))
}
