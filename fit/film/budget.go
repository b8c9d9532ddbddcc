package film

import (
	"context"
	"math"
	"math/rand/v2"
	"runtime"
	"sync/atomic"

	"wane/fit"
)

// Budget says how the uncertainty of a spot is divided into terms by Monte Carlo. For each
// source of error an error of its input is drawn. The model gives the readings of the best
// film with that error, and the spot is fitted to them with all nuisances free under their
// priors. The result less the true value of the film is the contribution of the source: a
// nuisance that the fit determines contributes nothing, however large it is. The structure
// is that of the verdict; it is not chosen again.
//
// Nuisances are drawn from their priors, and the film is the fitted one. A baseline is
// treated in the same way, with the same draw of common errors (skeleton and glass) and
// another draw of the errors of each reading (noise and session). The change is the
// difference of the two solar values.
//
// Where water in the pores is declared, the solar value is that of the film with dry pores. The true share
// of the pores that was filled is drawn: see [Water]. It moves no thickness. Other terms are those of the
// film as it was read.
//
// A nuisance without a prior, such as the captured share of the far face's light, is free
// in the fit and has no term. The uncertainty of a film on glass that was found to have
// none has no term either: see [Verdict.Profile].
//
// Source: JCGM 101:2008, clauses 5 to 7, and for one source at a time its annex B;
// clauses from memory.
type Budget struct {
	Draws   int    // for each term; 0 means 400, which give a contribution to 4 %
	Seed    uint64 // the same seed gives the same budget
	Workers int    // number of concurrent fits; 0 means one per processor; results do not depend on it

	// Known holds the sizes of the errors that are drawn; nil means what the fit took to be known of them.
	Known *Known

	// Mean makes the probe of the solar value, 1 less its mean; one for each worker.
	Mean func() (*Probe, error)

	// Unseen makes the probe of the part of the mean outside the measured wavelengths, for
	// a coating. Its weights are a part of those of Mean. It returns nil if all is
	// measured. Without Unseen there is no such term.
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

// The names of the terms that are not effects of the law. Those of effects stand in law.go.
const (
	termNoise         = "noise"
	termPoreWater     = "pore water"
	termExtrapolation = "extrapolation"
	total             = "total"
)

// Run returns the budget of v. base is the verdict on its baseline and may be nil. Both must
// come from single fits. Terms of size 0 have no row; the last row is the total.
//
// An [*InputError] says what is wrong with the budget. If ctx is done, the error is that of
// ctx.
func (b *Budget) Run(ctx context.Context, v, base *Verdict) ([]BudgetRow, error) {
	l, err := b.newTask(ctx, v, base)
	if err != nil {
		return nil, err
	}
	if l.isThrough() {
		return l.linear()
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
	all := make([]*budgetWorker, min(workers, len(off)))
	for k := range all {
		if all[k], err = l.newWorker(ctx); err != nil {
			return nil, err
		}
	}
	var wg fit.Group
	for _, t := range all {
		wg.Go(func() { work(t) })
	}
	wg.Wait()
	for _, err := range errs { // the first failure: all draws before it have finished, whatever the number of workers
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

// deviations are the errors of the results of one draw.
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
