package difference

import (
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/stat/combin"
)

// mostWays is the number of ways above which they are drawn by chance. Then a pair has mostDrawn of them, and fewer
// where all pairs together would draw more than drawnValues values, but fewestDrawn at least.
const (
	mostWays    = 200_000
	mostDrawn   = 19_999
	fewestDrawn = 999
	drawnValues = 40_000_000
)

// permute tests by permutation whether two samples, of one value at least, have one distribution. pairs is how many are
// tested together, which bounds the work.
func permute(a, b []float64, pairs int) Permutation {
	if len(b) < len(a) {
		a, b = b, a
	}
	all := append(append([]float64{}, a...), b...)
	n, k := len(all), len(a)
	if n < 3 {
		return Permutation{P: math.NaN(), Least: math.NaN()}
	}
	ways := math.Round(math.Exp(combin.LogGeneralizedBinomial(float64(n), float64(k)))) // exact where it is small
	least := 1 / ways
	if n == 2*k {
		least = 2 / ways // the means differ by as much where the groups are exchanged
	}
	w := deals{all: all, expected: float64(k) * floats.Sum(all) / float64(n)}
	spread := floats.Max(all) - floats.Min(all)
	w.limit = math.Abs(floats.Sum(a)-w.expected) - 1e-9*spread*float64(k)
	if ways > mostWays {
		draws := max(fewestDrawn, min(mostDrawn, drawnValues/(pairs*k)))
		return Permutation{P: w.drawn(k, draws), Least: max(least, 1/float64(draws+1)), Drawn: true}
	}
	return Permutation{P: float64(w.far(0, k, 0)) / ways, Least: least}
}

// deals are ways to deal values out over two groups.
type deals struct {
	all      []float64
	expected float64 // of the sum over the first group
	limit    float64 // from which on it is as far from that as that of the data
}

func (d *deals) isFar(sum float64) bool { return math.Abs(sum-d.expected) >= d.limit }

// far counts the ways that are far, of those in which left more values, from this one on, join a sum.
func (d *deals) far(from, left int, sum float64) (n int) {
	for i := from; i <= len(d.all)-left; i++ {
		switch {
		case left > 1:
			n += d.far(i+1, left-1, sum+d.all[i])
		case d.isFar(sum + d.all[i]):
			n++
		}
	}
	return n
}

// drawn estimates the share of the ways that are far from some that are drawn. The data are one way more, so that it is
// not too small.
func (d *deals) drawn(k, draws int) float64 {
	r := rand.New(rand.NewPCG(uint64(len(d.all)), uint64(k)))
	far := 1
	for range draws {
		sum := 0.0
		for i := range k { // the first k of a shuffle
			j := i + r.IntN(len(d.all)-i)
			d.all[i], d.all[j] = d.all[j], d.all[i]
			sum += d.all[i]
		}
		if d.isFar(sum) {
			far++
		}
	}
	return float64(far) / float64(draws+1)
}
