//go:build unix

package store

import "syscall"

// mayWrite says why this process may not write the file or folder at path, nil
// if it may.
func mayWrite(path string) error {
	const write = 2 // W_OK. Source: POSIX.1-2017, unistd.h gives the name, all systems the value
	return syscall.Access(path, write)
}
