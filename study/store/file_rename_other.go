//go:build !linux

package store

// renameNew gives a file a name that is not there.
func renameNew(temporary, path string) error { return linkNew(temporary, path) }
