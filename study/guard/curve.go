package guard

import (
	"fmt"
	"math"
	"slices"

	"wane/fit/film"
	"wane/study"
)

// Limits of the guard of detector joins. A step is held if, with u_join the registered
// standard uncertainty of a step and u the standard uncertainty of this one,
//
//	|step| > joinSigmas·u_join + stepSigmas·u
//
// Common practice, no source.
const (
	stepSigmas = 4
	joinSigmas = 3
)

func joinKind() study.Term {
	return study.Term{Word: joinWord,
		Meaning: "the curve has a step where another detector of the instrument takes over",
		Limit: fmt.Sprintf("a step of more than %d u_join by more than %d standard deviations of the step", joinSigmas,
			stepSigmas),
		Remedy: "measure again, or set the reading aside with wane review --aside"}
}

// The points on each side of a join from which its step is computed. Common practice, no
// source.
const (
	maxBeside   = 10   // points
	minBeside   = 5    // points
	besideNM    = 50.0 // largest distance from the join
	cubicParams = 4    // parameters of the cubic through both sides
)

// joinReason returns why the step at a join is too large. It is empty if the step is not too
// large, or if there are too few points beside the join. uJoin is a fraction.
func joinReason(r *study.Reading, joinNM, uJoin float64) string {
	step, u, ok := stepAtJoin(r, joinNM)
	limit := joinSigmas*uJoin + stepSigmas*u
	if !ok || math.Abs(step) <= limit {
		return ""
	}
	return fmt.Sprintf("the step at %g nm, where another detector takes over, is %s ± %s; the limit is %s, %d u_join "+
		"and %d standard deviations of the step", joinNM, points(step), points(u), points(limit), joinSigmas, stepSigmas)
}

// stepAtJoin fits one cubic with a step at the join to the points on both sides of it. It
// returns the step and its standard uncertainty, both fractions. The uncertainty comes from
// the noise of the curve or from the residuals, whichever is larger, since detectors are
// noisiest at a join. One straight line on each side would take the bend of a thick film's
// fringe for a step.
//
// The basis is made orthogonal by the method of Gram and Schmidt, the step last: its
// component in the readings is then the step of the fit. ok is false if there are fewer than
// 5 points within 50 nm on either side.
func stepAtJoin(r *study.Reading, joinNM float64) (step, u float64, ok bool) {
	k, _ := slices.BinarySearch(r.NM, joinNM)
	from, to := k, k
	for from > 0 && k-from < maxBeside && r.NM[from-1] >= joinNM-besideNM {
		from--
	}
	for to < len(r.NM) && to-k < maxBeside && r.NM[to] <= joinNM+besideNM {
		to++
	}
	if k-from < minBeside || to-k < minBeside {
		return 0, 0, false
	}
	n := to - from
	var basis [cubicParams + 1][2 * maxBeside]float64
	var rest [2 * maxBeside]float64
	copy(rest[:], r.Values[from:to])
	for i, nm := range r.NM[from:to] {
		x := (nm - joinNM) / besideNM
		for d := range cubicParams {
			basis[d][i] = math.Pow(x, float64(d))
		}
		if from+i >= k {
			basis[cubicParams][i] = 1
		}
	}
	size := 0.0
	for d := range basis {
		for e := range d {
			removeComponent(basis[d][:n], basis[e][:n])
		}
		size = math.Sqrt(dot(basis[d][:n], basis[d][:n]))
		for i := range n {
			basis[d][i] /= size
		}
		step = removeComponent(rest[:n], basis[d][:n]) / size
	}
	residual := math.Sqrt(dot(rest[:n], rest[:n]) / float64(n-cubicParams-1))
	return step, max(residual, r.Traits.Noise) / size, true
}

// dot returns the scalar product of a and b, which are of equal length.
func dot(a, b []float64) (sum float64) {
	for i := range a {
		sum += a[i] * b[i]
	}
	return sum
}

// removeComponent subtracts from v its component along unit, a vector of length 1, and
// returns that component.
func removeComponent(v, unit []float64) float64 {
	along := dot(v, unit)
	for i := range v {
		v[i] -= along * unit[i]
	}
	return along
}

// Limits of the guard of saturation. Common practice, no source.
const (
	minRun      = 4    // neighbouring points equal to the maximum; fewer may be due to chance
	runChance   = 1e-6 // least probability that noise makes the equal points
	beyondNoise = 4.0  // standard deviations by which the flanks must point beyond the maximum
	minTop      = 8    // points equal to the maximum, neighbours or not
	topNoise    = 2.0  // noise in steps of the last digit; with less, many points are equal
	maxSteps    = 50   // noise in steps of the last digit; with more, the probability is smaller still
)

func saturatedKind() study.Term {
	return study.Term{Word: saturatedWord,
		Meaning: "many points are equal to the maximum of the curve: the detector was at its limit",
		Limit: fmt.Sprintf("%d points or more side by side that neither noise (chance below %g) nor rounding explains; "+
			"or %d or more anywhere, where noise of %g steps of the last digit or more does not explain them (same chance)",
			minRun, runChance, minTop, topNoise),
		Remedy: "measure again so that the detector stays below its limit"}
}

