package film_test

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"slices"
	"strings"

	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/fit/film"
	"wane/optics"
)

// instrument is what is wrong, unknown to the fit, with that of a made-up session.
type instrument struct {
	scale, tilt, share float64             // factor, degrees, fraction
	factors, tilts     map[float64]float64 // more, by angle: factor, degrees
}

// curves are readings of the truth on a glass with this instrument, with a native beam.
func (s instrument) curves(tb testing.TB, t truth, glass optics.Index, nm, angles []float64, rng *rand.Rand) []film.Curve {
	var out []film.Curve
	for _, a := range angles {
		read, gain := t.polarised(tb, nm, a+s.tilt+s.tilts[a], glass, optics.Polarisation(s.share)), s.scale
		if f, ok := s.factors[a]; ok {
			gain *= f
		}
		for i := range read {
			read[i] = gain*read[i] + noise*rng.NormFloat64()
		}
		out = append(out, film.Curve{NM: nm, R: read, AngleDeg: a, Pol: optics.U, Native: true, NoiseSD: noise})
	}
	return out
}

// polarised evaluates the truth with the general stack, for an s share.
func (t truth) polarised(tb testing.TB, nm []float64, angle float64, glass optics.Index,
	pol optics.Polarisation) []float64 {
	out, _, err := optics.Stack{Substrate: glass}.RT(nil, nil, nm, angle, pol)
	require.NoError(tb, err)
	if t.bare == 1 {
		return out
	}
	for i, lambda := range nm {
		s := optics.Stack{Films: []optics.Film{{Index: optics.Constant("film", t.film(tb, lambda)),
			ThicknessNM: t.thickness}}, Substrate: glass}
		r, _, err := s.RT(nil, nil, nm[i:i+1], angle, pol)
		require.NoError(tb, err)
		out[i] = (1-t.bare)*r[0] + t.bare*out[i]
	}
	return out
}

var noFilm = truth{bare: 1}

// session simulates a blank and a check standard of another glass, and a coupon for each
// truth.
func (s instrument) session(tb testing.TB, truths []truth, nm, angles []float64, seed uint64) []film.Member {
	rng := rand.New(rand.NewPCG(seed, 77))
	known := sessionOnly(usualSession)
	soda, silica := film.Glass{Index: optics.SodaLime()}, film.Glass{Index: optics.FusedSilica()}
	members := []film.Member{
		{Role: film.RoleBlank, Glass: "soda", Spot: &film.Spot{Setup: film.Setup{Glass: soda, Known: known},
			Curves: s.curves(tb, noFilm, soda.Index, nm, angles, rng)}},
		{Role: film.RoleStandard, Glass: "silica", Spot: &film.Spot{Setup: film.Setup{Glass: silica, Known: known},
			Curves: s.curves(tb, noFilm, silica.Index, nm, angles, rng)}},
	}
	for _, t := range truths {
		members = append(members, film.Member{Role: film.RoleCoupon, Glass: "soda", Coating: "A",
			Spot: &film.Spot{Setup: film.Setup{Glass: soda, Known: known}, Curves: s.curves(tb, t, soda.Index, nm, angles, rng)}})
	}
	return members
}

// value returns a shared parameter.
func value(tb testing.TB, j *film.Joint, name string) film.Shared {
	for _, s := range j.Shared {
		if s.Name == name {
			return s
		}
	}
	require.Fail(tb, "no parameter "+name)
	return film.Shared{}
}

var threeTruths = []truth{
	{thickness: 118, porosity: 0.36, bare: 0.05, skeleton: 1.458},
	{thickness: 104, porosity: 0.30, bare: 0.12, skeleton: 1.458},
	{thickness: 131, porosity: 0.41, bare: 0.20, skeleton: 1.458},
}

// drifted is a session far from what is known beforehand.
var drifted = instrument{scale: 0.97, tilt: 0.4, share: 0.54}

