//go:build linux || darwin || freebsd || netbsd || openbsd || dragonfly

package store

import (
	"errors"
	"io/fs"
	"os"
	"syscall"
)

// lockFile takes the lock on a file until it is closed or the process ends. The error is
// errInUse if another has it, and another one where the file system knows no locks.
func lockFile(f *os.File) error {
	err := syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB)
	if errors.Is(err, syscall.EWOULDBLOCK) {
		return errInUse
	}
	return err
}

// linksOf returns how many names (hard links) a file has.
func linksOf(info fs.FileInfo) int {
	if at, ok := info.Sys().(*syscall.Stat_t); ok {
		return int(at.Nlink)
	}
	return 1
}
