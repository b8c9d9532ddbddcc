package store

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	sqlite3 "modernc.org/sqlite/lib"

	"wane/study"
)

// OpenToRead opens the study at path for reading, also one that cannot be written, or in
// a folder that cannot. There, a study that was not closed or is of an older version is
// read in a temporary copy, with its write-ahead log.
func OpenToRead(ctx context.Context, path string) (*Store, error) {
	return openReader(ctx, path, false)
}

// OpenToTry is OpenToRead for what is written and then undone: a study that cannot be
// written is opened in a temporary copy.
func OpenToTry(ctx context.Context, path string) (*Store, error) {
	return openReader(ctx, path, true)
}

// OpenUntouched is OpenToRead that changes nothing of the file, even where it may: a study that is open, was not closed or
// is of an older version is read in a temporary copy.
func OpenUntouched(ctx context.Context, path string) (*Store, error) {
	if err := checkStudyFile(path); err != nil {
		return nil, err
	}
	s, err := openAsItIs(ctx, path, false)
	if err != nil {
		return nil, refuse(path, err)
	}
	s.reading = true
	return s, nil
}

// IsAt reports whether the study is the file at path.
func (s *Store) IsAt(path string) bool {
	own, err := os.Stat(s.path)
	other, wrong := os.Stat(path)
	return err == nil && wrong == nil && os.SameFile(own, other)
}

func openReader(ctx context.Context, path string, try bool) (*Store, error) {
	if err := checkStudyFile(path); err != nil {
		return nil, err
	}
	s, err := openAsAllowed(ctx, path, try)
	if err != nil {
		return nil, refuse(path, err)
	}
	s.reading = !try
	if n, err := namesOf(path); err == nil && n > 1 {
		s.notes = append(s.notes, fmt.Sprintf("%s has %d names (hard links); "+
			"it can be read, but is not written as long as it has", path, n))
	}
	return s, nil
}

func openAsAllowed(ctx context.Context, path string, try bool) (*Store, error) {
	if writable(path) == nil {
		s, err := open(ctx, path, true)
		if code := resultCode(err) & 0xff; code != sqlite3.SQLITE_READONLY && code != sqlite3.SQLITE_CANTOPEN {
			return s, err
		}
	}
	return openAsItIs(ctx, path, try)
}

// openAsItIs opens a study that is not to be written where it is.
func openAsItIs(ctx context.Context, path string, try bool) (*Store, error) {
	file, err := located(path)
	if err != nil {
		return nil, err
	}
	closed, err := isClosed(ctx, file)
	switch {
	case err != nil:
		return nil, withPath(refuse(file, err), file, path)
	case try || !closed:
		s, err := openCopy(ctx, path, file)
		return s, withPath(refuse(file, err), file, path)
	}
	return openFrozen(ctx, path)
}

// isClosed reports whether the main file alone is the study, of the newest version.
func isClosed(ctx context.Context, path string) (bool, error) {
	for _, beside := range []string{walName(path), path + "-journal"} {
		info, err := os.Stat(beside)
		if err == nil && info.Size() > 0 {
			return false, nil
		}
		if err != nil && !errors.Is(err, fs.ErrNotExist) {
			return false, err
		}
	}
	if err := whileChanging(ctx, path, func() error { return lostWAL(ctx, path) }); err != nil {
		return false, err
	}
	s, err := connect(path, modeFrozen)
	if err != nil {
		return false, err
	}
	version, err := s.recognise(ctx)
	return version == len(migrations), firstError(err, s.disconnect())
}

// openFrozen opens a closed study, which is read without locks: nothing can be left
// beside it. If another computer writes it meanwhile, what was read is refused.
func openFrozen(ctx context.Context, path string) (*Store, error) {
	s, err := connect(path, modeFrozen)
	if err != nil {
		return nil, err
	}
	if err := s.load(ctx); err != nil {
		return nil, firstError(err, s.disconnect())
	}
	return s, nil
}

// asItWas refuses if the file was written since it was opened.
func (s *Store) asItWas() error {
	now, err := openedAs(s.main.path)
	if err == nil && now.stamp() == s.main.stamp() && os.SameFile(now.info, s.main.info) {
		return nil
	}
	return &study.Failure{Fault: "the study was changed while it was read", Try: "run the command again", Cause: err}
}

// stamp is another one when the file was written.
func (o opened) stamp() [2]int64 { return [2]int64{o.info.Size(), o.info.ModTime().UnixNano()} }

// openCopy opens a temporary copy of the study, which is located at file, and of its log.
func openCopy(ctx context.Context, path, file string) (*Store, error) {
	found, err := inspectWAL(file)
	if err != nil {
		return nil, err
	}
	if found.damaged {
		return nil, damagedWAL(file, found)
	}
	room, err := newScratch()
	if err != nil {
		return nil, noCopy(err)
	}
	copied := filepath.Join(room.folder, filepath.Base(file))
	var s *Store
	if err = copyStudy(file, copied); err == nil {
		s, err = open(ctx, copied, true)
	}
	if err != nil {
		return nil, errors.Join(withPath(refuse(copied, err), copied, file), room.remove())
	}
	s.path, s.scratch = path, room
	s.notes = append([]string{fmt.Sprintf("%s cannot be written: a temporary copy is read", path)}, s.notes...)
	return s, nil
}

func noCopy(err error) error {
	return &study.Failure{
		File:  os.TempDir(),
		Fault: "no temporary copy of the study can be made",
		Try:   "make room there, or set TMPDIR to another folder",
		Cause: err,
	}
}

// copyStudy copies a study and what is beside it, as they are at one moment.
func copyStudy(from, to string) error {
	const tries = 5
	for range tries {
		before, err := openedAs(from)
		if err != nil {
			return err
		}
		for _, tail := range []string{"", "-journal", "-wal"} {
			if err := copyFile(from+tail, to+tail); err != nil {
				return err
			}
		}
		after, err := openedAs(from)
		if err != nil {
			return err
		}
		if before.stamp() == after.stamp() && os.SameFile(before.info, after.info) {
			return nil
		}
		pause()
	}
	return &study.Failure{
		File:  from,
		Fault: "another process writes the study, and it could not be copied meanwhile",
		Try:   tryWait,
	}
}

// copyFile copies a file. One that is not there is not made.
func copyFile(from, to string) error {
	in, err := os.Open(from)
	if errors.Is(err, fs.ErrNotExist) {
		if err := os.Remove(to); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return err
		}
		return nil
	}
	if err != nil {
		return err
	}
	defer in.Close() // it was only read
	out, err := os.OpenFile(to, os.O_WRONLY|os.O_CREATE|os.O_TRUNC, 0o600)
	if err != nil {
		return noCopy(err)
	}
	_, err = io.Copy(out, in)
	if err := firstError(err, out.Close()); err != nil {
		return noCopy(err)
	}
	return nil
}
