package desk

import (
	"context"
	"crypto/sha256"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"

	"wane/study"
	"wane/study/store"
)

// leastSample is how many fits a verification reproduces at least, if the study has so many.
const leastSample = 20

// VerifyOptions say how far a verification goes.
type VerifyOptions struct {
	Workers int    // originals or fits that are worked on at once; 0: one for each core
	Seed    uint64 // which fits the sample holds; the same seed and study give the same ones

	Deep     bool   // read every original again, and compute all fits
	Contains string // a hash that the log must hold, or leastHashDigits or more of its beginning; empty: none
	Against  string // a backup whose log must be the beginning of this one; empty: none
}

// leastHashDigits is how many digits of a hash are enough to search for it.
const leastHashDigits = 8

// CheckHash refuses, as wrong usage, a text that is neither a hash of the log nor enough of the beginning
// of one.
func CheckHash(text string) error {
	isHex := strings.Trim(strings.ToLower(text), "0123456789abcdef") == ""
	if isHex && leastHashDigits <= len(text) && len(text) <= 2*sha256.Size {
		return nil
	}
	return usagef("give 8 to 64 digits of it, 0 to 9 and a to f, as `wane log --hashes` prints them",
		"--contains %q is not a hash", text)
}

// Verified is what verify found.
type Verified struct {
	Store      *store.Report
	Reproduced int          // fits computed again with the same result to the last digit
	Due        FitsDue      // what the next fit evaluates
	Differing  []string     // fits that differ when they are computed again, in words
	Evaluable  []study.Unit // whose fit says that they could not be evaluated, though they can

	// Of a deep verification: those that are the same in their originals.
	Readings, Measurements int

	// Of a deep verification: readings that stand where the map or the profile of their intake places them, and
	// readings that were moved, whose place before is kept.
	Placed, Moved int

	// Contradictions are where the originals, a backup, the witness or a hash that was noted say
	// something else than the study.
	Contradictions []*study.Refusal
	Notes          []string
}

// Sound reports whether no fault was found.
func (v *Verified) Sound() bool {
	return len(v.Store.Findings) == 0 && len(v.Differing) == 0 && len(v.Evaluable) == 0 && len(v.Contradictions) == 0
}

// Verify checks the file (chain of the log, checksums, references, originals), compares its log with
// what was noted of it elsewhere, and computes a sample of the fits again, or all.
func (d *Desk) Verify(ctx context.Context, opt VerifyOptions) (*Verified, error) {
	var err error
	if opt.Workers, err = countWorkers(opt.Workers); err != nil {
		return nil, err
	}
	if opt.Contains != "" {
		if err := CheckHash(opt.Contains); err != nil {
			return nil, err
		}
	}
	report, err := d.store.Verify(ctx)
	if err != nil {
		return nil, err
	}
	out := &Verified{Store: report, Notes: report.Notes}
	switch err := d.compareHistory(ctx, opt, out); {
	case err != nil && len(report.Findings) > 0 && ctx.Err() == nil:
		out.note("the log could not be compared with anything: %v", err)
	case err != nil:
		return nil, err
	}
	if len(report.Findings) > 0 {
		return out, nil // what is damaged cannot be reproduced
	}
	if opt.Deep {
		if err := d.rereadOriginals(ctx, opt.Workers, out); err != nil {
			return nil, err
		}
	}
	return out, d.reproduce(ctx, opt, out)
}

// reproduce computes fits that are up to date again: a sample drawn by the seed, or all.
func (d *Desk) reproduce(ctx context.Context, opt VerifyOptions, out *Verified) error {
	w, err := d.currentWorkspace(ctx, opt.Workers)
	if err != nil {
		return err
	}
	var fresh []fitJob
	for _, job := range w.jobs() {
		if job.stale() {
			continue
		}
		fresh = append(fresh, job)
	}
	out.Due = w.fitsDue()
	if out.Evaluable, err = w.findEvaluable(ctx, opt.Workers, fresh); err != nil {
		return err
	}
	sample := fresh
	if !opt.Deep {
		sample = sampleOf(fresh, opt.Seed)
	}
	w.innerWorkers = max(1, opt.Workers/max(1, len(sample)))
	again := func(ctx context.Context, worker int, job fitJob) (fitOutcome, error) {
		o, err := w.fit(ctx, worker, job)
		known := func(f *study.Fit) bool { return slices.Contains(out.Evaluable, f.Unit) }
		o.fits = slices.DeleteFunc(o.fits, known)
		return o, err
	}
	compare := func(o fitOutcome) error { return d.compareFits(ctx, o.fits, out) }
	return inOrder(ctx, opt.Workers, slices.Values(sample), again, compare)
}

// sampleOf draws jobs until they have leastSample units, and returns them in their order.
func sampleOf(jobs []fitJob, seed uint64) []fitJob {
	var drawn []int
	units := 0
	for _, i := range rand.New(rand.NewPCG(seed, 0)).Perm(len(jobs)) {
		if units >= leastSample {
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

// compareFits compares fits that were computed again with the current ones.
func (d *Desk) compareFits(ctx context.Context, again []*study.Fit, out *Verified) error {
	return d.store.View(ctx, func(v *store.View) error {
		for _, g := range again {
			f, err := v.Fit(g.Unit)
			if err != nil {
				return err
			}
			if f == nil || f.Digest != g.Digest {
				continue // another process has just made it again
			}
			if column := firstDifference(f, g); column != "" {
				out.Differing = append(out.Differing, fmt.Sprintf("%s: %s", describeUnit(f.Unit), column))
			} else {
				out.Reproduced++
			}
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
