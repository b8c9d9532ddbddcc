//go:build !unix

package main

import "io/fs"

// nameMayGo: a file that is open cannot be removed.
const nameMayGo = false

// ownSpool are the permissions of a temporary file, as far as they are kept.
const ownSpool = 0o666

// isOwn: a folder of temporary files belongs to one user.
func isOwn(fs.FileInfo) bool { return true }
