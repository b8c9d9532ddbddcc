package desk

import (
	"io/fs"

	"wane/study/store"
)

// WriteFile puts data into the file at path, whole or not at all, with the permissions of
// mode; 0 leaves them as they were, or to the system if the file is new.
func WriteFile(path string, mode fs.FileMode, data []byte) error {
	return store.Replace(path, mode, data)
}

// Mode returns the permissions of the study, which what comes from it gets too.
func (d *Desk) Mode() (fs.FileMode, error) { return d.store.Mode() }

// folderMode returns the permissions of a folder for files with these: who may read the files may
// list the folder.
func folderMode(files fs.FileMode) fs.FileMode { return files | 0o700 | files&0o444>>2 }

// Sweep removes from a folder the unfinished files of commands that were killed.
func Sweep(folder string) { store.Sweep(folder) }
