// Package lifetime fits distributions to how long things last, where many lives are known only to lie between two
// looks, or to be longer than the last one.
//
// [FitLaw] is by maximum likelihood, for the [Weibull] and the [Lognormal] law: with T a life, log T = location + scale
// · W, and W of the smallest extreme value or of the normal distribution. [Law.Interval] is of the profile likelihood.
// [Turnbull] assumes no law. Times may be of any unit, such as days or cycles.
//
// Sources, from memory: W. Q. Meeker, L. A. Escobar, Statistical Methods for Reliability Data (1998), chapters 3, 7 and
// 8; B. W. Turnbull, Journal of the Royal Statistical Society B 38 (1976) 290. The tests hold estimates to those of R's
// survival.
package lifetime

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/optimize"
	"gonum.org/v1/gonum/stat/distuv"
)

// Life is one life: the end came after After and by By. It is exact where both are the same, has not come by After
// where By is infinite, and came before the first look where After is 0.
type Life struct{ After, By float64 }

// Shape is the law of W.
type Shape int

// The shapes.
const (
	Weibull Shape = iota
	Lognormal
)

// Law is a distribution of lives.
type Law struct {
	Shape              Shape
	Location, LogScale float64       // of log T
	Cov                *mat.SymDense // of both, by the curvature of the likelihood
	LogLikelihood      float64
	lives              []counted
}

// ProblemError says why lives determine no law.
type ProblemError struct{ Fault string }

func (e *ProblemError) Error() string { return "lifetime: " + e.Fault }

// counted is a life that n coupons, say, have in common: of many, few are different.
type counted struct {
	Life
	n float64
}

// count returns the different lives, in their order.
func count(lives []Life) (all []counted) {
	sorted := slices.SortedFunc(slices.Values(lives), func(a, b Life) int {
		return cmp.Or(cmp.Compare(a.After, b.After), cmp.Compare(a.By, b.By))
	})
	for i, l := range sorted {
		if i == 0 || l != sorted[i-1] {
			all = append(all, counted{l, 0})
		}
		all[len(all)-1].n++
	}
	return all
}

// FitLaw returns the law of most likelihood. Lives that are no lives, none that ended, and ends that say nothing of the
// scale, as a single interval does, give a [*ProblemError].
func FitLaw(shape Shape, lives []Life) (*Law, error) {
	if err := check(lives); err != nil {
		return nil, err
	}
	location, scale, ended := start(lives)
	if ended == 0 {
		return nil, &ProblemError{"no life has ended: there is only a lower bound"}
	}
	if scattered, err := scatter(lives); err != nil || !scattered {
		return nil, cmp.Or(err, errScatter)
	}
	l := &Law{Shape: shape, lives: count(lives)}
	best, err := maximise(func(x []float64) float64 { return l.logLikelihood(x[0], x[1]) }, []float64{location, math.Log(scale)})
	if err != nil {
		return nil, err
	}
	l.Location, l.LogScale = best[0], best[1]
	l.LogLikelihood = l.logLikelihood(l.Location, l.LogScale)
	l.Cov, err = inverseCurvature(func(x []float64) float64 { return l.logLikelihood(x[0], x[1]) }, best)
	if err != nil || l.LogScale < leastLogScale || l.LogScale > mostLogScale {
		return nil, errScatter
	}
	return l, nil
}

var errScatter error = &ProblemError{"the lives say nothing of how far they scatter: look more often, or wait for more ends"}

// scatter reports whether the lives say how far they scatter: some are exact, or without a law they are in three steps
// or more. The share that ends at a single place between two steps is met by every scale, the better the smaller it is.
func scatter(lives []Life) (bool, error) {
	if slices.ContainsFunc(lives, func(l Life) bool { return l.After == l.By }) {
		return true, nil
	}
	steps, err := Turnbull(lives)
	if err != nil {
		return false, err
	}
	n := 0
	for _, s := range steps {
		if s.Share > leastStep {
			n++
		}
	}
	return n > 2, nil
}

// leastStep is the share above which a step counts.
const leastStep = 1e-6

