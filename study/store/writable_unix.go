//go:build unix

package store

import (
	"io/fs"
	"syscall"
)

// mayWrite says why this process may not write the file or folder at path, nil
// if it may.
func mayWrite(path string) error {
	const write = 2 // W_OK. Source: POSIX.1-2017, unistd.h gives the name, all systems the value
	return syscall.Access(path, write)
}

// linksOf returns how many names (hard links) a file has.
func linksOf(info fs.FileInfo) int {
	if st, ok := info.Sys().(*syscall.Stat_t); ok {
		return int(st.Nlink)
	}
	return 1
}
