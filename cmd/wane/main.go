// Command wane keeps a coupon-ageing study of coated solar glass.
//
// main only wires the streams and the exit code; each command has a file of its
// own, which parses and prints and computes nothing.
package main

import (
	"context"
	"io"
	"math"
	"os"
	"os/signal"
	"runtime/debug"
	"syscall"

	"github.com/spf13/cobra"

	"wane/study"
)

// mostGarbage is the memory in bytes up to which garbage may lie about: a command
// that holds an export of 100 MB then stays below 200 MB.
const mostGarbage = 128 << 20

func main() {
	limitMemory(mostGarbage)
	if err := openFiles(); err != nil {
		os.Exit(say(os.Stderr, err, ""))
	}
	signal.Ignore(syscall.SIGPIPE) // a reader that has seen enough: finish cleanly
	ctx, stop := signal.NotifyContext(context.Background(), endings()...)
	context.AfterFunc(ctx, stop) // a second one ends the process at once
	code := run(ctx, os.Args[1:], os.Stdout, os.Stderr)
	stop()
	os.Exit(code)
}

// limitMemory sets the memory in bytes beyond which the collector works without end, unless the user has, and returns
// the limit that was there before.
func limitMemory(bytes int64) (before int64) {
	if os.Getenv("GOMEMLIMIT") != "" {
		return debug.SetMemoryLimit(-1)
	}
	return debug.SetMemoryLimit(bytes)
}

// holdWhole is for a command that holds a quantity of all coupons at once: what it holds may be more than mostGarbage,
// and then garbage may be as much again. It returns what puts the limit back.
func holdWhole() func() {
	before := limitMemory(math.MaxInt64)
	return func() { limitMemory(before) }
}

// endings are the signals at which a command finishes the unit that it is at and ends:
// Ctrl-C, the end of the machine or of a service, and the end of the session, which some
// programs ask their children to outlive.
func endings() []os.Signal {
	signals := []os.Signal{os.Interrupt, syscall.SIGTERM}
	if !signal.Ignored(syscall.SIGHUP) {
		signals = append(signals, syscall.SIGHUP)
	}
	return signals
}

// run executes one command line and returns its exit code. What the command prints
// reaches stdout only if it succeeds, or when the command lets it pass.
func run(ctx context.Context, args []string, stdout, stderr io.Writer) int {
	return execute(ctx, newRootCommand(), args, stdout, stderr)
}

func execute(ctx context.Context, root *cobra.Command, args []string, stdout, stderr io.Writer) int {
	out := &spool{to: &patient{ctx, stdout}, screen: screenOf(stdout)}
	root.SetArgs(args)
	root.SetOut(out)
	root.SetErr(stderr)
	err := carryOut(ctx, root, args)
	if err == nil {
		err = out.release()
	}
	if closing := out.close(); err == nil {
		err = closing
	}
	return say(stderr, err, keepTraces(err))
}

// carryOut runs a command line. A panic that nothing else has caught becomes an error
// here, which names the command.
func carryOut(ctx context.Context, root *cobra.Command, args []string) (err error) {
	about := root.Name()
	if cmd, _, err := root.Find(args); err == nil {
		about = cmd.CommandPath()
	}
	defer study.Catch(about, &err)
	return root.ExecuteContext(ctx)
}