// A session with a drifted instrument finds the drift, though it lies up to three
// standard deviations from what is taken to be known, and the films better than each
// spot by itself.
func TestDriftedSession(t *testing.T) {
	nm := grid(380, 1100, 4)
	for _, c := range []struct {
		name  string
		known film.Session
		most  map[string]float64 // standard uncertainties at most
	}{
		{"default knowledge", usualSession, map[string]float64{"scale": 0.01, "s_share_native": 0.006, "angle@60": 0.06}},
		{"linear detector, no certificate", film.Session{UScale: math.Inf(1), UFactor: 0.0005, UAngle: 0.3, UShare: 0.05},
			map[string]float64{"scale": 0.001, "s_share_native": 0.003, "angle@60": 0.04}},
	} {
		t.Run(c.name, func(t *testing.T) {
			members := drifted.session(t, threeTruths, nm, fourAngles, 3)
			for i := range members {
				members[i].Spot.Known = sessionOnly(c.known)
			}
			got, err := film.FitSession(context.Background(), members, 2)
			require.NoError(t, err)
			require.True(t, got.Converged)
			assert.True(t, got.AgreementForTest().Tested && got.AgreementForTest().Agree, got.AgreementForTest().Why)
			want := map[string]float64{"s_share_native": 0.54}
			for _, a := range fourAngles {
				want[fmt.Sprintf("angle@%g", a)] = 0.4
			}
			for name, v := range want {
				p := value(t, got.Joint, name)
				assert.Less(t, math.Abs(p.Value-v)/p.U, 3., "%s: %g ± %g %s", name, p.Value, p.U, p.Unit)
				assert.LessOrEqual(t, p.U, p.PriorU, name)
			}
			for _, a := range fourAngles { // scale and factors by themselves are known to their priors at best
				e := gain(t, got.Joint, fmt.Sprintf("factor@%g", a))
				assert.Less(t, math.Abs(e.Value-0.97)/e.U, 3., "scale times factor at %g: %g ± %g", a, e.Value, e.U)
				assert.Less(t, e.U, math.Hypot(0.01, 0.01), "the product of both priors")
			}
			for name, most := range c.most {
				assert.Less(t, value(t, got.Joint, name).U, most, name)
			}
			for i, tr := range threeTruths {
				v := got.Spots[i+2].Verdict
				own, err := film.Fit(context.Background(), members[i+2].Spot)
				require.NoError(t, err)
				near(t, v.ThicknessNM, tr.thickness, math.Inf(1), "thickness")
				near(t, v.Porosity, tr.porosity, math.Inf(1), "porosity")
				near(t, v.Bare, tr.bare, math.Inf(1), "bare fraction")
				assert.Less(t, v.ThicknessNM.U, 0.85*own.ThicknessNM.U, "nm")
				assert.Less(t, v.Bare.U, 0.85*own.Bare.U)
				assert.True(t, v.Separable())
			}
		})
	}
}

// gain returns scale times a factor.
func gain(tb testing.TB, j *film.Joint, factor string) film.Estimate {
	at := func(name string) int {
		return slices.IndexFunc(j.Shared, func(s film.Shared) bool { return s.Name == name })
	}
	a, b := at("scale"), at(factor)
	require.True(tb, a >= 0 && b >= 0)
	x, y, c := j.Shared[a].Value, j.Shared[b].Value, j.Covariance
	return film.Estimate{Value: x * y, U: math.Sqrt(y*y*c.At(a, a) + x*x*c.At(b, b) + 2*x*y*c.At(a, b))}
}