// saturatedReason returns why a curve was cut off at its maximum: neighbouring points are
// equal to the maximum, and neither noise nor rounding explains it. It is empty if nothing
// is wrong.
//
// Values that are not rounded are not equal by rounding. For rounded values there are two
// cases. With σ the noise and q the step of the last digit:
//
//   - σ > q: a point has a given value with a probability of at most q/(σ·√(2π)). The
//     probability of a run of n points in a curve of N points is at most
//     N·(q/(σ·√(2π)))^(n-1).
//   - σ <= q: rounding alone may make a smooth curve flat over any length. But a curve that
//     was cut off rises to the run and falls after it. A parabola through the three points
//     beside each end must exceed the maximum by more than its own uncertainty. An end with
//     fewer than three points beside it does not count.
//
// toppedReason judges equal points that are not neighbours. A curve of one value only has no
// reason here: the fit refuses it.
func saturatedReason(r *study.Reading) string {
	from, n := longestTop(r.Values)
	if n < minRun || n == len(r.Values) {
		return toppedReason(r)
	}
	q, noise := film.SmallestStep(r.Values), r.Traits.Noise
	switch {
	case !areRounded(r.Values, q):
	case noise > q:
		chance := float64(len(r.Values)) * math.Pow(q/(noise*math.Sqrt(2*math.Pi)), float64(n-1))
		if chance >= runChance {
			return toppedReason(r)
		}
	case !cutOff(r.Values, from, n, noise):
		return ""
	}
	return fmt.Sprintf("%d points from %g to %g nm all read %s, the most of the curve, which neither its noise of %s "+
		"nor its last digit explains: the detector may have been at its limit",
		n, r.NM[from], r.NM[from+n-1], percent(r.Values[from]), points(noise))
}

// toppedReason returns why a curve was cut off at its maximum: more points are equal to the
// maximum, neighbours or not, than its noise explains. The noise is that of the curve or, if
// smaller, that of the part of the curve that holds these points. It is empty if nothing is
// wrong.
func toppedReason(r *study.Reading) string {
	if len(r.Values) == 0 {
		return ""
	}
	top := slices.Max(r.Values)
	n, from, to := 0, 0, 0
	for i, v := range r.Values {
		if v != top {
			continue
		}
		if n++; n == 1 {
			from = i
		}
		to = i + 1
	}
	if n < minTop || n == len(r.Values) {
		return ""
	}
	steps := min(r.Traits.Noise, film.Noise(r.NM[from:to], r.Values[from:to])) / film.SmallestStep(r.Values)
	if steps < topNoise || topChance(len(r.Values), n, min(steps, maxSteps)) >= runChance {
		return ""
	}
	return fmt.Sprintf("%d points between %g and %g nm all read %s, the most of the curve, which its noise of %s does "+
		"not explain: the detector may have been at its limit",
		n, r.NM[from], r.NM[to-1], percent(top), points(r.Traits.Noise))
}

// topChance returns the probability that at least equal of all points of a flat curve share
// the maximum. steps is the standard deviation of its normal noise, in steps of the last
// digit. With p_s the probability that a point lies in step s, and q_s that it lies below,
//
//	Σ_s Σ_{k >= equal} (all over k)·p_s^k·q_s^(all-k)
//
// averaged over the position of the steps. A curve that is not flat has fewer points near
// its maximum. For 400 points and equal = 8 it is 2 % with steps = 2, 4e-6 with 10 and 4e-8
// with 20.
func topChance(all, equal int, steps float64) (chance float64) {
	const phases, far = 4, 9 // positions of the steps; standard deviations that the sum covers
	below := func(z float64) float64 { return math.Erfc(-z/math.Sqrt2) / 2 }
	choices := func(k int) float64 {
		a, _ := math.Lgamma(float64(all + 1))
		b, _ := math.Lgamma(float64(k + 1))
		c, _ := math.Lgamma(float64(all - k + 1))
		return a - b - c
	}
	for i := range int(far * steps * phases) {
		z := float64(i) / (steps * phases)
		in, under := math.Log(below(-z)-below(-z-1/steps)), math.Log(below(z))
		for k := equal; k <= all; k++ {
			term := math.Exp(choices(k) + float64(k)*in + float64(all-k)*under)
			if chance += term / phases; term < 1e-3*chance && float64(k) > float64(all)*math.Exp(in) {
				break
			}
		}
	}
	return chance
}

// areRounded reports whether the values are rounded: written with nine decimals or fewer, as
// instruments write fractions and percent, or multiples of q apart.
func areRounded(values []float64, q float64) bool {
	decimals, steps := true, true
	for _, v := range values {
		decimals = decimals && isWhole(v*1e9)
		steps = steps && isWhole((v-values[0])/q)
	}
	return decimals || steps
}

// isWhole reports whether v is a whole number up to binary rounding.
func isWhole(v float64) bool { return math.Abs(v-math.Round(v)) < 1e-3 }

// longestTop returns the longest run of neighbouring points equal to the maximum, the first
// of several: where it begins and its number of points.
func longestTop(values []float64) (from, n int) {
	if len(values) == 0 {
		return 0, 0
	}
	top, run := math.Inf(-1), 0
	for i, v := range values {
		switch {
		case v > top:
			top, run, n = v, 1, 1
			from = i
		case v == top:
			if run++; run > n {
				n, from = run, i-run+1
			}
		default:
			run = 0
		}
	}
	return from, n
}

// cutOff reports whether the flanks of a run of n equal points from position from point
// beyond it. The parabola through the three points a, b, c beside an end of the run, a the
// nearest, has the value
//
//	10·a - 15·b + 6·c
//
// two steps inside of that end. Its standard deviation is √(10² + 15² + 6²) times noise,
// that of a point.
func cutOff(values []float64, from, n int, noise float64) bool {
	limit, found := beyondNoise*math.Sqrt(10*10+15*15+6*6)*noise, false
	for _, side := range []struct{ end, outwards int }{{from, -1}, {from + n - 1, 1}} {
		c := side.end + 3*side.outwards
		if c < 0 || c >= len(values) {
			continue
		}
		inside := 10*values[side.end+side.outwards] - 15*values[side.end+2*side.outwards] + 6*values[c]
		if inside-values[side.end] <= limit {
			return false
		}
		found = true
	}
	return found
}
