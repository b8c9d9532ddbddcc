package store

import (
	"errors"

	"golang.org/x/sys/unix"
)

// renameNew gives a file a name that is not there.
func renameNew(temporary, path string) error {
	err := unix.Renameat2(unix.AT_FDCWD, temporary, unix.AT_FDCWD, path, unix.RENAME_NOREPLACE)
	if errors.Is(err, unix.EINVAL) || errors.Is(err, unix.ENOSYS) { // a file system that cannot
		return linkNew(temporary, path)
	}
	return err
}

// exchangeNames exchanges the names of two folders.
func exchangeNames(a, b string) error {
	err := unix.Renameat2(unix.AT_FDCWD, a, unix.AT_FDCWD, b, unix.RENAME_EXCHANGE)
	if errors.Is(err, unix.EINVAL) || errors.Is(err, unix.ENOSYS) {
		return exchangeByRename(a, b)
	}
	return err
}