// Source: testdata/scipy_joint.py (Python 3.11, numpy 1.24.2, scipy 1.10.1,
// least_squares with trf, tolerances 1e-15), which fits the same made-up session with
// its own model, all parameters in one vector. The exact versions are in
// testdata/scipy_joint.json.
func TestSessionAgainstSciPy(t *testing.T) {
	var want struct {
		Sigma, Cost  float64
		NM, Angles   []float64
		Spectra      [][]float64
		UGlass       float64 `json:"u_glass_index"`
		ReducedChi2  float64 `json:"reduced_chi2"`
		Shared       map[string][2]float64
		Films        []map[string][2]float64
		Difference   [2]float64 `json:"thickness_difference_nm"`
		ScaleAndBeam float64    `json:"covariance_scale_s_share"`
	}
	text, err := os.ReadFile("testdata/scipy_joint.json")
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(text, &want))
	members := make([]film.Member, 3)
	for i := range members {
		s := &film.Spot{Setup: film.Setup{Glass: film.Glass{Index: optics.BorosilicateCrown(), UIndex: want.UGlass},
			Known: sessionOnly(usualSession)}}
		for k, a := range want.Angles {
			s.Curves = append(s.Curves, film.Curve{NM: want.NM, R: want.Spectra[2*i+k], AngleDeg: a, Pol: optics.U,
				Native: true, NoiseSD: want.Sigma})
		}
		members[i] = film.Member{Spot: s}
	}
	members[0].Role = film.RoleBlank
	got, err := film.FitSession(context.Background(), members, 2)
	require.NoError(t, err)
	assert.InDelta(t, 1, got.Cost/want.Cost, 1e-8)
	assert.InDelta(t, 1, got.ReducedChi2/want.ReducedChi2, 1e-8)
	// An error of the angle or the index of nearly 0 is compared in its uncertainty.
	same := func(what string, value, u float64, want [2]float64) {
		t.Helper()
		assert.InDelta(t, want[0], value, 1e-6*max(math.Abs(want[0]), want[1]), what)
		assert.InDelta(t, 1, u/want[1], 1e-4, "u of "+what)
	}
	require.Len(t, got.Shared, len(want.Shared))
	for _, s := range got.Shared {
		same(s.Name, s.Value, s.U, want.Shared[s.Name])
	}
	for i, f := range want.Films {
		v := got.Spots[i+1].Verdict
		same("thickness", v.ThicknessNM.Value, v.ThicknessNM.U, f["thickness_nm"])
		same("porosity", v.Porosity.Value, v.Porosity.U, f["porosity"])
		same("bare fraction", v.Bare.Value, v.Bare.U, f["bare_fraction"])
	}
	d, err := got.Difference(film.Measurand{Name: film.Thickness}, 1, 2)
	require.NoError(t, err)
	same("difference of thickness", d.Value, d.U, want.Difference)
	at := map[string]int{}
	for i, s := range got.Shared {
		at[s.Name] = i
	}
	assert.InDelta(t, 1, got.Covariance.At(at["scale"], at["s_share_native"])/want.ScaleAndBeam, 1e-4)
}