// Limits of the logarithm of the scale, beyond which the likelihood rises or is flat.
const leastLogScale, mostLogScale = -12.0, 6.0

func check(lives []Life) error {
	for i, l := range lives {
		exact := l.After == l.By
		if !(l.After >= 0) || !(l.By >= l.After) || exact && l.By == 0 || math.IsInf(l.After, 1) {
			return &ProblemError{fmt.Sprintf("life %d is from %g to %g: it must end after 0, and by a later look or never", i, l.After, l.By)}
		}
	}
	return nil
}

// start returns mean and scatter of the logarithms of what is known of each life, and how many have ended.
func start(lives []Life) (location, scale float64, ended int) {
	var logs []float64
	for _, l := range lives {
		at := (l.After + l.By) / 2
		if math.IsInf(l.By, 1) {
			if at = l.After; at == 0 {
				continue
			}
		} else {
			ended++
		}
		logs = append(logs, math.Log(at))
	}
	for _, x := range logs {
		location += x / float64(len(logs))
	}
	for _, x := range logs {
		scale += (x - location) * (x - location) / float64(len(logs))
	}
	return location, max(0.3, math.Sqrt(scale)), ended
}

// logSurvival and logDensity are those of W at z.
func (s Shape) logSurvival(z float64) float64 {
	if s == Weibull {
		return -math.Exp(z)
	}
	return math.Log(distuv.UnitNormal.Survival(z))
}

func (s Shape) logDensity(z float64) float64 {
	if s == Weibull {
		return z - math.Exp(z)
	}
	return distuv.UnitNormal.LogProb(z)
}

// quantile is that of W.
func (s Shape) quantile(p float64) float64 {
	if s == Weibull {
		return math.Log(-math.Log1p(-p))
	}
	return distuv.UnitNormal.Quantile(p)
}

func (l *Law) logLikelihood(location, logScale float64) (sum float64) {
	scale := math.Exp(logScale)
	z := func(t float64) float64 { return (math.Log(t) - location) / scale }
	for _, life := range l.lives {
		switch {
		case life.After == life.By:
			sum += life.n * (l.Shape.logDensity(z(life.By)) - logScale - math.Log(life.By))
		case math.IsInf(life.By, 1):
			if life.After > 0 {
				sum += life.n * l.Shape.logSurvival(z(life.After))
			}
		default:
			from := 0.0
			if life.After > 0 {
				from = l.Shape.logSurvival(z(life.After))
			}
			to := l.Shape.logSurvival(z(life.By))
			sum += life.n * (from + math.Log(-math.Expm1(to-from)))
		}
	}
	return sum
}

// maximise returns where f is largest: from a place near it by Newton's method alone, else by the simplex method first.
func maximise(f func(x []float64) float64, from []float64) ([]float64, error) {
	if x, converged := newton(f, from); converged {
		return x, nil
	}
	problem := optimize.Problem{Func: func(x []float64) float64 {
		if v := -f(x); !math.IsNaN(v) {
			return v
		}
		return math.Inf(1)
	}}
	settings := &optimize.Settings{Converger: &optimize.FunctionConverge{Absolute: 1e-13, Iterations: 200}, MajorIterations: 5000}
	result, err := optimize.Minimize(problem, from, settings, &optimize.NelderMead{})
	if err != nil {
		return nil, err
	}
	x, _ := newton(f, result.X)
	return x, nil
}

// newton returns the place to which Newton's method climbs, and whether it has converged. A step that goes down, and a
// place where f curves upwards, end it.
func newton(f func(x []float64) float64, x []float64) (best []float64, converged bool) {
	for range 20 {
		inverse, err := inverseCurvature(f, x)
		if err != nil {
			return x, false
		}
		var step mat.VecDense
		step.MulVec(inverse, mat.NewVecDense(len(x), gradient(f, x)))
		next := make([]float64, len(x))
		most := 0.0
		for i := range x {
			next[i] = x[i] + step.AtVec(i)
			most = max(most, math.Abs(step.AtVec(i)))
		}
		if !(f(next) >= f(x)-1e-10) {
			return x, false
		}
		if x = next; most < 1e-10 {
			return x, true
		}
	}
	return x, false
}

