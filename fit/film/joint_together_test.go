package film

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"

	"wane/optics"
)

// madeUp is a small session with everything that can be shared: a blank, a standard of
// another glass, two coupons of one coating and one of another, on panes whose far face
// returns light. Its readings are those of the model plus noise.
func madeUp(tb testing.TB, seed uint64) []Member {
	tb.Helper()
	rng := rand.New(rand.NewPCG(seed, 9))
	pane := Glass{Index: optics.SodaLime(), UIndex: 0.001, ThicknessMM: 3.2, Back: optics.Bare}
	silica := Glass{Index: optics.FusedSilica(), UIndex: 0.0005, ThicknessMM: 5, Back: optics.Bare}
	in := Instrument{JoinsNM: []float64{860}, UJoin: 0.001}
	members := []Member{{Role: RoleBlank, Glass: "pane"}, {Role: RoleStandard, Glass: "silica"},
		{Glass: "pane", Coating: "A"}, {Glass: "pane", Coating: "A"}, {Glass: "pane", Coating: "B"}}
	films := [][3]float64{{0, 1.3, 1}, {0, 1.3, 1}, {150, 1.29, 0.06}, {131, 1.33, 0.15}, {170, 1.27, 0.10}}
	for i := range members {
		s := &Spot{Setup: Setup{Glass: pane, Instrument: in}}
		if i == 1 {
			s.Glass = silica
		}
		for _, angle := range []float64{8, 52} {
			c := Curve{AngleDeg: angle, Native: true, NoiseSD: 0.0005, Pol: optics.U}
			for nm := 400.0; nm <= 1100; nm += 10 {
				c.NM, c.R = append(c.NM, nm), append(c.R, 0)
			}
			s.Curves = append(s.Curves, c)
		}
		m, err := NewFitter(s.Setup).fullModel(s, []float64{0.0005, 0.0005})
		require.NoError(tb, err)
		x := startVector(m.params(0))
		x[pTau], x[pIndex], x[pBare], x[pScale], x[pShare] = films[i][0], films[i][1], films[i][2], 0.99, 0.53
		x[pAngleError(0)], x[pAngleError(1)], x[pCapture(1)], x[pFactor(1)], x[m.pJoin(0)] = 0.1, 0.2, 0.8, 1.004, 0.0006
		res := make([]float64, m.rows)
		m.residuals(res, x)
		m.eachPoint(func(c *curve, i, at int) {
			to := &s.Curves[c.source]
			for k := range to.NM {
				if to.NM[k] == c.nm[i] {
					to.R[k] = res[at]/c.weightRoot[i] + c.r[i] + 0.0005*rng.NormFloat64()
				}
			}
		})
		members[i].Spot = s
		members[i] = members[i].bare()
	}
	return members
}

