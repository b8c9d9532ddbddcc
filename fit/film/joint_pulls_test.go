package film_test

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/fit/film"
	"wane/optics"
)

// named returns the members as those of a session of that name.
func named(session string, members []film.Member) []film.Member {
	for i := range members {
		members[i].Session = session
	}
	return members
}

// What all others say of a session, and the spot itself, make up the session: the spot
// with that knowledge has the estimates that the session gave it.
func TestLifeOfOnePull(t *testing.T) {
	members := named("a", drifted.session(t, threeTruths, grid(400, 1100, 5), fourAngles, 4))
	for _, m := range members {
		for i := range m.Spot.Curves {
			m.Spot.Curves[i].NoiseSD = 1.2 * noise // nothing is inflated
		}
	}
	session, err := film.FitSession(context.Background(), members, 2)
	require.NoError(t, err)
	require.Less(t, session.ReducedChi2, 1.0)
	for spot := 2; spot < 5; spot++ {
		life, err := film.FitPulls(context.Background(), []film.Pull{{Member: members[spot], Known: session.Without(spot)}},
			1)
		require.NoError(t, err)
		require.Less(t, life.ReducedChi2, 1.0)
		want, got := session.Spots[spot].Verdict, life.Spots[0].Verdict
		for name, e := range map[string][2]film.Estimate{"thickness": {want.ThicknessNM, got.ThicknessNM},
			"porosity": {want.Porosity, got.Porosity}, "bare": {want.Bare, got.Bare}, "scale": {want.Scale, got.Scale}} {
			assert.InDelta(t, 0, (e[0].Value-e[1].Value)/e[0].U, 1e-3, name)
			assert.InDelta(t, 1, e[1].U/e[0].U, 1e-4, name)
		}
		assert.Len(t, life.Shared, len(session.Shared)+1, "pulls share the skeleton index too")
	}
}

// Over made-up lives of three pulls, each in a session of its own with another drift,
// the change of a coupon is known better than from its pulls by themselves, and 95 %
// intervals of changes hold the truth 95 times of 100.
func TestLife(t *testing.T) {
	nm, n := grid(400, 1100, 20), runs(120)
	angles := []float64{8, 45, 60}
	inside := map[string]int{}
	probe, err := film.NewProbe(nm, flat(len(nm)), 0, optics.U, optics.SodaLime(), film.Coating{})
	require.NoError(t, err)
	kinds := map[string]film.Measurand{"thickness": {Name: film.Thickness}, "porosity": {Name: film.Porosity},
		"bare fraction": {Name: film.Bare},
		"material left": {Name: film.Solid}, "mean": {Mean: probe}}
	for seed := range uint64(n) {
		rng := rand.New(rand.NewPCG(seed, 41))
		pull0, other := drawTruth(rng), drawTruth(rng)
		pull0.skeleton = 1.458 + 0.01*rng.NormFloat64()
		other.skeleton = pull0.skeleton
		var pulls []film.Pull
		var truths []truth
		for pull := range 3 {
			s := instrument{scale: 1 + 0.01*rng.NormFloat64(), share: 0.5 + 0.05*rng.NormFloat64(),
				factors: map[float64]float64{}, tilts: map[float64]float64{}}
			for _, a := range angles {
				s.factors[a], s.tilts[a] = 1+0.01*rng.NormFloat64(), 0.3*rng.NormFloat64()
			}
			worn := pull0
			worn.thickness -= 6 * float64(pull)
			worn.bare += 0.04 * float64(pull)
			truths = append(truths, worn)
			members := named(fmt.Sprint("session ", pull), s.session(t, []truth{worn, other}, nm, angles, 10*seed+uint64(pull)))
			session, err := film.FitSession(context.Background(), members, 2)
			require.NoError(t, err)
			pulls = append(pulls, film.Pull{Member: members[2], Known: session.Without(2)})
		}
		life, err := film.FitPulls(context.Background(), pulls, 2)
		require.NoError(t, err)
		require.True(t, life.Converged)
		for what, q := range kinds {
			got, err := life.Difference(q, 2, 0)
			require.NoError(t, err)
			want := map[string]float64{"thickness": truths[2].thickness - truths[0].thickness, "porosity": 0,
				"bare fraction": truths[2].bare - truths[0].bare,
				"material left": (1-truths[2].bare)*truths[2].thickness*(1-truths[2].porosity) -
					(1-truths[0].bare)*truths[0].thickness*(1-truths[0].porosity),
				"mean": truths[2].frontLoss(t, nm, flat(len(nm))) - truths[0].frontLoss(t, nm, flat(len(nm)))}[what]
			if math.Abs(got.Value-want) <= 1.959964*got.U {
				inside[what]++
			}
			if what == "porosity" { // nearly all of its uncertainty is the skeleton's, which is the same
				a, b := life.Spots[2].Verdict.Porosity, life.Spots[0].Verdict.Porosity
				assert.Less(t, got.U, math.Hypot(a.U, b.U))
			}
			if seed == 0 {
				first, err := film.Fit(context.Background(), pulls[0].Spot)
				require.NoError(t, err)
				last, err := film.Fit(context.Background(), pulls[2].Spot)
				require.NoError(t, err)
				if what == "thickness" {
					assert.Less(t, got.U, 0.9*math.Hypot(first.ThicknessNM.U, last.ThicknessNM.U), "nm")
				}
			}
		}
	}
	for what := range kinds {
		share := float64(inside[what]) / float64(n)
		t.Logf("change of %-14s %.3f of %d", what, share, n)
		assert.GreaterOrEqual(t, share, 0.90, what)
		assert.LessOrEqual(t, share, 0.99, what)
	}
}

