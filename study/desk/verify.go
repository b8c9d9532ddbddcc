package desk

import (
	"context"
	"fmt"
	"math"

	"wane/study"
	"wane/study/store"
)

// sampleFits is how many fits verify reproduces, spread evenly over the study.
const sampleFits = 20

// Verified is what verify found.
type Verified struct {
	Store      *store.Report
	Reproduced int      // fits computed again with the same result to the last digit
	Stale      int      // fits that are to be computed again: run fit
	Differing  []string // fits that came out otherwise, in words
}

// Sound reports whether nothing is wrong.
func (v *Verified) Sound() bool { return len(v.Store.Findings) == 0 && len(v.Differing) == 0 }

// Verify checks the file (log chain, checksums, references, originals) and
// computes a sample of the fits again.
func (d *Desk) Verify(ctx context.Context) (*Verified, error) {
	report, err := d.store.Verify(ctx)
	if err != nil {
		return nil, err
	}
	out := &Verified{Store: report}
	if len(report.Findings) > 0 {
		return out, nil // what is damaged cannot be reproduced
	}
	return out, d.reproduce(ctx, out)
}

func (d *Desk) reproduce(ctx context.Context, out *Verified) error {
	roster, err := d.store.Roster(ctx)
	if err != nil {
		return err
	}
	units, err := d.store.Units(ctx)
	if err != nil {
		return err
	}
	b := d.newBench(roster, units, 1)
	var fresh []fitJob
	for _, job := range b.jobs() {
		if job.stale() {
			out.Stale += len(job.units)
		} else {
			fresh = append(fresh, job)
		}
	}
	again := map[study.Unit]*study.Fit{} // of the sample
	for i, step := 0, max(1, len(fresh)/sampleFits); i < len(fresh) && len(again) < sampleFits; i += step {
		done, err := b.fit(ctx, 0, fresh[i])
		if err != nil {
			return err
		}
		for _, f := range done.fits {
			again[f.Unit] = f
		}
	}
	return d.store.Fits(ctx, func(f *study.Fit) error {
		g := again[f.Unit]
		if g == nil {
			return nil
		}
		if column := firstDifference(f, g); column != "" {
			out.Differing = append(out.Differing, fmt.Sprintf("coupon %s, pull %d, spot %s: %s", f.Coupon, f.Pull, f.Spot, column))
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
