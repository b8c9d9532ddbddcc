package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"syscall"

	pretty "github.com/jedib0t/go-pretty/v6/text"

	"wane/study"
	"wane/study/desk"
)

// Exit codes.
const (
	exitDone    = 0 // flags or not
	exitRefused = 1 // refused or failed
	exitUsage   = 2 // wrong usage
)

// The voice of messages: they go to stderr, as two lines. The first begins with
// "wane: " and says place and fault, in lower case without a full stop; the
// second begins with "  try: " and says what the person can do.

// usageError is a command line that cannot be carried out as it was written.
type usageError struct {
	fault error
	try   string
}

func (e *usageError) Error() string { return e.fault.Error() }

// Unwrap returns the fault, which may wrap its cause.
func (e *usageError) Unwrap() error { return e.fault }

// usagef makes a usage error of what to try and a fault, whose format may have %w.
func usagef(try, format string, args ...any) error {
	return &usageError{fmt.Errorf(format, args...), try}
}

// printLine prints one line, in which names and texts of others neither hide something
// nor begin another line.
func printLine(w io.Writer, format string, args ...any) error {
	_, err := fmt.Fprintln(w, study.OneLine(fmt.Sprintf(format, args...)))
	return err
}

// printNotes prints notes, each once.
func printNotes(w io.Writer, notes []string) error {
	printed := map[string]bool{}
	for _, n := range notes {
		if printed[n] {
			continue
		}
		printed[n] = true
		if err := printLine(w, "note %s", n); err != nil {
			return err
		}
	}
	return nil
}

// say prints err, if any, and returns the exit code. traces is where the calls that led to
// faults of the program are to be found, or what they are.
func say(stderr io.Writer, err error, traces string) int {
	if err == nil {
		return exitDone
	}
	if errors.Is(err, errReaderGone) {
		return exitDone
	}
	var many *several
	if errors.As(err, &many) {
		for _, e := range many.errs {
			say(stderr, e, traces)
		}
		return exitRefused
	}
	var all study.Refusals
	if errors.As(err, &all) {
		for _, r := range all {
			say(stderr, r, traces)
		}
		return exitRefused
	}
	var usage *usageError
	var asked *desk.UsageError
	var refusal *study.Refusal
	var fault *study.Fault
	var failure *study.Failure
	code, try := exitRefused, "run the command with --help for what it expects"
	switch {
	case errors.As(err, &usage):
		code, try = exitUsage, usage.try
	case errors.As(err, &asked):
		code, try = exitUsage, asked.Try
	case errors.As(err, &fault): // before a refusal, which may stand beside it
		try = "report it to whoever gave you wane, with " + traces
	case errors.Is(err, syscall.EMFILE), errors.Is(err, syscall.ENFILE): // whatever could not be opened
		try = study.TryFiles
	case errors.As(err, &refusal):
		try = refusal.Try
	case errors.As(err, &failure):
		try = failure.Try
	case errors.Is(err, context.Canceled):
		err, try = errors.New("stopped before the end"), "run it again: what was finished is kept"
	}
	if fault == nil { // the traces of one may be lines
		try = study.OneLine(try)
	}
	name := "wane:"
	if screenOf(stderr).colour {
		name = painted(name, pretty.FgRed)
	}
	fmt.Fprintf(stderr, "%s %s\n  try: %s\n", name, study.OneLine(err.Error()), try)
	return code
}

// several is a list of refusals, each printed in its two lines.
type several struct{ errs []error }

func (s *several) Error() string { return fmt.Sprintf("%d refused", len(s.errs)) }