// The covariance by Schur complements is the inverse of the normal matrix of all
// parameters of all spots, which gonum inverts here; so is what follows for single spots
// and for the difference of two.
func TestArrowAgainstDenseInverse(t *testing.T) {
	j, err := new(Fitters).fitJointly(context.Background(), madeUp(t, 1), nil, 2)
	require.NoError(t, err)
	require.True(t, j.Converged)
	for _, s := range j.Spots {
		require.NoError(t, s.Err)
	}
	tg := j.fit
	shared := len(tg.params)
	n, first := shared, map[*part]int{}
	for _, p := range tg.parts {
		first[p] = n
		n += len(p.local)
	}
	assert.Equal(t, 15, shared, "scale, s share, step, wavelength, zero; factors and errors of two angles; captures at 52 "+
		"degrees, and indices, of two glasses; two coatings")
	dense := mat.NewSymDense(n, nil)
	for i, p := range tg.params {
		if sd := p.Prior.SD; sd > 0 {
			dense.SetSym(i, i, 1/sd/sd)
		}
	}
	position := func(p *part, i int) int { // of parameter i of a spot; -1: fixed
		for a, s := range p.shared {
			if s == i {
				return p.at[a]
			}
		}
		for k, l := range p.local {
			if l == i {
				return first[p] + k
			}
		}
		return -1
	}
	for _, p := range tg.parts {
		size := p.m.size()
		for i := range size {
			for k := i; k < size; k++ {
				if a, b := position(p, i), position(p, k); a >= 0 && b >= 0 {
					dense.SetSym(min(a, b), max(a, b), dense.At(a, b)+p.jj[i*size+k])
				}
			}
		}
	}
	var all mat.Dense
	require.NoError(t, all.Inverse(dense))

	near := func(want, got, scale float64, what string) {
		t.Helper()
		assert.InDelta(t, 0, (got-want)/scale, 1e-9, what)
	}
	for i := range shared {
		for k := range shared {
			near(tg.inflation*all.At(i, k), j.Covariance.At(i, k), math.Sqrt(all.At(i, i)*all.At(k, k)), "shared")
		}
	}
	for s, p := range tg.parts {
		_, physical := j.Spots[s].Verdict.physical()
		cov := physical.cov
		for i := range p.m.size() {
			for k := range p.m.size() {
				a, b := position(p, i), position(p, k)
				if a < 0 || b < 0 {
					assert.Zero(t, cov.At(i, k))
					continue
				}
				near(tg.inflation*all.At(a, b), cov.At(i, k), math.Sqrt(all.At(a, a)*all.At(b, b)), "spot")
			}
		}
	}
	g := mat.NewVecDense(n, nil) // of the difference of the material left of spots 2 and 4, whose coatings differ
	for s, sign := range map[int]float64{2: 1, 4: -1} {
		_, q, err := Measurand{Name: Solid}.of(j.Spots[s].Verdict)
		require.NoError(t, err)
		for i, gi := range q.of(q.s.x).grad {
			if at := position(tg.parts[s], i); at >= 0 && gi != 0 {
				g.SetVec(at, g.AtVec(at)+sign*gi)
			}
		}
	}
	got, err := j.Difference(Measurand{Name: Solid}, 2, 4)
	require.NoError(t, err)
	assert.InDelta(t, 1, got.U/math.Sqrt(tg.inflation*mat.Inner(g, &all, g)), 1e-9)
	assert.InDelta(t, j.Spots[2].Verdict.SolidNM.Value-j.Spots[4].Verdict.SolidNM.Value, got.Value, 1e-12)
}

// The covariance of two spots is what makes u² of their difference less than the sum of
// theirs; with itself, a mean has that of the glass and of the gain.
func TestCovarianceOfTwoSpots(t *testing.T) {
	members := madeUp(t, 5)
	for i := range members {
		known := DefaultKnown(optics.Bare)
		known.Coupon = Coupon{} // all coupons have the index of their batch
		members[i].Spot.Known = &known
	}
	j, err := new(Fitters).fitJointly(context.Background(), members, nil, 2)
	require.NoError(t, err)
	probe, err := NewProbe([]float64{400, 500, 600, 700}, []float64{0.25, 0.25, 0.25, 0.25}, 0, optics.U,
		optics.SodaLime(), Coating{})
	require.NoError(t, err)
	mean, gain := Measurand{Mean: probe}, Measurand{Gain: probe}
	a, b := j.Spots[2].Verdict.Mean(probe), j.Spots[3].Verdict.Mean(probe)
	d, err := j.Difference(mean, 2, 3)
	require.NoError(t, err)
	covariance := func(q Measurand, a int, r Measurand, b int) float64 {
		_, byA, err := j.sensitivity(q, a)
		require.NoError(t, err)
		_, byB, err := j.sensitivity(r, b)
		require.NoError(t, err)
		return byA.covariance(byB)
	}
	got := covariance(mean, 2, mean, 3)
	assert.InDelta(t, (a.U*a.U+b.U*b.U-d.U*d.U)/2, got, 1e-9*a.U*b.U)

	// mean and gain of spot 3 add to the mean of its glass, on which spot 2 bears through
	// the index of the glass alone
	withGain := covariance(mean, 2, gain, 3)
	assert.InDelta(t, withGain, covariance(gain, 3, mean, 2), 1e-9*a.U*b.U)
	_, byMean, err := j.sensitivity(mean, 2)
	require.NoError(t, err)
	glass := 0.0
	for i, s := range j.fit.slots {
		if s.Name == j.fit.all[3].params[pGlass].Name && s.Glass == "pane" {
			unit := jointGradient{byMean.fit, make([]float64, len(j.Shared))}
			unit.by[i] = j.Spots[3].Verdict.bareOf(probe).grad[pGlass]
			glass += byMean.covariance(unit)
		}
	}
	assert.InDelta(t, glass, got+withGain, 1e-9*a.U*b.U)
	assert.NotZero(t, glass)
	_, _, err = j.sensitivity(mean, 9)
	require.Error(t, err)
}

