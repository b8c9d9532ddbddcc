package desk

import (
	"context"
	"sync"
)

// mostPendingBytes is how many bytes of files may wait to be committed while others are read.
const mostPendingBytes = 16 << 20

// pendingMemory limits the memory of numbered items between acquire and release. release is called in
// the order of the numbers, from 0 on. The item that is to be released next may always acquire its
// memory, whatever its size, so that the work goes on.
type pendingMemory struct {
	mu    sync.Mutex
	moved *sync.Cond
	free  int64
	next  int // the item that is released next
	sizes map[int]int64
}

func newPendingMemory(bytes int64) *pendingMemory {
	m := &pendingMemory{free: bytes, sizes: map[int]int64{}}
	m.moved = sync.NewCond(&m.mu)
	return m
}

// acquire waits until so many bytes are free. Its error is that of the context.
func (m *pendingMemory) acquire(ctx context.Context, number int, bytes int64) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	if full := func() bool { return number != m.next && bytes > m.free }; full() {
		stop := context.AfterFunc(ctx, func() {
			m.mu.Lock()
			defer m.mu.Unlock()
			m.moved.Broadcast()
		})
		defer stop()
		for full() && ctx.Err() == nil {
			m.moved.Wait()
		}
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	m.sizes[number] = bytes
	m.free -= bytes
	return nil
}

// release frees the memory of an item.
func (m *pendingMemory) release(number int) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.free += m.sizes[number]
	delete(m.sizes, number)
	m.next = number + 1
	m.moved.Broadcast()
}
