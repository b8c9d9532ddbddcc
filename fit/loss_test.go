package fit_test

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/diff/fd"

	"wane/fit"
)

// decay is a made-up decay to a level with sigma 0.05 and three points far off; the
// data are those of testdata/robust_scipy.py.
func decay() *fit.Problem {
	y := []float64{5.02, 4.11, 3.42, 4.95, 2.24, 1.83, 1.59, 0.35, 1.12, 0.97, 0.83, 2.70}
	const sigma = 0.05
	at := func(i int) float64 { return 0.5 * float64(i) }
	return &fit.Problem{
		Params: []fit.Param{{Name: "amplitude", Start: 4}, {Name: "rate", Start: 0.5}, {Name: "level", Start: 0.3}},
		Points: len(y),
		Residuals: func(dst, b []float64) {
			for i := range y {
				dst[i] = (b[0]*math.Exp(-b[1]*at(i)) + b[2] - y[i]) / sigma
			}
		},
		Jacobian: func(dst, b []float64) {
			for i := range y {
				e := math.Exp(-b[1] * at(i))
				dst[3*i], dst[3*i+1], dst[3*i+2] = e/sigma, -b[0]*at(i)*e/sigma, 1/sigma
			}
		},
	}
}

func robust(t testing.TB, p *fit.Problem, l fit.Loss, scale float64) *fit.Problem {
	t.Helper()
	q, err := p.Robust(l, scale)
	require.NoError(t, err)
	return q
}

// Values of scipy.optimize.least_squares(loss=..., f_scale=...), SciPy 1.10.1,
// method="trf", x_scale="jac", tolerances 1e-15, polished by scipy.optimize.root, and
// the weights of SciPy's own loss functions there: testdata/robust_scipy.py. SciPy's cost is half of ours.
func TestRobustAgainstSciPy(t *testing.T) {
	one := []float64{1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1}
	for _, c := range []struct {
		loss    string
		scale   float64
		x       []float64
		cost    float64
		weights []float64
	}{
		{"squares", 3, []float64{4.5156110595732315, 0.4743634073441906, 0.7488483734348268}, 3512.875094239196, one},
		{"soft-l1", 1, []float64{4.719816077137701, 0.4436854053386153, 0.3278595750367389}, 202.45464200665083,
			[]float64{0.8749148519, 0.9996234319, 0.6181059419, 0.0227612637, 0.848517682, 0.6757540386, 0.9569040585,
				0.0511242181, 0.9874498839, 0.999713437, 0.9754777298, 0.0254906237}},
		{"soft-l1", 3, []float64{4.701858070346312, 0.450606873358519, 0.3661832565276816}, 567.7087734807305,
			[]float64{0.9523479538, 0.997977688, 0.9335409746, 0.0682705679, 0.9731225417, 0.9277521357, 0.9988744158,
				0.1501852785, 0.9898734004, 0.9949666535, 0.980260186, 0.077112694}},
		{"huber", 1, []float64{4.719022982538179, 0.44465946257177563, 0.32922651169113926}, 205.9310779489729,
			[]float64{1, 1, 0.7612781133, 0.0227404249, 1, 0.9641165256, 1, 0.0513067189, 1, 1, 1, 0.0254872212}},
		{"huber", 3, []float64{4.70312752836307, 0.4503446558114592, 0.3643088431167166}, 592.1719839981494,
			[]float64{1, 1, 1, 0.0684212539, 1, 1, 1, 0.1520191114, 1, 1, 1, 0.0772952234}},
	} {
		loss, err := fit.ParseLoss(c.loss)
		require.NoError(t, err)
		assert.Equal(t, c.loss, loss.String())
		p := decay()
		for name, jacobian := range map[string]func(dst, x []float64){"derivatives": p.Jacobian, "differences": nil} {
			p.Jacobian = jacobian
			r := solve(t, robust(t, p, loss, c.scale), tight)
			// The cost, known to 16 digits, is up to 3500, so that it does not change within
			// 1e-6 standard deviations, which are 0.2 to 3 % of the parameters.
			for j, want := range c.x {
				assert.InEpsilon(t, want, r.X[j], 1e-7, "%s %v, %s: parameter %d", c.loss, c.scale, name, j)
			}
			assert.InEpsilon(t, c.cost, r.Cost, 1e-11, "%s %v, %s", c.loss, c.scale, name)

			raw := make([]float64, p.Points)
			p.Residuals(raw, r.X)
			// A residual changes by 20 to 100 times what a parameter does.
			assert.InDeltaSlice(t, c.weights, loss.Weights(nil, raw, c.scale), 1e-6, "%s %v, %s", c.loss, c.scale, name)
		}
	}
}

