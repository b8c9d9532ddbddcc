package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const mostReadme = 14_000 // bytes

func readReadme(t *testing.T) string {
	t.Helper()
	readme, err := os.ReadFile("../../README.md")
	require.NoError(t, err)
	return string(readme)
}

// Every command of the README goes through as it is written there, in a folder that has the
// made-up samples and nothing else, and leaves a study whose sessions the checks have nothing
// against.
func TestCommandsOfTheREADME(t *testing.T) {
	readme := readReadme(t)
	assert.LessOrEqual(t, len(readme), mostReadme)
	samples, err := filepath.Abs("../../testdata/exports")
	require.NoError(t, err)
	t.Chdir(t.TempDir())
	require.NoError(t, os.CopyFS("testdata/exports", os.DirFS(samples)))
	t.Setenv("WANE_OPERATOR", "ada")
	lines := commandLines(readme)
	require.Greater(t, len(lines), 12)
	for _, line := range lines {
		code, stdout, stderr := wane(t, shellWords(line)...)
		require.Equal(t, exitDone, code, "%s: %s", line, stderr)
		requireShown(t, readme, line, stdout)
	}
	code, stdout, stderr := wane(t, "results", "--format", "csv")
	require.Equal(t, exitDone, code, stderr)
	rows := cellsOf(t, stdout)
	assert.Len(t, rows, 212)
	for _, row := range rows {
		assert.NotContains(t, row["flags"], "not-trusted", row["coupon"])
	}
	assert.FileExists(t, "change.png")
	assert.FileExists(t, "wane-demo/mine-copy.wane")
}

// requireShown checks that the output which is below a command of the README is what the
// command prints: each line of it, in this order; lines of three points stand for what was skipped.
func requireShown(t *testing.T, readme, line, stdout string) {
	_, below, found := strings.Cut(readme, line)
	require.True(t, found, line)
	_, below, _ = strings.Cut(below, "\n")
	below, _, _ = strings.Cut(below, "\n    ")
	below, _, _ = strings.Cut(below, "\n## ")
	_, block, found := strings.Cut(below, "```\n")
	if !found {
		return
	}
	block, _, _ = strings.Cut(block, "```")
	for shown := range strings.Lines(block) {
		if strings.TrimSpace(shown) == "..." {
			continue
		}
		before, after, found := strings.Cut(stdout, shown)
		require.True(t, found && !strings.Contains(before, shown), "%s does not print %q", line, shown)
		stdout = after
	}
}

// Every command has a row in the README, and every link leads to a file.
func TestTheREADMENamesEveryCommandAndFile(t *testing.T) {
	readme := readReadme(t)
	for _, cmd := range newRootCommand().Commands() {
		assert.Regexp(t, "(?m)^\\| .*`"+cmd.Name()+"[ `].*\\|", readme)
	}
	for _, topic := range guideTopics() {
		assert.Contains(t, readme, "| "+topic+" |")
	}
	for _, m := range regexp.MustCompile(`\]\(([^)]*)\)`).FindAllStringSubmatch(readme, -1) {
		_, err := os.Stat(filepath.Join("../..", m[1]))
		assert.NoError(t, err)
	}
	_, table, found := strings.Cut(readme, "\n## Where things live\n")
	require.True(t, found)
	table, _, _ = strings.Cut(table, "\n## ")
	for row := range strings.Lines(table) {
		cells := strings.Split(row, "|")
		if len(cells) != 4 {
			continue
		}
		requirePlaces(t, cells[1], cells[2])
	}
}

// requirePlaces checks the folders and files that a row on where things live names: files in
// parentheses are in the folder of the row, and a name that ends in _ is how some of them begin.
func requirePlaces(t *testing.T, what, where string) {
	named := regexp.MustCompile("`([a-z_*/.]+)`")
	folder := ""
	for _, m := range named.FindAllStringSubmatch(where, -1) {
		name := m[1]
		switch isFile := strings.Contains(name, ".go"); {
		case !isFile:
			folder = name
		case !strings.Contains(name, "/"):
			name = filepath.Join(folder, name)
		}
		requireGlob(t, name)
	}
	for _, m := range named.FindAllStringSubmatch(what, -1) {
		if name := m[1]; strings.HasSuffix(name, "_") {
			requireGlob(t, filepath.Join(folder, name+"*.go"))
		} else {
			requireGlob(t, filepath.Join(folder, name))
		}
	}
}

func requireGlob(t *testing.T, pattern string) {
	found, err := filepath.Glob(filepath.Join("../..", pattern))
	require.NoError(t, err)
	assert.NotEmpty(t, found, "there is no %s", pattern)
}

// Every file and folder that DEVELOPERS.md names by its path is there.
func TestDEVELOPERSNamesFilesThatAreThere(t *testing.T) {
	text, err := os.ReadFile("../../DEVELOPERS.md")
	require.NoError(t, err)
	path := regexp.MustCompile("`((?:\\.ci|cmd|fit|optics|study|testdata)/[^` ]*)")
	named := path.FindAllStringSubmatch(string(text), -1)
	require.Greater(t, len(named), 40)
	for _, m := range named {
		requireGlob(t, strings.Replace(m[1], "TOPIC", "*", 1))
	}
	_, rooms, found := strings.Cut(string(text), "\n## Rooms\n")
	require.True(t, found)
	rooms, _, _ = strings.Cut(rooms, "\n## ")
	for row := range strings.Lines(rooms) {
		if cells := strings.Split(row, "|"); len(cells) == 5 {
			requirePlaces(t, cells[2], cells[1])
		}
	}
}

// Another module uses the packages as the README says.
func TestAnotherModuleUsesThePackages(t *testing.T) {
	readme := readReadme(t)
	root, err := filepath.Abs("../..")
	require.NoError(t, err)
	_, module, found := strings.Cut(readme, "```\nmodule example\n")
	require.True(t, found)
	module, _, _ = strings.Cut("module example\n"+module, "```")
	require.Contains(t, module, "=> ../wane")
	_, program, found := strings.Cut(readme, "```go\n")
	require.True(t, found)
	program, _, _ = strings.Cut(program, "```")
	folder := t.TempDir()
	module = strings.ReplaceAll(module, "../wane", root)
	require.NoError(t, os.WriteFile(filepath.Join(folder, "go.mod"), []byte(module), 0o644))
	require.NoError(t, os.WriteFile(filepath.Join(folder, "main.go"), []byte(program), 0o644))
	for _, args := range [][]string{{"mod", "tidy"}, {"run", "."}} {
		run := exec.Command("go", args...)
		run.Dir = folder
		out, err := run.CombinedOutput()
		require.NoError(t, err, string(out))
		if args[0] == "run" {
			assert.Regexp(t, `^\[0\.00\d+\] <nil>\n$`, string(out))
		}
	}
}
