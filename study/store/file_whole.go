package store

import (
	"crypto/rand"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"runtime"
	"strings"
	"syscall"

	sqlite3 "modernc.org/sqlite/lib"

	"wane/study"
)

// A file in the making has a name of its own, which begins with a dot and ends in
// .partial, beside the one that it will get, and the process that makes it holds a lock on
// it. One that nobody holds was left by a process that was killed.

// tails are what SQLite puts behind the name of a file for what belongs to it.
var tails = []string{"", "-journal", "-wal", "-shm"}

// errInUse says that another process holds a file.
var errInUse = errors.New("the file is in use")

var partialName = regexp.MustCompile(`^\..*\.[A-Z2-7]{26}\.partial(-journal|-wal|-shm)?$`)

// mostOfName is how many bytes of a name are in that of the file in the making.
const mostOfName = 100

// createWhole lets write make a file under a temporary name in the folder of path, where an
// empty one waits, and then gives it its name, so that path is there whole or not at all. A
// path that exists is refused, and one beside which a file stands that SQLite would take for a
// part of it. The file gets the permissions of mode; 0 leaves them to the
// system.
func createWhole(path string, mode fs.FileMode, write func(temporary string) error) error {
	if err := checkFolder(path); err != nil {
		return err
	}
	if _, err := os.Lstat(path); err == nil {
		return refuseExisting(path)
	} else if !errors.Is(err, fs.ErrNotExist) {
		return refuse(path, err)
	}
	for _, tail := range tails[1:] {
		if _, err := os.Lstat(path + tail); err == nil {
			return refuseLeftover(path, path+tail)
		} else if !errors.Is(err, fs.ErrNotExist) {
			return refuse(path, err)
		}
	}
	return createByRename(path, mode, write, publish)
}

// Replace puts data into the file at path, whole or not at all: a reader sees the file
// that was there before or this one. What is there but is no file is refused; a link stays,
// and the file that it leads to is replaced. The file gets the permissions of mode; 0
// leaves them as they were, or to the system if it is new.
func Replace(path string, mode fs.FileMode, data []byte) error {
	target := path
	if info, err := os.Lstat(path); err == nil {
		if info.Mode()&fs.ModeSymlink != 0 {
			if target, err = filepath.EvalSymlinks(path); err == nil {
				info, err = os.Stat(target)
			}
		}
		if err != nil || !info.Mode().IsRegular() {
			return &study.Refusal{File: path, Fault: "this is there, and no file that can be replaced",
				Try: "choose another name", Cause: err}
		}
		if mode == 0 {
			mode = info.Mode()
		}
	}
	if err := checkFolder(target); err != nil {
		return err
	}
	write := func(temporary string) error { return os.WriteFile(temporary, data, 0) }
	return createByRename(target, mode, write, os.Rename)
}

// CreateUnsynced puts data into a new file at path, whole or not at all if the process is
// killed: one of many in a folder, which the caller has swept and where it says itself what
// is complete, so that this neither looks through the folder nor waits for the disk.
func CreateUnsynced(path string, mode fs.FileMode, data []byte) error {
	f, err := newPartial(path, mode)
	if err != nil {
		return cannotMake(path, path, err)
	}
	temporary := f.Name()
	_, err = f.Write(data)
	_ = f.Chmod(mode.Perm()) // what the system took off, as in createByRename
	if err == nil {
		err = publish(temporary, path)
	}
	removePartial(temporary)
	return cannotMake(path, temporary, firstError(err, f.Close()))
}

// checkFolder refuses a path in a folder that is not there.
func checkFolder(path string) error {
	if info, err := os.Stat(filepath.Dir(path)); err != nil || !info.IsDir() {
		return &study.Refusal{File: path, Fault: "there is no such folder", Try: "make the folder first, or choose another"}
	}
	return nil
}

// createByRename makes a file beside path by write and hands it to name. After an error
// nothing is left behind.
func createByRename(
	path string, mode fs.FileMode, write func(temporary string) error, name func(temporary, path string) error,
) error {
	Sweep(filepath.Dir(path))
	f, err := newPartial(path, mode)
	if err != nil {
		return cannotMake(path, path, err)
	}
	temporary := f.Name()
	err = write(temporary)
	if err == nil && mode != 0 {
		// What the system took off is put back. A file system that keeps no permissions
		// may refuse this, and has its own for all files.
		_ = f.Chmod(mode.Perm())
	}
	if err == nil {
		err = f.Sync()
	}
	if err == nil {
		err = name(temporary, path)
	}
	if err == nil {
		err = flushFolder(path)
	}
	removePartial(temporary)
	return cannotMake(path, temporary, firstError(err, f.Close())) // and with it the lock
}

