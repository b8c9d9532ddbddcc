package film

import (
	"context"
	"errors"
	"fmt"
	"math"
	"runtime"
	"slices"

	"gonum.org/v1/gonum/mat"

	"wane/fit"
)

// Member is one spot of a joint fit, with the names of those that it shares parameters with:
//
//	session  what the session owns in the law (law.go), steps at detector joins; with the glass, the captured
//	         share of the far face's return
//	glass    error of the index of the batch, roughness
//	coupon   what the coupon owns, between its spots; without a name each spot is a coupon of its own
//	coating  skeleton index, between the pulls of a spot
//	spot     the film, what the placement owns, pins; the factors of textured glass, which depend on the
//	         facets that happen to be met
type Member struct {
	Spot                    *Spot
	Name                    string // in errors; empty: its number
	Role                    Role
	Session, Glass, Coating string
	Coupon                  string

	// Excluded says why the joint fit may not use the spot; empty: it may.
	Excluded string

	// ownSkeleton: the spot has a skeleton index of its own. What the films of a session say of their skeleton is little
	// and, as they are fitted, not right: a larger index explains the same curves with smaller structures, which their
	// priors prefer in each film anew. One index for all films adds that up: of ten films, 0.7 of its uncertainty in material
	// left, of more films more. So each film keeps what is known beforehand, as in the fit of a spot by itself. Between the
	// pulls of one spot the index is shared, for their differences.
	ownSkeleton bool
}

// Role is what a spot is to its session.
type Role int

// The roles of spots.
const (
	RoleCoupon   Role = iota // carries the film in question
	RoleControl              // carries a film that was kept from the dose
	RoleBlank                // dark blank: bare glass, kept in the dark
	RoleStandard             // check standard: a surface that does not change
)

// Key names a shared parameter and whom it belongs to; names that do not apply are empty.
type Key struct{ Name, Session, Glass, Coating, Coupon string }

// Shared is a shared parameter after a joint fit.
type Shared struct {
	Key
	Unit    string // of value and uncertainties: 1, degrees, nm²
	Value   float64
	U       float64 // standard uncertainty
	PriorU  float64 // standard deviation of the prior; infinite without one
	AtBound bool
}

// JointSpot is a member after a joint fit. If Err is not nil, the joint fit does not use the spot. Its verdict is
// then that of its single fit, nil if that failed.
type JointSpot struct {
	Verdict *Verdict
	Err     error
}

// Joint is the result of a fit of several spots together. Uncertainties and covariances are multiplied by one
// inflation, as in the fit of a single spot: the reduced chi-square over the effective share of the points,
// both of all data of the joint fit, but at least 1. If the single fit of a spot raised its noise, the joint fit
// uses the raised noise. ReducedChi2 of a spot's verdict is that of its own points.
//
// The verdicts of a joint fit share scratch memory, as those of a fitter do: two goroutines must not use them at
// once, for example in [Verdict.Profile].
type Joint struct {
	Spots       []JointSpot // in the order of the members
	Shared      []Shared
	Covariance  *mat.SymDense // of Shared
	Points      int
	Cost        float64 // sum of squares, priors included
	ReducedChi2 float64 // priors included
	Converged   bool

	ofOneSpot bool // its spots are the pulls of one

	fit     *jointFit // with the structure of the films free
	uniform *jointFit // of the equivalent uniform films; fit where no film has a structure
}

// slot is a shared parameter.
type slot struct {
	Key
	unit      string
	ofSession bool
}

// jointFit fits several spots at once. The solver works on the shared parameters only; the own parameters of
// each spot are at their best for every value of these (joint_arrow.go).
type jointFit struct {
	ctx     context.Context
	workers int
	all     []*part // one for each member
	parts   []*part // those that the joint fit uses
	slots   []slot
	params  []fit.Param // of the slots
	known   []placedKnowledge
	lowest  float64 // sum of squares, priors included, at the point that the parts keep

	x         []float64 // the solution
	atBound   []bool    // there
	dof       int
	inflation float64       // there
	inverse   *mat.SymDense // of the normal matrix there, priors included
	converged bool
	inside    *mat.Dense // see root
}

// fitJointly fits the members on workers goroutines; 0 means one for each processor. The result does not
// depend on their number.
func (f *Fitters) fitJointly(ctx context.Context, members []Member, known []*Knowledge, workers int) (*Joint, error) {
	if workers < 1 {
		workers = runtime.GOMAXPROCS(0)
	}
	all, err := f.fitEach(ctx, members, workers)
	if err != nil {
		return nil, err
	}
	var physical, uniform []*Knowledge
	for _, k := range known {
		physical = append(physical, k)
		if k != nil {
			k = k.uniform
		}
		uniform = append(uniform, k)
	}
	t, result, err := solveJointly(ctx, all, physical, workers)
	if err != nil {
		return nil, err
	}
	u := t
	if slices.ContainsFunc(all, func(p *part) bool { return p.err == nil && p.own.structured != nil }) {
		if u, _, err = solveJointly(ctx, uniformParts(all), uniform, workers); err != nil {
			return nil, err
		}
	}
	return t.result(result, u)
}

