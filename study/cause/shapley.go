package cause

import "math/bits"

// Shapley divides what n players are worth together among them, n from 0 to 16. worth gives what a set of players is
// worth; bit i of the set is player i. It is called once for each of the 2ⁿ sets. The share of player i is the mean,
// over all orders in which the players can join, of what the set is worth more when i joins:
//
//	share(i) = Σ over sets S without i of |S|!·(n-|S|-1)!/n! · (worth(S+i) - worth(S))
//
// The shares add to worth(all) - worth(none). Shapley panics for another n.
//
// Source: L. S. Shapley, A value for n-person games, in Contributions to the Theory of Games II (1953), 307-317, from
// memory.
func Shapley(n int, worth func(set uint) float64) []float64 {
	if n < 0 || n > 16 {
		panic("cause: from 0 to 16 players")
	}
	worths := make([]float64, 1<<n)
	for set := range worths {
		worths[set] = worth(uint(set))
	}
	orders := make([]float64, n) // share of the orders in which a given set of that size comes first and a given player next
	for size := range orders {
		orders[size] = 1 / float64(n)
		for k := range size {
			orders[size] *= float64(k+1) / float64(n-1-k)
		}
	}
	shares := make([]float64, n)
	for i := range shares {
		for set := range worths {
			if set>>i&1 == 0 {
				shares[i] += orders[bits.OnesCount(uint(set))] * (worths[set|1<<i] - worths[set])
			}
		}
	}
	return shares
}
