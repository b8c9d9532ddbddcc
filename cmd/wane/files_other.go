//go:build !unix

package main

// openFiles has nothing to do where no limit of open files is that small.
func openFiles() error { return nil }
