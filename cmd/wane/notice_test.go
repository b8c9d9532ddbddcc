package main

import (
	"os"
	"os/exec"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Every module that is linked or that tests use is in the NOTICE of DEVELOPERS.md, and
// those whose licences ask for credit are credited there in the words of their authors.
func TestNoticeNamesEveryModule(t *testing.T) {
	text, err := os.ReadFile("../../DEVELOPERS.md")
	require.NoError(t, err)
	_, notice, ok := strings.Cut(string(text), "\n## NOTICE\n")
	require.True(t, ok)
	modules := map[string]bool{}
	for _, system := range []string{"linux", "windows", "darwin"} {
		list := exec.Command("go", "list", "-deps", "-test", "-f", "{{with .Module}}{{.Path}}{{end}}", "wane/...")
		list.Env = append(os.Environ(), "GOOS="+system)
		out, err := list.Output()
		require.NoError(t, err, system)
		for module := range strings.FieldsSeq(string(out)) {
			modules[module] = true
		}
	}
	delete(modules, "wane")
	require.Greater(t, len(modules), 20)
	for module := range modules {
		assert.Contains(t, notice, "`"+module+"`", "its licence is not listed")
	}
	for _, credit := range []string{
		"copyright © 2010 The FreeType Project (www.freetype.org)", "svgo by Anthony Starks",
		"creativecommons.org/licenses/by/4.0",
	} {
		assert.Contains(t, notice, credit)
	}
}