func gradient(f func(x []float64) float64, x []float64) []float64 {
	const h = 1e-4
	at, out := append([]float64(nil), x...), make([]float64, len(x))
	for i := range x {
		for _, c := range [][2]float64{{-2, 1. / 12}, {-1, -8. / 12}, {1, 8. / 12}, {2, -1. / 12}} {
			at[i] = x[i] + c[0]*h
			out[i] += c[1] / h * f(at)
		}
		at[i] = x[i]
	}
	return out
}

// inverseCurvature returns the covariance by the second derivatives of a log-likelihood.
func inverseCurvature(f func(x []float64) float64, x []float64) (*mat.SymDense, error) {
	const h = 1e-3
	n := len(x)
	minus := mat.NewSymDense(n, nil)
	at := append([]float64(nil), x...)
	for i := range n {
		var side [4][]float64
		for k, c := range []float64{-2, -1, 1, 2} {
			at[i] = x[i] + c*h
			side[k] = gradient(f, at)
		}
		at[i] = x[i]
		for j := range i + 1 {
			minus.SetSym(i, j, -(side[0][j]-8*side[1][j]+8*side[2][j]-side[3][j])/(12*h))
		}
	}
	var c mat.Cholesky
	if !c.Factorize(minus) {
		return nil, &ProblemError{"the likelihood has no maximum"}
	}
	inverse := mat.NewSymDense(n, nil)
	return inverse, c.InverseTo(inverse)
}

// Quantile returns the time by which a share p of lives has ended.
func (l *Law) Quantile(p float64) float64 {
	return math.Exp(l.Location + math.Exp(l.LogScale)*l.Shape.quantile(p))
}

// Survival returns the share of lives that are longer than t.
func (l *Law) Survival(t float64) float64 {
	return math.Exp(l.Shape.logSurvival((math.Log(t) - l.Location) / math.Exp(l.LogScale)))
}

// Interval returns the profile-likelihood interval of the quantile of p, whose ends are where the likelihood, largest
// over the scale, has fallen by half the quantile of chi-square. An end that the lives do not give is 0 or infinite.
func (l *Law) Interval(p, level float64) (lo, hi float64) {
	w, drop := l.Shape.quantile(p), distuv.ChiSquared{K: 1}.Quantile(level)/2
	at := []float64{l.LogScale}                 // where the likelihood is largest, of the place before
	rise := func(logQuantile float64) float64 { // of the root of how far the likelihood has fallen above that of the end
		f := func(x []float64) float64 { return l.logLikelihood(logQuantile-math.Exp(x[0])*w, x[0]) }
		best, err := maximise(f, at)
		if err != nil {
			return math.Inf(1)
		}
		at = best
		return math.Sqrt(max(0, l.LogLikelihood-f(best))) - math.Sqrt(drop)
	}
	end := func(sign float64) float64 {
		at = []float64{l.LogScale}
		inside, step := math.Log(l.Quantile(p)), math.Exp(l.LogScale)/4
		below, outside := -math.Sqrt(drop), inside+sign*step
		above := rise(outside)
		for above < 0 {
			if inside, below, step = outside, above, 2*step; step > 100 {
				return sign * math.Inf(1)
			}
			outside += sign * step
			above = rise(outside)
		}
		return root(rise, inside, below, outside, above)
	}
	return math.Exp(end(-1)), math.Exp(end(1))
}

// root returns where f is 0 between a, where it is fa < 0, and b, where it is fb >= 0: by regula falsi, in which the
// value at an end that stays is halved.
func root(f func(float64) float64, a, fa, b, fb float64) float64 {
	for range 100 {
		middle := (a + b) / 2
		if !math.IsInf(fb, 1) {
			middle = b - fb*(b-a)/(fb-fa)
		}
		fm := f(middle)
		if math.Abs(fm) < 1e-10 || math.Abs(b-a) < 1e-11*max(1, math.Abs(a)) {
			return middle
		}
		if fm < 0 {
			a, fa, fb = middle, fm, fb/2
		} else {
			b, fb, fa = middle, fm, fa/2
		}
	}
	return (a + b) / 2
}
