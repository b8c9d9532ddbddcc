package main

import (
	"bytes"
	"context"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"syscall"

	"wane/study"
)

// spool keeps what a command prints until it has succeeded, so that a refused
// command writes nothing to stdout: in memory up to spoolMemory, beyond that in a
// temporary file. A command that prints much, and has made sure beforehand that it can,
// lets it pass.
type spool struct {
	to      io.Writer // stdout
	screen            // behind stdout
	passing bool      // what is written goes straight to stdout
	memory  bytes.Buffer
	file    *os.File
}

const spoolMemory = 16 << 20

func (s *spool) Write(p []byte) (int, error) {
	if s.passing {
		n, err := s.to.Write(p)
		return n, unwritten(err)
	}
	n, err := s.write(p)
	if err != nil {
		err = &study.Refusal{File: os.TempDir(), Fault: "could not keep the output until the command has succeeded",
			Try: "make room there, or set TMPDIR to another folder", Cause: err}
	}
	return n, err
}

func (s *spool) write(p []byte) (int, error) {
	if s.file == nil && s.memory.Len()+len(p) > spoolMemory {
		f, err := newSpoolFile()
		if err != nil {
			return 0, err
		}
		s.file = f
		if _, err := s.memory.WriteTo(f); err != nil {
			return 0, err
		}
	}
	if s.file != nil {
		return s.file.Write(p)
	}
	return s.memory.Write(p)
}

// letPass writes what is kept, and from then on what comes, straight to stdout.
func letPass(w io.Writer) error {
	s, ok := w.(*spool)
	if !ok || s.passing {
		return nil
	}
	s.passing = true
	return s.release()
}

// release writes all that is kept to stdout.
func (s *spool) release() error {
	var from io.Reader = &s.memory
	if s.file != nil {
		if _, err := s.file.Seek(0, io.SeekStart); err != nil {
			return err
		}
		from = s.file
	}
	_, err := io.Copy(s.to, from)
	return unwritten(err)
}

// errReaderGone says that the program behind stdout reads no more, as head does once it has
// enough: the command is done.
var errReaderGone = errors.New("nobody reads the output any more")

// unwritten says in our words why stdout takes no more.
func unwritten(err error) error {
	switch {
	case err == nil, errors.Is(err, context.Canceled):
		return err
	case errors.Is(err, syscall.EPIPE):
		return errReaderGone
	}
	return &study.Refusal{Fault: "could not write the output",
		Try: "check where the output goes: is the disk full?", Cause: err}
}

// close removes the temporary file.
func (s *spool) close() error {
	if s.file == nil {
		return nil
	}
	return errors.Join(s.file.Close(), removed(s.file.Name()))
}

// removed removes a file that need not be there any more.
func removed(path string) error {
	if err := os.Remove(path); !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	return nil
}

var spoolName = regexp.MustCompile(`^wane-[0-9]+\.out$`)

// newSpoolFile makes a temporary file. Where the system allows it, its name is gone at
// once, so that a process that is killed leaves nothing; and what earlier ones left is
// removed.
func newSpoolFile() (*os.File, error) {
	sweepSpools(os.TempDir())
	f, err := os.CreateTemp("", "wane-*.out")
	if err != nil {
		return nil, err
	}
	if nameMayGo {
		err = removed(f.Name())
	}
	if err != nil {
		return nil, errors.Join(err, f.Close())
	}
	return f, nil
}

// sweepSpools removes the temporary files that killed processes of this user left. One that
// is in use loses its name and nothing else, or cannot be removed.
func sweepSpools(folder string) {
	entries, err := os.ReadDir(folder)
	if err != nil {
		return
	}
	for _, e := range entries {
		if !spoolName.MatchString(e.Name()) || !e.Type().IsRegular() {
			continue
		}
		if info, err := e.Info(); err == nil && info.Mode().Perm() == ownSpool && isOwn(info) {
			os.Remove(filepath.Join(folder, e.Name())) // it stays where it is in use
		}
	}
}

// patient writes to w until ctx is done: a pipe that nobody reads would be waited for
// without an end.
type patient struct {
	ctx context.Context
	w   io.Writer
}

func (p *patient) Write(b []byte) (int, error) {
	type outcome struct {
		n   int
		err error
	}
	done := make(chan outcome, 1)
	go func() {
		n, err := p.w.Write(b)
		done <- outcome{n, err}
	}()
	select {
	case o := <-done:
		return o.n, o.err
	case <-p.ctx.Done():
		return 0, p.ctx.Err()
	}
}
