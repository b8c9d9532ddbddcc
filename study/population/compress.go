package population

import (
	"math"
	"runtime"
	"sync/atomic"

	"gonum.org/v1/gonum/mat"

	"wane/fit"
	"wane/fit/mixed"
)

// Discarded is the most of the known variance of a value, as a share, of which what it has in common with other values is left
// out of the model, so that the model stays small: its variance stays. With c the weights of a sum of values, and u the known
// standard uncertainties of the values, the variance of the sum is off by at most Discarded (Σ |c| u)².
const Discarded = 1e-4

// compressed are errors that many values share, in fewer effects.
type compressed struct {
	shared  [][]mixed.Share // of each value
	own     []float64       // of each value, its own variance
	effects int
}

// compress gathers the errors of the values. The effects that only the values of one coupon have, or only those of one
// session, are replaced by the leading singular vectors of their sensitivities: as few as leave no more of the variance of
// any value than Discarded. The rest of it becomes the value's own.
func compress(values []value, effects int) *compressed {
	c := &compressed{shared: make([][]mixed.Share, len(values)), own: make([]float64, len(values))}
	rooms := roomsOf(values, effects)
	for i := range values {
		if v := &values[i]; v.Known {
			c.own[i] = v.Own
			for _, s := range v.Shared {
				switch rooms.of[s.Effect] {
				case alone:
					c.own[i] += s.By * s.By
				case everywhere:
					c.shared[i] = append(c.shared[i], mixed.Share{Effect: rooms.wide[s.Effect], By: s.By})
				}
			}
		}
	}
	c.effects = rooms.wides
	found := make([]*leading, len(rooms.list))
	inTurn(len(found), func(k int) { found[k] = lead(values, rooms, k) })
	for k, l := range found {
		for i, at := range rooms.list[k].values {
			c.own[at] += l.rest[i]
			for j := range l.rank {
				if by := l.by.At(i, j); by != 0 {
					c.shared[at] = append(c.shared[at], mixed.Share{Effect: c.effects + j, By: by})
				}
			}
		}
		c.effects += l.rank
	}
	return c
}

// inTurn calls do for each of n things, on all processors.
func inTurn(n int, do func(k int)) {
	var next atomic.Int64
	var group fit.Group
	for range min(n, runtime.GOMAXPROCS(0)) {
		group.Go(func() {
			for k := int(next.Add(1)) - 1; k < n; k = int(next.Add(1)) - 1 {
				do(k)
			}
		})
	}
	group.Wait()
}

// rooms say where each effect is at home.
type rooms struct {
	of    []int // of each effect: in list; or one of the constants below
	local []int // of each effect: its column in its room
	wide  []int // of each effect that is everywhere: its number
	wides int
	list  []room
}

// room is a coupon, or a session, with effects that no value elsewhere has.
type room struct {
	values  []int
	effects int
}

const (
	alone      = -1 // one value has it, or none
	everywhere = -2
)

func roomsOf(values []value, effects int) *rooms {
	r := &rooms{of: make([]int, effects), local: make([]int, effects), wide: make([]int, effects)}
	value, coupon, session := make([]int, effects), make([]int, effects), make([]int, effects)
	const none, several = -1, -2
	for e := range effects {
		r.of[e], value[e], coupon[e], session[e] = alone, none, none, none
	}
	note := func(at *int, of int) {
		switch *at {
		case none:
			*at = of
		case of:
		default:
			*at = several
		}
	}
	for i := range values {
		for _, s := range values[i].Shared {
			note(&value[s.Effect], i)
			note(&coupon[s.Effect], values[i].coupon)
			note(&session[s.Effect], values[i].session)
		}
	}
	byCoupon, bySession := map[int]int{}, map[int]int{}
	enter := func(e int, rooms map[int]int, key int) {
		at, ok := rooms[key]
		if !ok {
			at = len(r.list)
			rooms[key] = at
			r.list = append(r.list, room{})
		}
		r.of[e], r.local[e] = at, r.list[at].effects
		r.list[at].effects++
	}
	for e := range effects {
		switch {
		case value[e] != several:
		case coupon[e] >= 0:
			enter(e, byCoupon, coupon[e])
		case session[e] >= 0:
			enter(e, bySession, session[e])
		default:
			r.of[e], r.wide[e] = everywhere, r.wides
			r.wides++
		}
	}
	for i := range values {
		for _, s := range values[i].Shared {
			if at := r.of[s.Effect]; at >= 0 {
				if of := &r.list[at]; len(of.values) == 0 || of.values[len(of.values)-1] != i {
					of.values = append(of.values, i)
				}
			}
		}
	}
	return r
}

// leading are the leading vectors of a room.
type leading struct {
	rank int
	by   *mat.Dense // values x rank
	rest []float64  // variance of each value that is left
}

// lead finds those of room k. With A the sensitivities they are A times the eigenvectors of AᵀA, or those of AAᵀ.
func lead(values []value, rooms *rooms, k int) *leading {
	of := &rooms.list[k]
	n, m := len(of.values), of.effects
	a := mat.NewDense(n, m, nil)
	l := &leading{rest: make([]float64, n)}
	allowed := make([]float64, n)
	for i, at := range of.values {
		for _, s := range values[at].Shared {
			if rooms.of[s.Effect] == k {
				a.Set(i, rooms.local[s.Effect], s.By)
				l.rest[i] += s.By * s.By
			}
		}
		allowed[i] = Discarded * values[at].Variance() / 2 // a value is in two rooms: of its coupon and of its session
	}
	wide := a.T() // of which the products of the columns are few
	if m < n {
		wide = a
	}
	_, size := wide.Dims()
	gram := mat.NewSymDense(size, nil)
	var product mat.Dense
	product.Mul(wide.T(), wide)
	for i := range size {
		for j := range i + 1 {
			gram.SetSym(i, j, product.At(i, j))
		}
	}
	var eigen mat.EigenSym
	if !eigen.Factorize(gram, true) {
		l.rank, l.by = m, a // as they are
		clear(l.rest)
		return l
	}
	eigenvalues := eigen.Values(nil)
	var vectors, by mat.Dense
	eigen.VectorsTo(&vectors)
	if m < n {
		by.Mul(a, &vectors)
	} else {
		by.Apply(func(_, j int, v float64) float64 { return v * math.Sqrt(max(0, eigenvalues[j])) }, &vectors)
	}
	l.by = mat.NewDense(n, size, nil)
	for l.rank < size && !within(l.rest, allowed) {
		column := by.ColView(size - 1 - l.rank) // eigenvalues come in increasing order
		for i := range n {
			v := column.AtVec(i)
			l.by.Set(i, l.rank, v)
			l.rest[i] = max(0, l.rest[i]-v*v)
		}
		l.rank++
	}
	return l
}

// within reports whether no value is larger than what is allowed of it.
func within(values, allowed []float64) bool {
	for i, v := range values {
		if v > allowed[i] {
			return false
		}
	}
	return true
}
