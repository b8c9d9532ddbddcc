//go:build !linux

package store

// renameNew gives a file a name that is not there.
func renameNew(temporary, path string) error { return linkNew(temporary, path) }

// exchangeNames exchanges the names of two folders.
func exchangeNames(a, b string) error { return exchangeByRename(a, b) }