// Over seeded sessions whose instruments are drawn from what is known beforehand, the
// 95 % intervals hold the truth 95 times of 100: of what is shared, of single spots and
// of differences.
func TestSessionCoverage(t *testing.T) {
	nm, n := grid(400, 1100, 10), runs(200)
	angles := []float64{8, 45, 60}
	inside, of := map[string]int{}, map[string]int{}
	disagree, chi2, dof := 0, 0.0, 0
	probe, err := film.NewProbe(nm, flat(len(nm)), 0, optics.U, optics.SodaLime(), film.Coating{})
	require.NoError(t, err)
	for seed := range uint64(n) {
		rng := rand.New(rand.NewPCG(seed, 31))
		s := instrument{scale: 1 + 0.01*rng.NormFloat64(), share: 0.5 + 0.05*rng.NormFloat64(), factors: map[float64]float64{},
			tilts: map[float64]float64{}}
		for _, a := range angles {
			s.factors[a], s.tilts[a] = 1+0.01*rng.NormFloat64(), 0.3*rng.NormFloat64()
		}
		a, b := drawTruth(rng), drawTruth(rng)
		a.skeleton = 1.458 + 0.01*rng.NormFloat64()
		b.skeleton = a.skeleton
		got, err := film.FitSession(context.Background(), s.session(t, []truth{a, b}, nm, angles, seed), 2)
		require.NoError(t, err)
		require.True(t, got.Converged)
		count := func(what string, value, u, want float64) {
			of[what]++
			if math.Abs(value-want) <= 1.959964*u {
				inside[what]++
			}
		}
		for name, want := range map[string]float64{"scale": s.scale, "s_share_native": s.share, "factor@60": s.factors[60],
			"angle@8": s.tilts[8], "angle@45": s.tilts[45], "angle@60": s.tilts[60]} {
			p := value(t, got.Joint, name)
			count(name, p.Value, p.U, want)
		}
		for i, tr := range []truth{a, b} {
			v := got.Spots[i+2].Verdict
			count("thickness", v.ThicknessNM.Value, v.ThicknessNM.U, tr.thickness)
			count("porosity", v.Porosity.Value, v.Porosity.U, tr.porosity)
			count("bare fraction", v.Bare.Value, v.Bare.U, tr.bare)
			mean := v.Mean(probe)
			count("mean", mean.Value, mean.U, tr.frontLoss(t, nm, flat(len(nm))))
		}
		for what, q := range map[string]film.Measurand{"difference of thickness": {Name: film.Thickness},
			"difference of porosity": {Name: film.Porosity}, "difference of means": {Mean: probe}} {
			d, err := got.Difference(q, 2, 3)
			require.NoError(t, err)
			want := map[string]float64{"difference of thickness": a.thickness - b.thickness,
				"difference of porosity": a.porosity - b.porosity,
				"difference of means":    a.frontLoss(t, nm, flat(len(nm))) - b.frontLoss(t, nm, flat(len(nm)))}[what]
			count(what, d.Value, d.U, want)
		}
		require.True(t, got.AgreementForTest().Tested)
		chi2, dof = chi2+got.AgreementForTest().Chi2, dof+got.AgreementForTest().DoF
		if !got.AgreementForTest().Agree {
			disagree++
		}
	}
	for what, k := range inside {
		share := float64(k) / float64(of[what])
		t.Logf("%-24s %.3f of %d", what, share, of[what])
		assert.GreaterOrEqual(t, share, 0.90, what)
		assert.LessOrEqual(t, share, 0.99, what)
	}
	t.Logf("%d of %d sessions disagree, chi-square %.1f of %d", disagree, n, chi2, dof)
	assert.LessOrEqual(t, disagree, 2+n/50, "at a level of 1 %%")
	assert.InDelta(t, 1, chi2/float64(dof), 4*math.Sqrt(2/float64(dof)),
		"chi-square has the mean of its degrees of freedom")
}

// A check standard that is not what it is taken for is found out, and supports nothing.
func TestDisagreement(t *testing.T) {
	nm := grid(400, 1100, 5)
	probe, err := film.NewProbe(nm, flat(len(nm)), 0, optics.U, optics.SodaLime(), film.Coating{})
	require.NoError(t, err)
	solar := func(int) *film.Probe { return probe }
	for _, c := range []struct {
		name  string
		grime float64 // what the standard's readings are multiplied by
		agree bool
	}{{"clean standard", 1, true}, {"soiled standard", 0.985, false}} {
		t.Run(c.name, func(t *testing.T) {
			members := drifted.session(t, threeTruths, nm, fourAngles, 11)
			for _, curve := range members[1].Spot.Curves {
				for i := range curve.R {
					curve.R[i] *= c.grime
				}
			}
			got, err := film.FitSession(context.Background(), members, 2)
			require.NoError(t, err)
			require.True(t, got.AgreementForTest().Tested)
			assert.Equal(t, c.agree, got.AgreementForTest().Agree, got.AgreementForTest().Why)
			s := got.Support(solar)
			for what, q := range map[string]film.Supported{"solar": s.Solar, "thickness": s.Thickness, "bare": s.Bare} {
				assert.Equal(t, c.agree, q.OK, "%s: %s", what, q.Why)
				t.Log(what, ": ", q.Why)
			}
		})
	}
}

