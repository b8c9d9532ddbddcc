package desk

import (
	"context"
	"fmt"
	"time"

	"wane/study/store"
)

// Fits are committed together, batchFits at a time or what is there after
// batchTime.
const (
	batchFits = 500
	batchTime = time.Second
)

// putter commits fits in batches.
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

func (p *fitCommitter) add(o fitOutcome) error {
	p.batch, p.fits = append(p.batch, o), p.fits+len(o.fits)
	if p.fits < batchFits && time.Since(p.since) < batchTime {
		return nil
	}
	return p.commit()
}

func (p *fitCommitter) commit() error {
	entry, stored := p.desk.entry("fit", ""), 0
	err := p.desk.store.Write(p.ctx, entry, func(tx *store.Tx) error {
		for _, o := range p.batch {
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
	p.out.Fits += stored
	p.out.Current += p.fits - stored // another process has just evaluated them
	p.done += p.fits
	for _, o := range p.batch {
		p.out.Refused = append(p.out.Refused, o.refused...)
		if o.session != nil {
			p.out.Sessions = append(p.out.Sessions, *o.session)
		}
	}
	p.batch, p.fits, p.since = p.batch[:0], 0, time.Now()
	if p.progress != nil {
		p.progress(p.done, p.total)
	}
	return nil
}
