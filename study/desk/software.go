package desk

import (
	"fmt"
	"runtime/debug"
	"strings"

	"wane/study/evaluate"
	"wane/study/intake"
)

// Software names the running program, for the log and for reports of faults: what it was built from, as
// far as the build says, the versions of its model and of its reader, and of Go.
func Software() string {
	version, compiler := "", ""
	if b, ok := debug.ReadBuildInfo(); ok {
		version, compiler = " "+b.Main.Version, ", "+b.GoVersion
		for _, s := range b.Settings {
			if s.Key == "vcs.revision" && !strings.Contains(version, s.Value[:min(12, len(s.Value))]) {
				version += " " + s.Value[:min(12, len(s.Value))]
			}
		}
	}
	return fmt.Sprintf("wane%s, model %d, %s%s",
		strings.TrimRight(version, " "), evaluate.ModelVersion(), reader(), compiler)
}

// reader names the reader of exports in what Software returns.
func reader() string { return fmt.Sprintf("reader %d", intake.ReaderVersion) }