// What a session can support follows from plain rules.
func TestSupport(t *testing.T) {
	nm := grid(400, 1100, 5)
	probe, err := film.NewProbe(nm, flat(len(nm)), 0, optics.U, optics.SodaLime(), film.Coating{})
	require.NoError(t, err)
	only := func(members []film.Member, keep ...int) (out []film.Member) {
		for _, k := range keep {
			out = append(out, members[k])
		}
		return out
	}
	full := drifted.session(t, threeTruths, nm, fourAngles, 5)
	near := drifted.session(t, threeTruths, nm, []float64{8}, 5) // one angle near the normal
	for _, c := range []struct {
		name                   string
		members                []film.Member
		certificate            float64 // 0: none
		solar, thickness, bare bool
		why                    string // of the solar value
	}{
		{"blank, standard and coupons", full, 0, true, true, true, "this session adds a standard uncertainty of "},
		{"a blank only", only(full, 0, 2, 3), 0, true, true, true, "this session adds"},
		{"no blank, no certificate", only(full, 2, 3), 0, false, true, true,
			"the session has no usable dark blank and no usable check standard"},
		{"a certificate", only(full, 2, 3), 0.002, true, true, true, "this session adds"},
		{"blanks only", only(full, 0, 1), 0, false, false, false, "no coupon or control has a film"},
		{"one angle", near, 0, true, false, false, "this session adds"},
	} {
		t.Run(c.name, func(t *testing.T) {
			members := slices.Clone(c.members)
			for i := range members {
				s := *members[i].Spot
				if c.certificate > 0 {
					known := usualSession
					known.UScale = c.certificate
					s.Known = sessionOnly(known)
				}
				members[i].Spot = &s
			}
			got, err := film.FitSession(context.Background(), members, 2)
			require.NoError(t, err)
			s := got.Support(func(int) *film.Probe { return probe })
			t.Logf("%+v", s)
			assert.Equal(t, c.solar, s.Solar.OK, s.Solar.Why)
			assert.Equal(t, c.thickness, s.Thickness.OK, s.Thickness.Why)
			assert.Equal(t, c.bare, s.Bare.OK, s.Bare.Why)
			assert.True(t, strings.HasPrefix(s.Solar.Why, c.why), s.Solar.Why)
		})
	}
}

// Sessions that cannot be fitted as they stand say why and what to do.
func TestBadSessions(t *testing.T) {
	nm := grid(400, 1100, 10)
	ctx := context.Background()
	good := func() []film.Member { return drifted.session(t, threeTruths[:2], nm, []float64{8, 45}, 1) }
	open := sessionOnly(film.Session{UScale: math.Inf(1), UFactor: 0.01, UAngle: 0.3, UShare: 0.05})
	for _, c := range []struct {
		name   string
		change func([]film.Member) []film.Member
		says   string
	}{
		{"no spot", func([]film.Member) []film.Member { return nil }, "film: session: no spot is given"},
		{"two sessions", func(m []film.Member) []film.Member { m[1].Session = "b"; return m },
			`film: spot 2: it is of session "b", others of ""`},
		{"nothing says what the scale is", func(m []film.Member) []film.Member {
			for i := range m {
				m[i].Spot.Known = open
			}
			return m[2:]
		}, "film: session: nothing says what its scale is"},
		{"the only blank cannot be used", func(m []film.Member) []film.Member {
			for i := range m {
				m[i].Spot.Known = open
			}
			m[0].Spot.Curves[0].R[3] = math.NaN()
			return append(m[:1], m[2:]...)
		}, "film: session: nothing says what its scale is"},
		{"contradicting priors", func(m []film.Member) []film.Member {
			known := usualSession
			known.UScale = 0.002
			m[2].Spot.Known = sessionOnly(known)
			return m
		}, "film: spot 3: it states another knowledge of scale"},
		{"two glasses of one name", func(m []film.Member) []film.Member { m[1].Glass = "soda"; return m },
			`film: spot 2: its glass is called "soda" as that of spot 1 is`},
		{"no spot that can be fitted", func(m []film.Member) []film.Member {
			for i := range m {
				m[i].Spot.Curves[0].R[3] = math.NaN()
			}
			return m
		}, "film: joint fit: none of its 4 spots can be used"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := film.FitSession(ctx, c.change(good()), 2)
			var input *film.InputError
			require.ErrorAs(t, err, &input)
			assert.Contains(t, err.Error(), c.says)
			assert.NotEmpty(t, input.Try)
		})
	}
	done, cancel := context.WithCancel(ctx)
	cancel()
	_, err := film.FitSession(done, good(), 2)
	assert.ErrorIs(t, err, context.Canceled)
}

