package desk

import (
	"context"
	"sync"
)

// heldBytes is how many bytes of files may wait to be committed while others are
// read.
const mostPendingBytes = 16 << 20

// room bounds what is held of numbered items between enter and leave, where leave
// is called in the order of the numbers, from 0 on. The item whose turn it is to
// leave is let in whatever its size, so that all go on.
type pendingMemory struct {
	mu    sync.Mutex
	moved *sync.Cond
	free  int64
	next  int // the item that leaves next
	sizes map[int]int64
}

func newPendingMemory(bytes int64) *pendingMemory {
	r := &pendingMemory{free: bytes, sizes: map[int]int64{}}
	r.moved = sync.NewCond(&r.mu)
	return r
}

// enter waits until there is room for so many bytes. Its error is that of the
// context.
func (r *pendingMemory) acquire(ctx context.Context, number int, bytes int64) error {
	r.mu.Lock()
	defer r.mu.Unlock()
	if full := func() bool { return number != r.next && bytes > r.free }; full() {
		stop := context.AfterFunc(ctx, func() {
			r.mu.Lock()
			defer r.mu.Unlock()
			r.moved.Broadcast()
		})
		defer stop()
		for full() && ctx.Err() == nil {
			r.moved.Wait()
		}
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	r.sizes[number] = bytes
	r.free -= bytes
	return nil
}

func (r *pendingMemory) release(number int) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.free += r.sizes[number]
	delete(r.sizes, number)
	r.next = number + 1
	r.moved.Broadcast()
}
