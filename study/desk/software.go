package desk

import (
	"fmt"
	"runtime/debug"
	"strings"

	"wane/study/evaluate"
)

// Software names the running program, for the log and for reports of faults: what it was built from, as far as
// its build tells, the version of its model, and of Go.
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
	return fmt.Sprintf("wane%s, model %d%s", strings.TrimRight(version, " "), evaluate.ModelVersion(), compiler)
}
