//go:build unix

package main

import (
	"io/fs"
	"os"
	"syscall"
)

// nameMayGo: a file that is open stays readable without a name.
const nameMayGo = true

// ownSpool are the permissions of a temporary file.
const ownSpool = 0o600

// isOwn reports whether a file is this user's.
func isOwn(info fs.FileInfo) bool {
	at, ok := info.Sys().(*syscall.Stat_t)
	return ok && int(at.Uid) == os.Geteuid()
}