// A combination counts a spot named twice once, and what is shared once.
func TestCombine(t *testing.T) {
	members := drifted.session(t, append(threeTruths, threeTruths[0]), grid(400, 1100, 10), fourAngles, 6)
	j, err := film.FitSession(context.Background(), members, 2)
	require.NoError(t, err)
	q := film.Measurand{Name: film.Porosity}
	nothing, err := j.Combine(q, film.Weight{Spot: 2, W: 1}, film.Weight{Spot: 2, W: -1})
	require.NoError(t, err)
	assert.Zero(t, nothing.Value)
	assert.True(t, math.IsNaN(nothing.U) || nothing.U < 1e-12, nothing.U)
	itself, err := j.Combine(q, film.Weight{Spot: 2, W: 1})
	require.NoError(t, err)
	want := j.Spots[2].Verdict.Porosity
	assert.Equal(t, want.Value, itself.Value)
	assert.InDelta(t, 1, itself.U/want.U, 1e-9)
	twice, err := j.Combine(q, film.Weight{Spot: 2, W: 0.5}, film.Weight{Spot: 2, W: 0.5})
	require.NoError(t, err)
	assert.InDelta(t, 1, twice.U/itself.U, 1e-12)
	// A coupon less the mean of two others: the variance by the covariances of pairs,
	// which differences give: cov(a, b) = (u_a² + u_b² - u²(a-b))/2.
	pair := func(a, b int) float64 {
		d, err := j.Difference(q, a, b)
		require.NoError(t, err)
		ua, ub := j.Spots[a].Verdict.Porosity.U, j.Spots[b].Verdict.Porosity.U
		return (ua*ua + ub*ub - d.U*d.U) / 2
	}
	less, err := j.Combine(q, film.Weight{Spot: 2, W: 1}, film.Weight{Spot: 3, W: -0.5}, film.Weight{Spot: 4, W: -0.5})
	require.NoError(t, err)
	u := func(k int) float64 { return j.Spots[k].Verdict.Porosity.U }
	variance := u(2)*u(2) + (u(3)*u(3)+u(4)*u(4)+2*pair(3, 4))/4 - pair(2, 3) - pair(2, 4)
	assert.InDelta(t, 1, less.U/math.Sqrt(variance), 1e-9)
}

// The pulls of one spot have its structure in common: their difference is as uncertain as what [film.Joint.Errors] says of
// the two pulls, effect by effect. Spots of their own have not.
func TestPullsShareTheirSpot(t *testing.T) {
	members := drifted.session(t, []truth{threeTruths[0], threeTruths[0]}, grid(400, 1100, 10), fourAngles, 6)
	for i := range members {
		known := film.DefaultKnown(members[i].Spot.Setup.Glass.Back) // with structure
		members[i].Spot.Setup.Known = &known
	}
	members[2].Coupon, members[3].Coupon = "E", "E"
	before, after := members[2], members[3]
	after.Session = "b"
	pulls, err := film.FitPulls(context.Background(), []film.Pull{{Member: before}, {Member: after}}, 1)
	require.NoError(t, err)
	after.Session = before.Session
	spots, err := film.FitSession(context.Background(), []film.Member{members[0], before, after}, 1)
	require.NoError(t, err)
	q := film.Measurand{Name: film.Solid}
	difference := func(j *film.Joint, a, b int, shared func(film.Owner) bool) float64 {
		now, err := j.Errors(a, q)
		require.NoError(t, err)
		then, err := j.Errors(b, q)
		require.NoError(t, err)
		require.Equal(t, now.Effects, then.Effects)
		sum := now.Own.At(0, 0) + then.Own.At(0, 0)
		for k, effect := range now.Effects {
			x, y := now.By.At(k, 0), then.By.At(k, 0)
			if shared(effect.Owner) {
				sum += (x - y) * (x - y)
			} else {
				sum += x*x + y*y
			}
		}
		return math.Sqrt(sum)
	}
	all := func(film.Owner) bool { return true }
	butTheSpot := func(o film.Owner) bool { return o != film.OwnerSpot }
	ofPulls, err := pulls.Difference(q, 1, 0)
	require.NoError(t, err)
	assert.InEpsilon(t, difference(pulls, 1, 0, all), ofPulls.U, 1e-6)
	assert.Less(t, ofPulls.U, 0.999*difference(pulls, 1, 0, butTheSpot), "the structure is the same at both")
	ofSpots, err := spots.Difference(q, 2, 1)
	require.NoError(t, err)
	assert.InEpsilon(t, difference(spots.Joint, 2, 1, butTheSpot), ofSpots.U, 1e-6)
}

// Lives that cannot be fitted as they stand say why.
func TestBadLives(t *testing.T) {
	nm := grid(400, 1100, 10)
	a := named("a", drifted.session(t, threeTruths[:1], nm, []float64{8, 45}, 1))
	session, err := film.FitSession(context.Background(), a, 2)
	require.NoError(t, err)
	known := session.Without(2)
	coupon, elsewhere, other := a[2], a[2], a[2]
	elsewhere.Session = "b"
	other.Coating = "B"
	for says, pulls := range map[string][]film.Pull{
		"no pull is given":             nil,
		"its glass or coating":         {{Member: coupon}, {Member: other}},
		`but what is known is of "a"`:  {{Member: elsewhere, Known: known}},
		`session "a" is there already`: {{Member: coupon, Known: known}, {Member: coupon, Known: known}},
	} {
		_, err := film.FitPulls(context.Background(), pulls, 1)
		var input *film.InputError
		require.ErrorAs(t, err, &input, says)
		assert.ErrorContains(t, err, says)
		assert.NotEmpty(t, input.Try)
	}
}
