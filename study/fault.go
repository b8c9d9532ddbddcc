package study

import (
	"fmt"
	"path"
	"runtime"
	"strings"
)

// Fault is a caught panic: a fault of the program, not of the data. It is no [Refusal],
// and is never stored as a result.
type Fault struct {
	About string // the file, the coupon or the command during which it happened
	Value any    // the value of the panic

	calls []uintptr // calls that led to it, the last one first
}

// Catch turns a panic into a [*Fault], which it stores in err. Without a panic it does
// nothing. It must be deferred: defer study.Catch("G07.csv", &err).
func Catch(about string, err *error) {
	v := recover()
	if v == nil {
		return
	}
	f := &Fault{About: about, Value: v}
	if carried, ok := v.(interface {
		Origin() (value any, calls []uintptr)
	}); ok { // caught in another goroutine, and raised again in this one
		f.Value, f.calls = carried.Origin()
	} else {
		calls := make([]uintptr, maxCalls)
		f.calls = calls[:runtime.Callers(2, calls)] // without Callers and Catch
	}
	*err = f
}

// maxCalls is the largest number of calls that are kept. An endless recursion has more.
const maxCalls = 100

// Error returns one line: during what it happened, that it is a fault of the program, and
// its place in the program.
func (f *Fault) Error() string {
	text := fmt.Sprintf("this is a fault of wane, please report: %s",
		strings.Join(strings.Fields(fmt.Sprint(f.Value)), " "))
	if at := f.Place(); at != "" {
		text += ", at " + at
	}
	if f.About != "" {
		text = f.About + ": " + text
	}
	return text
}

// Place returns the file and line of the program's own code that panicked, such as
// study/intake/dialect_cell.go:12, or "" if none of its own code was running.
func (f *Fault) Place() string {
	frames := runtime.CallersFrames(f.calls)
	for {
		frame, more := frames.Next()
		if at := ownPlace(frame); at != "" {
			return at
		}
		if !more {
			return ""
		}
	}
}

// ownPlace returns the file and line of a call in this module, else "".
func ownPlace(frame runtime.Frame) string {
	own, ok := strings.CutPrefix(frame.Function, "wane/")
	if !ok {
		return ""
	}
	folder, name := path.Split(own) // study/intake. and the function
	folder += name[:strings.IndexByte(name+".", '.')]
	return fmt.Sprintf("%s/%s:%d", folder, path.Base(frame.File), frame.Line)
}

// Trace lists the calls that led to the panic, the last one first: the function, and its
// file and line below it. It holds nothing of the data.
func (f *Fault) Trace() string {
	var b strings.Builder
	frames := runtime.CallersFrames(f.calls)
	for {
		frame, more := frames.Next()
		fmt.Fprintf(&b, "%s\n\t%s:%d\n", frame.Function, frame.File, frame.Line)
		if !more {
			return b.String()
		}
	}
}
