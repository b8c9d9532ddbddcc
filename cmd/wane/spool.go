package main

import (
	"bytes"
	"errors"
	"io"
	"os"

	"wane/study"
)

// spool keeps what a command prints until it has succeeded, so that a refused
// command writes nothing to stdout: in memory up to spoolMemory, beyond that in a
// temporary file.
type spool struct {
	memory bytes.Buffer
	file   *os.File
}

const spoolMemory = 16 << 20

func (s *spool) Write(p []byte) (int, error) {
	n, err := s.write(p)
	if err != nil {
		err = &study.Refusal{File: os.TempDir(), Fault: "could not keep the output until the command has succeeded", Try: "make room there, or set TMPDIR to another folder", Cause: err}
	}
	return n, err
}

func (s *spool) write(p []byte) (int, error) {
	if s.file == nil && s.memory.Len()+len(p) > spoolMemory {
		f, err := os.CreateTemp("", "wane-*.out")
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

// release writes all to w.
func (s *spool) release(w io.Writer) error {
	var from io.Reader = &s.memory
	if s.file != nil {
		if _, err := s.file.Seek(0, io.SeekStart); err != nil {
			return err
		}
		from = s.file
	}
	if _, err := io.Copy(w, from); err != nil {
		return &study.Refusal{Fault: "could not write the output", Try: "check where it goes: a full disk, or a program that reads no more", Cause: err}
	}
	return nil
}

// close removes the temporary file.
func (s *spool) close() error {
	if s.file == nil {
		return nil
	}
	return errors.Join(s.file.Close(), os.Remove(s.file.Name()))
}
