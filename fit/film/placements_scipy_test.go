package film

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/fit"
	"wane/optics"
)

// placementsBySciPy is what testdata/scipy_placements.py found, a program of its own, with the versions in
// scipy_placements.json.
type placementsBySciPy struct {
	Sigma      float64
	NM, Angles []float64

	Once    spotsBySciPy `json:"mounted_once"`
	Twice   spotsBySciPy `json:"mounted_twice"`
	Session spotsBySciPy
}

type spotsBySciPy struct {
	Cost          float64
	Spectra       [][]float64
	Params        map[string][2]float64
	Means, Solids map[string][2]float64
	UDifference   float64 `json:"u_difference_of_means"`
	Sensitivities map[string]map[string]float64
}

func readPlacements(t *testing.T) (w placementsBySciPy) {
	text, err := os.ReadFile("testdata/scipy_placements.json")
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(text, &w))
	usual, usualStructure := fitSettings, structureSettings
	t.Cleanup(func() { fitSettings, structureSettings = usual, usualStructure })
	fitSettings, structureSettings = fit.Settings{}, fit.Settings{} // to the last digits
	return w
}

// spot returns the curves from number first on, so many mountings of them.
func (w *placementsBySciPy) spot(of *spotsBySciPy, first, mountings int) *Spot {
	s := &Spot{Setup: Setup{Glass: Glass{Index: optics.BorosilicateCrown(), UIndex: 0.001}}}
	for m := range mountings {
		for k, angle := range w.Angles {
			s.Curves = append(s.Curves, Curve{NM: w.NM, R: of.Spectra[first+m*len(w.Angles)+k], AngleDeg: angle,
				Pol: optics.U, NoiseSD: w.Sigma, Mounting: m + 1})
		}
	}
	return s
}

// probe is that of the plain mean at normal incidence.
func (w *placementsBySciPy) probe(t *testing.T) *Probe {
	flat := make([]float64, len(w.NM))
	for i := range flat {
		flat[i] = 1 / float64(len(flat))
	}
	p, err := NewProbe(w.NM, flat, 0, optics.U, optics.BorosilicateCrown(), Coating{})
	require.NoError(t, err)
	return p
}

// sameAs compares an estimate, its value in units of its uncertainty.
func sameAs(t *testing.T, want [2]float64, value, u float64, what string) {
	t.Helper()
	assert.InDelta(t, want[0], value, 1e-5*want[1], what)
	assert.InEpsilon(t, want[1], u, 1e-6, "u of "+what)
}

// A spot that was set down twice in a session has two placements: tilt, zero and factors of each. What two mountings
// take off the uncertainty is what the law says. That of one mounting differs by the product of two factors, which is
// one parameter there.
func TestMountingsAgainstSciPy(t *testing.T) {
	want := readPlacements(t)
	probe := want.probe(t)
	once, err := Fit(context.Background(), want.spot(&want.Once, 0, 1))
	require.NoError(t, err)
	assert.InEpsilon(t, want.Once.Means["0"][1], once.Mean(probe).U, 1e-4)

	of := &want.Twice
	v, err := Fit(context.Background(), want.spot(of, 0, 2))
	require.NoError(t, err)
	require.Equal(t, 1.0, v.full.inflation())
	assert.InEpsilon(t, of.Cost, v.full.cost, 1e-8) // what the compression of the curves leaves
	free := 0
	for i, p := range v.full.params {
		if p.Fixed {
			continue
		}
		free++
		if p.Name == "glass_index" { // that of batch and coupon together
			continue
		}
		w, ok := of.Params["0 "+nameBySciPy(p.Name)]
		if !ok {
			w, ok = of.Params[p.Name]
		}
		require.True(t, ok, p.Name)
		sameAs(t, w, v.full.x[i], math.Sqrt(v.full.cov.At(i, i)), p.Name)
	}
	assert.Len(t, of.Params, free+1, "the index of the coupon is the one that is not there")
	mean := v.Mean(probe)
	sameAs(t, of.Means["0"], mean.Value, mean.U, "mean")
	sameAs(t, of.Solids["0"], v.SolidNM.Value, v.SolidNM.U, "material left")
	assert.Less(t, mean.U, 0.95*once.Mean(probe).U, "two mountings are better than one")
}

// nameBySciPy names the parameters of the first mounting as the script does, and the index as it does.
func nameBySciPy(name string) string {
	switch name {
	case "tilt", "place_zero":
		return name + "@1"
	}
	return name
}

// A session of a blank and two coupons with all owners, placements among them, and the structures of the films free.
func TestPlacementsOfSessionAgainstSciPy(t *testing.T) {
	want := readPlacements(t)
	var members []Member
	for i := range 3 {
		m := Member{Spot: want.spot(&want.Session, i*len(want.Angles), 1), Coating: "A", Role: RoleCoupon}
		if i == 0 {
			m.Role = RoleBlank
		}
		members = append(members, m)
	}
	joint, err := FitSession(context.Background(), members, 2)
	require.NoError(t, err)
	assert.InEpsilon(t, want.Session.Cost, joint.Cost, 1e-8)
	for _, s := range joint.Shared {
		w, ok := want.Session.Params[s.Name]
		require.True(t, ok, s.Name)
		sameAs(t, w, s.Value, s.U, s.Name)
	}
	for i := range members {
		p := joint.fit.all[i]
		require.NotEmpty(t, p.local)
		for _, k := range p.local {
			w, ok := want.Session.Params[fmt.Sprintf("%d %s", i, nameBySciPy(p.params[k].Name))]
			require.True(t, ok, p.params[k].Name)
			sameAs(t, w, p.x[k], math.Sqrt(p.solution.cov.At(k, k)), fmt.Sprintf("%s of spot %d", p.params[k].Name, i))
		}
	}
	probe := want.probe(t)
	for i := 1; i <= 2; i++ {
		v := joint.Spots[i].Verdict
		mean := v.Mean(probe)
		sameAs(t, want.Session.Means[fmt.Sprint(i)], mean.Value, mean.U, "mean")
		sameAs(t, want.Session.Solids[fmt.Sprint(i)], v.SolidNM.Value, v.SolidNM.U, "material left")
	}
	for i := 1; i <= 2; i++ {
		e, err := joint.Errors(i, Measurand{Mean: probe})
		require.NoError(t, err)
		lasting := 0
		for k, effect := range e.Effects {
			if effect.Owner == OwnerJoint {
				continue
			}
			lasting++
			a, ok := want.Session.Sensitivities[fmt.Sprint(i)][effect.Name]
			require.True(t, ok, effect.Name)
			assert.InDelta(t, a, e.By.At(k, 0), 1e-6*want.Session.Means[fmt.Sprint(i)][1], effect.Name)
		}
		assert.Equal(t, 7, lasting, "coating, batch, coupon and leak, three structures of the spot")
	}
	d, err := joint.Difference(Measurand{Mean: probe}, 1, 2)
	require.NoError(t, err)
	assert.InEpsilon(t, want.Session.UDifference, d.U, 1e-6)
}
