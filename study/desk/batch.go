package desk

import (
	"context"
	"errors"
	"time"
)

// A batch is committed when it has batchBytes, or batchTime after the last commit, if it is not full
// before.
const (
	batchBytes = 16 << 20
	batchTime  = time.Second
)

// batch collects finished units and commits them together, since each commit costs a transaction and
// a line in the log. It is used by one goroutine.
type batch[Unit any] struct {
	commit     func([]Unit) error            // in one transaction
	size       func(Unit) (items, bytes int) // of one unit
	fullAt     func(done int) int            // items of a full batch, if so many are committed already
	now        func() time.Time              // the clock of the desk
	total      int                           // items
	progress   Progress                      // nil: none
	units      []Unit
	items      int // of units
	bytes      int // of units
	done       int // items that are committed
	lastCommit time.Time
	failed     error // of a commit
}

// add takes one unit, and commits the batch if it is large or old enough.
func (b *batch[Unit]) add(u Unit) error {
	items, bytes := b.size(u)
	b.units, b.items, b.bytes = append(b.units, u), b.items+items, b.bytes+bytes
	if b.items < b.fullAt(b.done) && b.bytes < batchBytes && b.now().Sub(b.lastCommit) < batchTime {
		return nil
	}
	return b.flush()
}

// flush commits the units of the batch, and reports how many items are committed.
func (b *batch[Unit]) flush() error {
	if b.failed = b.commit(b.units); b.failed != nil {
		return b.failed
	}
	b.done += b.items
	clear(b.units) // so that their contents can be freed
	b.units, b.items, b.bytes, b.lastCommit = b.units[:0], 0, 0, b.now()
	if b.progress != nil {
		b.progress(b.done, b.total)
	}
	return nil
}

// finish ends the work; err is what it ended with. The last batch is committed after success, also if it
// is empty, and after a person has stopped the work, so that finished units stay. After any other
// error it is not committed. A commit that failed is not tried again, and its error is returned also
// if the work was stopped meanwhile.
func (b *batch[Unit]) finish(err error) error {
	switch {
	case b.failed != nil:
		return b.failed
	case err != nil && !errors.Is(err, context.Canceled):
		return err
	}
	return errors.Join(err, b.flush())
}
