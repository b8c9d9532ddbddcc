package main

import (
	"errors"
	"fmt"
	"os"
	"os/exec"
	"strings"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
)

// With few files that may be open a command does its work or says in two lines that there
// are too few; the runtime does not end it, and nothing on stdout is half a table. Below 8 files nothing of ours runs yet:
// a library asks for random numbers when the program starts, for which the runtime opens files.
func TestFewFilesAreSaid(t *testing.T) {
	smallStudy(t)
	binary, err := os.Executable()
	require.NoError(t, err)
	require.NoError(t, os.Symlink(binary, "wane"))
	done, short := 0, 0
	for _, line := range []string{"fit --workers 1", "fit --workers 6", "verify --workers 4", "results", "help"} {
		for files := 8; files < 60; files += 1 + files/16 {
			said, out := &strings.Builder{}, &strings.Builder{}
			child := exec.Command("/bin/sh", "-c", fmt.Sprintf("ulimit -n %d && exec ./wane %s", files, line))
			child.Stderr, child.Stdout, child.Env = said, out, append(os.Environ(), "WANE_STUDY=s.wane")
			err := child.Run()
			about := fmt.Sprintf("%s with %d files: %v: %s", line, files, err, said)
			if err == nil {
				done++
				assert.NotEmpty(t, out.String(), about)
				continue
			}
			var exit *exec.ExitError
			require.True(t, errors.As(err, &exit), about)
			assert.Equal(t, exitRefused, exit.ExitCode(), about)
			assert.Empty(t, out.String(), about)
			assert.Equal(t, 2, strings.Count(said.String(), "\n"), about)
			assert.Contains(t, said.String(), "  try: "+study.TryFiles+"\n", about)
			short++
		}
	}
	assert.Positive(t, done)
	assert.Positive(t, short)
}

// What could not be opened for lack of files is to be tried with more, whatever it was.
func TestTooManyFilesHaveTheirRemedy(t *testing.T) {
	for _, errno := range []error{syscall.EMFILE, syscall.ENFILE} {
		var said strings.Builder
		err := &study.Refusal{File: "a.csv", Fault: "this file cannot be read", Try: "check the rights", Cause: errno}
		assert.Equal(t, exitRefused, say(&said, err, ""))
		assert.Contains(t, said.String(), "  try: "+study.TryFiles+"\n")
	}
}
