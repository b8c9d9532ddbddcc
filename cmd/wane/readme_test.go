package main

import (
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The five minutes of the README go through as they are written there, and end with rows
// whose sessions the checks have nothing against.
func TestTheFiveMinutesOfTheREADME(t *testing.T) {
	readme, err := os.ReadFile("../../README.md")
	require.NoError(t, err)
	_, text, found := strings.Cut(string(readme), "\n## A study in five minutes\n")
	require.True(t, found)
	text, _, found = strings.Cut(text, "\n**Rosters**")
	require.True(t, found)
	t.Chdir(t.TempDir())
	t.Setenv("WANE_OPERATOR", "ada")
	t.Setenv("WANE_STUDY", "mine.wane")
	code, _, stderr := wane(t, "demo")
	require.Equal(t, exitDone, code, stderr)
	commands := 0
	for line := range strings.Lines(text) {
		line, ours := strings.CutPrefix(line, "    ./wane ")
		if !ours {
			continue
		}
		line, _, _ = strings.Cut(line, " #")
		code, _, stderr := wane(t, strings.Fields(line)...)
		require.Equal(t, exitDone, code, "%s: %s", line, stderr)
		commands++
	}
	assert.Greater(t, commands, 4)
	code, stdout, stderr := wane(t, "results", "--format", "csv")
	require.Equal(t, exitDone, code, stderr)
	rows := cellsOf(t, stdout)
	assert.Len(t, rows, 216)
	for _, row := range rows {
		assert.NotContains(t, row["flags"], "not-trusted", row["coupon"])
	}
}
