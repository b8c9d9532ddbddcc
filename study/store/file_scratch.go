package store

import (
	"errors"
	"os"
	"path/filepath"
)

// scratch is a folder for a temporary copy. Its process holds a lock on a file in it, so
// that the folder of one that was killed can be recognised and removed.
type scratch struct {
	folder string
	held   *os.File
}

const (
	scratchName = "wane-study-"
	scratchHeld = ".held"
)

// newScratch makes a folder, and removes those that killed processes left.
func newScratch() (*scratch, error) {
	sweepScratch(os.TempDir())
	for {
		folder, err := os.MkdirTemp("", scratchName)
		if err != nil {
			return nil, err
		}
		f, err := os.OpenFile(filepath.Join(folder, scratchHeld), os.O_RDWR|os.O_CREATE|os.O_EXCL, 0o600)
		if err != nil {
			return nil, errors.Join(err, os.RemoveAll(folder))
		}
		s := &scratch{folder, f}
		// Where the system knows no locks, nothing is swept.
		if held := lockFile(f); held != errInUse && keepsItsName(f) {
			return s, nil
		}
		// Somebody who sweeps has just taken it for one that was left.
		if err := s.remove(); err != nil {
			return nil, err
		}
	}
}

// remove removes the folder.
func (s *scratch) remove() error { return errors.Join(s.held.Close(), os.RemoveAll(s.folder)) }

// sweepScratch removes the folders that no process holds. What cannot be recognised or removed
// stays.
func sweepScratch(in string) {
	folders, err := filepath.Glob(quotedGlob(in) + "/" + scratchName + "*")
	if err != nil {
		return
	}
	for _, folder := range folders {
		f, err := os.OpenFile(filepath.Join(folder, scratchHeld), os.O_RDWR, 0)
		if err != nil {
			continue
		}
		if lockFile(f) == nil {
			os.RemoveAll(folder)
		}
		f.Close()
	}
}
