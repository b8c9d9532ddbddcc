package guard

import (
	"fmt"
	"math"
	"slices"

	"wane/fit/film"
	"wane/study"
)

// Limits of the guard of detector joins: a step is beyond so many of what is registered of
// the instrument's steps, by so many standard deviations of its own. Common practice, no
// source.
const (
	sureStep   = 4
	joinSigmas = 3
)

func joinKind() study.Term {
	return study.Term{Word: joinWord,
		Meaning: "the curve has a step where another detector of the instrument takes over",
		Limit: fmt.Sprintf("a step of more than %d u_join by more than %d standard deviations of the step", joinSigmas,
			sureStep),
		Remedy: "measure again, or set the reading aside with wane review --aside"}
}

// The points on each side of a join that its step is told from. Common practice, no source.
const (
	mostBeside  = 10
	leastBeside = 5
	besideNM    = 50.0
	degrees     = 4 // of freedom of the curve that runs through both sides
)

// joinReason says what is wrong with the step at a join; empty if nothing is, or it cannot
// be told.
func joinReason(r *study.Reading, joinNM, uJoin float64) string {
	step, u, ok := stepAtJoin(r, joinNM)
	limit := joinSigmas*uJoin + sureStep*u
	if !ok || math.Abs(step) <= limit {
		return ""
	}
	return fmt.Sprintf("the step at %g nm, where another detector takes over, is %s ± %s; the limit is %s, %d u_join "+
		"and %d standard deviations of the step", joinNM, points(step), points(u), points(limit), joinSigmas, sureStep)
}

