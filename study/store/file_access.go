package store

import (
	"errors"
	"io/fs"
	"os"
	"os/user"
	"path/filepath"
	"syscall"

	sqlite3 "modernc.org/sqlite/lib"

	"wane/study"
)

// refuseAccess says why a file of the study at path could not be opened or looked at; nil if
// err is of something else.
func refuseAccess(path string, err error) *study.Failure {
	if resultCode(err)&0xff == sqlite3.SQLITE_CANTOPEN {
		return cannotOpen(path)
	}
	var at *fs.PathError
	if errors.As(err, &at) {
		path = at.Path
	}
	return withoutAccess(path, err)
}

func tooManyFiles(err error) bool {
	return errors.Is(err, syscall.EMFILE) || errors.Is(err, syscall.ENFILE)
}

// withoutAccess is the failure of a file, as the system reports it. A file that may be read
// is one that may not be written.
func withoutAccess(name string, err error) *study.Failure {
	switch {
	case tooManyFiles(err):
		return &study.Failure{File: name, Fault: "this file cannot be opened", Try: study.TryFiles, Cause: err}
	case errors.Is(err, fs.ErrNotExist):
		return &study.Failure{File: name,
			Fault: "this file is not there any more: it was moved, renamed or removed meanwhile",
			Try:   "put it back, and run the command again"}
	case errors.Is(err, fs.ErrPermission) && errors.Is(readable(name), fs.ErrPermission):
		return unreadable(name)
	case errors.Is(err, fs.ErrPermission), errors.Is(err, syscall.EROFS):
		return &study.Failure{File: name, Fault: "this cannot be written", Try: tryFolder, Cause: err}
	}
	return nil
}

// cannotOpen says why SQLite could not open the study at path, which it does not say.
func cannotOpen(path string) *study.Failure {
	file, err := located(path)
	if err != nil {
		return withoutAccess(path, err)
	}
	for _, name := range []string{file, walName(file), file + "-shm"} {
		err := readable(name)
		if err == nil || name != file && errors.Is(err, fs.ErrNotExist) {
			continue
		}
		return withoutAccess(name, err)
	}
	if mayWrite(filepath.Dir(file)) == nil { // nothing else is left that would keep it from that
		return &study.Failure{File: path, Fault: "the study cannot be opened: too many files are open", Try: study.TryFiles}
	}
	return nil
}

// readable says why this process may not read the file at path, nil if it may.
func readable(path string) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	return f.Close()
}

// unreadable is the failure of a file that this process may not read.
func unreadable(name string) *study.Failure {
	who := "by you"
	if u, err := user.Current(); err == nil {
		who = "by the user " + u.Username
	}
	return &study.Failure{File: name, Fault: "this file cannot be read " + who,
		Try: "run the command as the owner of the file, or ask the owner for the right to read it"}
}