// uniformParts returns the parts of the equivalent uniform films.
func uniformParts(all []*part) []*part {
	out := make([]*part, len(all))
	for i, p := range all {
		out[i] = &part{member: p.member, number: p.number, own: p.own, err: p.err}
		if p.err == nil {
			out[i].m = p.own.model
		}
	}
	return out
}

// solveJointly solves for the models of the parts.
func solveJointly(ctx context.Context, all []*part, known []*Knowledge, workers int) (*jointFit, *fit.Result, error) {
	t := &jointFit{ctx: ctx, workers: workers, lowest: math.Inf(1), all: all}
	for _, p := range all {
		if p.err == nil {
			p.prepare()
			t.parts = append(t.parts, p)
		}
	}
	if len(t.parts) == 0 {
		return nil, nil, &InputError{"joint fit", fmt.Sprintf("none of its %d spots can be used; the first: %v", len(all),
			all[0].err), "fit the spots one by one and see to what is wrong with them"}
	}
	if err := t.listShared(known); err != nil {
		return nil, nil, err
	}
	result, err := t.solve()
	if err != nil {
		return nil, nil, err
	}
	if err := t.covariance(result); err != nil {
		return nil, nil, err
	}
	t.converged = result.Converged()
	for _, p := range t.parts {
		t.converged = t.converged && p.converged
	}
	return t, result, nil
}

// fitEach fits each spot by itself. Parts that a joint fit cannot use say why.
func (f *Fitters) fitEach(ctx context.Context, members []Member, count int) ([]*part, error) {
	for len(f.workers) < count {
		f.workers = append(f.workers, nil)
	}
	all := make([]*part, len(members))
	glasses := map[string]*Member{}
	for i := range members {
		m := &members[i]
		if m.Name == "" {
			named := *m
			named.Name, m = fmt.Sprintf("spot %d", i+1), &named
		}
		all[i] = &part{member: m, number: i}
		if first, ok := glasses[m.Glass]; ok && !m.hasGlassOf(first) {
			return nil, &InputError{m.Name, fmt.Sprintf("its glass is called %q as that of %s is, but has another index", m.Glass,
				first.Name), "give each glass a name of its own"}
		} else if !ok {
			glasses[m.Glass] = m
		}
	}
	t := &jointFit{ctx: ctx, workers: count}
	t.eachPart(all, func(p *part, w int) {
		if p.own, p.err = f.of(w, p.member).Fit(t.ctx, p.member.Spot); p.err == nil {
			p.m, _ = p.own.physical()
			p.err = p.usable()
		}
	})
	return all, ctx.Err()
}

// eachPart calls do for every part, with the number of the worker to which the part belongs.
func (t *jointFit) eachPart(parts []*part, do func(p *part, worker int)) {
	var group fit.Group
	for w := range t.workers {
		group.Go(func() {
			for i := range parts {
				// the models of a part use the scratch memory of its worker
				if p := parts[i]; p.worker(t) == w && t.ctx.Err() == nil {
					do(p, w)
				}
			}
		})
	}
	group.Wait()
}

// listShared lists the shared parameters of the parts and of the knowledge from other fits.
func (t *jointFit) listShared(known []*Knowledge) error {
	at := map[Key]int{}
	add := func(s slot, p fit.Param, who string) (int, error) {
		k, ok := at[s.Key]
		if !ok {
			k = len(t.slots)
			at[s.Key] = k
			t.slots, t.params = append(t.slots, s), append(t.params, p)
		}
		if have := &t.params[k]; have.Prior != p.Prior || have.Lower != p.Lower || have.Upper != p.Upper {
			return 0, &InputError{who, fmt.Sprintf("it states another knowledge of %s than the spots it shares that with",
				s.Name), "state one prior for what spots share"}
		}
		return k, nil
	}
	for _, p := range t.parts { // Those of coupons first: without each other in their rows, they are eliminated in no time.
		for _, i := range p.shared {
			if s, _ := p.slot(i); s.Coupon != "" {
				if _, err := add(s, p.params[i], p.member.Name); err != nil {
					return err
				}
			}
		}
	}
	for _, p := range t.parts {
		for _, i := range p.shared {
			s, _ := p.slot(i)
			k, err := add(s, p.params[i], p.member.Name)
			if err != nil {
				return err
			}
			p.at = append(p.at, k)
		}
	}
	for _, k := range known {
		if k == nil {
			continue
		}
		news := placedKnowledge{Knowledge: k}
		for i, s := range k.slots {
			a, err := add(s, k.params[i], "what is known of session "+s.Session)
			if err != nil {
				return err
			}
			news.at = append(news.at, a)
		}
		t.known = append(t.known, news)
	}
	return nil
}

