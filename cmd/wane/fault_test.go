package main

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"testing"

	"github.com/spf13/cobra"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/desk"
)

// broken runs a command that panics, or fails with err if it is not nil.
func broken(t *testing.T, err error) (code int, stdout, stderr string) {
	root := newRootCommand()
	root.AddCommand(&cobra.Command{Use: "break", RunE: func(cmd *cobra.Command, args []string) error {
		fmt.Fprintln(cmd.OutOrStdout(), "half a table")
		if err == nil {
			err = fmt.Errorf("of %s", args[7])
		}
		return err
	}})
	var out, errs bytes.Buffer
	code = execute(context.Background(), root, []string{"break", "G07.csv"}, &out, &errs)
	return code, out.String(), errs.String()
}

var saysFault = regexp.MustCompile(`^wane: wane break: this is a fault of wane, please report: ` +
	`runtime error: index out of range \[7\] with length 1, at cmd/wane/fault_test\.go:\d+\n` +
	`  try: report it to whoever gave you wane, with the file (\S+wane-fault-\d+\.txt), ` +
	`which says where in wane it happened\n$`)

// A panic in a command is said in two lines, with exit code 1 and nothing on stdout; the
// calls that led to it are in a file for a person to report.
func TestAPanicIsSaidAsAFault(t *testing.T) {
	t.Setenv("TMPDIR", t.TempDir())
	code, stdout, stderr := broken(t, nil)
	assert.Equal(t, exitRefused, code)
	assert.Empty(t, stdout)
	said := saysFault.FindStringSubmatch(stderr)
	require.NotNil(t, said, stderr)
	report, err := os.ReadFile(said[1])
	require.NoError(t, err)
	assert.Contains(t, string(report), desk.Software())
	assert.Contains(t, string(report), "wane break: this is a fault of wane, please report: runtime error")
	assert.Regexp(t, `wane/cmd/wane\.broken\.func1\n\t\S*fault_test\.go:\d+\n`, string(report))
}

// The faults of several exports are in one file; where none can be written, they are said.
func TestFaultsOfSeveralExportsAreReportedTogether(t *testing.T) {
	dir := t.TempDir()
	t.Setenv("TMPDIR", dir)
	fault := func(about string) (err error) {
		defer study.Catch(about, &err)
		panic("made up")
	}
	all := &several{[]error{fault("a.csv"),
		&study.Refusal{File: "b.csv", Fault: "the file is empty", Try: "export it again"}, fault("c.csv")}}
	code, _, stderr := broken(t, all)
	assert.Equal(t, exitRefused, code)
	assert.Contains(t, stderr, "wane: b.csv: the file is empty\n  try: export it again\n")
	reports, err := filepath.Glob(filepath.Join(dir, "wane-fault-*.txt"))
	require.NoError(t, err)
	require.Len(t, reports, 1)
	report, err := os.ReadFile(reports[0])
	require.NoError(t, err)
	assert.Regexp(t, `(?s)\na\.csv: this is a fault.*\nc\.csv: this is a fault`, string(report))

	t.Setenv("TMPDIR", filepath.Join(dir, "none"))
	_, _, stderr = broken(t, fault("a.csv"))
	assert.Regexp(t,
		`(?s)  try: report it to whoever gave you wane, with these lines:\nwane.*\na\.csv: this is a fault.*fault_test\.go`,
		stderr)
}

// The study is closed, so that it is one file, also when a command panics.
func TestAPanicLeavesTheStudyClosed(t *testing.T) {
	t.Setenv("TMPDIR", t.TempDir())
	path := filepath.Join(t.TempDir(), "s.wane")
	var out, errs bytes.Buffer
	require.Equal(t, exitDone, run(context.Background(), []string{"new", path}, &out, &errs), errs.String())
	root := newRootCommand()
	root.AddCommand(&cobra.Command{Use: "break", RunE: func(cmd *cobra.Command, args []string) error {
		return (&studyOptions{file: path}).with(cmd.Context(), func(*desk.Desk) error { panic("made up") })
	}})
	assert.Equal(t, exitRefused, execute(context.Background(), root, []string{"break"}, &out, &errs))
	assert.Contains(t, errs.String(), "wane break: this is a fault of wane, please report: made up")
	beside, err := filepath.Glob(path + "-*")
	require.NoError(t, err)
	assert.Empty(t, beside)
}