// A spot that cannot be fitted, or not well, is excluded and says so; the others are
// fitted as if it were not there.
func TestSpotsLeftOut(t *testing.T) {
	nm := grid(400, 1100, 10)
	members := drifted.session(t, threeTruths, nm, []float64{8, 45}, 7)
	want, err := film.FitSession(context.Background(), members[:4], 2)
	require.NoError(t, err)
	broken, odd := members[4], members[4]
	a, b := *broken.Spot, *odd.Spot
	a.Curves, b.Curves = slices.Clone(a.Curves), slices.Clone(b.Curves)
	a.Curves[0].R = slices.Clone(a.Curves[0].R)
	a.Curves[0].R[5] = math.Inf(1)
	b.Curves[1].AngleDeg = 60 // it is 45
	broken.Spot, odd.Spot = &a, &b
	got, err := film.FitSession(context.Background(), append(slices.Clone(members[:4]), broken, odd), 2)
	require.NoError(t, err)
	assert.Equal(t, want.Shared, got.Shared)
	assert.ErrorContains(t, got.Spots[4].Err, "point 6 is not a finite number")
	assert.Nil(t, got.Spots[4].Verdict)
	assert.ErrorContains(t, got.Spots[5].Err, "its own fit is poor")
	require.NotNil(t, got.Spots[5].Verdict)
	assert.Contains(t, got.Spots[5].Verdict.Flags, "poor-fit")
	_, err = got.Difference(film.Measurand{Name: film.Thickness}, 2, 5)
	assert.ErrorContains(t, err, "spot 6: it has no part in the joint fit")
	_, err = got.Difference(film.Measurand{Name: "colour"}, 2, 3)
	assert.ErrorContains(t, err, "colour")
}

// A coupon that has lost its film, one with hardly any, and one angle, which separates
// nothing, go through a session without harm; their uncertainties hold the truth.
func TestSessionOfOddSpots(t *testing.T) {
	nm := grid(400, 1100, 5)
	truths := []truth{{thickness: 0.5, porosity: 0.3, skeleton: 1.458},
		{thickness: 12, porosity: 0.3, bare: 0.5, skeleton: 1.458}, threeTruths[0]}
	for _, angles := range [][]float64{fourAngles, {8}} {
		got, err := film.FitSession(context.Background(), drifted.session(t, truths, nm, angles, 8), 2)
		require.NoError(t, err)
		require.True(t, got.Converged)
		lost := got.Spots[2].Verdict
		assert.Equal(t, film.ModelBare, lost.Model)
		assert.Greater(t, lost.SolidNM.U, 0.35, "nm: what is there")
		for i, tr := range truths[1:] {
			v := got.Spots[3+i].Verdict
			near(t, v.ThicknessNM, tr.thickness, math.Inf(1), fmt.Sprint("thickness ", angles, tr, v.Flags))
			near(t, v.Bare, tr.bare, math.Inf(1), fmt.Sprint("bare fraction ", angles, tr, v.Flags))
			near(t, v.Porosity, tr.porosity, math.Inf(1), fmt.Sprint("porosity ", angles, tr, v.Flags))
			if len(angles) == 1 {
				assert.False(t, v.Separable(), v.Flags)
			}
		}
	}
}
