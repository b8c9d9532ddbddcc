package desk

import (
	"context"
	"fmt"
	"time"

	"wane/study/store"
)

// Fits are committed together: batchFits at a time, or those that there are after batchTime by the
// clock of the desk.
const (
	batchFits = 500
	batchTime = time.Second
)

// fitCommitter commits fits in batches.
type fitCommitter struct {
	ctx      context.Context
	desk     *Desk
	out      *Fitted
	batch    []fitOutcome
	fits     int // in batch
	since    time.Time
	done     int
	total    int
	progress Progress
}

// add takes the outcome of one job.
func (c *fitCommitter) add(o fitOutcome) error {
	c.batch, c.fits = append(c.batch, o), c.fits+len(o.fits)
	if c.fits < batchFits && c.desk.now().Sub(c.since) < batchTime {
		return nil
	}
	return c.commit()
}

// commit stores the fits of the batch in one transaction.
func (c *fitCommitter) commit() error {
	entry, stored := c.desk.entry("fit", ""), 0
	err := c.desk.store.Write(c.ctx, entry, func(tx *store.Tx) error {
		for _, o := range c.batch {
			for _, f := range o.fits {
				if err := tx.PutFit(f); err != nil {
					return err
				}
			}
		}
		stored = tx.Fits()
		entry.Summary = fmt.Sprintf("evaluated %d spots", stored)
		return nil
	})
	if err != nil {
		return err
	}
	c.out.Fits += stored
	c.out.Current += c.fits - stored // another process has just evaluated them
	c.done += c.fits
	for _, o := range c.batch {
		c.out.Refused = append(c.out.Refused, o.refused...)
		if o.session != nil {
			c.out.Sessions = append(c.out.Sessions, *o.session)
		}
	}
	c.batch, c.fits, c.since = c.batch[:0], 0, c.desk.now()
	if c.progress != nil {
		c.progress(c.done, c.total)
	}
	return nil
}