// cannotMake says why there is no file at path, which err names by the name
// temporary.
func cannotMake(path, temporary string, err error) error {
	closed := errors.Is(err, syscall.EROFS) || errors.Is(err, fs.ErrPermission)
	if closed || resultCode(err)&0xff == sqlite3.SQLITE_CANTOPEN {
		return &study.Refusal{File: path, Fault: "no file can be made in this folder",
			Try: "choose a folder where you may write"}
	}
	return withPath(refuse(temporary, err), temporary, path)
}

// newPartial makes an empty file beside path and holds it.
func newPartial(path string, mode fs.FileMode) (*os.File, error) {
	folder, name := filepath.Split(path)
	name = strings.ToValidUTF8(name[:min(len(name), mostOfName)], "")
	for {
		perm := mode.Perm()
		if mode == 0 {
			perm = 0o644
		}
		temporary := filepath.Join(folder, "."+name+"."+rand.Text()+".partial")
		f, err := os.OpenFile(temporary, os.O_RDWR|os.O_CREATE|os.O_EXCL, perm|0o600)
		if err != nil {
			return nil, err
		}
		if held := lockFile(f); held != errInUse && keepsItsName(f) {
			return f, nil
		}
		// Somebody who sweeps has just taken it for one that was left.
		if err := f.Close(); err != nil {
			return nil, err
		}
	}
}

// keepsItsName reports whether a file still has its name.
func keepsItsName(f *os.File) bool {
	is, err := f.Stat()
	if err != nil {
		return false
	}
	named, err := os.Lstat(f.Name())
	return err == nil && os.SameFile(is, named)
}

func removePartial(temporary string) {
	os.RemoveAll(temporary + folderTail) // first: it is found by the file
	os.RemoveAll(temporary + folderTail + "-old")
	for _, tail := range tails {
		os.Remove(temporary + tail) // most are not there
	}
}

// Sweep removes from a folder the files in the making that killed processes left. Those
// that a process holds stay, and so does what cannot be recognised or removed.
func Sweep(folder string) {
	entries, err := os.ReadDir(folder)
	if err != nil {
		return
	}
	for _, e := range entries {
		found := partialName.FindStringSubmatch(e.Name())
		if found == nil || !e.Type().IsRegular() {
			continue
		}
		path := filepath.Join(folder, strings.TrimSuffix(e.Name(), found[1]))
		if _, err := os.Lstat(path); found[1] == "" || errors.Is(err, fs.ErrNotExist) {
			sweepPartial(path)
		}
	}
}

// sweepPartial removes a file in the making and what belongs to it, if nobody holds it.
func sweepPartial(path string) {
	info, err := os.Lstat(path)
	if err == nil && linksOf(info) > 1 { // it has got its name, and only loses this one
		os.Remove(path)
		return
	}
	if err == nil {
		f, err := os.OpenFile(path, os.O_RDWR|syscall.O_NONBLOCK, 0)
		if err != nil {
			return
		}
		defer f.Close() // nothing was written
		if lockFile(f) != nil || !keepsItsName(f) {
			return
		}
	}
	removePartial(path)
}

// withPath puts path in the place of temporary in a refusal or a failure.
func withPath(err error, temporary, path string) error {
	var r *study.Refusal
	if errors.As(err, &r) && r.File == temporary {
		return r.At(path, r.Line)
	}
	var f *study.Failure
	if errors.As(err, &f) && f.File == temporary {
		return (*study.Failure)((*study.Refusal)(f).At(path, f.Line))
	}
	return err
}

func refuseExisting(path string) error {
	return &study.Refusal{File: path, Fault: "this file exists", Try: "choose another name"}
}

// inTheWay refuses a path beside which a file was left that belonged to another of this name.
func refuseLeftover(path, left string) error {
	name := filepath.Base(left)
	return &study.Refusal{
		File: path,
		Fault: fmt.Sprintf("%s stands there, which belonged to another file of this name and would be taken for a part of "+
			"this one", name),
		Try: fmt.Sprintf("put %s back beside its study, or move it to another folder and keep it; or choose another name",
			name),
	}
}

// publish gives the file temporary the name path, unless that exists.
func publish(temporary, path string) error {
	err := renameNew(temporary, path)
	if errors.Is(err, fs.ErrExist) {
		return refuseExisting(path)
	}
	return err
}

// linkNew gives a file a name that is not there, where a rename would replace a file that
// came meanwhile. The old name stays where the file system knows links.
func linkNew(temporary, path string) error {
	err := os.Link(temporary, path)
	if err != nil && !errors.Is(err, fs.ErrExist) { // a file system without links
		err = os.Rename(temporary, path)
	}
	return err
}

// flushFolder brings the folder of path to the disk.
func flushFolder(path string) error {
	if runtime.GOOS == "windows" { // which flushes no folders
		return nil
	}
	f, err := os.Open(filepath.Dir(path))
	if err != nil {
		return err
	}
	return firstError(f.Sync(), f.Close())
}