// The square of a bent residual is scale²·ρ, by the definitions of SciPy's
// documentation evaluated at the values on the left, by hand; the sign stays.
func TestRobustResiduals(t *testing.T) {
	at := []float64{0, 0.5, -1, 2, -20}
	p := &fit.Problem{Params: []fit.Param{{Start: 1}}, Points: len(at),
		Residuals: func(dst, x []float64) { copy(dst, at) }}
	const scale = 2
	for loss, rho := range map[fit.Loss][]float64{
		fit.Squares: {0, 1. / 16, 0.25, 1, 100},
		fit.SoftL1: {0, 2 * (math.Sqrt(1+1./16) - 1), 2 * (math.Sqrt(1.25) - 1), 2 * (math.Sqrt2 - 1),
			2 * (math.Sqrt(101) - 1)},
		fit.Huber: {0, 1. / 16, 0.25, 1, 19},
	} {
		got := make([]float64, len(at))
		robust(t, p, loss, scale).Residuals(got, []float64{1})
		for i, r := range rho {
			assert.InDelta(t, math.Copysign(scale*math.Sqrt(r), at[i]), got[i], 1e-14, "%v at %v", loss, at[i])
		}
	}
}

// Derivatives against central differences of step 1e-5, good to 1e-9, through 0 and
// on both sides of the scale; where there are no points far off, all losses but
// SoftL1 are squares. The Jacobian must not rely on residuals evaluated before.
func TestRobustJacobian(t *testing.T) {
	at := []float64{-30, -1.2, -1e-3, 0, 1e-9, 0.4, 0.9, 1.1, 50}
	p := &fit.Problem{
		Params: []fit.Param{{Start: 0}, {Start: 1}}, Points: len(at),
		Residuals: func(dst, x []float64) {
			for i, a := range at {
				dst[i] = x[0] + a*x[1]
			}
		},
		Jacobian: func(dst, _ []float64) {
			for i, a := range at {
				dst[2*i], dst[2*i+1] = 1, a
			}
		},
	}
	for _, loss := range []fit.Loss{fit.Squares, fit.SoftL1, fit.Huber} {
		q := robust(t, p, loss, 1)
		got, res := make([]float64, 2*len(at)), make([]float64, len(at))
		for i := range at {
			for j := range 2 {
				x := []float64{0, 1}
				want := fd.Derivative(func(v float64) float64 {
					x[j] = v
					q.Residuals(res, x)
					return res[i]
				}, x[j], &fd.Settings{Formula: fd.Central, Step: 1e-5})
				q.Jacobian(got, []float64{0, 1})
				assert.InDelta(t, want, got[2*i+j], 1e-8*math.Max(1, math.Abs(want)), "%v: residual %v by parameter %d", loss,
					at[i], j)
			}
		}
	}
}

// Priors are left quadratic: one that is 100 standard deviations off counts 100².
func TestRobustPriors(t *testing.T) {
	p := &fit.Problem{
		Params: []fit.Param{{Start: 1, Fixed: true, Prior: fit.Prior{Mean: 101, SD: 1}}, {Start: 2}}, Points: 1,
		Residuals: func(dst, x []float64) { dst[0] = x[1] - 7 },
	}
	q := robust(t, p, fit.Huber, 1)
	r := solve(t, q, nil)
	assert.InDelta(t, 1e4, r.Cost, 1e-8)
	assert.InDelta(t, 7, r.X[1], 1e-6)
	q.Params[0].Start = 5
	assert.Equal(t, 1.0, p.Params[0].Start, "the parameters are copies")
}

func TestRobustAllocations(t *testing.T) {
	q := robust(t, decay(), fit.SoftL1, 1)
	res, jac, x := make([]float64, 12), make([]float64, 36), []float64{4, 0.5, 0.3}
	assert.Zero(t, testing.AllocsPerRun(10, func() {
		x[0] += 0.01
		q.Jacobian(jac, x)
		q.Residuals(res, x)
		q.Jacobian(jac, x)
	}))
}

func TestRobustFaults(t *testing.T) {
	var fault *fit.ProblemError
	for _, scale := range []float64{0, -1, math.Inf(1), math.NaN()} {
		_, err := decay().Robust(fit.Huber, scale)
		require.ErrorAs(t, err, &fault)
		assert.Equal(t, "scale of the loss", fault.Quantity)
	}
	_, err := decay().Robust(fit.Loss(7), 1)
	require.ErrorAs(t, err, &fault)
	assert.Equal(t, "Loss(7)", fit.Loss(7).String())
	_, err = (&fit.Problem{Params: []fit.Param{{}}, Points: 1}).Robust(fit.Huber, 1)
	require.ErrorAs(t, err, &fault)
	_, err = fit.ParseLoss("Cauchy")
	assert.EqualError(t, err, `fit: no loss is called "Cauchy": choose squares, soft-l1 or huber`)
	assert.Panics(t, func() { fit.Huber.Weights(make([]float64, 2), make([]float64, 3), 1) })

	// A residual without a value has none under a loss either.
	p := decay()
	p.Residuals = func(dst, _ []float64) { dst[0], dst[1] = math.Inf(1), math.NaN() }
	for _, loss := range []fit.Loss{fit.Squares, fit.SoftL1, fit.Huber} {
		q := robust(t, p, loss, 1)
		_, err := fit.Solve(context.Background(), q, nil)
		require.ErrorAs(t, err, &fault, loss)
		assert.Equal(t, "residual 0", fault.Quantity, loss)
	}
}
