package desk

import (
	"context"

	"wane/study/store"
)

// batchFits is how many fits are committed together.
const batchFits = 500

// fitCommitter commits the outcomes of jobs.
type fitCommitter struct {
	ctx  context.Context
	desk *Desk
	out  *Fitted
}

// newFitBatch returns the batch of the fits that are made, total in number. What is committed is counted
// in out. A cancelled context ends no transaction.
func (d *Desk) newFitBatch(ctx context.Context, out *Fitted, total int, progress Progress) *batch[fitOutcome] {
	c := &fitCommitter{ctx: context.WithoutCancel(ctx), desk: d, out: out}
	return &batch[fitOutcome]{
		commit: c.commit,
		size:   func(o fitOutcome) (fits, bytes int) { return len(o.fits), 0 },
		fullAt: func(int) int { return batchFits },
		now:    d.now, lastCommit: d.now(), total: total, progress: progress,
	}
}

// commit stores the fits of outcomes in one transaction.
func (c *fitCommitter) commit(outcomes []fitOutcome) error {
	entry, stored, all, failed := c.desk.entry("fit", ""), 0, 0, 0
	err := c.desk.write(c.ctx, entry, func(tx *store.Tx) error {
		for _, o := range outcomes {
			if err := putFits(tx, o.fits); err != nil {
				return err
			}
		}
		stored = tx.Fits()
		entry.Summary = "evaluated " + amount(stored, "spot")
		return nil
	})
	if err != nil {
		return err
	}
	for _, o := range outcomes {
		all += len(o.fits)
		failed += len(o.refused)
		c.out.Refused = append(c.out.Refused, o.refused...)
		for i, u := range o.lost {
			c.out.lost[u] = o.refused[i]
		}
		c.out.addSession(&o)
	}
	c.out.Fits += stored
	c.out.Failed += min(failed, stored)
	c.out.Current += all - stored // another process has just evaluated them
	return nil
}
