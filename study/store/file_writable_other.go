//go:build !unix

package store

import (
	"io/fs"
	"os"
)

// mayWrite says why the file or folder at path may not be written, as far as its
// mode says, nil if it may.
func mayWrite(path string) error {
	info, err := os.Stat(path)
	if err == nil && !info.IsDir() && info.Mode().Perm()&0o222 == 0 {
		err = fs.ErrPermission
	}
	return err
}
