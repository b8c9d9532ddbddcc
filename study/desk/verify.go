package desk

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"wane/study"
	"wane/study/store"
)

// sampleFits is how many fits verify reproduces of a study, unless it is to go deep.
const sampleFits = 20

// VerifyOptions say how far a verification goes.
type VerifyOptions struct {
	Workers int    // 0 stands for 1
	Seed    uint64 // which fits the sample holds; the same seed and study give the same ones
}

// Verified is what verify found.
type Verified struct {
	Store      *store.Report
	Reproduced int          // fits computed again with the same result to the last digit
	Stale      int          // fits that are to be computed again: run fit
	Differing  []string     // fits that came out otherwise, in words
	Evaluable  []study.Unit // whose fit says that they could not be evaluated, though they can
}

// Sound reports whether nothing is wrong.
func (v *Verified) Sound() bool {
	return len(v.Store.Findings) == 0 && len(v.Differing) == 0 && len(v.Evaluable) == 0
}

// Verify checks the file (log chain, checksums, references, originals) and
// computes a sample of the fits again.
func (d *Desk) Verify(ctx context.Context, opt VerifyOptions) (*Verified, error) {
	opt.Workers = max(1, opt.Workers)
	report, err := d.store.Verify(ctx)
	if err != nil {
		return nil, err
	}
	out := &Verified{Store: report}
	if len(report.Findings) > 0 {
		return out, nil // what is damaged cannot be reproduced
	}
	return out, d.reproduce(ctx, opt, out)
}

// reproduce computes fits that are up to date again: a sample drawn by the seed.
func (d *Desk) reproduce(ctx context.Context, opt VerifyOptions, out *Verified) error {
	b, err := d.benchNow(ctx, opt.Workers)
	if err != nil {
		return err
	}
	var fresh []fitJob
	for _, job := range b.jobs() {
		if job.stale() {
			out.Stale += len(job.units)
			continue
		}
		fresh = append(fresh, job)
		wrong, err := b.evaluable(ctx, &job)
		if err != nil {
			return err
		}
		out.Evaluable = append(out.Evaluable, wrong...)
	}
	sample := sampleOf(fresh, opt.Seed)
	b.inside = max(1, opt.Workers/max(1, len(sample)))
	again := map[study.Unit]*study.Fit{}
	err = inOrder(ctx, opt.Workers, slices.Values(sample), b.fit, func(o fitOutcome) error {
		for _, f := range o.fits {
			again[f.Unit] = f
		}
		return nil
	})
	if err != nil {
		return err
	}
	for _, u := range out.Evaluable { // said already
		delete(again, u)
	}
	return d.compareFits(ctx, again, out)
}

// sampleOf draws jobs until they hold sampleFits units, in the order that they have.
func sampleOf(jobs []fitJob, seed uint64) []fitJob {
	var drawn []int
	units := 0
	for _, i := range rand.New(rand.NewPCG(seed, 0)).Perm(len(jobs)) {
		if units >= sampleFits {
			break
		}
		drawn = append(drawn, i)
		units += len(jobs[i].units)
	}
	slices.Sort(drawn)
	var sample []fitJob
	for _, i := range drawn {
		sample = append(sample, jobs[i])
	}
	return sample
}

// compareFits compares the current fits with those that were computed again.
func (d *Desk) compareFits(ctx context.Context, again map[study.Unit]*study.Fit, out *Verified) error {
	return d.store.Fits(ctx, func(f *study.Fit) error {
		g := again[f.Unit]
		if g == nil {
			return nil
		}
		if column := firstDifference(f, g); column != "" {
			out.Differing = append(out.Differing, fmt.Sprintf("%s: %s", inWords(f.Unit), column))
		} else {
			out.Reproduced++
		}
		return nil
	})
}

// firstDifference names the first column in which two fits differ.
func firstDifference(a, b *study.Fit) string {
	for _, c := range study.Columns() {
		switch {
		case c.Num != nil:
			x, y := float64(c.Num(&a.Result)), float64(c.Num(&b.Result))
			if x != y && !(math.IsNaN(x) && math.IsNaN(y)) {
				return fmt.Sprintf("%s is stored as %v and comes out as %v", c.Name, x, y)
			}
		case c.Text != nil:
			if x, y := c.Text(&a.Result), c.Text(&b.Result); x != y {
				return fmt.Sprintf("%s is stored as %q and comes out as %q", c.Name, x, y)
			}
		default:
			if x, y := fmt.Sprint(c.Words(&a.Result)), fmt.Sprint(c.Words(&b.Result)); x != y {
				return fmt.Sprintf("%s are stored as %s and come out as %s", c.Name, x, y)
			}
		}
	}
	return ""
}
