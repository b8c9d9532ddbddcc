package main

import (
	"errors"
	"fmt"
	"os"
	"runtime"
	"strings"

	"wane/study"
	"wane/study/desk"
)

// keepTraces writes where the faults of the program among errors happened into one file in
// the folder for temporary files, for a person to report, and says which. The file holds
// names of files and functions and what the panics said, and no data. If it cannot be
// written it returns what it would hold.
func keepTraces(err error) string {
	faults := faultsIn(err)
	if len(faults) == 0 {
		return ""
	}
	var b strings.Builder
	fmt.Fprintf(&b, "%s, %s, %s/%s\n", desk.Software(), runtime.Version(), runtime.GOOS, runtime.GOARCH)
	for _, f := range faults {
		fmt.Fprintf(&b, "\n%v\n%s", f, f.Trace())
	}
	file, fault := os.CreateTemp("", "wane-fault-*.txt")
	if fault == nil {
		_, fault = file.WriteString(b.String())
		fault = errors.Join(fault, file.Close())
	}
	if fault != nil {
		return "these lines:\n" + strings.TrimSpace(b.String())
	}
	return "the file " + file.Name() + ", which says where in wane it happened"
}

// faultsIn lists the faults among errors.
func faultsIn(err error) []*study.Fault {
	var many *several
	if errors.As(err, &many) {
		var all []*study.Fault
		for _, e := range many.errs {
			all = append(all, faultsIn(e)...)
		}
		return all
	}
	var fault *study.Fault
	if errors.As(err, &fault) {
		return []*study.Fault{fault}
	}
	return nil
}
