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
	own    *Verdict // from the single fit of the spot
	err    error    // why the joint fit does not use it
	fault  error    // during the joint fit

	m           *model
	params      []fit.Param // those of the single fit
	sharedFixed []fit.Param // the same, with the shared ones fixed
	local       []int       // positions of its own free parameters in params
	shared      []int       // positions of its shared free parameters in params
	at          []int       // positions of the latter in the joint fit

	x, jj, jr []float64 // the last point, and the normal equations there
	cost      float64   // sum of squares there, own priors included
	onBound   []bool    // own parameters that are on a bound and would leave it
	noneFixed []bool    // false for each own parameter
	converged bool
	atBound   []bool // of all parameters
	arrow     *arrow
	solution  *solution

	base  []float64 // the point from which the own parameters are extrapolated
	slope []float64 // -∂local/∂shared there, by rows
}

func (p *part) worker(t *jointFit) int { return p.number % t.workers }

// usable returns why a joint fit cannot use a spot that was fitted; nil if it can.
func (p *part) usable() error {
	refuse := func(fault, try string) error { return &InputError{p.member.Name, fault, try} }
	switch v := p.own; {
	case p.m.through:
		return refuse("it is excluded: a spot of which transmittance was read is fitted by itself", "take its values from its own "+
			"fit, or set its transmittance aside")
	case p.member.Excluded != "":
		return refuse("it is excluded: "+p.member.Excluded, "measure another dark blank in the session")
	case p.member.Spot.Loss != fit.Squares:
		return refuse("it is excluded: a robust loss cannot be fitted with other spots", "fit it with the loss of squares")
	case !v.Converged:
		return refuse("it is excluded: its own fit has not converged", "look at its curves")
	case v.ReducedChi2 > PoorFit:
		return refuse(fmt.Sprintf("it is excluded: its own fit is poor, with a reduced chi-square of %.3g", v.ReducedChi2),
			"look at its curves, its glass and its far face")
	}
	return nil
}

// jointlyApart are the owners whose effects a joint fit distinguishes from those of the session and of the batch.
var jointlyApart = ownersOf(OwnerPlacement, OwnerCoupon)

// ownSolution returns the solution of the spot by itself that the part starts from.
func (p *part) ownSolution() *solution {
	if p.m == p.own.structured {
		return p.own.full
	}
	return p.own.chosen
}

// prepare makes the part ready from the fit of the spot by itself.
func (p *part) prepare() {
	s := p.ownSolution()
	p.params = p.m.paramsApart(s, jointlyApart)
	p.sharedFixed = append([]fit.Param(nil), p.params...)
	for i := range p.params {
		if p.params[i].Fixed {
			continue
		}
		if _, shared := p.slot(i); shared {
			p.shared = append(p.shared, i)
			p.sharedFixed[i].Fixed, p.sharedFixed[i].Prior = true, fit.Prior{} // the prior counts once for all spots
		} else {
			p.local = append(p.local, i)
		}
	}
	size := p.m.size()
	p.x, p.base = append([]float64(nil), s.x...), append([]float64(nil), s.x...)
	p.jj, p.jr = make([]float64, size*size), make([]float64, size)
	p.onBound, p.noneFixed, p.atBound = make([]bool, len(p.local)), make([]bool, len(p.local)), make([]bool, size)
	p.slope = make([]float64, len(p.local)*len(p.shared))
	p.arrow = newArrow(len(p.local), len(p.shared))
}

// slot returns the shared parameter that the free parameter i is, and whether it is shared.
func (p *part) slot(i int) (slot, bool) {
	s := slot{Key: Key{Name: p.params[i].Name}, unit: "1"}
	of := p.member
	e := p.m.effectAt(i)
	if e != nil && (e.unit == "degrees" || e.unit == "nm") {
		s.unit = e.unit
	}
	switch {
	case i == pRough2:
		s.Glass, s.unit = of.Glass, "nm²"
		return s, true
	case p.m.isCapture(i):
		s.Glass = of.Glass // whose thickness moves the beam that comes back
	case e == nil, e.kind == kFactor && p.m.spot.Texture:
		return s, false
	case e.owner == OwnerCoating && of.ownSkeleton:
		return s, false
	case e.owner == OwnerCoating:
		s.Coating = of.Coating
		return s, true
	case e.owner == OwnerBatch:
		s.Glass = of.Glass
		return s, true
	case e.owner == OwnerCoupon && of.Coupon != "":
		s.Coupon = of.Coupon
		return s, true
	case e.owner != OwnerSession && e.owner != OwnerInstrument:
		return s, false
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

// solve finds the best own parameters at the given shared ones, and eliminates them. joint holds the shared
// parameters of all spots.
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
// the own parameters, 0 for nothing. All that is known beforehand is multiplied by the inflation, by which the inverse is
// multiplied in the end. It returns which own parameters are fixed: none.
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
		if r >= len(p.local) {
			continue
		}
		if sd := p.params[i].Prior.SD; sd > 0 {
			row[r] += (inflation - 1) / sd / sd // once it is there already
		}
		if box != nil && box[i] > 0 {
			row[r] += inflation / box[i] / box[i]
		}
	}
	p.arrow.row(n)[n] = p.cost
	return p.noneFixed
}

// keepPoint makes the last point the one from which the own parameters are extrapolated.
func (p *part) keepPoint() {
	copy(p.base, p.x)
	n := len(p.shared)
	for k := range p.local {
		copy(p.slope[k*n:(k+1)*n], p.arrow.slope(k))
	}
}