// solve finds the shared parameters.
func (t *jointFit) solve() (*fit.Result, error) {
	t.eachPart(t.parts, func(p *part, _ int) {
		p.linearise()
		p.keepPoint()
	})
	if err := t.fault(); err != nil {
		return nil, err
	}
	if len(t.params) == 0 { // nothing is shared, but the solver needs a parameter
		t.params = []fit.Param{{Name: "none", Fixed: true}}
	}
	t.setStarts()
	r, err := fit.Solve(t.ctx, &fit.Problem{Params: t.params, Points: t.countResiduals(), Normal: t.fillNormalEquations},
		&fitSettings)
	if t.ctx.Err() != nil {
		return nil, t.ctx.Err()
	}
	if fault := t.fault(); err != nil && fault != nil {
		return nil, fault
	}
	var problem *fit.ProblemError
	if errors.As(err, &problem) {
		return nil, inputErrorOf("joint fit", "the spots cannot be fitted together", problem,
			"fit the spots one by one, or state what is known of the session")
	}
	if err != nil {
		return nil, fmt.Errorf("could not fit the spots together: %w", err)
	}
	n := len(t.params)
	t.fillNormalEquations(make([]float64, n*n), make([]float64, n), r.X) // the last point evaluated may be another one
	if t.ctx.Err() != nil {
		return nil, t.ctx.Err()
	}
	return r, t.fault()
}

// fault returns the first error of a part.
func (t *jointFit) fault() error {
	for _, p := range t.parts {
		if p.fault != nil {
			return fmt.Errorf("could not fit %s with the others: %w", p.member.Name, p.fault)
		}
	}
	return nil
}

// countResiduals returns the number of residuals.
func (t *jointFit) countResiduals() (n int) {
	for _, p := range t.parts {
		n += p.m.points
		for _, i := range p.local {
			if p.params[i].Prior.SD > 0 {
				n++
			}
		}
	}
	for _, k := range t.known {
		n += k.residuals
	}
	return n
}

// setStarts starts the shared parameters at the minimum of the sum of squares of all spots, each of which is
// taken as quadratic about its own solution.
func (t *jointFit) setStarts() {
	n := len(t.params)
	jj, right, gradient := make([]float64, n*n), make([]float64, n), make([]float64, n)
	sum, count := make([]float64, n), make([]float64, n)
	own := make([]float64, n*n)
	addLinear := func(x []float64, at []int) { // adds the normal equations in own and gradient, which belong to x
		for a, i := range at {
			right[i] -= gradient[i]
			for b, j := range at {
				right[i] += own[min(i, j)*n+max(i, j)] * x[b]
			}
			sum[i], count[i] = sum[i]+x[a], count[i]+1
		}
		for _, i := range at {
			for _, j := range at {
				k := i*n + j
				jj[k] += own[k]
				own[k] = 0
			}
			gradient[i] = 0
		}
	}
	for _, p := range t.parts {
		p.arrow.complement(own, gradient, p.at)
		addLinear(p.sharedOf(p.base), p.at)
	}
	for _, k := range t.known {
		x := make([]float64, n)
		for a, i := range k.at {
			x[i] = k.x[a]
		}
		k.add(own, gradient, x)
		addLinear(k.x, k.at)
	}
	box := uniformSDs(t.params)
	for i, p := range t.params {
		mean, sd := p.Prior.Mean, p.Prior.SD
		if sd == 0 && !p.Fixed {
			mean, sd = sum[i]/count[i], box[i]
		}
		if sd > 0 {
			right[i] += mean / sd / sd
			jj[i*n+i] += 1 / sd / sd
		} else {
			jj[i*n+i] = 1
		}
	}
	best := mat.NewVecDense(n, nil)
	var c mat.Cholesky
	solved := c.Factorize(mat.NewSymDense(n, jj)) && c.SolveVecTo(best, mat.NewVecDense(n, right)) == nil
	for i := range t.params {
		p := &t.params[i]
		if p.Fixed {
			continue
		}
		p.Start = sum[i] / count[i]
		if x := best.AtVec(i); solved && !math.IsNaN(x) {
			p.Start = x
		}
		p.Start = min(max(p.Start, p.Lower), p.Upper)
	}
}

// fillNormalEquations adds the normal equations at x to jj and jr and returns the sum of squares there, with
// the own parameters of each spot at their best: see Normal in [fit.Problem].
func (t *jointFit) fillNormalEquations(jj, jr, x []float64) float64 {
	t.eachPart(t.parts, func(p *part, _ int) { p.solve(t.ctx, x) })
	if t.ctx.Err() != nil {
		return math.NaN()
	}
	cost := 0.0
	for _, p := range t.parts { // in their order, so that workers do not change the sum
		cost += p.arrow.minimum()
		p.arrow.complement(jj, jr, p.at)
	}
	for _, k := range t.known {
		cost += k.add(jj, jr, x)
	}
	withPriors := cost
	for i, p := range t.params {
		if p.Prior.SD > 0 {
			r := (x[i] - p.Prior.Mean) / p.Prior.SD
			withPriors += r * r
		}
	}
	if withPriors <= t.lowest { // extrapolate to the next points from here
		t.lowest = withPriors
		for _, p := range t.parts {
			p.keepPoint()
		}
	}
	return cost
}
