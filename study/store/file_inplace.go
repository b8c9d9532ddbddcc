package store

import (
	"errors"
	"io/fs"
	"os"

	"wane/study"
)

// opened is a file as it was when the study was opened.
type opened struct {
	path string // absolute
	info fs.FileInfo
}

func openedAs(path string) (opened, error) {
	info, err := os.Stat(path)
	return opened{path, info}, err
}

// inPlace refuses if the path does not lead to the file any more. One that is not noted yet
// is in place.
func (o opened) inPlace() error {
	if o.info == nil {
		return nil
	}
	now, err := os.Stat(o.path)
	switch {
	case err != nil:
		return &study.Failure{
			Fault: "the study is not where it was opened: it was moved, renamed or removed while the command ran, " +
				"and what the command wrote is not under this name",
			Try: "stop what moves files here (a program that synchronises folders does), put the study back, " +
				"verify it, and run the command again",
			Cause: err,
		}
	case !os.SameFile(now, o.info):
		return &study.Failure{
			Fault: "another file has taken the place of the study while the command ran, " +
				"and what the command wrote is not in it",
			Try: "stop what replaces files here (a program that synchronises folders does), see with `wane log` " +
				"what this file contains, and run the command again",
		}
	}
	return nil
}

// InPlace fails if the study is not the file any more that was opened.
func (s *Store) InPlace() error { return s.about(s.main.inPlace()) }

// inPlace refuses if the study, or its -wal file, is not the file any more that was opened:
// what is written goes then into a file without a name. It refuses too if the -wal file was cut off.
func (s *Store) inPlace() error {
	if err := s.main.inPlace(); err != nil {
		return s.about(err)
	}
	if err := s.log.inPlace(); err != nil {
		return &study.Failure{
			File: s.path,
			Fault: "its -wal file was moved, removed or replaced while the command ran: " +
				"what was written last may be lost",
			Try: "stop what moves files here (a program that synchronises folders does), see with `wane log` " +
				"what the study contains, and run the command again",
		}
	}
	return s.logNotCut()
}

// logNotCut refuses if the -wal file is shorter than this process has seen it: another program has cut it
// off. SQLite does not notice; it writes the next commit behind the gap. While a study is open, SQLite
// shortens this file only if it is asked to, and wane does not ask it to.
func (s *Store) logNotCut() error {
	if s.log.info == nil {
		return nil
	}
	now, err := os.Stat(s.log.path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil // see inPlace
	}
	if err != nil || now.Size() >= s.logSize.Load() {
		return err
	}
	return &study.Failure{
		File: s.path,
		Fault: "another program has cut off its -wal file while the command ran: " +
			"what was written last may be lost",
		Try: "stop what changes files here (a program that synchronises folders does), see with `wane verify` " +
			"whether the study is sound; if it is, run the command again, else go on with the last backup",
	}
}

// noteLogSize notes how long the -wal file is after a commit.
func (s *Store) noteLogSize() error {
	if s.log.info == nil {
		return nil
	}
	now, err := os.Stat(s.log.path)
	if err == nil {
		s.logSize.Store(now.Size())
	}
	return err
}

// causeIfMoved returns, in the place of an error of SQLite, that the study is not where it was
// opened, if that is so: it is the cause.
func (s *Store) causeIfMoved(err error) error {
	if resultCode(err) == 0 {
		return err
	}
	return firstError(s.inPlace(), err)
}

// about puts the path of the study into a failure that names none.
func (s *Store) about(err error) error {
	if f, ok := err.(*study.Failure); ok && f.File == "" {
		return (*study.Failure)((*study.Refusal)(f).At(s.path, 0))
	}
	return err
}
