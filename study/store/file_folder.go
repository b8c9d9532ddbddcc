package store

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"

	"wane/study"
)

// folderTail ends the name of a folder in the making, beside the file that holds its place.
const folderTail = "-folder"

// ReplaceFolder lets fill make the content of a folder under a temporary name beside the folder named, and then
// gives it its name, in the place of a folder that may be there, which is removed: a reader sees the one that
// was there before or this one. The caller has looked at what is there. The folder gets the permissions of
// mode. After an error nothing has changed.
func ReplaceFolder(named string, mode fs.FileMode, fill func(folder string) error) error {
	if err := checkFolder(filepath.Clean(named)); err != nil {
		return err
	}
	path, err := filepath.Abs(named)
	if err != nil {
		return err
	}
	if target, err := filepath.EvalSymlinks(path); err == nil {
		path = target
	}
	if here, err := os.Getwd(); err == nil && here == path {
		return &study.Refusal{File: ".", Fault: "the folder in which you are cannot be replaced",
			Try: "name a folder in it, or go to the one above"}
	}
	Sweep(filepath.Dir(path))
	f, err := newPartial(path, 0o600)
	if err != nil {
		return cannotMake(named, named, err)
	}
	temporary := f.Name()
	folder := temporary + folderTail
	if err = os.Mkdir(folder, mode|0o700); err == nil {
		err = fill(folder)
	}
	if err == nil {
		_ = os.Chmod(folder, mode) // what the system took off, as in createByRename
		err = exchange(folder, path)
	}
	if err == nil {
		err = flushFolder(path)
	}
	removePartial(temporary)
	return cannotMake(named, folder, firstError(err, f.Close()))
}

// exchange gives the folder made the name path; what has that name gets the one of made.
func exchange(made, path string) error {
	if _, err := os.Lstat(path); errors.Is(err, fs.ErrNotExist) {
		return os.Rename(made, path)
	}
	return exchangeNames(made, path)
}

// exchangeByRename exchanges the names of two folders where the system cannot do it at once.
func exchangeByRename(a, b string) error {
	between := a + "-old"
	if err := os.Rename(b, between); err != nil {
		return err
	}
	if err := os.Rename(a, b); err != nil {
		return errors.Join(err, os.Rename(between, b))
	}
	return os.Rename(between, a)
}
