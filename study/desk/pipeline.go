package desk

import (
	"context"
	"iter"
	"runtime"
	"sync"

	"wane/study"
)

// ahead is how many finished items of each worker may wait to be taken.
const ahead = 100

// countWorkers returns how many goroutines are meant by n workers: 0 is one for each core. Fewer
// are wrong usage.
func countWorkers(n int) (int, error) {
	switch {
	case n < 0:
		return 0, usagef("give 1 or more, or 0 for one on each core", "the number of workers must be 0 or more, not %d", n)
	case n == 0:
		return runtime.GOMAXPROCS(0), nil
	}
	return n, nil
}

// inOrder applies do to every item, in as many goroutines as there are workers, at least 1. It hands the
// results to take one after the other, in the order of the items, whatever order they were finished
// in. do also gets the number of its goroutine, below workers, for scratch space.
//
// The first error, of do or take or the context, ends the work and is returned; no result of a later
// item is taken. A panic of one of them is such an error, a [*study.Fault]. At most ahead items for
// each worker are in memory at a time, enough to go on while a batch is committed.
func inOrder[In, Out any](
	ctx context.Context, workers int, items iter.Seq[In],
	do func(ctx context.Context, worker int, item In) (Out, error), take func(Out) error,
) error {
	return inOrderWithin(ctx, workers, ahead*workers, items, do, take)
}

// inOrderWithin is inOrder with at most so many items in memory, beside those that are worked on.
func inOrderWithin[In, Out any](
	ctx context.Context, workers, waiting int, items iter.Seq[In],
	do func(ctx context.Context, worker int, item In) (Out, error), take func(Out) error,
) error {
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	type slot struct {
		item In
		out  Out
		err  error
		done chan struct{}
	}
	work, order := make(chan *slot), make(chan *slot, waiting)
	var busy sync.WaitGroup
	for w := range workers {
		busy.Go(func() {
			for s := range work {
				func() {
					defer close(s.done)
					defer study.Catch("", &s.err)
					s.out, s.err = do(ctx, w, s.item)
				}()
			}
		})
	}
	var broken error // a panic of items
	busy.Go(func() {
		defer close(order)
		defer close(work)
		defer study.Catch("", &broken)
		for item := range items {
			s := &slot{item: item, done: make(chan struct{})}
			select {
			case order <- s:
			case <-ctx.Done():
				return
			}
			work <- s
		}
	})
	for s := range order {
		<-s.done
		if ctx.Err() != nil {
			continue // until the workers have ended
		}
		err := s.err
		if err == nil {
			err = callTake(take, s.out)
		}
		if err != nil {
			cancel(err)
		}
	}
	busy.Wait()
	if broken != nil {
		return broken
	}
	return context.Cause(ctx)
}

// callTake calls take. A panic becomes an error, since the workers have to end first.
func callTake[Out any](take func(Out) error, out Out) (err error) {
	defer study.Catch("", &err)
	return take(out)
}