// stepAtJoin fits one cubic to the points on both sides of a join, with a step there, and
// returns the step with its standard uncertainty: by the noise of the curve, or by the
// residuals if they are larger, since detectors are noisiest where they meet. A line on
// each side would take the bend of a thick film's fringe for a step.
//
// The step is orthogonal to the cubic once what a cubic makes of it is taken out, by Gram
// and Schmidt's way. Not ok if there are too few points within 50 nm on either side.
func stepAtJoin(r *study.Reading, joinNM float64) (step, u float64, ok bool) {
	k, _ := slices.BinarySearch(r.NM, joinNM)
	from, to := k, k
	for from > 0 && k-from < mostBeside && r.NM[from-1] >= joinNM-besideNM {
		from--
	}
	for to < len(r.NM) && to-k < mostBeside && r.NM[to] <= joinNM+besideNM {
		to++
	}
	if k-from < leastBeside || to-k < leastBeside {
		return 0, 0, false
	}
	n := to - from
	var basis [degrees + 1][2 * mostBeside]float64
	var rest [2 * mostBeside]float64
	copy(rest[:], r.Values[from:to])
	for i, nm := range r.NM[from:to] {
		x := (nm - joinNM) / besideNM
		for d := range degrees {
			basis[d][i] = math.Pow(x, float64(d))
		}
		if from+i >= k {
			basis[degrees][i] = 1
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
	residual := math.Sqrt(dot(rest[:n], rest[:n]) / float64(n-degrees-1))
	return step, max(residual, r.Traits.Noise) / size, true
}

func dot(a, b []float64) (sum float64) {
	for i := range a {
		sum += a[i] * b[i]
	}
	return sum
}

// removeComponent takes the part along unit, of length 1, out of v and returns its length.
func removeComponent(v, unit []float64) float64 {
	along := dot(v, unit)
	for i := range v {
		v[i] -= along * unit[i]
	}
	return along
}

// Limits of the guard of saturation. Common practice, no source.
const (
	leastRun    = 4    // points; fewer are an accident
	runChance   = 1e-6 // by which noise makes the run somewhere in the curve
	beyondNoise = 4.0  // standard deviations by which the flanks must point beyond the maximum
	leastTop    = 8    // points, side by side or not
	topNoise    = 2.0  // steps of the last digit: less noise leaves many points equal
	mostSteps   = 50   // with more the chance is less still
)

func saturatedKind() study.Term {
	return study.Term{Word: saturatedWord,
		Meaning: "many points are equal to the maximum of the curve: the detector was at its limit",
		Limit: fmt.Sprintf("%d points or more side by side that neither noise (chance below %g) nor rounding explains; "+
			"or %d "+
			"or more anywhere, where noise of %g steps of the last digit or more does not explain them (same chance)",
			leastRun, runChance, leastTop, topNoise),
		Remedy: "measure again so that the detector stays below its limit"}
}

// saturatedReason says that points side by side are equal to the curve's maximum though
// neither noise nor rounding makes them so; empty if nothing is wrong.
//
// Values that were not rounded are not equal by rounding. Of the others, where the noise σ
// is larger than the step q of the last digit, a point has a given value by a chance of at
// most q/(σ√2π), and one after the other by the product of the chances. Where it is not, a
// smooth curve may be flat for any length by rounding; one that was cut off comes at the
// run on a slope and leaves it on one. So a parabola is laid through the three points
// beside each end of the run that has three, and must point beyond the maximum by more
// than its own uncertainty at all of them. Points that are not side by side are left to
// toppedReason. A whole curve of one value has none and is left
// to the fit, which refuses it.
func saturatedReason(r *study.Reading) string {
	from, n := longestTop(r.Values)
	if n < leastRun || n == len(r.Values) {
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

// toppedReason says that points equal the curve's maximum, side by side or not, though
// noise does not make so many equal: it dips below the limit of a detector. It counts with
// the noise of the curve or, if that is less, of the stretch in which these points lie.
// Empty if nothing is wrong.
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
	if n < leastTop || n == len(r.Values) {
		return ""
	}
	steps := min(r.Traits.Noise, film.Noise(r.NM[from:to], r.Values[from:to])) / film.SmallestStep(r.Values)
	if steps < topNoise || topChance(len(r.Values), n, min(steps, mostSteps)) >= runChance {
		return ""
	}
	return fmt.Sprintf("%d points between %g and %g nm all read %s, the most of the curve, which its noise of %s does "+
		"not explain: the detector may have been at its limit",
		n, r.NM[from], r.NM[to-1], percent(top), points(r.Traits.Noise))
}

// topChance returns the chance that of so many points of a flat curve, with normal noise of
// so many steps of the last digit, equal or more share the maximum: the sum over all steps
// of the binomial chance that so many lie in the step and the others below it. A curve that
// is not flat has fewer points near its maximum. Of 400 points 8 share it by 2 % with a noise
// of 2 steps, by 4e-6 with 10 and by 4e-8 with 20.
func topChance(all, equal int, steps float64) (chance float64) {
	const phases, far = 4, 9 // of the steps against the mean; standard deviations
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

// areRounded reports whether values were written with nine decimals or fewer, as instruments
// write fractions and percent, or are steps of q apart.
func areRounded(values []float64, q float64) bool {
	decimals, steps := true, true
	for _, v := range values {
		decimals = decimals && isWhole(v*1e9)
		steps = steps && isWhole((v-values[0])/q)
	}
	return decimals || steps
}

// isWhole reports whether v is a whole number but for binary rounding.
func isWhole(v float64) bool { return math.Abs(v-math.Round(v)) < 1e-3 }

// longestTop returns the first of the longest runs of points equal to the maximum.
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

// cutOff reports whether the flanks of a run of n equal points point beyond it. The
// parabola through the three points beside an end of the run is 10·a - 15·b + 6·c two steps
// inside of it; the standard deviation of that is √(10² + 15² + 6²) times that of a point.
func cutOff(values []float64, from, n int, noise float64) bool {
	limit, seen := beyondNoise*math.Sqrt(10*10+15*15+6*6)*noise, false
	for _, side := range []struct{ end, outwards int }{{from, -1}, {from + n - 1, 1}} {
		c := side.end + 3*side.outwards
		if c < 0 || c >= len(values) {
			continue
		}
		inside := 10*values[side.end+side.outwards] - 15*values[side.end+2*side.outwards] + 6*values[c]
		if inside-values[side.end] <= limit {
			return false
		}
		seen = true
	}
	return seen
}