// Held parameters are constants: eliminating the others is the same as without them.
func TestArrowHolds(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 4))
	const local, shared = 4, 3
	var square mat.SymDense
	rows := mat.NewDense(20, local+shared+1, nil)
	rows.Apply(func(_, _ int, _ float64) float64 { return rng.NormFloat64() }, rows)
	square.SymOuterK(1, rows.T())
	fill := func(keep []int) *arrow {
		w := newArrow(len(keep)-shared-1, shared)
		for a, i := range keep {
			for b := a; b < len(keep); b++ {
				w.row(a)[b] = square.At(i, keep[b])
			}
		}
		return w
	}
	whole, part := fill([]int{0, 1, 2, 3, 4, 5, 6, 7}), fill([]int{0, 2, 4, 5, 6, 7})
	whole.eliminate([]bool{false, true, false, true})
	part.eliminate(make([]bool, 2))
	for i := range shared + 1 {
		assert.InDeltaSlice(t, part.row(2 + i)[2+i:], whole.row(4 + i)[4+i:], 1e-12)
	}
	assert.InDeltaSlice(t, part.slope(1), whole.slope(2), 1e-12)
	assert.Equal(t, make([]float64, shared), whole.slope(3))
	assert.InDelta(t, part.inverse()[1], whole.inverse()[2], 1e-12)
	assert.False(t, whole.undetermined)

	same := fill([]int{0, 0, 2, 4, 5, 6, 7}) // two parameters that do the same
	same.eliminate(make([]bool, 3))
	assert.True(t, same.undetermined)
	for i := range shared + 1 {
		assert.InDeltaSlice(t, part.row(2 + i)[2+i:], same.row(3 + i)[3+i:], 1e-9)
	}
	assert.Zero(t, testing.AllocsPerRun(10, func() { whole.eliminate(make([]bool, 0, 4)[:4]) }))
}

// The result does not depend on the number of workers, to the last digit.
func TestWorkers(t *testing.T) {
	members := madeUp(t, 2)
	one, err := FitSession(context.Background(), members, 1)
	require.NoError(t, err)
	for _, workers := range []int{2, 5} {
		more, err := FitSession(context.Background(), members, workers)
		require.NoError(t, err)
		assert.Equal(t, one.Shared, more.Shared)
		assert.Equal(t, one.Cost, more.Cost)
		assert.Equal(t, one.agreement, more.agreement)
		assert.True(t, mat.Equal(one.Covariance, more.Covariance))
		for i := range one.Spots {
			a, b := one.Spots[i].Verdict, more.Spots[i].Verdict
			assert.Equal(t, a.chosen.x, b.chosen.x)
			assert.True(t, mat.Equal(a.chosen.cov, b.chosen.cov))
			assert.Equal(t, a.Flags, b.Flags)
		}
	}
}

// A session of one spot is the fit of that spot: same priors, same parameters. The
// solvers stop at different points, each within a thousandth of an uncertainty.
func TestSessionOfOne(t *testing.T) {
	m := madeUp(t, 3)[2]
	own, err := Fit(context.Background(), m.Spot)
	require.NoError(t, err)
	j, err := FitSession(context.Background(), []Member{m}, 1)
	require.NoError(t, err)
	v := j.Spots[0].Verdict
	assert.InDelta(t, 1, j.ReducedChi2/own.ReducedChi2, 1e-4,
		"by itself it has one factor for those of angle and curve, of which the product is quadratic")
	assert.Equal(t, own.Flags, v.Flags)
	assert.InDelta(t, 1, v.RMSResidual/own.RMSResidual, 1e-6)
	for name, e := range map[string][2]Estimate{"thickness": {own.ThicknessNM, v.ThicknessNM},
		"porosity": {own.Porosity, v.Porosity},
		"bare":     {own.Bare, v.Bare}, "solid": {own.SolidNM, v.SolidNM}, "scale": {own.Scale, v.Scale}} {
		assert.InDelta(t, 0, (e[0].Value-e[1].Value)/e[0].U, 1e-3, name)
		assert.InDelta(t, 1, e[0].U/e[1].U, 1e-4, name)
	}
}
