package film

import (
	"context"
	"fmt"
	"math"

	"wane/fit"
)

// part is one spot of a joint fit. It belongs to one worker, whose scratch memory its model uses.
type part struct {
	member *Member
	number int      // among the members
	own    *Verdict // of the spot by itself
	err    error    // why it has no part in the joint fit
	fault  error    // met during the joint fit

	m           *model
	params      []fit.Param // as the fit by itself leaves them
	sharedFixed []fit.Param // the same with the shared ones held
	local       []int       // positions of the free parameters of its own
	shared      []int       // and of those that it shares
	at          []int       // positions of the latter among those of the joint fit

	x, jj, jr []float64 // the point met last, and its normal equations
	cost      float64   // sum of squares there, local priors included
	onBound   []bool    // local parameters that their bounds keep there
	free      []bool    // none of them
	converged bool
	atBound   []bool // of all parameters
	arrow     *arrow
	solution  *solution

	base  []float64 // the point from which others are reached
	slope []float64 // -∂local/∂shared there, by rows
}

func (p *part) worker(t *jointFit) int { return p.number % t.workers }

// usable returns why a joint fit cannot use a spot that was fitted; nil if it can.
func (p *part) usable() error {
	left := func(fault, try string) error { return &InputError{p.member.Name, fault, try} }
	switch v := p.own; {
	case p.member.Spot.Loss != fit.Squares:
		return left("it is left out: a robust loss cannot be fitted with other spots", "fit it with the loss of squares")
	case !v.Converged:
		return left("it is left out: its own fit has not converged", "look at its curves")
	case v.ReducedChi2 > PoorFit:
		return left(fmt.Sprintf("it is left out: its own fit is poor, with a reduced chi-square of %.3g", v.ReducedChi2),
			"look at its curves, its glass and its far face")
	}
	return nil
}

// prepare makes the part ready from the fit of the spot by itself.
func (p *part) prepare() {
	s := p.own.chosen
	p.m, p.params = p.own.model, s.params
	p.sharedFixed = append([]fit.Param(nil), p.params...)
	for i := range p.params {
		if p.params[i].Fixed {
			continue
		}
		if _, shared := p.slot(i); shared {
			p.shared = append(p.shared, i)
			p.sharedFixed[i].Fixed, p.sharedFixed[i].Prior = true, fit.Prior{} // whose prior counts once for all spots
		} else {
			p.local = append(p.local, i)
		}
	}
	size := p.m.size()
	p.x, p.base = append([]float64(nil), s.x...), append([]float64(nil), s.x...)
	p.jj, p.jr = make([]float64, size*size), make([]float64, size)
	p.onBound, p.free, p.atBound = make([]bool, len(p.local)), make([]bool, len(p.local)), make([]bool, size)
	p.slope = make([]float64, len(p.local)*len(p.shared))
	p.arrow = newArrow(len(p.local), len(p.shared))
}

// slot returns what the free parameter i is among the shared ones, and whether it is shared at all.
func (p *part) slot(i int) (slot, bool) {
	s := slot{Key: Key{Name: p.params[i].Name}, unit: "1"}
	of := p.member
	switch {
	case i == pSkeleton:
		s.Coating = of.Coating
		return s, true
	case i == pGlass:
		s.Glass = of.Glass
		return s, true
	case i == pRough2:
		s.Glass, s.unit = of.Glass, "nm²"
		return s, true
	case i == pMount:
		s.unit = "degrees"
	case i == pScale || i == pShare || i >= p.m.pJoin(0):
	case i < pAngles:
		return s, false
	case (i-pAngles)%perAngle == pFactor(0)-pAngles:
		if p.m.spot.Texture {
			return s, false
		}
	case (i-pAngles)%perAngle == pCapture(0)-pAngles:
		s.Glass = of.Glass // whose thickness moves the beam that comes back
	default:
		s.unit = "degrees"
	}
	s.Session, s.ofSession = of.Session, true
	return s, true
}

// sharedOf returns the shared parameters of the vector x of the part.
func (p *part) sharedOf(x []float64) []float64 {
	out := make([]float64, len(p.shared))
	for a, i := range p.shared {
		out[a] = x[i]
	}
	return out
}

// solve brings the own parameters to their best for the shared ones, and eliminates them. joint holds the
// shared parameters of all spots.
func (p *part) solve(ctx context.Context, joint []float64) {
	copy(p.x, p.base)
	for a, i := range p.shared {
		p.x[i] = joint[p.at[a]]
	}
	n := len(p.shared)
	for k, l := range p.local {
		for a, i := range p.shared {
			p.x[l] -= p.slope[k*n+a] * (p.x[i] - p.base[i])
		}
		p.x[l] = min(max(p.x[l], p.params[l].Lower), p.params[l].Upper)
	}
	p.converged = true
	clear(p.atBound)
	if len(p.local) > 0 {
		for i := range p.sharedFixed {
			p.sharedFixed[i].Start = p.x[i]
		}
		p.m.setFreeParams(p.sharedFixed)
		r, err := p.m.work.Solve(ctx, &fit.Problem{Params: p.sharedFixed, Points: p.m.points,
			Normal: p.m.fillNormalEquations}, &fitSettings)
		if err != nil {
			p.fault = err
			n := len(p.local) + len(p.shared)
			p.arrow.row(n)[n] = math.NaN()
			return
		}
		copy(p.x, r.X)
		copy(p.atBound, r.AtBound)
		p.converged = r.Converged()
	}
	p.linearise()
}

// linearise fills the normal equations at x and eliminates the own parameters that can move.
func (p *part) linearise() {
	size := p.m.size()
	clear(p.jj)
	clear(p.jr)
	p.m.setFreeParams(p.params)
	p.cost, p.fault = p.m.fillNormalEquations(p.jj, p.jr, p.x), nil
	for k, i := range p.local {
		param := &p.params[i]
		if sd := param.Prior.SD; sd > 0 {
			r := (p.x[i] - param.Prior.Mean) / sd
			p.cost += r * r
			p.jr[i] += r / sd
			p.jj[i*size+i] += 1 / sd / sd
		}
		p.onBound[k] = p.x[i] <= param.Lower && p.jr[i] > 0 || p.x[i] >= param.Upper && p.jr[i] < 0
	}
	p.fillArrow(nil, 1)
	p.arrow.eliminate(p.onBound)
}

// fillArrow fills the arrow from the normal equations. box holds standard deviations that are known besides of
// the own parameters, 0 for nothing; their variances are divided by inflation. It returns which own parameters
// are fixed: none.
func (p *part) fillArrow(box []float64, inflation float64) (hold []bool) {
	size, n := p.m.size(), len(p.local)+len(p.shared)
	order := func(r int) int {
		if r < len(p.local) {
			return p.local[r]
		}
		return p.shared[r-len(p.local)]
	}
	for r := range n {
		row, i := p.arrow.row(r), order(r)
		for c := r; c < n; c++ {
			j := order(c)
			row[c] = p.jj[min(i, j)*size+max(i, j)]
		}
		row[n] = p.jr[i]
		if r < len(p.local) && box != nil && box[i] > 0 {
			row[r] += inflation / box[i] / box[i]
		}
	}
	p.arrow.row(n)[n] = p.cost
	return p.free
}

// keepPoint makes the last point the one from which the next points are reached.
func (p *part) keepPoint() {
	copy(p.base, p.x)
	n := len(p.shared)
	for k := range p.local {
		copy(p.slope[k*n:(k+1)*n], p.arrow.slope(k))
	}
}
