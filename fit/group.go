package fit

import (
	"fmt"
	"runtime"
	"sync"
)

// Group runs functions concurrently and waits for them. Unlike with a [sync.WaitGroup]
// alone, a panic in one of them does not end the program: it is raised again as a
// [*WorkerPanic] in the goroutine that waits, whose caller may recover it. The zero
// Group is ready.
type Group struct {
	wait   sync.WaitGroup
	once   sync.Once
	caught *WorkerPanic
}

// Go runs do in a goroutine of its own.
func (g *Group) Go(do func()) {
	g.wait.Go(func() {
		defer func() {
			if v := recover(); v != nil {
				g.once.Do(func() { g.caught = newWorkerPanic(v) })
			}
		}()
		do()
	})
}

// Wait returns when all functions have returned. If one of them panicked, Wait panics
// with the value of the first panic.
func (g *Group) Wait() {
	g.wait.Wait()
	if g.caught != nil {
		panic(g.caught)
	}
}

// WorkerPanic is a panic of a goroutine, with the calls that led to it.
type WorkerPanic struct {
	value any
	calls []uintptr
}

const maxCalls = 100 // calls that a WorkerPanic keeps

func newWorkerPanic(v any) *WorkerPanic {
	if inner, ok := v.(*WorkerPanic); ok {
		return inner
	}
	calls := make([]uintptr, maxCalls)
	return &WorkerPanic{v, calls[:runtime.Callers(3, calls)]} // without Callers, this and the function that recovers
}

// Error returns what the panic said.
func (p *WorkerPanic) Error() string { return fmt.Sprint(p.value) }

// Origin returns what the panic said, and the program counters of the calls that led to
// it, as [runtime.Callers] has them.
func (p *WorkerPanic) Origin() (value any, calls []uintptr) { return p.value, p.calls }
