package web

import (
	"context"
	"errors"
	"sync"
	"time"

	"wane/study"
)

// errBeingMade says that what a page shows is being made for the first time.
var errBeingMade = errors.New("the study is being read")

// How long a page waits for what is being made: as long as people do not notice where it can show what was before,
// and longer where it has nothing.
const (
	waitBeside = 30 * time.Millisecond
	waitFirst  = 500 * time.Millisecond
)

// kept is something that is made of the whole study. It is made in the background, once for a line of the log, and
// kept until the next one, or the next day.
type kept[T any] struct {
	server *Server
	of     func(ctx context.Context) (T, error)
	head   func(ctx context.Context) (study.Entry, error) // the last line of the log
	large  bool                                           // one after the other, since each holds much

	mu     sync.Mutex
	last   *made[T]
	making chan struct{} // is closed at the end; nil: nothing is being made
}

func keep[T any](s *Server, of func(ctx context.Context) (T, error)) *kept[T] {
	return &kept[T]{server: s, of: of, head: s.desk.Head}
}

// keepLarge is keep for what holds much while it is made.
func keepLarge[T any](s *Server, of func(ctx context.Context) (T, error)) *kept[T] {
	k := keep(s, of)
	k.large = true
	return k
}

// made is what was made when the log had so many lines.
type made[T any] struct {
	of   T
	line int64
	day  string
	err  error
}

// isOf reports whether it was made of a line of the log, or a later one, and on this day.
func (m *made[T]) isOf(head int64, day string) bool {
	return m != nil && m.line >= head && m.day == day
}

// day is today.
func (s *Server) day() string { return s.opt.Now().Format(time.DateOnly) }

// get returns what is kept, and the line of the log up to which it goes where that is not the last one, else 0. The
// first time it may be too early: errBeingMade.
func (k *kept[T]) get(ctx context.Context, head int64) (of T, upTo int64, err error) {
	return k.within(ctx, head, waitFirst)
}

// getSoon is get for what a page can do without.
func (k *kept[T]) getSoon(ctx context.Context, head int64) (of T, upTo int64, err error) {
	return k.within(ctx, head, waitBeside)
}

func (k *kept[T]) within(ctx context.Context, head int64, patience time.Duration) (of T, upTo int64, err error) {
	last, making := k.look(head)
	if last.isOf(head, k.server.day()) {
		return last.of, 0, last.err
	}
	if last != nil {
		patience = waitBeside
	}
	timer := time.NewTimer(patience)
	defer timer.Stop()
	select {
	case <-making:
	case <-timer.C:
	case <-ctx.Done():
		return of, 0, ctx.Err()
	}
	last, _ = k.look(head)
	switch {
	case last == nil:
		return of, 0, errBeingMade
	case !last.isOf(head, k.server.day()):
		return last.of, max(last.line, 1), last.err
	}
	return last.of, 0, last.err
}

// look returns what is kept, and begins to make it if it is older than head.
func (k *kept[T]) look(head int64) (*made[T], chan struct{}) {
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.making == nil && !k.last.isOf(head, k.server.day()) && k.server.ctx.Err() == nil {
		k.making = make(chan struct{})
		k.server.works.Add(1)
		go k.make(k.making)
	}
	return k.last, k.making
}

// make makes it, as far as the log goes at the beginning.
func (k *kept[T]) make(ended chan struct{}) {
	defer k.server.works.Done()
	defer close(ended)
	next := &made[T]{day: k.server.day()}
	func() {
		defer study.Catch("the whole study", &next.err)
		if k.large {
			k.server.large.Lock()
			defer k.server.large.Unlock()
		}
		var head study.Entry
		if head, next.err = k.head(k.server.ctx); next.err != nil {
			return
		}
		next.line = head.Number
		next.of, next.err = k.of(k.server.ctx)
	}()
	k.mu.Lock()
	defer k.mu.Unlock()
	k.making = nil
	var failure *study.Failure
	if next.err != nil && k.last != nil && k.last.err == nil && (errors.As(next.err, &failure) || next.line == 0) {
		return // what was before is shown, and it is tried again
	}
	k.last = next
}
