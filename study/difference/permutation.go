package difference

import (
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/stat/combin"
)

// mostWays is the number of ways above which they are drawn by chance, and drawnWays how many are.
const (
	mostWays  = 200_000
	drawnWays = 20_000
)

// permute tests by permutation whether two samples have one distribution. Both have one value at least.
func permute(a, b []float64) Permutation {
	all := append(append([]float64{}, a...), b...)
	n, k := len(all), len(a)
	ways := math.Round(math.Exp(combin.LogGeneralizedBinomial(float64(n), float64(k)))) // exact where it is small
	if n < 3 {
		return Permutation{P: math.NaN(), Least: math.NaN()}
	}
	sum, expected := floats.Sum(a), float64(k)*floats.Sum(all)/float64(n)
	spread := floats.Max(all) - floats.Min(all)
	limit := math.Abs(sum-expected) - 1e-9*spread*float64(k)
	least := 1 / ways
	if n == 2*k {
		least = 2 / ways // the means differ by as much where the groups are exchanged
	}
	if ways > mostWays {
		return drawn(all, k, expected, limit, least)
	}
	far, total, which := 0, 0, make([]int, k)
	for of := combin.NewCombinationGenerator(n, k); of.Next(); total++ {
		s := 0.0
		for _, i := range of.Combination(which) {
			s += all[i]
		}
		if math.Abs(s-expected) >= limit {
			far++
		}
	}
	return Permutation{P: float64(far) / float64(total), Least: least}
}

// drawn is permute by ways that are drawn by chance. The data are one way more, so that p is not too small.
func drawn(all []float64, k int, expected, limit, least float64) Permutation {
	r := rand.New(rand.NewPCG(uint64(len(all)), uint64(k)))
	far := 1
	for range drawnWays {
		s := 0.0
		for i := range k { // the first k of a shuffle
			j := i + r.IntN(len(all)-i)
			all[i], all[j] = all[j], all[i]
			s += all[i]
		}
		if math.Abs(s-expected) >= limit {
			far++
		}
	}
	return Permutation{P: float64(far) / (drawnWays + 1), Least: max(least, 1.0/(drawnWays+1)), Drawn: true}
}
