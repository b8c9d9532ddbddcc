package scenario

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/optics"
	"wane/testdata/foreign"
)

// films are some of each kind.
func films() map[string]film {
	fresh := film{glass: optics.SodaLime(), skeleton: 1.458, thickness: 118, porosity: 0.36}
	with := func(change func(*film)) film {
		f := fresh
		change(&f)
		return f
	}
	return map[string]film{
		"fresh": fresh, "none": with(func(f *film) { f.thickness = 0 }),
		"patchy":     with(func(f *film) { f.bare = 0.2 }),
		"structured": with(func(f *film) { f.gradient, f.skin, f.variance = 0.05, 8, 0.004 }),
		"leached":    with(func(f *film) { f.thickness, f.leached = 0, 50 }),
		"soiled":     with(func(f *film) { f.residue, f.bare = 3, 0.1 }),
		"thin":       with(func(f *film) { f.thickness, f.skin, f.skeleton = 25, 4, 1.47 }),
	}
}

// Films reflect what the simulator of testdata/foreign says, which shares no optics with the project and has its own matrices: at
// three angles of oblique light of several shares. It has fifty slices where there is a gradient, and five or nine points over
// the spread of thickness; twelve slices are within 4e-5 of them, 0.0006 pp of solar values.
func TestFilmsAgainstTheForeignSimulator(t *testing.T) {
	nm := make([]float64, 181)
	for i := range nm {
		nm[i] = 380 + 4*float64(i)
	}
	b := optics.NewNodes(nm, bandNodes)
	for name, f := range films() {
		other := foreign.Surface{Glass: foreign.SodaLime, Skeleton: f.skeleton, Thickness: f.thickness, Porosity: f.porosity,
			Bare: f.bare, Gradient: f.gradient, Skin: f.skin, Variance: f.variance, Leach: f.leached, Residue: f.residue,
			ResidueIndex: complex(1.7, 0.05)}
		setup := foreign.Standard()
		setup.Band, setup.AnglesDeg = foreign.NewBand(380, 1100, 181), []float64{8, 45, 60}
		var tr tracer
		at, r := make([]float64, len(b.NM)), make([]float64, len(nm))
		require.NoError(t, tr.prepare(&f, b.NM))
		for _, curve := range other.Ideal(setup) {
			tr.reflect(at, &f, curve.AngleDeg, 0.5)
			b.Spread(r, at)
			for i := range r {
				require.InDelta(t, curve.Reflectance[i], r[i], 5e-5, "%s, %g deg, %g nm", name, curve.AngleDeg, nm[i])
			}
		}
		assert.InDelta(t, other.Solar().SolarLossless, solarOf(t, &f), 6e-6, name)
	}
}

// solarOf is the solar transmittance of a film.
func solarOf(t testing.TB, f *film) float64 {
	t.Helper()
	s, err := sunlight()
	require.NoError(t, err)
	var tr tracer
	require.NoError(t, tr.prepare(f, s.nodes))
	return tr.solarT(f, s)
}

// The nodes stand for each wavelength: readings by a computation at all of them, and the solar mean by the surface of the demo,
// which has the stack of package optics and computes each.
func TestNodesAreEnough(t *testing.T) {
	nm := make([]float64, 361)
	for i := range nm {
		nm[i] = 380 + 2*float64(i)
	}
	b := optics.NewNodes(nm, bandNodes)
	var tr, all tracer
	at, r, want := make([]float64, len(b.NM)), make([]float64, len(nm)), make([]float64, len(nm))
	for name, f := range films() {
		require.NoError(t, tr.prepare(&f, b.NM))
		tr.reflect(at, &f, 60, 0.5)
		b.Spread(r, at)
		require.NoError(t, all.prepare(&f, nm))
		all.reflect(want, &f, 60, 0.5)
		for i := range r {
			require.InDelta(t, want[i], r[i], 2e-6, "%s at %g nm", name, nm[i])
		}
	}
	whole, err := Surface{ThicknessNM: 118, Porosity: 0.36}.SolarT()
	require.NoError(t, err)
	f := film{glass: optics.SodaLime(), thickness: 118, porosity: 0.36, skeleton: silicaAt550(t)}
	assert.InDelta(t, whole, solarOf(t, &f), 1e-6)
}

func silicaAt550(t *testing.T) float64 {
	t.Helper()
	n, err := optics.FusedSilica().At(550)
	require.NoError(t, err)
	return real(n)
}

// Two layers, of which one absorbs, reflect what the stack of package optics says on glass that does not: 1e-12, as that stack is
// held to forty digits.
func TestLayersAgainstTheStack(t *testing.T) {
	nm := []float64{400, 550, 800}
	f := film{glass: optics.SodaLime(), thickness: 118, porosity: 0, skeleton: silicaAt550(t), residue: 3}
	var tr tracer
	require.NoError(t, tr.prepare(&f, nm))
	got := make([]float64, len(nm))
	tr.reflect(got, &f, 60, 0.3)
	want, _, err := optics.Stack{Substrate: optics.SodaLime().Lossless(), Films: []optics.Film{
		{Index: optics.Constant("residue", residueIndex), ThicknessNM: 3}, {Index: optics.FusedSilica(), ThicknessNM: 118},
	}}.RT(nil, nil, nm, 60, 0.3)
	require.NoError(t, err)
	assert.InDeltaSlice(t, want, got, 1e-12)
}

func BenchmarkReflect(b *testing.B) {
	f := films()["structured"]
	nm := optics.NewNodes([]float64{380, 700, 1100}, bandNodes).NM
	var tr tracer
	require.NoError(b, tr.prepare(&f, nm))
	dst := make([]float64, len(nm))
	b.ReportAllocs()
	for b.Loop() {
		tr.reflect(dst, &f, 45, 0.5)
	}
}
