package film

import (
	"context"
	"math"
	"math/rand/v2"
	"runtime"
	"sync/atomic"

	"wane/fit"
)

// Budget says how the uncertainty of a spot is taken apart by Monte Carlo. For each
// source of error its input is drawn, the readings that the best film would give with
// that input off are made, and the spot is fitted to them with all its nuisances free
// under their priors, not knowing of the draw. What comes out, less what is true of the
// film drawn, is what that source does through this way of measuring: a nuisance that
// the fit finds out by itself contributes nothing, however large it is. The structure is
// that of the verdict; it is not chosen again.
//
// Nuisances are drawn around what is known of them beforehand, and the film is the
// fitted one. With a baseline the same is done to that, with the same draw of what both
// have in common (skeleton and glass) and another of what is each reading's own
// (noise and session); the change is then the difference of the solar values.
//
// A nuisance of which nothing is known beforehand, such as the share of the far face's
// light that is captured, is free in the fit and has no term. Nor has what is not known
// of a film on glass that was found to have none: see [Verdict.Profile].
//
// Source: JCGM 101:2008, clauses 5 to 7, and for one source at a time its annex B;
// clauses from memory.
type Budget struct {
	Draws   int    // for each term; 0 means 400, which give a contribution to 4 %
	Seed    uint64 // the same seed gives the same budget
	Workers int    // fits at once, which change nothing; 0: one a processor

	// Session holds the sizes of the errors of each sitting that are drawn; nil means
	// what the fit took to be known of them.
	Session *Session

	// PoreWater is the share of the pores, above 0 and at most 1, that a change of
	// humidity may have filled or emptied since the reference state, which is that of
	// the baseline: drawn evenly from minus to plus that. 0 leaves the term out.
	PoreWater float64

	// Mean makes the probe of the solar value, 1 less its mean; one for each worker.
	Mean func() (*Probe, error)

	// Unseen makes the probe of the part of the mean outside the wavelengths seen, its
	// weights a part of those of Mean, for a coating; nil where all is seen. Without
	// Unseen the term is left out.
	Unseen func(seen Window, c Coating) (*Probe, error)
}

// BudgetRow is one source of error. A contribution is the root of the mean square of
// result less truth. The last row, Total, is of all sources drawn together.
type BudgetRow struct {
	Term string
	Size float64 // standard uncertainty of the input, in Unit; NaN for the total
	Unit string  // a ratio where it is empty

	ThicknessNM float64 // contribution to the thickness
	SolarPP     float64 // to the solar value, in percentage points
	ChangePP    float64 // to its change since the baseline; NaN without one
}

// The names of the terms, in their order.
const (
	termNoise         = "noise"
	termScale         = "scale"
	termFactor        = "angle factors"
	termAngle         = "angle errors"
	termShare         = "s share"
	termJoins         = "detector joins"
	termGlass         = "glass index"
	termSkeleton      = "skeleton index"
	termPoreWater     = "pore water"
	termExtrapolation = "extrapolation"
	total             = "total"
)

// Run returns the budget of v, which base is the baseline of; base may be nil. Both are
// verdicts of spots fitted by themselves. Terms of which the size is 0 are left out.
//
// An [*InputError] says what is wrong with the budget. The error is ctx's when ctx is
// done.
func (b *Budget) Run(ctx context.Context, v, base *Verdict) ([]BudgetRow, error) {
	l, err := b.newTask(ctx, v, base)
	if err != nil {
		return nil, err
	}
	draws := b.Draws
	if draws == 0 {
		draws = 400
	}
	n := len(l.terms) + 1
	off, errs := make([]deviations, n*draws), make([]error, n*draws)
	var next atomic.Int64
	var failed atomic.Bool
	work := func(t *budgetWorker) {
		for !failed.Load() {
			i := int(next.Add(1)) - 1
			if i >= len(off) {
				return
			}
			if off[i], errs[i] = t.draw(ctx, i/draws, rand.New(rand.NewPCG(b.Seed, uint64(i)))); errs[i] != nil {
				failed.Store(true)
			}
		}
	}
	workers := b.Workers
	if workers == 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	benches := make([]*budgetWorker, min(workers, len(off)))
	for k := range benches {
		if benches[k], err = l.newWorker(); err != nil {
			return nil, err
		}
	}
	var wg fit.Group
	for _, t := range benches {
		wg.Go(func() { work(t) })
	}
	wg.Wait()
	for _, err := range errs { // the first, whatever the workers: all before it were taken up
		if err != nil {
			return nil, err
		}
	}
	rows := make([]BudgetRow, n)
	for k := range rows {
		rows[k] = BudgetRow{Term: total, Size: math.NaN()}
		if k < len(l.terms) {
			rows[k] = BudgetRow{Term: l.terms[k].name, Size: l.terms[k].size, Unit: l.terms[k].unit}
		}
		rows[k].fill(off[k*draws : (k+1)*draws])
	}
	return rows, nil
}

// deviations is by how much the results of one draw are off.
type deviations struct{ thickness, solar, change float64 } // nm, fractions

func (r *BudgetRow) fill(off []deviations) {
	var thickness, solar, change float64
	for _, o := range off {
		thickness += o.thickness * o.thickness
		solar += o.solar * o.solar
		change += o.change * o.change
	}
	n := float64(len(off))
	r.ThicknessNM, r.SolarPP, r.ChangePP = math.Sqrt(thickness/n), 100*math.Sqrt(solar/n), 100*math.Sqrt(change/n)
}
