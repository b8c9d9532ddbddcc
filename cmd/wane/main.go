// Command wane keeps a coupon-ageing study of coated solar glass.
//
// main only wires the streams and the exit code; each command has a file of its
// own, which parses and prints and computes nothing.
package main

import (
	"context"
	"io"
	"os"
	"os/signal"
	"runtime/debug"
	"syscall"

	"github.com/spf13/cobra"

	"wane/study"
)

// mostGarbage is the memory in bytes up to which garbage may lie about: a command
// that holds an export of 100 MB then stays below 200 MB.
const mostGarbage = 160 << 20

func main() {
	if os.Getenv("GOMEMLIMIT") == "" {
		debug.SetMemoryLimit(mostGarbage)
	}
	signal.Ignore(syscall.SIGPIPE) // a reader that has seen enough: finish cleanly
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	code := run(ctx, os.Args[1:], os.Stdout, os.Stderr)
	stop()
	os.Exit(code)
}

// run executes one command line and returns its exit code. What the command prints
// reaches stdout only if it succeeds.
func run(ctx context.Context, args []string, stdout, stderr io.Writer) int {
	return execute(ctx, newRootCommand(), args, stdout, stderr)
}

func execute(ctx context.Context, root *cobra.Command, args []string, stdout, stderr io.Writer) int {
	out := &spool{}
	root.SetArgs(args)
	root.SetOut(out)
	root.SetErr(stderr)
	err := carryOut(ctx, root, args)
	if err == nil {
		err = out.release(stdout)
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
