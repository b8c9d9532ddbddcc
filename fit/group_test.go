package fit_test

import (
	"context"
	"runtime"
	"sync/atomic"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/fit"
)

// raised returns what do panics with.
func raised(do func()) (v any) {
	defer func() { v = recover() }()
	do()
	return nil
}

// A panic in one of several goroutines reaches the one that waits, after all have
// returned, with the calls that led to it; also through a second group.
func TestGroupHandsPanicsOn(t *testing.T) {
	var done atomic.Int64
	inner := func() {
		var g fit.Group
		for i := range 8 {
			g.Go(func() {
				if i == 3 {
					panic("made up")
				}
				done.Add(1)
			})
		}
		g.Wait()
	}
	v := raised(func() {
		var outer fit.Group
		outer.Go(inner)
		outer.Wait()
	})
	require.IsType(t, &fit.WorkerPanic{}, v)
	assert.EqualValues(t, 7, done.Load())
	assert.EqualError(t, v.(error), "made up")
	value, calls := v.(*fit.WorkerPanic).Origin()
	assert.Equal(t, "made up", value)
	frames, found := runtime.CallersFrames(calls), false
	for {
		frame, more := frames.Next()
		found = found || frame.Function == "wane/fit_test.TestGroupHandsPanicsOn.func1.1"
		if !more {
			break
		}
	}
	assert.True(t, found, "the function that panicked is not among the calls")
}

func TestGroupWaits(t *testing.T) {
	var g fit.Group
	var done atomic.Int64
	for range 20 {
		g.Go(func() { done.Add(1) })
	}
	g.Wait()
	assert.EqualValues(t, 20, done.Load())
}

// A panic in a worker of a bootstrap reaches its caller.
func TestBootstrapHandsPanicsOn(t *testing.T) {
	best := solve(t, puromycin(), nil)
	asked := atomic.Int64{}
	broken := func() (*fit.Problem, error) {
		p := puromycin()
		residuals := p.Residuals
		p.Residuals = func(dst, x []float64) {
			if asked.Add(1) == 100 { // most are asked for by the workers
				panic("made up")
			}
			residuals(dst, x)
		}
		return p, nil
	}
	b := fit.Bootstrap{Replicates: 500, Noise: 10, Seed: 5, Workers: 3}
	require.IsType(t, &fit.WorkerPanic{}, raised(func() {
		_, err := b.Run(context.Background(), broken, best)
		t.Errorf("returned %v", err)
	}))
}
