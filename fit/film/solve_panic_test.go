package film

import (
	"context"
	"runtime"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"wane/fit"
)

// inGroup is a context that panics when it is asked in a goroutine of a group.
type inGroup struct{ context.Context }

func (c inGroup) Err() error {
	calls := make([]uintptr, 50)
	frames := runtime.CallersFrames(calls[:runtime.Callers(1, calls)])
	for {
		frame, more := frames.Next()
		if strings.Contains(frame.Function, "(*Group).Go.") {
			panic("made up")
		}
		if !more {
			return c.Context.Err()
		}
	}
}

// raised returns what do panics with.
func raised(do func()) (v any) {
	defer func() { v = recover() }()
	do()
	return nil
}

// A panic in a worker of a joint fit reaches the caller.
func TestJointFitHandsPanicsOn(t *testing.T) {
	require.IsType(t, &fit.WorkerPanic{}, raised(func() {
		_, err := new(Fitters).fitJointly(inGroup{context.Background()}, madeUp(t, 1), nil, 2)
		t.Errorf("returned %v", err)
	}))
}
