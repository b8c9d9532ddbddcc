//go:build unix

package main

import (
	"errors"
	"fmt"
	"os"
	"syscall"

	"wane/study"
)

// leastFiles is how many files a command must be able to open: a study, its -wal file and
// the exports that are read at once. More workers need more.
const leastFiles = 32

// openFiles makes sure that files can be opened, before anything else is done, and starts
// what the runtime waits for files with. Without files left, the runtime ends the process
// when it starts that later, and nothing can be said. (The runtime has raised the soft limit
// to the hard one: source of package os, file rlimit.go of package syscall.)
func openFiles() error {
	if err := tryFiles(leastFiles); err != nil {
		return err
	}
	r, w, err := os.Pipe()
	if err != nil {
		return fewFiles(err)
	}
	return errors.Join(r.Close(), w.Close())
}

// tryFiles opens so many files, and closes them. It goes round the runtime.
func tryFiles(n int) (err error) {
	var open []int
	defer func() {
		for _, f := range open {
			err = errors.Join(err, syscall.Close(f))
		}
	}()
	for len(open) < n {
		var pipe [2]int
		if err := syscall.Pipe(pipe[:]); err != nil {
			return fewFiles(err)
		}
		open = append(open, pipe[:]...)
	}
	return nil
}

func fewFiles(cause error) error {
	return &study.Refusal{
		Fault: fmt.Sprintf("wane must open %d files at once, or more with many workers, and may not", leastFiles),
		Try:   study.TryFiles,
		Cause: cause,
	}
}
